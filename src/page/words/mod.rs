//! Every word a person reads on the page, in one table for each language.
//!
//! A translation is one more file beside `en`; a word that is missing there does not compile.
//! `{}` stands for what is filled in, in order. Texts that come from other rooms (the sentence of
//! a paper, why two figures cannot be compared, what is wrong with a job sheet) come as they are.

mod bench_table;
mod en;
mod en_bench;
mod en_walk;
mod table;
mod walk_table;

pub(super) use table::Words;

/// The words of this page.
pub(super) fn words() -> &'static Words {
    &en::WORDS
}

/// A sentence with its places filled, in order.
pub(super) fn filled(sentence: &str, parts: &[&str]) -> String {
    let mut text = String::new();
    let mut parts = parts.iter();
    for (index, piece) in sentence.split("{}").enumerate() {
        if index > 0 {
            text.push_str(parts.next().unwrap_or(&""));
        }
        text.push_str(piece);
    }
    text
}

/// "1 test", "2 tests": a number with the word for one or for several.
pub(super) fn counted<N: Into<i64> + Copy>(n: &N, (one, several): (&str, &str)) -> String {
    let n: i64 = (*n).into();
    let word = if n == 1 { one } else { several };
    format!("{n} {word}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_are_filled_in_order_and_once() {
        assert_eq!(
            filled("by {} to {} {}", &["1", "{}", "mL/min"]),
            "by 1 to {} mL/min"
        );
        assert_eq!(filled("nothing", &["a"]), "nothing");
        assert_eq!(counted(&1_i64, ("test", "tests")), "1 test");
        assert_eq!(counted(&0_i64, ("test", "tests")), "0 tests");
    }

    /// A word of the glossary, and the names of the sentences in which it has the meaning that it has
    /// there; elsewhere it would have another.
    const ONE_MEANING: &[(&str, &[&str])] = &[
        // Hydraulic; the serial thing is an adapter.
        ("port", &["outside_hint"]),
        ("ports", &["plugs"]),
        // Rubber; the cryptographic thing is a signature.
        ("seals", &[]),
        ("sealed", &[]),
        ("seal", &["words_hint", "seal", "papers_hint", "from_kit"]),
        // The shop's; what a machine bears is a rating.
        ("threshold", &[]),
        ("tolerance", &[]),
        ("device", &[]),
        ("dut", &[]),
        ("simulator", &[]),
        ("simulation", &[]),
        ("score", &[]),
        ("certificate", &["certificate", "reference_certificate"]),
    ];

    #[test]
    fn words_of_the_glossary_have_one_meaning_on_the_page() {
        let all = [
            include_str!("en.rs"),
            include_str!("en_bench.rs"),
            include_str!("en_walk.rs"),
        ]
        .join("\n");
        let mut name = "";
        let mut findings = Vec::new();
        for line in all.lines() {
            if let Some((start, _)) = line.trim().split_once(':')
                && start.chars().all(|c| c.is_ascii_lowercase() || c == '_')
            {
                name = start;
            }
            let Some((_, said)) = line.split_once('"') else {
                continue;
            };
            let said = said.to_lowercase();
            let spoken = said.split(|c: char| !c.is_alphanumeric() && c != '-');
            for word in spoken {
                let known = ONE_MEANING.iter().find(|(one, _)| *one == word);
                if known.is_some_and(|(_, names)| !names.contains(&name)) {
                    findings.push(format!("{name}: {word} in {said}"));
                }
            }
        }
        assert!(findings.is_empty(), "{}", findings.join("\n"));
    }
}
