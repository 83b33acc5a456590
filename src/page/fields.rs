//! What a browser sends: names and values of a query or a form, in order.

/// Most fields of one form; a request with more is not read.
const MOST_FIELDS: usize = 5_000;

/// Names and values, in the order in which they came.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Fields(Vec<(String, String)>);

impl Fields {
    /// Reads what stands behind the `?` of an address, or the body of a form. None if it is not
    /// text, or has too many fields.
    pub fn read(text: &str) -> Option<Self> {
        let mut fields = Vec::new();
        for pair in text.split('&').filter(|pair| !pair.is_empty()) {
            if fields.len() == MOST_FIELDS {
                return None;
            }
            let (name, value) = pair.split_once('=').unwrap_or((pair, ""));
            fields.push((decoded(name)?, decoded(value)?));
        }
        Some(Self(fields))
    }

    /// Adds a field of a form with a file. False if there are too many.
    pub fn push(&mut self, name: String, value: String) -> bool {
        self.0.push((name, value));
        self.0.len() <= MOST_FIELDS
    }

    /// The value of a name, or nothing.
    pub fn get(&self, name: &str) -> &str {
        let found = self.0.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value.as_str())
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().map(|(n, v)| (n.as_str(), v.as_str()))
    }
}

/// Text from `a+b%20c`; line ends as one sign.
fn decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        bytes.push(match byte {
            b'+' => b' ',
            b'%' => {
                let digits = [rest.next()?, rest.next()?];
                if !digits.iter().all(u8::is_ascii_hexdigit) {
                    return None;
                }
                u8::from_str_radix(std::str::from_utf8(&digits).ok()?, 16).ok()?
            }
            byte => byte,
        });
    }
    let text = String::from_utf8(bytes).ok()?;
    Some(text.replace("\r\n", "\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_values_are_read_in_order() {
        let fields =
            Fields::read("tag=TV%2D0312&words=gland+wet%0D%0A&empty=&alone").expect("read");
        let found: Vec<_> = fields.iter().collect();
        assert_eq!(
            found,
            [
                ("tag", "TV-0312"),
                ("words", "gland wet\n"),
                ("empty", ""),
                ("alone", "")
            ]
        );
        assert_eq!((fields.get("tag"), fields.get("other")), ("TV-0312", ""));
    }

    #[test]
    fn what_is_no_text_is_not_read() {
        for wrong in ["a=%", "a=%4", "a=%zz", "a=%+1", "a=%ff"] {
            assert_eq!(Fields::read(wrong), None, "{wrong}");
        }
        assert!(Fields::read(&"a&".repeat(MOST_FIELDS)).is_some());
        assert!(Fields::read(&"a&".repeat(MOST_FIELDS + 1)).is_none());
    }
}
