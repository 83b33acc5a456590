//! A test on one unit: its steps with absolute pressures, and the setup of each hold.

use super::file::ProcedureFile;
use super::merge::named_limits;
use super::planning::Planning;
use super::travel::parts;
use crate::account::FigureName;
use crate::cylinder::Chamber;
use crate::cylinder::Cylinder;
use crate::cylinder::Kind;
use crate::cylinder::Ratings;
use crate::procedure::Act;
use crate::procedure::Asked;
use crate::procedure::Step;
use crate::procedure::driven_hazards;
use crate::procedure::hazards;
use crate::quantity::GaugePressure;
use crate::settings::SettingsError;
use crate::settings::Setup;
use crate::settings::Shop;
use crate::settings::Source;
use crate::settings::read;
use toml::Table;

/// A test on one unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Name of its procedure; None for one hold without a procedure.
    pub procedure: Option<String>,
    /// What it is, in words; empty without a procedure.
    pub title: String,
    /// What it is for, in words; empty without a procedure.
    pub about: String,
    /// Its steps, in order.
    pub steps: Vec<PlannedStep>,
}

/// A step of a test.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedStep {
    /// What is told and done.
    pub step: Step,
    /// The setup of a step that holds a pressure or is held against limits: as text, and read.
    pub setup: Option<(String, Setup)>,
    /// Ratings to warn by where they are not those of the setup: a proof is meant to go above what
    /// the cylinder itself is rated for.
    pub ratings: Option<Ratings>,
    /// Which of several holds that ought to agree it is, if it is one.
    pub repeat: Option<Repeat>,
    /// The figure that a flow that was read is held against.
    pub figure: Option<FigureName>,
}

/// One of several holds that ought to agree.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Repeat {
    /// Name of the step in its file.
    pub of: String,
    /// Which, from 1.
    pub number: u32,
}

impl Test {
    /// Reads a setup with the procedure behind it ([`super::with_procedure`]), or one without.
    ///
    /// # Errors
    /// With file, line, what is wrong and what would be right.
    pub fn parse(file: &str, text: &str, shop: Option<&Shop>) -> Result<Self, SettingsError> {
        let (own, behind) = parts(text);
        let Some((name, procedure)) = behind else {
            let setup = Setup::parse(file, text, shop)?;
            if let Some(limit) = setup.limits.iter().find(|l| l.figure.is_of_strokes()) {
                let message = format!(
                    "limit `{}` is for {}, which strokes show and no hold does. Leave it away, or name a procedure with \
                     strokes",
                    limit.id,
                    limit.figure.word()
                );
                let line = text.find(&format!("\"{}\"", limit.id)).unwrap_or_default();
                return Err(SettingsError::at(file, text, line, message));
            }
            return Ok(Self::one_hold(text, setup));
        };
        let found: ProcedureFile = read(name, procedure)?;
        let planning = Planning {
            source: Source {
                file: name,
                text: procedure,
            },
            setup_file: file,
            setup: read(file, own)?,
            shop,
        };
        let mut steps: Vec<PlannedStep> = Vec::new();
        for written in &found.step {
            for step in planning.steps(written, &steps)? {
                if steps.iter().any(|known| known.step.id == step.step.id) {
                    let message =
                        format!("step `{}` stands twice; give each its own id", step.step.id);
                    return Err(planning.source.error(&written.get_ref().id, message));
                }
                steps.push(step);
            }
        }
        let holds = steps.iter().filter(|step| step.holds_a_pressure());
        let Some(first) = holds.clone().find_map(PlannedStep::own_setup) else {
            return Err(planning
                .source
                .whole("a procedure needs at least one [step.hold] or [step.dwell]"));
        };
        let kind = first.subject.piece.cylinder().map(Cylinder::kind);
        let kinds = found.procedure.kinds.get_ref().iter();
        let is_for = |kind: Kind| kinds.clone().any(|known| Kind::from(*known) == kind);
        if !kind.is_some_and(is_for) {
            let message = format!("procedure `{name}` is not for this kind of cylinder");
            return Err(planning.source.error(&found.procedure.kinds, message));
        }
        if let Some(id) = unasked(&planning.setup, &steps) {
            let message = format!(
                "limit `{id}` is named in [acceptance], and no step of procedure `{name}` is held against it: its figure \
                 or its pressure is another. Leave it away, or add a step that is"
            );
            let line = own.find(&format!("\"{id}\"")).unwrap_or_default();
            return Err(SettingsError::at(file, own, line, message));
        }
        Ok(Self {
            procedure: Some(name.into()),
            title: found.procedure.title,
            about: found.procedure.about,
            steps,
        })
    }

    /// One hold without a procedure; `text` is what the setup was read from.
    pub fn one_hold(text: &str, setup: Setup) -> Self {
        Self {
            procedure: None,
            title: String::new(),
            about: String::new(),
            steps: vec![PlannedStep {
                step: Step::only_hold(setup.plan),
                setup: Some((text.into(), setup)),
                ratings: None,
                repeat: None,
                figure: None,
            }],
        }
    }

    /// The hold whose pressure the step at a place lets off: the last one before it, with nothing
    /// but readings between; None for a step that lets off none.
    pub fn let_off_from(&self, at: usize) -> Option<&PlannedStep> {
        let Act::Reading(Asked::LetOff { .. }) = self.steps.get(at)?.step.act else {
            return None;
        };
        held_last(&self.steps[..at])
    }

    /// Its only hold, if it is one without a procedure.
    pub fn only_setup(&self) -> Option<&Setup> {
        self.procedure.is_none().then(|| self.first_setup())
    }

    /// The setup that says what is on the bench and with which sensors: that of its first hold.
    pub fn first_setup(&self) -> &Setup {
        let holds = self.steps.iter().filter(|step| step.holds_a_pressure());
        holds
            .clone()
            .find_map(PlannedStep::own_setup)
            .expect("a test without a hold is refused when it is read")
    }

    /// Reasons not to start, as sentences with the step that they belong to.
    pub fn hazards(&self) -> Vec<String> {
        let of_step = |step: &PlannedStep| {
            let Some(setup) = step.own_setup() else {
                return Vec::new();
            };
            let subject = &setup.subject;
            let mut found = hazards(&subject.piece, &subject.circuit, &setup.ratings);
            if let Some(reach) = step.step.reach() {
                let ratings = step.ratings.unwrap_or(setup.ratings);
                found.extend(too_high(reach.chamber, reach.pressure, &ratings));
                let charge = reach.other.filter(|other| other.pa() > 0.0);
                found.extend(charge.and_then(|p| too_high(reach.chamber.other(), p, &ratings)));
                found.extend(driven_hazards(
                    &subject.piece,
                    &subject.circuit,
                    &ratings,
                    reach.chamber,
                    reach.pressure,
                ));
            }
            let named = |reason: String| match step.step.title.as_str() {
                "" => reason,
                title => format!("{title}: {reason}"),
            };
            found.into_iter().map(named).collect()
        };
        self.steps.iter().flat_map(of_step).collect()
    }
}

/// The hold that still stands after these steps: after it a person only looked and read.
pub(super) fn held_last(before: &[PlannedStep]) -> Option<&PlannedStep> {
    let leaves_standing = |planned: &&PlannedStep| match planned.step.act {
        Act::Reading(asked) => !matches!(asked, Asked::LetOff { .. }),
        _ => false,
    };
    let mut steps = before.iter().rev().skip_while(leaves_standing);
    steps
        .next()
        .filter(|planned| matches!(planned.step.act, Act::Hold(_)))
}

/// A limit that the setup names and no step is held against: what nobody judges must not look kept.
fn unasked(setup: &Table, steps: &[PlannedStep]) -> Option<String> {
    let asked = |id: &String| {
        let setups = steps.iter().filter_map(PlannedStep::own_setup);
        setups
            .flat_map(|setup| &setup.limits)
            .any(|limit| limit.id == *id)
    };
    named_limits(setup).into_iter().find(|id| !asked(id))
}

/// A pressure that is asked for above what the weakest part bears.
fn too_high(chamber: Chamber, asked: GaugePressure, ratings: &Ratings) -> Option<String> {
    let rating = ratings.weakest(chamber)?;
    (asked.pa() > rating.pressure.pa()).then(|| {
        format!(
            "asks for {:.0} bar at the {} end, whose {} is rated for {:.0} bar. Fit one that is rated for more, or \
             choose another procedure",
            asked.bar(),
            chamber.word(),
            rating.part.plain(),
            rating.pressure.bar()
        )
    })
}

impl PlannedStep {
    /// Whether a side is brought to a pressure that is held or kept.
    fn holds_a_pressure(&self) -> bool {
        matches!(self.step.act, Act::Hold(_) | Act::Dwell { .. })
    }

    /// Its setup, if it holds a pressure.
    pub fn own_setup(&self) -> Option<&Setup> {
        self.setup.as_ref().map(|(_, setup)| setup)
    }
}
