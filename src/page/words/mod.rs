//! Every word a person reads on the page, in one table for each language.
//!
//! A translation is one more file beside `en`; a word that is missing there does not compile.
//! `{}` stands for what is filled in, in order. Texts that come from other rooms (the sentence of
//! a paper, why two figures cannot be compared, what is wrong with a job sheet) come as they are.

mod bench_table;
mod en;
mod en_bench;
mod table;

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
}
