//! How the test stands, as plain values of the page.

use super::when::when;
use crate::account::Evaluation;
use crate::account::Figure;
use crate::account::FigureName;
use crate::bench::Answer;
use crate::bench::Stage;
use crate::channel::Role;
use crate::cylinder::Chamber;
use crate::daemon::clock;
use crate::daemon::desk::told::outcome;
use crate::daemon::session::Asked;
use crate::daemon::session::Message;
use crate::daemon::session::Over;
use crate::daemon::session::Phase;
use crate::daemon::session::ReadingNow;
use crate::daemon::session::ReadingState;
use crate::daemon::session::RigState;
use crate::daemon::session::Standing;
use crate::page::view;
use crate::page::view::Sense;
use crate::quantity::UnitSystem;
use crate::quantity::number;
use crate::quantity::shown;
use crate::settings::Setup;
use crate::verdict::DecisionRule;
use crate::verdict::Limit;
use crate::verdict::anytime_factor;

/// Messages that are shown below.
const MOST_SAID: usize = 20;

/// From here on a pressure is near its rating.
const NEAR: f64 = 0.95;

/// What the page shows of it, and to whom.
pub(super) struct Seen<'a> {
    pub is_answering: bool,
    pub read_until: u64,
    pub units: UnitSystem,
    pub rule: DecisionRule,
    pub time_zone: &'a str,
}

impl Seen<'_> {
    /// The test as it stands.
    pub fn now(&self, standing: &Standing) -> view::BenchNow {
        let step = standing.step.as_ref();
        let is_running = matches!(standing.phase, Phase::Running);
        view::BenchNow {
            run: standing.run,
            tag: standing.about.tag.clone(),
            description: standing.about.description.clone(),
            title: standing.about.title.clone(),
            is_practice: standing.about.is_practice,
            is_answering: self.is_answering,
            step: step.map(|step| (step.index + 1, step.n_steps, step.title.clone())),
            stage: stage(standing),
            ask: standing.asked.as_ref().filter(|_| is_running).map(ask),
            strokes: standing
                .strokes
                .filter(|_| standing.stage == Stage::Stroking)
                .map(i64::from),
            readings: standing.readings.iter().map(|r| self.reading(r)).collect(),
            ratings: self.ratings(standing),
            has_circuit: is_running && standing.setup.is_some(),
            look: standing.so_far.as_ref().map(|_| standing.look),
            so_far: self.so_far(standing),
            when: when(standing, self.rule).filter(|_| is_running),
            unread: self.messages(standing, |m| m.is_warning && m.number > self.read_until),
            last_message: standing.messages.last().map_or(0, |m| m.number),
            messages: {
                let mut all = self.messages(standing, |_| true);
                all.reverse();
                all.truncate(MOST_SAID);
                all
            },
            storing: match &standing.phase {
                Phase::Storing(Some(progress)) => progress.to_string(),
                _ => String::new(),
            },
            end: match &standing.phase {
                Phase::Over(over) => Some(end(over)),
                _ => None,
            },
        }
    }

    fn messages(
        &self,
        standing: &Standing,
        which: impl Fn(&Message) -> bool,
    ) -> Vec<view::BenchMessage> {
        let shown = standing.messages.iter().filter(|message| which(message));
        let told = |message: &Message| view::BenchMessage {
            at: clock::time_of_day(message.at_utc_ms, self.time_zone),
            is_warning: message.is_warning,
            text: message.text.clone(),
        };
        shown.map(told).collect()
    }

    fn reading(&self, reading: &ReadingNow) -> view::BenchReading {
        let (metric, decimals) = match (reading.role, self.units) {
            (Role::CapPressure | Role::RodPressure, UnitSystem::Metric) => ("bar", 1),
            (Role::CapPressure | Role::RodPressure, UnitSystem::Inch) => ("bar", 0),
            (Role::Position, UnitSystem::Metric) => ("mm", 2),
            (Role::Position, UnitSystem::Inch) => ("mm", 3),
            (Role::OilTemperature | Role::WallTemperature, _) => ("°C", 1),
            (Role::Supply, _) => ("V", 2),
        };
        let (value, unit) = match reading.role {
            Role::OilTemperature | Role::WallTemperature => match self.units {
                UnitSystem::Metric => (reading.si.map(|k| k - 273.15), "°C"),
                UnitSystem::Inch => (reading.si.map(|k| k * 1.8 - 459.67), "°F"),
            },
            Role::Supply => (reading.si, "V"),
            _ => {
                let (factor, unit) = shown(metric, self.units);
                (reading.si.map(|si| si * factor), unit)
            }
        };
        view::BenchReading {
            sense: sense(reading.role),
            value: value.map_or("–".into(), |v| without_minus_zero(v, decimals)),
            unit,
            state: match reading.state {
                ReadingState::Steady => view::ReadingState::Steady,
                ReadingState::Settling => view::ReadingState::Settling,
                ReadingState::Doubtful => view::ReadingState::Doubtful,
                ReadingState::Lost => view::ReadingState::Lost,
            },
        }
    }

    fn ratings(&self, standing: &Standing) -> Vec<view::BenchRating> {
        let ends = [
            (Chamber::Cap, Role::CapPressure),
            (Chamber::Rod, Role::RodPressure),
        ];
        let of_end = |(chamber, role): (Chamber, Role)| {
            let reading = standing.readings.iter().find(|r| r.role == role)?;
            let weakest = standing.ratings.weakest(chamber)?;
            let (factor, unit) = shown("bar", self.units);
            let rated_pa = weakest.pressure.pa();
            let part = reading.si.map(|pa| pa / rated_pa);
            Some(view::BenchRating {
                sense: sense(role),
                rating: format!(
                    "{} {unit} ({})",
                    number(rated_pa * factor, 10.0),
                    weakest.part.plain()
                ),
                safety: match part {
                    None => view::Safety::Unknown,
                    Some(part) if part > 1.0 => view::Safety::Over,
                    Some(part) if part >= NEAR => view::Safety::Near,
                    Some(_) => view::Safety::Within,
                },
                percent: part.map_or(0, |part| (100.0 * part).clamp(0.0, 100.0) as u8),
            })
        };
        ends.into_iter().filter_map(of_end).collect()
    }

    /// A sentence for each figure so far, with the interval of any moment and its limit.
    fn so_far(&self, standing: &Standing) -> Vec<String> {
        let (Some(so_far), Some(setup)) = (&standing.so_far, &standing.setup) else {
            return Vec::new();
        };
        figures_so_far(so_far, setup)
            .map(|(figure, limit)| {
                let Some(measured) = figure.measured else {
                    return String::new();
                };
                let (factor, unit) = shown(figure.name.metric_unit(), self.units);
                let wide = any_moment(figure, limit) * measured.standard_si * factor;
                let value = number(measured.value_si * factor, wide);
                let limit = limit.map_or(String::new(), |l| format!(", limit {}", l.text));
                format!(
                    "{}: {value} ± {} {unit}{limit}",
                    figure.name.plain(),
                    number(wide, wide)
                )
            })
            .filter(|sentence| !sentence.is_empty())
            .collect()
    }
}

/// The figures that a hold is about, each with its limit: those with a limit, and the two sides.
fn figures_so_far<'a>(
    so_far: &'a Evaluation,
    setup: &'a Setup,
) -> impl Iterator<Item = (&'a Figure, Option<&'a Limit>)> {
    so_far.figures.iter().filter_map(|figure| {
        let limit = setup.limits.iter().find(|l| l.figure == figure.name);
        let is_side = matches!(figure.name, FigureName::CapLoss | FigureName::RodGain);
        (figure.measured.is_some() && (limit.is_some() || is_side)).then_some((figure, limit))
    })
}

/// Factor of the standard uncertainty of a figure for all moments together.
pub(super) fn any_moment(figure: &Figure, limit: Option<&Limit>) -> f64 {
    let usual = usual_limit(figure.name);
    let limit = limit.map_or(usual, |limit| (limit.number * limit.si_per_unit).abs());
    let standard = figure.measured.map_or(0.0, |m| m.standard_si);
    match standard > 0.0 && limit > 0.0 {
        // Few degrees of freedom widen it as they widen the interval of one look.
        true => anytime_factor(standard, limit) * (figure.coverage_factor / 1.96).max(1.0),
        false => figure.coverage_factor,
    }
}

/// A limit of the usual size where nobody named one (common practice, no source), SI.
fn usual_limit(name: FigureName) -> f64 {
    0.1 * name.si_per_metric_unit()
}

fn without_minus_zero(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.trim_start_matches(['-', '0', '.']).is_empty() {
        true => text.trim_start_matches('-').into(),
        false => text,
    }
}

fn sense(role: Role) -> Sense {
    match role {
        Role::CapPressure => Sense::Cap,
        Role::RodPressure => Sense::Rod,
        Role::Position => Sense::Position,
        Role::OilTemperature => Sense::Oil,
        Role::WallTemperature => Sense::Wall,
        Role::Supply => Sense::Supply,
    }
}

fn stage(standing: &Standing) -> view::BenchStage {
    use view::BenchStage;
    match (&standing.phase, standing.stage) {
        (Phase::Starting, _) | (Phase::Running, Stage::Waiting) => BenchStage::Starting,
        (Phase::Over(_), _) => BenchStage::Over,
        (Phase::Storing(_), _) | (Phase::Running, Stage::Over) => BenchStage::Storing,
        (Phase::Running, Stage::Asking) => BenchStage::Asking,
        (Phase::Running, Stage::Reaching) => BenchStage::Reaching,
        (Phase::Running, Stage::Settling) => BenchStage::Settling,
        (Phase::Running, Stage::Holding) => BenchStage::Holding,
        (Phase::Running, Stage::Dwelling) => BenchStage::Dwelling,
        (Phase::Running, Stage::Vented) => BenchStage::Vented,
        (Phase::Running, Stage::Stroking) => BenchStage::Stroking,
        (Phase::Running, Stage::Squeezing) => BenchStage::Squeezing,
        (Phase::Running, Stage::Typing) => BenchStage::Typing,
    }
}

fn ask(asked: &Asked) -> view::BenchAsk {
    view::BenchAsk {
        number: asked.number,
        tell: asked.ask.tell.clone(),
        answer: match asked.ask.answer {
            Answer::Done => view::BenchAnswer::Done,
            Answer::Reach(_) => view::BenchAnswer::Reached,
            Answer::Typed(typed) => view::BenchAnswer::Typed(typed.example().into()),
        },
        rig: asked.rig.as_ref().map(|rig| match rig {
            RigState::Working => view::BenchRig::Working,
            RigState::Ready(shows) => view::BenchRig::Ready(shows.clone().unwrap_or_default()),
        }),
    }
}

fn end(over: &Over) -> view::BenchEnd {
    match over {
        Over::Refused(reasons) => view::BenchEnd::Refused(reasons.clone()),
        Over::Failed(why) => view::BenchEnd::Failed(why.clone()),
        Over::Entered {
            number,
            outcome: came_out,
            headline,
            text,
            ..
        } => view::BenchEnd::Entered {
            number: number.clone(),
            outcome: outcome(*came_out),
            headline: headline.clone(),
            text: text.lines().map(str::to_owned).collect(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_minus_nothing() {
        let said =
            [(-0.04, 1), (-0.06, 1), (0.0, 2), (-12.3, 1)].map(|(v, d)| without_minus_zero(v, d));
        assert_eq!(said, ["0.0", "-0.1", "0.00", "-12.3"]);
    }
}
