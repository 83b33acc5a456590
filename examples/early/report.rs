//! The tables of a campaign of holds that end as decided.

use crate::looked::LONGEST_S;
use crate::looked::Row;
use crate::statistics::point;
use crate::statistics::upper_limit;
use std::fmt::Write;

/// Risk at the limit, and what it saves away from it.
pub fn report(rows: &[Row]) -> String {
    let mut out = String::new();
    let at_limit: Vec<&Row> = rows.iter().filter(|r| r.ratio == 1.0).collect();
    // Writing to a String cannot fail.
    let _ = writeln!(
        out,
        "Leak exactly at its limit, risk of the shop 2.5 % (upper bounds 95 %, one-sided)\n\n\
         | ± of the whole hold by limit | n | false pass, looks | upper | false fail, looks | upper | false pass, whole | false fail, whole |\n\
         |---|---|---|---|---|---|---|---|"
    );
    for (words, low, high) in BANDS {
        let own: Vec<&&Row> = at_limit.iter().filter(|r| within(r, low, high)).collect();
        let n = own.len();
        let count = |of: fn(&Row) -> &str, word: &str| own.iter().filter(|r| of(r) == word).count();
        let early = |word| count(|r| &r.early, word);
        let fixed = |word| count(|r| &r.fixed, word);
        let share = |hits: usize| percent(hits, n);
        let upper = |hits: usize| format!("{:.2} %", 100.0 * upper_limit(hits, n, 0.05));
        let (pass, fail) = (early("pass"), early("fail"));
        let _ = writeln!(
            out,
            "| {words} | {n} | {} | {} | {} | {} | {} | {} |",
            share(pass),
            upper(pass),
            share(fail),
            upper(fail),
            share(fixed("pass")),
            share(fixed("fail"))
        );
    }
    let _ = writeln!(
        out,
        "\nTime to the end against a hold of {LONGEST_S:.0} s at the same risk\n\n\
         | leak by limit | ± of the whole hold by limit | n | median end s | 10 % | 90 % | ended early | decided, looks | decided, whole |\n\
         |---|---|---|---|---|---|---|---|---|"
    );
    let mut ratios: Vec<f64> = rows.iter().map(|r| r.ratio).collect();
    ratios.sort_by(f64::total_cmp);
    ratios.dedup();
    for ratio in ratios {
        for (words, low, high) in BANDS {
            let of = |r: &&Row| r.ratio == ratio && within(r, low, high);
            let own: Vec<&Row> = rows.iter().filter(of).collect();
            let n = own.len();
            if n == 0 {
                continue;
            }
            let ends: Vec<f64> = own.iter().map(|r| r.ended_s).collect();
            let at = |part| point(&ends, part).unwrap_or(f64::NAN);
            let decided = |word: &str| matches!(word, "pass" | "fail");
            let count = |of: &dyn Fn(&Row) -> bool| own.iter().filter(|r| of(r)).count();
            let _ = writeln!(
                out,
                "| {ratio} | {words} | {n} | {:.0} | {:.0} | {:.0} | {} | {} | {} |",
                at(0.5),
                at(0.1),
                at(0.9),
                percent(count(&|r| r.ended_s < LONGEST_S), n),
                percent(count(&|r| decided(&r.early)), n),
                percent(count(&|r| decided(&r.fixed)), n)
            );
        }
    }
    out
}

/// How sure the whole hold is, compared with its limit.
const BANDS: [(&str, f64, f64); 4] = [
    ("all", 0.0, f64::INFINITY),
    ("below 0.1", 0.0, 0.1),
    ("0.1 to 0.5", 0.1, 0.5),
    ("above 0.5", 0.5, f64::INFINITY),
];

fn within(row: &Row, low: f64, high: f64) -> bool {
    (low..high).contains(&row.expanded_by_limit)
}

fn percent(hits: usize, n: usize) -> String {
    format!("{:.1} %", 100.0 * hits as f64 / n.max(1) as f64)
}
