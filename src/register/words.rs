//! What is typed, in the speech of the database's index of words.
//!
//! Each word is looked for as the beginning of one. Short beginnings have an index of their own.
//! For a longer one the database would gather every row that has a word of that beginning before
//! it gave the first: a seventh of a second for a word of each of a million rows. So the words of that
//! beginning are looked up, which are few, and looked for whole: whole words are read from the
//! latest row back, only as far as somebody asks.

use sqlx::SqlitePool;

/// Longest text to search for, in characters; the rest is not looked at.
const LONGEST_SEARCH: usize = 200;

/// Longest beginning of a word that has an index; as in the layout.
const LONGEST_INDEXED: usize = 4;

/// Most words of one beginning that are looked for whole; more are gathered, each having few rows.
const MOST_WHOLE: usize = 64;

/// Which index of words.
#[derive(Debug, Clone, Copy)]
pub(super) enum Index {
    /// That of tests.
    Tests,
    /// That of jobs.
    Jobs,
}

/// What a text asks for.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Asked {
    Everything,
    Words(String),
    /// Signs in which there is no word, or a word that no row has.
    Nothing,
}

/// A word as it was typed; what stands together ("TV-0312") must stand together.
#[derive(Debug, PartialEq, Eq)]
struct Typed<'a> {
    before: &'a str,
    /// What may be the beginning of a longer word.
    last: &'a str,
}

macro_rules! next_by_next {
    ($terms:literal) => {
        concat!(
            "WITH RECURSIVE begun (term) AS (
                 SELECT (SELECT term FROM ",
            $terms,
            " WHERE term >= $1 ORDER BY term LIMIT 1)
                 UNION ALL
                 SELECT (SELECT term FROM ",
            $terms,
            " WHERE term >= begun.term || char(1) ORDER BY term LIMIT 1)
                 FROM begun WHERE begun.term < $2
             )
             SELECT term FROM begun WHERE term < $2 LIMIT $3"
        )
    };
}

/// What a text asks of an index.
pub(super) async fn asked(
    all: &SqlitePool,
    index: Index,
    text: &str,
) -> Result<Asked, sqlx::Error> {
    let text: String = text.chars().take(LONGEST_SEARCH).collect();
    if text.trim().is_empty() {
        return Ok(Asked::Everything);
    }
    let mut parts = Vec::new();
    for word in typed(&text) {
        let whole = match word.has_index() {
            true => None,
            false => beginning(all, index, &word.last.to_ascii_lowercase()).await?,
        };
        match whole {
            None => parts.push(format!("{}*", quoted(word.before, word.last))),
            Some(terms) if terms.is_empty() => return Ok(Asked::Nothing),
            Some(terms) => {
                let terms = terms.iter().map(|term| quoted(word.before, term));
                parts.push(format!("({})", terms.collect::<Vec<_>>().join(" OR ")));
            }
        }
    }
    Ok(match parts.is_empty() {
        true => Asked::Nothing,
        false => Asked::Words(parts.join(" AND ")),
    })
}

fn typed(text: &str) -> impl Iterator<Item = Typed<'_>> {
    // The index reads a text only up to a NUL.
    let words = text.split(|c: char| c.is_whitespace() || c == '\0');
    words.filter_map(|word| {
        let word = word.trim_end_matches(|c: char| c.is_ascii() && !c.is_ascii_alphanumeric());
        let has_word = word.chars().any(char::is_alphanumeric);
        let start = word
            .rfind(|c: char| c.is_ascii() && !c.is_ascii_alphanumeric())
            .map_or(0, |at| at + 1);
        has_word.then(|| Typed {
            before: &word[..start],
            last: &word[start..],
        })
    })
}

impl Typed<'_> {
    /// Whether its rows can be read one after another. What the index makes of other letters than
    /// those of ASCII is the index's own affair.
    fn has_index(&self) -> bool {
        self.last.len() <= LONGEST_INDEXED || !self.last.is_ascii()
    }
}

fn quoted(before: &str, last: &str) -> String {
    format!("\"{}{last}\"", before.replace('"', "\"\""))
}

/// All words of a beginning, if there are not too many.
///
/// From one word to the next by its name: to go through all places of a word would take as long
/// as it has rows. No word has a letter as low as that which follows it here.
async fn beginning(
    all: &SqlitePool,
    index: Index,
    start: &str,
) -> Result<Option<Vec<String>>, sqlx::Error> {
    let terms: Vec<String> = sqlx::query_scalar(match index {
        Index::Tests => next_by_next!("test_terms"),
        Index::Jobs => next_by_next!("job_terms"),
    })
    .bind(start)
    .bind(format!("{start}{}", char::MAX))
    .bind(MOST_WHOLE as i64 + 1)
    .fetch_all(all)
    .await?;
    Ok((terms.len() <= MOST_WHOLE).then_some(terms))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: &[(&str, &str)]) {
        let found: Vec<_> = typed(text).map(|word| (word.before, word.last)).collect();
        assert_eq!(found, expected, "{text:?}");
    }

    #[test]
    fn what_stands_together_ends_in_what_may_go_on() {
        check("  ", &[]);
        check("TV-0312  plough", &[("TV-", "0312"), ("", "plough")]);
        check("a\" OR b*", &[("", "a"), ("", "OR"), ("", "b")]);
        check("tv\0-- left's", &[("", "tv"), ("left'", "s")]);
        check("% _ \" *", &[]);
        check("Prüfling-", &[("", "Prüfling")]);
    }

    #[test]
    fn what_is_typed_is_never_obeyed() {
        assert_eq!(quoted("a\"", "b"), "\"a\"\"b\"");
        let typed = |last| Typed { before: "", last };
        assert!(typed("plou").has_index() && !typed("ploug").has_index());
        assert!(typed("prüfling").has_index());
    }
}
