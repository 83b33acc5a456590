//! One row of a table of limits: what it holds for, and its value.

use super::Level;
use super::value::Value;
use super::value::value;
use crate::account::FigureName;
use crate::cylinder::Kind;
use crate::quantity::Length;
use crate::quantity::Quantity;
use crate::quantity::Volume;
use crate::quantity::parse;
use crate::settings::SettingsError;
use crate::settings::Source;
use crate::settings::setup::KindWord;
use crate::verdict::Band;
use crate::verdict::Row;
use serde::Deserialize;
use toml::Spanned;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RowTable {
    level: Option<Level>,
    bore: Option<Spanned<String>>,
    seal: Option<Spanned<String>>,
    kind: Option<KindWord>,
    oil_temperature: Option<Spanned<String>>,
    pressure: Option<Spanned<String>>,
    value: Spanned<String>,
    source: Option<String>,
}

/// A bore, or bores from one up to, and not including, another.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Bore {
    One { si: f64, text: String },
    Band(Band),
}

impl Bore {
    pub fn holds(&self, bore_m: f64) -> bool {
        match self {
            // The same length in mm and in inches differs by its last bits only.
            Self::One { si, .. } => (bore_m - si).abs() <= 1e-9 * si,
            Self::Band(band) => band.holds(bore_m),
        }
    }

    fn overlaps(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::One { si, .. }, other) => other.holds(*si),
            (band, Self::One { si, .. }) => band.holds(*si),
            (Self::Band(a), Self::Band(b)) => a.overlaps(b),
        }
    }

    /// How far a bore is from it, m.
    pub fn off(&self, bore_m: f64) -> f64 {
        match self {
            Self::One { si, .. } => (bore_m - si).abs(),
            Self::Band(b) => (b.from_si - bore_m).max(bore_m - b.to_si).max(0.0),
        }
    }

    fn text(&self) -> &str {
        match self {
            Self::One { text, .. } => text,
            Self::Band(band) => &band.text,
        }
    }
}

/// A row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SetRow {
    /// Its place in the table, from 1.
    pub place: usize,
    pub level: Option<Level>,
    pub bore: Option<Bore>,
    pub seal: Option<String>,
    pub kind: Option<Kind>,
    pub oil: Option<Band>,
    pub pressure: Option<Band>,
    pub value: Value,
    pub source: String,
}

/// What the whole table says, for its rows.
pub(super) struct Heading<'a> {
    pub id: &'a str,
    pub figure: FigureName,
    pub level: Option<Level>,
    pub source: Option<&'a str>,
    pub drop: Option<Volume>,
}

/// Reads a row.
pub(super) fn row(
    source: &Source<'_>,
    heading: &Heading<'_>,
    place: usize,
    table: &Spanned<RowTable>,
) -> Result<SetRow, SettingsError> {
    let id = heading.id;
    let t = table.get_ref();
    let wrong = |message: String| {
        source.error(table, format!("limit table `{id}`, row {place}: {message}"))
    };
    let level = match (heading.level, t.level) {
        (Some(_), Some(_)) => {
            return Err(wrong(
                "the table has a level already; write it in one of the two places".into(),
            ));
        }
        (None, None) => {
            return Err(wrong(
                "it needs a level = \"new\", \"rebuilt\" or \"in_service\", here or for the whole table".into(),
            ));
        }
        (of_table, of_row) => of_table.or(of_row),
    };
    let written_by = t.source.as_deref().or(heading.source);
    let written_by = written_by.filter(|s| !s.trim().is_empty()).ok_or_else(|| {
        wrong(
            "it needs a source, here or for the whole table: who set it, where it is written"
                .into(),
        )
    })?;
    let at = |place_in: &Spanned<String>, message: String| {
        source.error(
            place_in,
            format!("limit table `{id}`, row {place}: {message}"),
        )
    };
    let found = SetRow {
        place,
        level,
        bore: read(&t.bore, bore, &at)?,
        seal: read(&t.seal, seal, &at)?,
        kind: t.kind.map(Kind::from),
        oil: read(
            &t.oil_temperature,
            band::<crate::quantity::Temperature>,
            &at,
        )?,
        pressure: read(&t.pressure, band::<crate::quantity::GaugePressure>, &at)?,
        value: value(heading.figure, t.value.get_ref(), heading.drop)
            .map_err(|message| at(&t.value, message))?,
        source: written_by.into(),
    };
    if found.conditions().iter().all(|(_, is_stated)| !is_stated) {
        return Err(wrong(
            "it says nothing that it holds for: write bore, seal, kind, oil_temperature or pressure, or a plain [[limit]]"
                .into(),
        ));
    }
    Ok(found)
}

fn read<T>(
    text: &Option<Spanned<String>>,
    reads: impl Fn(&str) -> Result<T, String>,
    at: &impl Fn(&Spanned<String>, String) -> SettingsError,
) -> Result<Option<T>, SettingsError> {
    let Some(text) = text else { return Ok(None) };
    let found = reads(text.get_ref()).map_err(|message| at(text, message))?;
    Ok(Some(found))
}

fn seal(text: &str) -> Result<String, String> {
    match text.trim() {
        "" => Err("an empty seal is no condition".into()),
        seal => Ok(seal.into()),
    }
}

fn bore(text: &str) -> Result<Bore, String> {
    if text.contains(" to ") {
        return band::<Length>(text).map(Bore::Band);
    }
    let typed = parse::<Length>(text).map_err(|error| error.to_string())?;
    Ok(Bore::One {
        si: typed.quantity.si(),
        text: typed.text,
    })
}

fn band<Q: Quantity>(text: &str) -> Result<Band, String> {
    let Some((from, to)) = text.split_once(" to ") else {
        let unit = Q::UNITS.first().map_or("", |unit| unit.0);
        return Err(format!(
            "`{text}` is no band of {}; write both ends with their unit, \"35 {unit} to 45 {unit}\"",
            Q::KIND
        ));
    };
    let ends = [from, to].map(|end| parse::<Q>(end).map_err(|error| error.to_string()));
    let [from, to] = ends;
    let (from_si, to_si) = (from?.quantity.si(), to?.quantity.si());
    if from_si >= to_si {
        return Err(format!(
            "the band `{text}` must go from the smaller to the larger value"
        ));
    }
    Ok(Band {
        from_si,
        to_si,
        text: text.trim().into(),
    })
}

/// How a seal is compared: capitals and blanks do not count.
pub(super) fn plain_seal(text: &str) -> String {
    let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
    words.join(" ")
}

impl SetRow {
    /// Which conditions it states, by their key.
    pub fn conditions(&self) -> [(&'static str, bool); 5] {
        [
            ("bore", self.bore.is_some()),
            ("seal", self.seal.is_some()),
            ("kind", self.kind.is_some()),
            ("oil_temperature", self.oil.is_some()),
            ("pressure", self.pressure.is_some()),
        ]
    }

    /// Whether one unit in one state could belong to both; rows of one table state the same
    /// conditions.
    pub fn overlaps(&self, other: &Self) -> bool {
        fn both<T>(a: &Option<T>, b: &Option<T>, meet: impl Fn(&T, &T) -> bool) -> bool {
            a.as_ref().zip(b.as_ref()).is_none_or(|(a, b)| meet(a, b))
        }
        both(&self.level, &other.level, |a, b| a == b)
            && both(&self.bore, &other.bore, Bore::overlaps)
            && both(&self.seal, &other.seal, |a, b| {
                plain_seal(a) == plain_seal(b)
            })
            && both(&self.kind, &other.kind, |a, b| a == b)
            && both(&self.oil, &other.oil, Band::overlaps)
            && both(&self.pressure, &other.pressure, Band::overlaps)
    }

    /// The row and its conditions as typed.
    pub fn words(&self) -> String {
        let parts = [
            self.level.map(|level| level.plain().to_owned()),
            self.bore.as_ref().map(|b| format!("bore {}", b.text())),
            self.seal.as_ref().map(|s| format!("seal {s}")),
            self.kind.map(|kind| kind_words(kind).to_owned()),
            self.oil.as_ref().map(|b| format!("oil {}", b.text)),
            self.pressure.as_ref().map(|b| b.text.clone()),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        format!("row {}: {}", self.place, parts.join(", "))
    }

    /// Its bands of what is measured, for the verdict.
    pub fn as_row(&self) -> Row {
        Row {
            words: self.words(),
            oil: self.oil.clone(),
            pressure: self.pressure.clone(),
        }
    }
}

/// A kind in words.
pub(super) fn kind_words(kind: Kind) -> &'static str {
    match kind {
        Kind::DoubleActing => "double acting",
        Kind::DoubleRod => "double rod",
        Kind::SingleActing => "single acting",
        Kind::Plunger => "plunger",
        Kind::TelescopicStage => "telescopic stage",
    }
}
