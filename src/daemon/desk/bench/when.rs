//! When it is decided: the range of time that is left, as far as the plan knows it.

use super::plan::minutes;
use crate::bench::Stage;
use crate::daemon::session::Standing;
use crate::page::view::BenchWhen;
use crate::verdict::DecisionRule;
use crate::verdict::EarlyRule;

/// Times below this are said in seconds of five, s.
const IN_FIVES_BELOW_S: f64 = 120.0;

/// When the stage it stands at is over, at the earliest and at the latest.
pub(super) fn when(standing: &Standing, rule: DecisionRule) -> Option<BenchWhen> {
    let hold = standing.hold.as_ref()?;
    let (reached_s, until_s) = standing.progress_s;
    let length_s = hold.plan.length().value;
    let (from_s, to_s) = match standing.stage {
        Stage::Settling => {
            let least = hold.plan.settle().value;
            let most = hold.steady.map_or(least, |s| s.at_most.value);
            let since_s = reached_s - standing.settling_s;
            (least - since_s, most - since_s)
        }
        Stage::Holding => {
            let held_s = length_s - (until_s - reached_s);
            let early = EarlyRule::new(rule, length_s);
            let mut looks = early.looks_s().iter();
            let next = looks
                .find(|look| **look > held_s)
                .filter(|_| hold.plan.ends_as_decided());
            (
                next.copied().unwrap_or(length_s) - held_s,
                length_s - held_s,
            )
        }
        _ => return None,
    };
    let (from, until) = (left(from_s), left(to_s));
    Some(BenchWhen {
        is_settling: standing.stage == Stage::Settling,
        until: if until == from { String::new() } else { until },
        from,
    })
}

/// A time that is left, rounded up so that it does not flicker.
fn left(s: f64) -> String {
    let s = s.max(0.0);
    minutes(match s {
        s if s <= IN_FIVES_BELOW_S => (s / 5.0).ceil() * 5.0,
        s => (s / 60.0).ceil() * 60.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_is_said_coarsely() {
        let said: Vec<String> = [-1.0, 0.4, 31.0, 119.0, 121.0, 590.0].map(left).into();
        assert_eq!(said, ["0 s", "5 s", "35 s", "2 min", "3 min", "10 min"]);
    }
}
