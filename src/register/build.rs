//! How a unit is built, as far as somebody wrote it down.

use super::rows::word_in;
use crate::cylinder::Kind;
use crate::quantity::GaugePressure;
use crate::quantity::Length;
use crate::quantity::Quantity as _;
use sqlx::Row as _;
use sqlx::sqlite::SqliteRow;

/// Columns of a unit that say how it is built, in the order of [`Build`]'s fields.
pub(super) const BUILD: [&str; 8] = [
    "kind",
    "bore_um",
    "rod_um",
    "stroke_um",
    "cap_rating_pa",
    "rod_rating_pa",
    "ports",
    "holding_valve",
];

/// How a unit is built; empty and None stand for what nobody wrote down.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Build {
    /// Kind of cylinder.
    pub kind: Option<Kind>,
    /// Inner diameter of the tube, µm.
    pub bore_um: Option<i64>,
    /// Diameter of the rod, µm.
    pub rod_um: Option<i64>,
    /// Stroke, µm.
    pub stroke_um: Option<i64>,
    /// What its cap end may stand, Pa gauge.
    pub cap_rating_pa: Option<i64>,
    /// What its rod end may stand, Pa gauge.
    pub rod_rating_pa: Option<i64>,
    /// Its ports, "G 3/8".
    pub ports: String,
    /// The valve on it that holds its load, "counterbalance valve, cap end".
    pub holding_valve: String,
}

impl Build {
    /// A length in whole micrometres; None for one that is none.
    pub fn whole_um(length: Length) -> Option<i64> {
        whole(length.si() * 1e6)
    }

    /// A pressure in whole pascals; None for one that is none.
    pub fn whole_pa(pressure: GaugePressure) -> Option<i64> {
        whole(pressure.si())
    }

    /// This, and where it says nothing what was known before.
    pub(super) fn over(&self, known: &Self) -> Self {
        let text = |is: &String, was: &String| match is.is_empty() {
            true => was.clone(),
            false => is.clone(),
        };
        Self {
            kind: self.kind.or(known.kind),
            bore_um: self.bore_um.or(known.bore_um),
            rod_um: self.rod_um.or(known.rod_um),
            stroke_um: self.stroke_um.or(known.stroke_um),
            cap_rating_pa: self.cap_rating_pa.or(known.cap_rating_pa),
            rod_rating_pa: self.rod_rating_pa.or(known.rod_rating_pa),
            ports: text(&self.ports, &known.ports),
            holding_valve: text(&self.holding_valve, &known.holding_valve),
        }
    }

    /// Word of its kind in the table.
    pub(super) fn kind_word(&self) -> &'static str {
        self.kind.map_or("", Kind::word)
    }

    /// From a row; its kind stands in the column named.
    pub(super) fn of_row(row: &SqliteRow, kind: &str) -> Result<Self, sqlx::Error> {
        Ok(Self {
            kind: match row.try_get::<&str, _>(kind)? {
                "" => None,
                _ => Some(word_in(row, kind, &Kind::ALL, Kind::word)?),
            },
            bore_um: row.try_get("bore_um")?,
            rod_um: row.try_get("rod_um")?,
            stroke_um: row.try_get("stroke_um")?,
            cap_rating_pa: row.try_get("cap_rating_pa")?,
            rod_rating_pa: row.try_get("rod_rating_pa")?,
            ports: row.try_get("ports")?,
            holding_valve: row.try_get("holding_valve")?,
        })
    }
}

/// Exact far beyond any cylinder: up to 2^53.
fn whole(value: f64) -> Option<i64> {
    let is_size = value.is_finite() && (0.5..9e15).contains(&value);
    is_size.then(|| value.round() as i64)
}
