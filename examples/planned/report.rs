//! The tables of the campaign.

use super::compared::Row;
use std::fmt::Write;

/// All tables.
pub fn report(rows: &[Row]) -> String {
    let mut out = String::new();
    let holds: std::collections::BTreeSet<u64> = rows.iter().map(|r| r.hold).collect();
    // Writing to a String cannot fail.
    let _ = writeln!(out, "{} holds, {} figures", holds.len(), rows.len());
    let is_flow = |row: &&Row| row.figure == "cap_loss" || row.figure == "rod_gain";
    for (title, wanted) in [
        ("flow of the holding side", true),
        ("movement, or loss of a locked rod", false),
    ] {
        let of: Vec<&Row> = rows.iter().filter(|r| is_flow(r) == wanted).collect();
        let _ = writeln!(
            out,
            "\n{title}\n{:<22} {:>4} {:>22}   {:>16}   {:>16}",
            "", "n", "reached/planned ±", "tight passes", "twice fails"
        );
        line(&mut out, "all", &of);
        for word in [
            "both blocked",
            "rod port open",
            "locked rod",
            "hanging load",
            "cap port on valve",
        ] {
            line(&mut out, word, &picked(&of, |r| r.plumbing == word));
        }
        for word in ["poor", "middle", "good"] {
            line(&mut out, word, &picked(&of, |r| r.quality == word));
        }
        for (word, from, to) in [
            ("hold below 3 min", 0.0, 180.0),
            ("3 to 10 min", 180.0, 600.0),
            ("10 min and more", 600.0, f64::INFINITY),
        ] {
            line(
                &mut out,
                word,
                &picked(&of, |r| (from..to).contains(&r.hold_s)),
            );
        }
        for (word, from, to) in [
            ("settled < 2 min", 0.0, 120.0),
            ("settled longer", 120.0, f64::INFINITY),
        ] {
            line(
                &mut out,
                word,
                &picked(&of, |r| (from..to).contains(&r.settle_s)),
            );
        }
        for (word, from, to) in [
            ("needs 1 min", 0.0, 61.0),
            ("needs 1 to 5 min", 61.0, 300.0),
            ("needs 5 to 15 min", 300.0, 900.0),
            ("needs 15 to 40 min", 900.0, 2401.0),
        ] {
            let needs = |r: &Row| r.likely_s.is_some_and(|s| (from..to).contains(&s));
            line(&mut out, word, &picked(&of, needs));
        }
        let n_long = of
            .iter()
            .filter(|r| r.likely_s.is_none_or(|s| s > 2400.0))
            .count();
        let n_unstated = of.iter().filter(|r| r.reached_si.is_none()).count();
        let _ = writeln!(
            out,
            "longer than 40 min, not played: {n_long}; no figure stated: {n_unstated}"
        );
    }
    out
}

fn picked<'a>(rows: &[&'a Row], is_in: impl Fn(&Row) -> bool) -> Vec<&'a Row> {
    rows.iter().copied().filter(|r| is_in(r)).collect()
}

fn line(out: &mut String, word: &str, rows: &[&Row]) {
    let mut ratios: Vec<f64> = rows
        .iter()
        .filter_map(|r| Some(r.reached_si? / r.planned_si))
        .collect();
    ratios.sort_by(f64::total_cmp);
    let at = |part: f64| {
        let place = (part * (ratios.len().saturating_sub(1)) as f64).round() as usize;
        ratios.get(place).copied().unwrap_or(f64::NAN)
    };
    let share = |of: &dyn Fn(&Row) -> Option<&String>, good: &str| {
        let all: Vec<&String> = rows.iter().filter_map(|r| of(r)).collect();
        let n_good = all.iter().filter(|o| **o == good).count();
        match all.len() {
            0 => "–".into(),
            n => format!(
                "{n_good} of {n} ({:.0} %)",
                100.0 * n_good as f64 / n as f64
            ),
        }
    };
    let _ = writeln!(
        out,
        "{word:<22} {:>4} {:>5.2} ({:>4.2} to {:>5.2})   {:>16}   {:>16}",
        ratios.len(),
        at(0.5),
        at(0.1),
        at(0.9),
        share(&|r| r.tight.as_ref(), "pass"),
        share(&|r| r.leaking.as_ref(), "fail")
    );
}
