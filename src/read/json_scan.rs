//! JSON taken apart without building it up: the elements of an array or an object one by one, each as a piece of the text.

/// Deepest nesting that is followed; deeper text is no recording.
const DEEPEST: usize = 64;

/// Byte behind the value that begins at `at` (blanks before it are passed over); `None` where the text ends first, nests too
/// deep or holds no value there. Only the extent is looked at: whether the value is sound is for the parser to say.
pub(crate) fn value_end(text: &str, at: usize) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut at = skip_blanks(bytes, at);
    match bytes.get(at)? {
        b'"' => string_end(bytes, at),
        b'{' | b'[' => {
            let mut depth = 0_usize;
            loop {
                match bytes.get(at)? {
                    b'"' => {
                        at = string_end(bytes, at)?;
                        continue;
                    }
                    b'{' | b'[' => depth += 1,
                    b'}' | b']' => depth -= 1,
                    _ => {}
                }
                at += 1;
                if depth == 0 {
                    return Some(at);
                }
                if depth > DEEPEST {
                    return None;
                }
            }
        }
        b'}' | b']' | b',' | b':' => None,
        _ => {
            let length = bytes
                .get(at..)?
                .iter()
                .position(|byte| b",]}: \t\r\n".contains(byte))?;
            Some(at + length)
        }
    }
}

fn string_end(bytes: &[u8], open: usize) -> Option<usize> {
    let mut at = open + 1;
    loop {
        match bytes.get(at)? {
            b'\\' => at += 2,
            b'"' => return Some(at + 1),
            _ => at += 1,
        }
    }
}

pub(crate) fn skip_blanks(bytes: &[u8], mut at: usize) -> usize {
    while matches!(bytes.get(at), Some(b' ' | b'\t' | b'\r' | b'\n')) {
        at += 1;
    }
    at
}

/// A member of an object, or an element of an array without a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Element<'t> {
    /// The key as written, with its quotes; empty in an array.
    pub key: &'t str,
    /// The value as written.
    pub value: &'t str,
    /// Byte of the whole text at which the value starts.
    pub start: usize,
}

/// The elements of the array or object that begins at a byte of a text.
#[derive(Debug, Clone)]
pub(crate) struct Elements<'t> {
    text: &'t str,
    at: usize,
    object: bool,
    first: bool,
    /// True once the closing bracket was met; false at the end of a text that was cut.
    pub closed: bool,
}

impl<'t> Elements<'t> {
    /// The elements of what begins at `at`, which must be a bracket; `None` where it is none.
    pub fn new(text: &'t str, at: usize) -> Option<Self> {
        let at = skip_blanks(text.as_bytes(), at);
        let object = match text.as_bytes().get(at)? {
            b'{' => true,
            b'[' => false,
            _ => return None,
        };
        Some(Self {
            text,
            at: at + 1,
            object,
            first: true,
            closed: false,
        })
    }

    /// True for the members of an object.
    pub fn is_object(&self) -> bool {
        self.object
    }
}

impl<'t> Iterator for Elements<'t> {
    type Item = Element<'t>;

    fn next(&mut self) -> Option<Element<'t>> {
        if self.closed {
            return None;
        }
        let bytes = self.text.as_bytes();
        self.at = skip_blanks(bytes, self.at);
        match bytes.get(self.at)? {
            b'}' | b']' => {
                self.closed = true;
                self.at += 1;
                return None;
            }
            b',' if !self.first => self.at = skip_blanks(bytes, self.at + 1),
            _ if !self.first => return None,
            _ => {}
        }
        self.first = false;
        let mut key = "";
        if self.object {
            if bytes.get(self.at) != Some(&b'"') {
                return None;
            }
            let end = string_end(bytes, self.at)?;
            key = self.text.get(self.at..end)?;
            let colon = skip_blanks(bytes, end);
            if bytes.get(colon) != Some(&b':') {
                return None;
            }
            self.at = colon + 1;
        }
        let start = skip_blanks(bytes, self.at);
        let Some(end) = value_end(self.text, start) else {
            // The text was cut inside an array or object: what it holds so far can still be looked at.
            self.at = self.text.len();
            let value = self.text.get(start..)?;
            return (self.object && value.starts_with(['{', '['])).then_some(Element {
                key,
                value,
                start,
            });
        };
        self.at = end;
        Some(Element {
            key,
            value: self.text.get(start..end)?,
            start,
        })
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn elements_come_as_written() {
        let text = " [1, \"a,]\\\"b\", [2,{}], {\"k\":[3]} ] tail";
        let mut elements = Elements::new(text, 0).unwrap();
        let values: Vec<&str> = elements.by_ref().map(|e| e.value).collect();
        assert_eq!(values, ["1", "\"a,]\\\"b\"", "[2,{}]", "{\"k\":[3]}"]);
        assert!(elements.closed);
        let text = "{\"a\": 1, \"b\":\n [2, 3";
        let mut elements = Elements::new(text, 0).unwrap();
        let members: Vec<(&str, &str)> = elements.by_ref().map(|e| (e.key, e.value)).collect();
        assert_eq!(members, [("\"a\"", "1"), ("\"b\"", "[2, 3")]);
        assert!(!elements.closed);
    }

    #[test]
    fn text_that_is_cut_or_deep_has_no_end() {
        assert_eq!(value_end("[1,[2]", 0), None);
        assert_eq!(value_end("\"abc", 0), None);
        assert_eq!(value_end("12", 0), None);
        assert_eq!(value_end(&"[".repeat(1_000_000), 0), None);
        assert_eq!(value_end("{} ", 0), Some(2));
        assert_eq!(value_end("\"\\", 0), None);
    }
}
