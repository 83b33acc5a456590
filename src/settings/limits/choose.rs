//! From the shop's limits to those of one unit: what the setup knows chooses the rows, what
//! is measured is left to the verdict.

use super::Level;
use super::LimitSet;
use super::row::SetRow;
use super::row::kind_words;
use super::row::plain_seal;
use crate::cylinder::Cylinder;
use crate::verdict::Basis;
use crate::verdict::Limit;
use std::f64::consts::PI;

/// Most rows that are named as near.
const NEAR: usize = 3;

/// What a setup says of the unit, as far as limits ask.
pub(in crate::settings) struct Asking<'a> {
    pub cylinder: Option<&'a Cylinder>,
    pub seal: &'a str,
    pub level: Option<Level>,
    /// How far the load moves by what the rod moves, if it is stated.
    pub load_ratio: Option<f64>,
}

impl LimitSet {
    /// Whether it is a table of rows.
    pub(in crate::settings) fn is_table(&self) -> bool {
        self.is_table
    }

    /// Its limits for a unit: one, or those rows that differ in what is measured only.
    pub(in crate::settings) fn limits_for(
        &self,
        asking: &Asking<'_>,
    ) -> Result<Vec<Limit>, String> {
        self.can_be_asked(asking)?;
        let rows = self.rows.iter().filter(|row| misses(row, asking) == 0);
        let limits: Result<Vec<Limit>, String> = rows.map(|row| self.limit(row, asking)).collect();
        let limits = limits?;
        if limits.is_empty() {
            return Err(self.no_row(asking));
        }
        Ok(limits)
    }

    /// Whether the setup says all that the table asks.
    fn can_be_asked(&self, asking: &Asking<'_>) -> Result<(), String> {
        let id = &self.id;
        let asks = |has: fn(&SetRow) -> bool| self.rows.iter().any(has);
        let lacks = |what: String| Err(format!("limit table `{id}` {what}"));
        if self.is_table && asking.level.is_none() {
            return lacks(
                "goes by level: say in [acceptance] what this unit is, level = \"new\", \"rebuilt\" or \"in_service\"".into(),
            );
        }
        if asks(|r| r.seal.is_some()) && asking.seal.trim().is_empty() {
            let mut seals: Vec<&str> = self.rows.iter().filter_map(|r| r.seal.as_deref()).collect();
            seals.dedup();
            return lacks(format!(
                "goes by seal: say in [unit] which this one has, seal = …; the table has: {}",
                seals.join(", ")
            ));
        }
        if asks(|r| r.bore.is_some() || r.kind.is_some()) && asking.cylinder.is_none() {
            return lacks("goes by bore or kind, and a plain chamber has neither".into());
        }
        Ok(())
    }

    fn no_row(&self, asking: &Asking<'_>) -> String {
        let size = asking.cylinder.map(|c| c.size().bore.value);
        let mut near: Vec<(usize, f64, String)> = self
            .rows
            .iter()
            .map(|row| {
                let bore = row.bore.as_ref().zip(size);
                let off = bore.map_or(0.0, |(bore, size)| bore.off(size));
                (misses(row, asking), off, row.words())
            })
            .collect();
        near.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let near: Vec<&str> = near.iter().take(NEAR).map(|n| n.2.as_str()).collect();
        format!(
            "limit table `{}` has no row for this unit ({}); near: {}. Nothing is taken from between rows: name another \
             limit, or give the table a row with its source",
            self.id,
            self.asked(asking),
            near.join(" / ")
        )
    }

    /// What the unit is, of those conditions that the table goes by.
    fn asked(&self, asking: &Asking<'_>) -> String {
        let asks = |has: fn(&SetRow) -> bool| self.rows.iter().any(has);
        let mut parts: Vec<String> = Vec::new();
        parts.extend(asking.level.map(|level| level.plain().to_owned()));
        if let Some(cylinder) = asking.cylinder {
            if asks(|r| r.bore.is_some()) {
                let bore_mm = cylinder.size().bore.value * 1e3;
                parts.push(format!("bore {} mm", (bore_mm * 1e6).round() / 1e6));
            }
            if asks(|r| r.kind.is_some()) {
                parts.push(kind_words(cylinder.kind()).into());
            }
        }
        if asks(|r| r.seal.is_some()) {
            parts.push(format!("seal {}", asking.seal.trim()));
        }
        parts.join(", ")
    }

    fn limit(&self, row: &SetRow, asking: &Asking<'_>) -> Result<Limit, String> {
        let value = &row.value;
        let mut si_per_unit = value.si_per_unit;
        let mut basis = Basis {
            row: self.is_table.then(|| row.as_row()),
            over_s: value.over_s,
            ..Basis::default()
        };
        if value.is_rod_speed {
            let area_m2 = bore_area_m2(asking).map_err(|why| {
                format!("limit `{}` is rod speed × bore area, and {why}", self.id)
            })?;
            si_per_unit *= area_m2;
            basis.bore_area_m2 = Some(area_m2);
        }
        if self.is_at_load {
            let ratio = asking.load_ratio.ok_or_else(|| {
                format!(
                    "limit `{}` is for the movement of the load: say how far it moves by what the rod moves, `motion_ratio` in \
                     [sensors.x] where the sensor is at the load, in [acceptance] where it is at the rod",
                    self.id
                )
            })?;
            si_per_unit /= ratio;
            basis.load_ratio = Some(ratio);
        }
        Ok(Limit {
            id: self.id.clone(),
            figure: self.figure,
            number: value.number,
            unit: value.unit.clone(),
            si_per_unit,
            text: value.text.clone(),
            at_pressure: self.at_pressure,
            at_temperature: self.at_temperature,
            source: row.source.clone(),
            basis,
        })
    }
}

/// Of how many conditions that the setup knows a row is for another unit.
fn misses(row: &SetRow, asking: &Asking<'_>) -> usize {
    let size = asking.cylinder.map(|c| c.size().bore.value);
    let kind = asking.cylinder.map(Cylinder::kind);
    let of_bore = |bore: &super::row::Bore| size.is_some_and(|size| bore.holds(size));
    let is_for = [
        row.level.is_none_or(|level| asking.level == Some(level)),
        row.bore.as_ref().is_none_or(of_bore),
        row.kind.is_none_or(|wanted| kind == Some(wanted)),
        row.seal
            .as_ref()
            .is_none_or(|seal| plain_seal(seal) == plain_seal(asking.seal)),
    ];
    is_for.into_iter().filter(|is_for| !is_for).count()
}

/// Area of the bore, whatever the rod takes of it.
fn bore_area_m2(asking: &Asking<'_>) -> Result<f64, String> {
    let cylinder = asking.cylinder.ok_or("a plain chamber has no bore")?;
    match cylinder.kind().has_piston_seal() {
        true => Ok(0.25 * PI * cylinder.size().bore.value.powi(2)),
        false => {
            Err("what moves in this kind does not fill its bore; state the flow instead".into())
        }
    }
}
