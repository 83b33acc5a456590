//! A whole quick leak-down on the practice rig, through a pseudo-terminal: its recording, and
//! what was true in its hold.

use std::time::Duration;
use stillrod::archive;
use stillrod::daemon::conduct::Conducted;
use stillrod::daemon::conduct::Task;
use stillrod::daemon::conduct::conduct;
use stillrod::daemon::hand::Hand;
use stillrod::daemon::rig_operator::RigOperator;
use stillrod::link::Adapter;
use stillrod::procedure::HOLD;
use stillrod::procedure::phase_name;
use stillrod::recording::Recording;
use stillrod::rehearsal::Pace;
use stillrod::rehearsal::SHOP_TOML;
use stillrod::rehearsal::physics::Leak;
use stillrod::rehearsal::rig::Hands;
use stillrod::rehearsal::rig::RigBoard;
use stillrod::rehearsal::rig::RigUnit;
use stillrod::rehearsal::rig::rig_unit;
use stillrod::settings::with_procedure;

const PLAN: &str = "\n[procedure]\nfile = \"whole.toml\"\n\n\
    [acceptance]\nlimits = [\"rebuilt-63-cap-loss\"]\n";

/// Its limit, mL/min at the rated pressure.
pub const LIMIT_ML_MIN: f64 = 0.12;

/// A leak that is surely over the limit, and not by much, mL/min at the rated pressure.
pub const LEAK_ML_MIN: f64 = 0.16;

/// The rated pressure, bar.
const RATED_BAR: f64 = 160.0;

/// How long an adapter that was pulled is waited for.
const PATIENCE: Duration = Duration::from_secs(20);

/// A procedure that was played.
#[derive(Debug, Clone)]
pub struct RigRun {
    /// What the sensors said, and what was said.
    pub recording: Recording,
    /// What the cap end really lost when the hold began, at the rated pressure, mL/min; None if
    /// there was no hold.
    pub cap_loss_ml_min: Option<f64>,
}

/// The built-in quick leak-down, with a hold of its whole length: the surer its figure, the
/// smaller a fault that could deceive.
fn whole_length() -> String {
    let built_in = include_str!("../../src/settings/procedure/built_in/quick-leak-down.toml");
    let whole = built_in.replace("until_decided = true\n", "");
    assert_ne!(whole, built_in);
    whole
}

/// Plays the procedure on a unit.
pub fn played(unit: &RigUnit) -> anyhow::Result<RigRun> {
    let text = format!("{}{PLAN}", unit.setup_toml_without_plan());
    let whole = with_procedure("setup.toml", &text, |_| Ok(whole_length()))?;
    let folder = tempfile::tempdir()?;
    let task = Task {
        setup: ("setup.toml".into(), whole),
        shop: Some(("shop.toml".into(), SHOP_TOML.into())),
        practice: "practice".into(),
        word: "fault".into(),
        patience: PATIENCE,
        folder: folder.path().into(),
        quiet: true,
    };
    let (_, test) = task.settings()?;
    let (board, hands) = RigBoard::start(unit, Pace::AsFastAsItCan)?;
    let hand = Hand::Rig(Box::new(RigOperator::new(hands.clone(), test)));
    let runtime = tokio::runtime::Runtime::new()?;
    let adapter = Adapter::new(board.port_path());
    let Conducted::Done { archive, .. } = runtime.block_on(conduct(&task, adapter, hand))? else {
        anyhow::bail!("refused");
    };
    let recording = archive::read(&archive)?;
    Ok(RigRun {
        cap_loss_ml_min: cap_loss_ml_min(&recording, &hands),
        recording,
    })
}

/// Start and end of the hold, s.
pub fn hold_s(recording: &Recording) -> Option<(f64, f64)> {
    let hold = recording.phase(&phase_name("hold", HOLD))?;
    Some((hold.from_s, hold.until_s))
}

/// What leaves the cap end when the hold begins, in proportion at the rated pressure.
fn cap_loss_ml_min(recording: &Recording, hands: &Hands) -> Option<f64> {
    let now = hands.instant(hold_s(recording)?.0)?;
    let going = now.going_kg_per_s;
    let kg_per_s = going.piston + going.cap_plug + going.cap_valve;
    let at_rated = RATED_BAR * 1e5 / now.p_cap_pa;
    Some(kg_per_s / now.density_cap * at_rated * 60e6)
}

/// Nothing is wrong with it: a film of oil passes the piston.
pub fn tight() -> RigUnit {
    rig_unit("proof-sound").expect("a unit of the rig")
}

/// The same with a piston seal that leaks.
pub fn leaking() -> RigUnit {
    let mut unit = tight();
    unit.specimen.ills.piston = Leak::laminar(LEAK_ML_MIN, RATED_BAR);
    unit
}
