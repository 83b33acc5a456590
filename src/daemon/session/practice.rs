//! What of the practice bench can be put on the bench of the page.

use super::page_hand::PageHand;
use super::page_hand::Said;
use super::seen::RigTold;
use crate::daemon::conduct::NamedText;
use crate::daemon::hand::Hand;
use crate::daemon::rehearse_proof::setup_toml;
use crate::daemon::rig_operator::RigOperator;
use crate::link::Adapter;
use crate::rehearsal::Pace;
use crate::rehearsal::VirtualBoard;
use crate::rehearsal::rig::RigBoard;
use crate::rehearsal::rig::rig_unit;
use crate::rehearsal::rig::rig_units;
use crate::rehearsal::scenario;
use crate::rehearsal::scenarios;
use crate::settings::Test;
use anyhow::Context;
use tokio::sync::mpsc::UnboundedReceiver;

/// Fastest that a rig goes whose steps wait for a person: while nobody answers, it goes on, and what
/// it sends is kept.
const FASTEST_BY_HAND: f64 = 60.0;

/// A cylinder of the practice bench.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PracticePiece {
    /// Its name.
    pub name: &'static str,
    /// What it is, in a line.
    pub description: &'static str,
    /// Whether it is worked by hand through a whole procedure; else it is one hold.
    pub is_worked: bool,
}

/// All of them, those that are worked by hand first.
pub fn practice_pieces() -> Vec<PracticePiece> {
    let worked = rig_units().into_iter().map(|unit| PracticePiece {
        name: unit.name,
        description: unit.description,
        is_worked: true,
    });
    let held = scenarios().into_iter().map(|scenario| PracticePiece {
        name: scenario.name,
        description: scenario.description,
        is_worked: false,
    });
    worked.chain(held).collect()
}

/// The setup of a piece of the practice bench; None if there is none of that name.
///
/// # Errors
/// If its setup is none, which a test would have shown.
pub fn practice_setup(name: &str) -> anyhow::Result<Option<NamedText>> {
    if let Some(unit) = rig_unit(name) {
        return Ok(Some((format!("setup of {name}"), setup_toml(&unit)?)));
    }
    Ok(scenario(name).map(|s| (format!("setup of scenario {name}"), s.setup_toml())))
}

/// A board of the practice bench that is being played.
#[derive(Debug)]
pub enum PracticeBoard {
    /// One hold.
    Held(VirtualBoard),
    /// One that is worked by hand.
    Worked(RigBoard),
}

impl PracticeBoard {
    /// Plays a piece at a pace, with the hand of the page.
    ///
    /// # Errors
    /// If there is no such piece, or no pseudo-terminal.
    pub fn start(
        name: &str,
        pace: Pace,
        test: &Test,
        (said, told): (UnboundedReceiver<Said>, RigTold),
    ) -> anyhow::Result<(Self, Hand)> {
        if let Some(unit) = rig_unit(name) {
            let pace = match pace {
                Pace::Times(times) if times <= FASTEST_BY_HAND => pace,
                Pace::Times(_) | Pace::AsFastAsItCan => Pace::Times(FASTEST_BY_HAND),
            };
            let (board, hands) = RigBoard::start(&unit, pace)?;
            let operator = RigOperator::new(hands, test.clone());
            let hand = PageHand::new(said, Some(operator), told);
            return Ok((Self::Worked(board), Hand::Page(Box::new(hand))));
        }
        let scenario = scenario(name)
            .with_context(|| format!("the practice bench has no piece of the name {name}"))?;
        let board = VirtualBoard::start(&scenario, pace)?;
        let hand = PageHand::new(said, None, told);
        Ok((Self::Held(board), Hand::Page(Box::new(hand))))
    }

    /// The adapter it is behind.
    pub fn adapter(&self) -> Adapter {
        match self {
            Self::Held(board) => Adapter::new(board.port_path()),
            Self::Worked(board) => Adapter::new(board.port_path()),
        }
    }
}
