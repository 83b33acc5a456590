//! The story of a unit: visits, tests, what changed, files.

/// What came out of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Within every limit.
    Pass,
    /// Over a limit.
    Fail,
    /// Measured well, too close to a limit.
    Undecided,
    /// The measurement is broken.
    NotValid,
    /// No limit was chosen.
    Measured,
}

/// How far a job is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum JobState {
    /// The unit is here.
    Open,
    /// It went out.
    Done,
    /// Entered by mistake.
    Withdrawn,
}

/// What was decided to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decision {
    /// New seals and whatever else it needs.
    Rebuild,
    /// Another cylinder.
    Replace,
    /// Nothing.
    Leave,
}

/// What a unit is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct UnitFacts {
    /// Its tag.
    pub tag: String,
    /// What it is.
    pub description: String,
    /// The machine it belongs to.
    pub machine: String,
    /// The maker's number on it.
    pub serial: String,
    /// The seal fitted.
    pub seal: String,
    /// How it is built, in words; empty if nobody wrote it down.
    pub built: String,
}

/// A job in one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobLine {
    /// Its number.
    pub number: i64,
    /// Tag of the unit.
    pub tag: String,
    /// Day it came in.
    pub came_in: String,
    /// Day it went out; empty while it is here.
    pub went_out: String,
    /// Why it came in.
    pub symptom: String,
    /// How far it is.
    pub state: JobState,
    /// What was decided.
    pub decision: Option<Decision>,
    /// Why it was withdrawn, or why it was decided so.
    pub reason: String,
}

/// A test in one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TestLine {
    /// When it began, as the shop writes it.
    pub at: String,
    /// Number of its paper.
    pub number: String,
    /// Tag of the unit.
    pub tag: String,
    /// What came out.
    pub outcome: Outcome,
    /// The sentence of the paper.
    pub headline: String,
    /// Why its paper was withdrawn, if it was.
    pub withdrawn: Option<String>,
    /// Whether it is of the practice bench.
    pub is_practice: bool,
}

/// How a figure changed from one test to another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// It is more: by at least, and at most.
    More(String, String),
    /// It is less: by at least, and at most.
    Less(String, String),
    /// No change can be shown; it would be less than this.
    NotShown(String),
    /// The two are not alike: why.
    NotComparable(String),
}

/// How a figure is known, without its unit of measure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stated {
    /// By its value, with its uncertainty.
    Is(String),
    /// By an upper bound.
    AtMost(String),
    /// Not at all.
    NotKnown,
}

/// A figure that was measured both times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ComparedFigure {
    /// Heading of the phase.
    pub title: String,
    /// Name of the figure.
    pub figure: String,
    /// Unit of measure.
    pub unit: String,
    /// What it was.
    pub was: Stated,
    /// What it is.
    pub is: Stated,
    /// What changed.
    pub change: Change,
}

impl ComparedFigure {
    /// Whether it could only be bounded both times.
    pub fn is_bounded(&self) -> bool {
        !matches!(self.was, Stated::Is(_)) && !matches!(self.is, Stated::Is(_))
    }
}

/// Two tests beside each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Compared {
    /// Number of the earlier paper.
    pub earlier: String,
    /// Number of the later paper.
    pub later: String,
    /// Figures of phases that were measured both times.
    pub figures: Vec<ComparedFigure>,
}

impl Compared {
    /// Figures that were measured at least once, or those that were only bounded.
    pub fn figures(&self, bounded: bool) -> Vec<&ComparedFigure> {
        let all = self.figures.iter();
        all.filter(|figure| figure.is_bounded() == bounded)
            .collect()
    }
}

/// One visit: a job with its tests, or a test without a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// The job.
    pub job: Option<JobLine>,
    /// Its tests, the first first.
    pub tests: Vec<TestLine>,
    /// The first test against the last of the visit before.
    pub since: Option<Compared>,
    /// The last test against the first.
    pub during: Option<Compared>,
}

/// The same figure from the first time to the last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Course {
    /// By which its chart is asked for.
    pub index: usize,
    /// Whether it has values to draw; else it could only be bounded.
    pub has_values: bool,
    /// Whether the chart shows the size of what is always negative.
    pub is_size: bool,
    /// Heading of the phase.
    pub title: String,
    /// Name of the figure.
    pub figure: String,
    /// Unit of measure.
    pub unit: String,
    /// Day and value, the first first.
    pub values: Vec<(String, Stated)>,
    /// What changed from the first to the last.
    pub change: Change,
}

/// A file of a unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileLine {
    /// Its hash, by which it is asked for.
    pub sha256: String,
    /// Its name where it came from.
    pub name: String,
    /// What it shows.
    pub about: String,
    /// Number of its job.
    pub job: Option<i64>,
    /// When it was added.
    pub added: String,
    /// Who added it, by role.
    pub role: String,
    /// Whether it is a picture that can be shown.
    pub is_picture: bool,
}

/// The story of a unit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Story {
    /// What it is.
    pub unit: UnitFacts,
    /// Number of its open job.
    pub open_job: Option<i64>,
    /// How often it was tested.
    pub n_tests: i64,
    /// Its visits, the latest first.
    pub visits: Vec<Visit>,
    /// Figures over all tests, where there are three or more.
    pub courses: Vec<Course>,
    /// Its files, the last added first.
    pub files: Vec<FileLine>,
}
