//! Which row of a table a hold is judged by.
//!
//! Rows of one table come as limits of one id. Exactly one must hold for what was measured;
//! else nothing is decided, and nothing is taken from between two rows.

use super::Judged;
use super::Limit;
use super::Outcome;
use super::compare::numbers;
use crate::account::Conditions;
use crate::account::FigureName;

/// Most rows that are named as near.
const NEAR: usize = 3;

/// Limits that answer one question: one alone, or the rows of one table.
pub(super) struct Question<'a> {
    first: &'a Limit,
    rows: Vec<&'a Limit>,
}

/// The questions that limits ask, in their order.
pub(super) fn questions(limits: &[Limit]) -> Vec<Question<'_>> {
    let mut all: Vec<Question<'_>> = Vec::new();
    for limit in limits {
        let of_table = all.iter_mut().find(|q| {
            let is_row = |limit: &Limit| limit.basis.row.is_some();
            is_row(limit) && is_row(q.first) && q.first.asks_the_same(limit)
        });
        match of_table {
            Some(question) => question.rows.push(limit),
            None => all.push(Question {
                first: limit,
                rows: vec![limit],
            }),
        }
    }
    all
}

impl<'a> Question<'a> {
    /// The figure it is about.
    pub fn figure(&self) -> FigureName {
        self.first.figure
    }

    /// The strictest of its limits, whichever row is chosen.
    pub fn strictest(&self) -> &'a Limit {
        let size = |limit: &Limit| limit.number * limit.si_per_unit;
        let rows = self.rows.iter().copied();
        rows.min_by(|a, b| size(a).total_cmp(&size(b)))
            .unwrap_or(self.first)
    }

    /// The limit itself, or for the rows of a table one without a number.
    pub fn open(&self) -> Limit {
        let mut limit = self.first.clone();
        if let Some(row) = &mut limit.basis.row {
            row.words = "no row for this hold".into();
            limit.number = f64::NAN;
            limit.text = "a table, no row".into();
        }
        limit
    }

    /// The one row for what was measured, the same in each of `found`.
    pub fn chosen(&self, found: &[Conditions]) -> Result<&'a Limit, Box<Judged>> {
        if self.first.basis.row.is_none() {
            return Ok(self.first);
        }
        let mut rows = found.iter().map(|found| self.one_row(found));
        let first = match rows.next() {
            Some(first) => first?,
            None => return Err(self.undecided("nothing was measured to choose a row by".into())),
        };
        for other in rows {
            if other? != first {
                let reason =
                    "the holds that it was measured in belong to different rows of the table";
                return Err(self.undecided(reason.into()));
            }
        }
        Ok(first)
    }

    fn one_row(&self, found: &Conditions) -> Result<&'a Limit, Box<Judged>> {
        let holds = |limit: &&&Limit| limit.basis.row.as_ref().is_none_or(|row| row.holds(found));
        let mut rows = self.rows.iter().filter(holds);
        let (measured, near) = (self.measured(found), self.near(found));
        match (rows.next(), rows.next()) {
            (Some(row), None) => Ok(row),
            (Some(_), Some(_)) => Err(self.undecided(format!(
                "more than one row of the table is for {measured}: {near}"
            ))),
            _ => Err(self.undecided(format!(
                "no row of the table is for {measured}; near: {near}. Nothing is taken from between rows: hold within a \
                 row, or give the table a row with its source"
            ))),
        }
    }

    /// What was measured of those conditions that the rows ask for.
    fn measured(&self, found: &Conditions) -> String {
        let rows = || self.rows.iter().filter_map(|l| l.basis.row.as_ref());
        let oil = match found.t_oil_k {
            Some(k) => format!("{:.1} °C oil", k - 273.15),
            None => "an oil temperature that was not measured".into(),
        };
        let pressure = match found.p_holding_pa {
            Some(pa) => format!("{:.1} bar", pa / 1e5),
            None => "a pressure that was not measured".into(),
        };
        let parts = [
            rows().any(|row| row.oil.is_some()).then_some(oil),
            rows().any(|row| row.pressure.is_some()).then_some(pressure),
        ];
        let parts: Vec<String> = parts.into_iter().flatten().collect();
        parts.join(" and ")
    }

    fn near(&self, found: &Conditions) -> String {
        let rows = self.rows.iter().filter_map(|l| l.basis.row.as_ref());
        let mut rows: Vec<_> = rows.map(|row| (row.off(found), &row.words)).collect();
        rows.sort_by(|a, b| a.0.total_cmp(&b.0));
        let words: Vec<&str> = rows.iter().take(NEAR).map(|(_, w)| w.as_str()).collect();
        words.join(" / ")
    }

    fn undecided(&self, reason: String) -> Box<Judged> {
        Box::new(Judged {
            outcome: Outcome::Undecided,
            reason,
            ..numbers(None, &self.open())
        })
    }
}

#[cfg(test)]
mod tests;
