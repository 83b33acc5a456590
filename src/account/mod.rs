//! The oil account: where the oil went during a hold, and how sure that is.
//!
//! Takes a finished `Recording` with what is known of the piece, its oil and its
//! plumbing, and returns figures with uncertainty, the lines of the account chart,
//! and findings in words. Whether a figure is acceptable is decided in `verdict`.
//!
//! Invariant: a pure function. No clock, no file: the same recording gives the same
//! numbers to the last digit, today and when the archive is read again.

mod figure;

mod balance;
mod blocked;
mod bounds;
mod by_heat;
mod chance;
mod conditions;
mod counted;
mod course;
mod edge;
mod evaluate;
mod evened;
mod findings;
mod forecast;
mod growing;
mod hand_check;
mod heat;
pub mod investigation;
mod layout;
mod leaks;
mod least;
mod let_off;
mod lines;
mod looked;
mod met;
mod misfit;
mod paper;
mod rate;
mod rigid;
mod scatter;
mod series;
mod settling;
mod solution;
mod squeeze;
mod step;
mod strokes;
mod sums;
mod term;
mod totals;
mod turn;
mod unseen;

pub use blocked::Blocked;
pub use blocked::Rest;
pub use blocked::blocked;
pub use chance::Agreement;
pub use chance::ByChance;
pub use chance::Trials;
pub use chance::TrialsError;
pub use chance::check_by_chance;
pub use counted::Counted;
pub use counted::Drive;
pub use course::Course;
pub use course::EMPTY_PA;
pub use course::End;
pub use course::Leak;
pub use course::Moment;
pub use course::Side;
pub use course::Standing;
pub use course::TIGHT;
pub use evaluate::EvaluationError;
pub use evaluate::evaluate;
pub use evaluate::evaluate_to_judge;
pub use evaluate::evaluate_without;
pub use evened::Evened;
pub use figure::Conditions;
pub use figure::Contribution;
pub use figure::Figure;
pub use figure::FigureName;
pub use figure::Measured;
pub use forecast::Cause;
pub use forecast::Forecast;
pub use forecast::Hazard;
pub use forecast::Outlook;
pub use forecast::PARKED_S;
pub use forecast::Range;
pub use forecast::Way;
pub use growing::Growing;
pub use hand_check::Readings;
pub use hand_check::by_hand;
pub use least::least_uncertainties;
pub use let_off::LetOff;
pub use let_off::let_off;
pub use met::Meeting;
pub use met::Met;
pub use paper::HEAT_COURSES;
pub use paper::PaperHold;
pub use paper::PaperSensor;
pub use paper::PaperStart;
pub use paper::expected_softness;
pub use paper::tight_hold;
pub use squeeze::SqueezeWatch;
pub use squeeze::Squeezed;
pub use strokes::OneWay;
pub use strokes::StrokeFigure;
pub use strokes::StrokePlan;
pub use strokes::StrokeRow;
pub use strokes::StrokeSide;
pub use strokes::StrokeSummary;
pub use strokes::StrokeWatch;
pub use strokes::Travel;
pub use term::Term;
pub use turn::Turn;
pub use turn::TurnKind;
pub use unseen::Unseen;
pub use unseen::allow_for;

use crate::channel::ByEye;
use crate::circuit::Circuit;
use crate::cylinder::Piece;
use crate::oil::Oil;
use crate::quantity::GaugePressure;
use crate::quantity::Temperature;

/// Version of the method; stored with every evaluation.
pub const METHOD_VERSION: u32 = 1;

/// What fills the piece.
#[derive(Debug, Clone, PartialEq)]
pub enum Fluid {
    /// Hydraulic oil.
    Oil(Oil),
    /// A gas: only pressure loss can be stated, never a volume of oil.
    Gas,
}

/// What is known about a hold before its data are looked at.
#[derive(Debug, Clone, PartialEq)]
pub struct Subject {
    /// What is on the bench.
    pub piece: Piece,
    /// What fills it.
    pub fluid: Fluid,
    /// How it is plumbed and held.
    pub circuit: Circuit,
    /// What the shop's limits are stated for.
    pub stated: Stated,
    /// The instruments, where a person reads them; None where a board or a logger does.
    pub by_eye: Option<ByEye>,
}

/// Conditions that flows are to be stated at; as measured where nothing is given.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stated {
    /// Pressure of the load-holding chamber.
    pub pressure: Option<GaugePressure>,
    /// Oil temperature.
    pub temperature: Option<Temperature>,
}

/// One line of the account chart: volumes over the counted hold.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What it shows.
    pub kind: LineKind,
    /// Time since the start of the counted hold, s.
    pub time_s: Vec<f64>,
    /// Volume, m³, one for each time.
    pub volume_m3: Vec<f64>,
    /// Half width of the 95 % ribbon, m³, one for each time; empty without a ribbon.
    pub half_width_m3: Vec<f64>,
}

/// What a line of the account chart shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineKind {
    /// Oil lost from the cap side.
    CapLost,
    /// Oil gained on the rod side.
    RodGained,
    /// Oil that only seems lost because its pressure changed (load-holding chamber).
    Squeeze,
    /// Oil that only seems lost because its temperature changed (load-holding chamber).
    Heat,
}

/// Why the figures may not be believed, as the evaluation saw it itself.
#[derive(Debug, Clone, PartialEq)]
pub enum Doubt {
    /// The model does not describe the data: no figure of the account is stated.
    NoFit {
        /// What did not fit, with its size.
        evidence: String,
    },
    /// Something to read with the figures that does not void them.
    Note {
        /// What was seen.
        evidence: String,
    },
}

/// What a hold showed.
#[derive(Debug, Clone, PartialEq)]
pub struct Evaluation {
    /// Version of the method.
    pub method_version: u32,
    /// Start and end of the counted hold on the recording's time axis, s.
    pub hold_s: (f64, f64),
    /// State of the piece, means over the counted hold; None for what has no signal.
    pub over_hold: Conditions,
    /// The figures that could be stated, in the order of [`FigureName::ALL`].
    pub figures: Vec<Figure>,
    /// Lines of the account chart.
    pub lines: Vec<Line>,
    /// What the pattern of pressures and movement says, in plain sentences.
    pub findings: Vec<String>,
    /// Doubts of the evaluation itself.
    pub doubts: Vec<Doubt>,
    /// Both sides at one pressure at the end of the hold, if they are.
    pub met: Option<Met>,
    /// Whether another cylinder carried the same load: movement and pressure are of both then.
    pub shares_load: bool,
    /// Movement of a free rod by the oil's heat alone, mean over the hold, m/s, positive when
    /// it extends; None where the account is not stated, the rod is held or the
    /// load is shared.
    pub by_heat_m_per_s: Option<Measured>,
    /// Where its loss turns during the hold, if it does; also where the account is not stated
    /// because of it.
    pub turn: Option<Turn>,
    /// What only seemed lost as heat evened out, early in the hold and late; None where the
    /// account is not stated.
    pub evened: Option<Evened>,
    /// Its sums for a fit over several holds; None where the account is not stated.
    pub counted: Option<Counted>,
    /// What is to come if the piece is left standing; None where the account is not stated.
    pub forecast: Option<Forecast>,
}

impl Evaluation {
    /// The figure with a name, if it could be stated.
    pub fn figure(&self, name: FigureName) -> Option<&Figure> {
        self.figures.iter().find(|f| f.name == name)
    }
}
