//! Where the record and the pages lie in a PDF that this program has just written.
//!
//! Only for signing: the places go into the label, and checking reads them there. Form of
//! the file: ISO 32000-1, 7.5 (objects by a plain cross-reference table, not compressed).

use super::PaperError;

/// Longest dictionary that is looked through, bytes.
const LONGEST_DICTIONARY: usize = 16_384;

/// First byte and length of what the attached record, then each page draws from.
pub(super) fn places(bytes: &[u8], n_pages: usize) -> Result<Vec<(usize, usize)>, PaperError> {
    let objects = objects(bytes).ok_or(missing("table of objects"))?;
    let dictionary = |number: usize| {
        let start = objects.get(number).copied().flatten()?;
        dictionary(bytes, start)
    };
    let all = 0..objects.len();
    let with = |mark: &str| {
        let mut found = all.clone().filter(|n| {
            let text = dictionary(*n);
            text.is_some_and(|(text, _)| text.contains(mark))
        });
        found.next()
    };
    let record = with("/Type/EmbeddedFile").ok_or(missing("attached record"))?;
    let root = with("/Type/Pages").ok_or(missing("list of pages"))?;
    let mut pages = Vec::new();
    let mut left = vec![root];
    while let Some(number) = left.pop() {
        let (text, _) = dictionary(number).ok_or(missing("page"))?;
        match text.contains("/Type/Pages") {
            true => left.extend(numbers_in_list(&text, "/Kids[").into_iter().rev()),
            false => pages.push(number_behind(&text, "/Contents ").ok_or(missing("content"))?),
        }
        if left.len() + pages.len() > objects.len() {
            return Err(missing("end of its pages"));
        }
    }
    if pages.len() != n_pages {
        return Err(missing("page for each label"));
    }
    let streams = std::iter::once(record).chain(pages);
    streams
        .map(|number| {
            let (text, start) = dictionary(number).ok_or(missing("content"))?;
            let length = number_behind(&text, "/Length ").ok_or(missing("length"))?;
            match bytes.get(start..start + length) {
                Some(_) => Ok((start, length)),
                None => Err(missing("whole content")),
            }
        })
        .collect()
}

fn missing(what: &'static str) -> PaperError {
    PaperError::Build { what }
}

/// Positions of the objects by number; None for a number that is free.
fn objects(bytes: &[u8]) -> Option<Vec<Option<usize>>> {
    let tail = &bytes[bytes.len().saturating_sub(64)..];
    let tail = String::from_utf8_lossy(tail);
    let start: usize = tail
        .rsplit_once("startxref\n")?
        .1
        .lines()
        .next()?
        .parse()
        .ok()?;
    let table = bytes.get(start..)?.strip_prefix(b"xref\n0 ")?;
    let end = table.iter().position(|b| *b == b'\n')?;
    let n_objects: usize = std::str::from_utf8(&table[..end]).ok()?.parse().ok()?;
    let rows = table[end + 1..].chunks_exact(20).take(n_objects);
    let found: Option<Vec<_>> = rows
        .map(|row| {
            let row = std::str::from_utf8(row).ok()?;
            let position: usize = row.get(..10)?.parse().ok()?;
            Some((row.as_bytes()[17] == b'n').then_some(position))
        })
        .collect();
    found.filter(|found| found.len() == n_objects)
}

/// The dictionary of an object as text, and where its stream begins if it has one.
fn dictionary(bytes: &[u8], start: usize) -> Option<(String, usize)> {
    let end = (start + LONGEST_DICTIONARY).min(bytes.len());
    let from = bytes.get(start..end)?;
    let stream = find(from, b"stream\n");
    let ends = find(from, b"endobj");
    let (n_text, content) = match (stream, ends) {
        (Some(stream), Some(ends)) if ends < stream => (ends, 0),
        (Some(stream), _) => (stream, start + stream + b"stream\n".len()),
        (None, Some(ends)) => (ends, 0),
        (None, None) => return None,
    };
    Some((
        String::from_utf8_lossy(&from[..n_text]).into_owned(),
        content,
    ))
}

fn number_behind(text: &str, mark: &str) -> Option<usize> {
    let rest = text.split_once(mark)?.1;
    let end = rest.find(|c: char| !c.is_ascii_digit())?;
    rest[..end].parse().ok()
}

/// Object numbers of a list of references, `[204 0 R 205 0 R]`.
fn numbers_in_list(text: &str, mark: &str) -> Vec<usize> {
    let list = text
        .split_once(mark)
        .and_then(|(_, rest)| rest.split_once(']'));
    let list = list.map_or("", |(list, _)| list);
    let words: Vec<&str> = list.split_whitespace().collect();
    let firsts = words.chunks(3).filter_map(|one| one.first());
    firsts.filter_map(|word| word.parse().ok()).collect()
}

/// First place of some bytes in others.
pub(super) fn find(all: &[u8], wanted: &[u8]) -> Option<usize> {
    all.windows(wanted.len()).position(|found| found == wanted)
}

/// All places of some bytes in others.
pub(super) fn find_all(all: &[u8], wanted: &[u8]) -> Vec<usize> {
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(at) = find(&all[from..], wanted) {
        found.push(from + at);
        from += at + wanted.len();
    }
    found
}
