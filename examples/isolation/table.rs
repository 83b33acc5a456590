//! The report of a campaign, as Markdown.

use super::rows::PERHAPS;
use super::rows::Row;
use super::statistics::upper_limit;
use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::fmt::Write;

/// Words of sizes by detection limit, in order.
const SIZES: [&str; 6] = [
    "no leak",
    "< 1 limit",
    "1 to 3 limits",
    "3 to 10 limits",
    "> 10 limits",
    "no planned phase tells",
];

/// The whole report.
pub fn table(first_line: &str, rows: &[Row]) -> String {
    let numbers: BTreeSet<u64> = rows.iter().map(|r| r.number).collect();
    let asked: Vec<&Row> = rows.iter().filter(|r| r.score != "not_asked").collect();
    let mut out = format!(
        "{first_line}\n\n{} investigations, {} answers\n",
        numbers.len(),
        asked.len()
    );
    head(&mut out, rows, &asked);
    strata(&mut out, "By leak over detection limit", &asked, |r| {
        size(r).into()
    });
    let told: Vec<&Row> = asked.iter().copied().filter(|r| r.is_told).collect();
    strata(
        &mut out,
        "By kind, where the planned phases tell",
        &told,
        |r| r.sort.clone(),
    );
    let large: Vec<&Row> = told
        .iter()
        .copied()
        .filter(|r| r.truth > 3.0 * r.limit)
        .collect();
    strata(&mut out, "Above 3 limits, by kind", &large, |r| {
        r.sort.clone()
    });
    strata(&mut out, "Above 3 limits, by way", &large, |r| {
        r.way.clone()
    });
    let hidden: Vec<&Row> = asked.iter().copied().filter(|r| !r.is_told).collect();
    strata(&mut out, "No planned phase tells, by kind", &hidden, |r| {
        r.sort.clone()
    });
    strata(&mut out, "By phases", &asked, |r| r.phases.clone());
    advice(&mut out, rows);
    wrong(&mut out, &asked);
    not_told(&mut out, &large);
    unresolved(&mut out, rows);
    out
}

fn size(row: &Row) -> &'static str {
    match row.truth / row.limit {
        _ if !row.is_told => SIZES[5],
        _ if row.truth <= 0.0 => SIZES[0],
        part if part < 1.0 => SIZES[1],
        part if part < 3.0 => SIZES[2],
        part if part <= 10.0 => SIZES[3],
        _ => SIZES[4],
    }
}

/// Where no planned phase tells, not telling is right.
fn is_right(row: &Row) -> bool {
    row.score == "right" || (!row.is_told && row.score == "cannot_tell")
}

fn is_wrong(score: &str) -> bool {
    score.starts_with("wrong")
}

fn percent(n: usize, of: usize) -> f64 {
    100.0 * n as f64 / of.max(1) as f64
}

fn head(out: &mut String, rows: &[Row], asked: &[&Row]) {
    let of = |is: fn(&Row) -> bool| -> usize {
        let found: BTreeSet<u64> = rows.iter().filter(|r| is(r)).map(|r| r.number).collect();
        found.len()
    };
    let n_wrong = asked.iter().filter(|r| is_wrong(&r.score)).count();
    let large = asked
        .iter()
        .filter(|r| r.is_told && r.truth > 3.0 * r.limit);
    let (n_large, n_right) = large.fold((0, 0), |(n, right), r| {
        (n + 1, right + usize::from(is_right(r)))
    });
    let _ = writeln!(
        out,
        "\n- wrong: {n_wrong} of {} answers ({:.2} %, below {:.2} % with 95 %); in {} investigations\n\
         - above three limits right: {n_right} of {n_large} ({:.2} %)\n\
         - nothing said at all: {}; phases contradict each other: {}; with a phase that says nothing: {}; \
         a joined phase could not be held: {}",
        asked.len(),
        percent(n_wrong, asked.len()),
        100.0 * upper_limit(n_wrong, asked.len(), 0.05),
        of(|r| is_wrong(&r.score)),
        percent(n_right, n_large),
        of(|r| r.way == "-"),
        of(|r| r.standing == "not_valid"),
        of(|r| r.n_void > 0),
        of(|r| r.n_left_out > 0),
    );
}

fn strata(out: &mut String, title: &str, rows: &[&Row], level: fn(&Row) -> String) {
    let mut levels: BTreeMap<(usize, String), Vec<&Row>> = BTreeMap::new();
    for row in rows {
        let word = level(row);
        let place = SIZES.iter().position(|size| *size == word).unwrap_or(0);
        levels.entry((place, word)).or_default().push(row);
    }
    levels.insert((SIZES.len(), "all".into()), rows.to_vec());
    let _ = writeln!(
        out,
        "\n## {title}\n\n| | answers | right | cannot tell | wrong | below (one-sided 95 %) |\n|---|---|---|---|---|---|"
    );
    for ((_, word), own) in levels {
        let n = own.len();
        let n_right = own.iter().filter(|r| is_right(r)).count();
        let n_wrong = own.iter().filter(|r| is_wrong(&r.score)).count();
        let n_open = own
            .iter()
            .filter(|r| r.is_told && r.score == "cannot_tell")
            .count();
        let _ = writeln!(
            out,
            "| {word} | {n} | {n_right} ({:.2} %) | {n_open} ({:.2} %) | {n_wrong} ({:.2} %) | {:.2} % |",
            percent(n_right, n),
            percent(n_open, n),
            percent(n_wrong, n),
            100.0 * upper_limit(n_wrong, n, 0.05)
        );
    }
}

/// Whether a step is advised without "perhaps".
fn is_advised(row: &Row) -> bool {
    !row.step.is_empty() && !row.step.starts_with(PERHAPS)
}

fn advice(out: &mut String, rows: &[Row]) {
    let open: BTreeSet<u64> = rows
        .iter()
        .filter(|r| r.standing == "open")
        .map(|r| r.number)
        .collect();
    let advised: BTreeSet<u64> = rows
        .iter()
        .filter(|r| is_advised(r))
        .map(|r| r.number)
        .collect();
    let perhaps: BTreeSet<u64> = rows
        .iter()
        .filter(|r| r.step.starts_with(PERHAPS))
        .map(|r| r.number)
        .collect();
    let _ = writeln!(
        out,
        "\n## Advice\n\n{} investigations left a way open, {} of them with advice, {} with one that \
         tells in most trials only (\"perhaps\"). For the ways it promises to tell:\n\n\
         | step | investigations | ways promised | could not be held | resolved | of those held | right | wrong |\n\
         |---|---|---|---|---|---|---|---|",
        open.len(),
        advised.len(),
        perhaps.len()
    );
    let mut steps: BTreeMap<String, Vec<&Row>> = BTreeMap::new();
    for row in rows.iter().filter(|r| r.promised) {
        steps.entry(row.step.clone()).or_default().push(row);
        let all = match is_advised(row) {
            true => "all advice",
            false => "perhaps, all",
        };
        steps.entry(format!("~ {all}")).or_default().push(row);
    }
    for (step, own) in steps {
        let numbers: BTreeSet<u64> = own.iter().map(|r| r.number).collect();
        let n_held = own.iter().filter(|r| r.is_held).count();
        let n_resolved = own.iter().filter(|r| r.is_resolved).count();
        let n_right = own
            .iter()
            .filter(|r| r.is_resolved && r.after_score == "right")
            .count();
        let n_wrong = own.iter().filter(|r| is_wrong(&r.after_score)).count();
        let _ = writeln!(
            out,
            "| {step} | {} | {} | {} | {n_resolved} | {:.1} % | {n_right} | {n_wrong} |",
            numbers.len(),
            own.len(),
            own.len() - n_held,
            percent(n_resolved, n_held)
        );
    }
    let n_wrong = rows.iter().filter(|r| is_wrong(&r.after_score)).count();
    let n_after = rows
        .iter()
        .filter(|r| !r.after_score.is_empty() && r.after_score != "not_asked")
        .count();
    let _ = writeln!(
        out,
        "\nOf all {n_after} answers after the advice {n_wrong} are wrong ({:.2} %).",
        percent(n_wrong, n_after)
    );
}

fn line(out: &mut String, row: &Row, after: bool) {
    let score = if after { &row.after_score } else { &row.score };
    let _ = writeln!(
        out,
        "| {} | {} | {} | {} | {} | {} | {score} | {:.4} | {:.4} [{:.4}, {:.4}] | {:.4} | {:.4} | {} {} |",
        row.number,
        row.sort,
        row.phases,
        row.leaks,
        row.way,
        if after { &row.after } else { &row.standing },
        row.truth,
        row.best,
        row.lower,
        row.upper,
        row.small,
        row.limit,
        row.step,
        row.with
    );
}

const COLUMNS: &str = "| number | kind | phases | leaks, mL/min at the test pressure | way | said | score | true | found | small | limit | step, with |\n\
     |---|---|---|---|---|---|---|---|---|---|---|---|";

fn wrong(out: &mut String, asked: &[&Row]) {
    let _ = writeln!(out, "\n## Wrong\n\n{COLUMNS}");
    for row in asked.iter().filter(|r| is_wrong(&r.score)) {
        line(out, row, false);
    }
    let _ = writeln!(
        out,
        "\n## Wrong only after the advice (found: before)\n\n{COLUMNS}"
    );
    for row in asked
        .iter()
        .filter(|r| is_wrong(&r.after_score) && !is_wrong(&r.score))
    {
        line(out, row, true);
    }
}

fn not_told(out: &mut String, large: &[&Row]) {
    let _ = writeln!(out, "\n## Above three limits and not told\n\n{COLUMNS}");
    for row in large.iter().filter(|r| r.score == "cannot_tell") {
        line(out, row, false);
    }
}

fn unresolved(out: &mut String, rows: &[Row]) {
    let _ = writeln!(
        out,
        "\n## Promised and not resolved (found: before)\n\n{COLUMNS}"
    );
    for row in rows
        .iter()
        .filter(|r| r.promised && is_advised(r) && r.is_held && !r.is_resolved)
    {
        line(out, row, true);
    }
}
