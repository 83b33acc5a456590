//! Sensors, the shop file, and where everything lies.

/// A sensor with its last calibration.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SensorLine {
    /// Its serial number.
    pub serial: String,
    /// What it is called on the bench.
    pub label: String,
    /// Number of its calibration's paper; may be empty.
    pub certificate: String,
    /// Day the calibration is due; may be empty.
    pub due: String,
    /// Whether that day is over.
    pub is_overdue: bool,
    /// Day of the first test with this calibration.
    pub since: String,
    /// Calibrations it has had.
    pub n_calibrations: i64,
    /// Whether it is one of the practice bench.
    pub is_practice: bool,
}

/// What the shop file says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ShopSheet {
    /// Whether there is one.
    pub has_file: bool,
    /// Name of the shop.
    pub name: String,
    /// Lines of its address.
    pub address: Vec<String>,
    /// Whether it reads inches and psi.
    pub is_inch: bool,
    /// Size of paper, "A4"; empty where the file does not say.
    pub paper: String,
    /// Its time zone.
    pub time_zone: String,
    /// Letters that its numbers begin with.
    pub prefix: String,
    /// How uncertainty counts at a limit, a sentence.
    pub rule: String,
    /// Its limits.
    pub limits: Vec<LimitLine>,
    /// How wet the outside may be: class and source.
    pub outside: Option<(u8, String)>,
}

/// A limit, or a table of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitLine {
    /// The shop's name for it.
    pub id: String,
    /// The figure it is for.
    pub figure: String,
    /// What pressure and temperature it is stated for; may be empty.
    pub stated_for: String,
    /// Its rows: what for, value as typed, source.
    pub rows: Vec<(String, String, String)>,
}

/// Where everything lies, and its copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moving {
    /// The data folder.
    pub data: String,
    /// Where copies go; None if the program was not told.
    pub copies: Option<String>,
    /// What the last copy came to.
    pub copy: CopyState,
}

/// What became of a copy since the program was started.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CopyState {
    /// None was made.
    None,
    /// One is being made, since when.
    Runs(String),
    /// It is made and checked: when, files written, files that were there.
    Done(String, i64, i64),
    /// It could not be made: when, and why.
    Failed(String, String),
}
