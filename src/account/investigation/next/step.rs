//! What to do next, in words for the bench.

use super::Next;
use crate::account::investigation::Way;
use crate::cylinder::Chamber;

/// What to do in the next phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// The same plumbing for as long: wiped dry before, looked at after.
    Look {
        /// Number of the phase whose plumbing it is.
        phase: usize,
    },
    /// The same plumbing, so many times as long.
    HoldLonger {
        /// Number of the phase whose plumbing it is.
        phase: usize,
        /// 2, 3 or 6.
        times: u32,
    },
    /// Open the port of the side that does not carry to a vessel, and read it.
    OpenToVessel(Chamber),
    /// Plug both ports at the cylinder, the unloaded side charged.
    PlugBoth,
    /// Swap the load-holding valve for a known good one.
    SwapValve(Chamber),
    /// Join both ports, pump up, shut both; the rod locked.
    JoinPorts,
}

impl Step {
    /// The same step of phases with other numbers.
    pub(in crate::account::investigation) fn renumbered(
        self,
        number: impl Fn(usize) -> usize,
    ) -> Self {
        match self {
            Self::Look { phase } => Self::Look {
                phase: number(phase),
            },
            Self::HoldLonger { phase, times } => Self::HoldLonger {
                phase: number(phase),
                times,
            },
            Self::OpenToVessel(_) | Self::PlugBoth | Self::SwapValve(_) | Self::JoinPorts => self,
        }
    }

    /// Why it tells of these ways, as a sentence.
    pub fn reason(self, tells: &[Way]) -> String {
        let is_seen = |way: &Way| matches!(way, Way::Gland | Way::Plug(_));
        match self {
            Self::Look { .. } if tells.iter().any(is_seen) => {
                "What leaks outwards shows as oil; no pressure tells a gland from a plug on the same side.".into()
            }
            Self::Look { .. } => "What it may pass is a small difference; one more hold makes that surer.".into(),
            Self::HoldLonger { .. } => {
                "The leak is too small for what these holds could see; it shows with time.".into()
            }
            Self::OpenToVessel(chamber) => format!(
                "Oil that comes out of the {side} port has passed the piston seal; what else is lost has not.",
                side = chamber.word()
            ),
            Self::PlugBoth => "A plug does not leak like a valve: what is left is the cylinder's own.".into(),
            Self::SwapValve(_) => "If the fault goes away with the valve, it was the valve.".into(),
            Self::JoinPorts => "With one pressure on both sides nothing is driven past the piston: what is lost goes out at \
                                a plug or the gland."
                .into(),
        }
    }
}

impl Next {
    /// What to do, as sentences for the bench; `label` says what people call a phase.
    pub fn instruction(&self, label: impl Fn(usize) -> String) -> String {
        let charge = self.charged.map(Chamber::word);
        let again = charge.map_or_else(String::new, |side| {
            format!(", the {side} side charged to about 30 bar")
        });
        let what = match self.step {
            Step::Look { phase } => format!("Hold again as in phase {}{again}.", label(phase)),
            Step::HoldLonger { phase, times } => format!(
                "Hold again as in phase {}, {times} times as long{again}.",
                label(phase)
            ),
            Step::OpenToVessel(chamber) => format!(
                "Support the load, relieve the pressure, open the {side} port to a vessel with its hose full and its end \
                 under oil, load again, and read the vessel over the hold.",
                side = chamber.word()
            ),
            Step::PlugBoth if self.is_one_sided => {
                "Support the load, relieve the pressure, plug the port at the cylinder (a breather stays open), and load \
                 again."
                    .into()
            }
            Step::PlugBoth => format!(
                "Support the load, relieve the pressure, plug both ports at the cylinder, and load again{again}."
            ),
            Step::SwapValve(chamber) => format!(
                "Support the load, relieve the pressure, swap the load-holding valve on the {side} port for a known good \
                 one, and hold again{again}.",
                side = chamber.word()
            ),
            Step::JoinPorts => "Lock the rod against extension, join both ports, pump up to the test pressure, shut both \
                                ports, and hold."
                .into(),
        };
        format!(
            "{what} Wipe gland and ports dry before the hold, and look after it which of them is wet."
        )
    }

    /// What it can do to people, as a sentence; the general cautions stand beside it.
    pub fn caution(&self) -> &'static str {
        match self.step {
            Step::Look { .. } => {
                "Search for leaks with card or wood, never with the hand: a jet goes through gloves and skin."
            }
            Step::HoldLonger { .. } => {
                "A load that hangs on oil must not have anybody under it, however long it holds."
            }
            Step::OpenToVessel(_) => {
                "Never open a port on the side that carries the load. Block the load mechanically before any fitting is loosened."
            }
            Step::PlugBoth if self.is_one_sided => {
                "Block the load mechanically before any fitting is loosened."
            }
            Step::PlugBoth => {
                "Block the load mechanically before any fitting is loosened. With a worn seal both sides can climb to load by \
                 rod area: plugs, hoses and sensors must be rated for that."
            }
            Step::SwapValve(_) => {
                "Block the load mechanically and relieve the pressure: without its valve nothing holds the load."
            }
            Step::JoinPorts => {
                "One pressure on two different areas pushes the rod out with pressure times rod area: the lock must stand that."
            }
        }
    }
}
