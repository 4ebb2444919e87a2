//! A TOML document read key by key, each fault with file, line and column.
//!
//! Every key asked for is remembered, so what nobody asked for is unknown: the list of known keys cannot fall out of step with
//! the code that reads them.

use crate::recording::{Finding, Place, suggest};
use std::cell::RefCell;
use std::ops::Range;
use std::path::Path;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A settings file larger than this is something else, bytes.
const MAX_BYTES: u64 = 4 << 20;

/// Code of a line that is no TOML.
const SYNTAX: &str = "toml-syntax";
/// Codes of what is missing.
const ABSENCES: &[&str] = &["toml-missing-key", "rig-no-pressure", "rig-turns"];

/// Text of a settings file; a byte order mark is dropped.
pub(crate) fn read_text(path: &Path, shown_as: &str) -> Result<String, Finding> {
    let fault = |message: String| {
        Finding::error("file-unreadable", message)
            .at(Place::file(shown_as))
            .help("check the path and the rights of the file")
    };
    let size = std::fs::metadata(path)
        .map_err(|error| fault(format!("cannot open {shown_as}: {error}")))?
        .len();
    if size > MAX_BYTES {
        return Err(fault(format!(
            "{shown_as} has {size} bytes; a TOML file of settings is expected (at most {MAX_BYTES} bytes)"
        )));
    }
    let bytes =
        std::fs::read(path).map_err(|error| fault(format!("cannot read {shown_as}: {error}")))?;
    match String::from_utf8(bytes) {
        Ok(text) => Ok(text
            .strip_prefix('\u{feff}')
            .map_or_else(|| text.clone(), str::to_owned)),
        Err(error) => {
            let sound = error.utf8_error().valid_up_to();
            let sound_text = String::from_utf8_lossy(&error.as_bytes()[..sound]);
            let line = 1 + sound_text.matches('\n').count();
            Err(Finding::error(
                "toml-encoding",
                format!("{shown_as} is not UTF-8 text from byte {sound} on; TOML is always UTF-8"),
            )
            .at(Place::line(shown_as, line as u64))
            .help("save the file as UTF-8"))
        }
    }
}

/// A document with the faults found in it so far.
pub(crate) struct Document<'d> {
    /// File as shown to the user.
    pub file: &'d str,
    /// Its text.
    pub text: &'d str,
    findings: RefCell<Vec<Finding>>,
}

impl<'d> Document<'d> {
    /// A document without faults yet.
    pub fn new(file: &'d str, text: &'d str) -> Self {
        Self {
            file,
            text,
            findings: RefCell::new(Vec::new()),
        }
    }

    /// Line and column of a byte, both from 1, the column in characters.
    pub fn position(&self, byte: usize) -> (u64, u64) {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        let before = &self.text[..byte];
        let line = before.matches('\n').count() + 1;
        let start = before.rfind('\n').map_or(0, |at| at + 1);
        let column = before[start..].chars().count() + 1;
        (line as u64, column as u64)
    }

    /// Place of a span.
    pub fn place(&self, span: &Range<usize>) -> Place {
        let (line, column) = self.position(span.start);
        Place::cell(self.file, line, column.to_string())
    }

    /// Adds a fault.
    pub fn push(&self, finding: Finding) {
        self.findings.borrow_mut().push(finding);
    }

    /// Adds an error at a span.
    pub fn error(&self, span: &Range<usize>, code: &str, message: String, help: Option<String>) {
        let mut finding = Finding::error(code, message).at(self.place(span));
        finding.help = help;
        self.push(finding);
    }

    /// The faults in the order of the file.
    pub fn into_findings(self) -> Vec<Finding> {
        let mut findings = self.findings.into_inner();
        // What seems to be missing may stand in the line that could not be parsed.
        if findings.iter().any(|finding| finding.code == SYNTAX) {
            findings.retain(|finding| !ABSENCES.contains(&finding.code.as_str()));
        }
        findings.sort_by_key(|finding| {
            let column = finding.column.as_deref().and_then(|c| c.parse().ok());
            (finding.line, column.unwrap_or(0_u64))
        });
        findings
    }

    /// Parses the text; syntax faults are added, and what could be read is returned.
    pub fn parse(&self) -> Spanned<DeTable<'d>> {
        let (table, errors) = DeTable::parse_recoverable(self.text);
        for error in errors {
            let span = error.span().unwrap_or(0..0);
            self.error(
                &span,
                SYNTAX,
                format!("not valid TOML: {}", error.message()),
                Some("a line reads `key = value`; text stands in double quotes".to_owned()),
            );
        }
        table
    }
}

/// One table of a document, read key by key.
pub(crate) struct Section<'a, 'd> {
    /// The document.
    pub doc: &'a Document<'d>,
    table: Option<&'a DeTable<'d>>,
    /// Where the table stands.
    pub span: Range<usize>,
    /// Its name in messages (`[clock]`).
    pub name: String,
    asked: RefCell<Vec<String>>,
}

impl<'a, 'd> Section<'a, 'd> {
    /// A table under this name.
    pub fn new(
        doc: &'a Document<'d>,
        table: &'a DeTable<'d>,
        span: Range<usize>,
        name: &str,
    ) -> Self {
        Self {
            doc,
            table: Some(table),
            span,
            name: name.to_owned(),
            asked: RefCell::default(),
        }
    }

    /// True where the file has the table.
    pub fn exists(&self) -> bool {
        self.table.is_some()
    }

    /// The entry of a key, with the key's place.
    pub fn get(&self, key: &str) -> Option<(Range<usize>, &'a Spanned<DeValue<'d>>)> {
        self.asked.borrow_mut().push(key.to_owned());
        self.table?
            .iter()
            .find(|(name, _)| name.get_ref() == key)
            .map(|(name, value)| (name.span(), value))
    }

    /// Every entry whose key begins so and was not asked for yet: tail of the key, its place, its value.
    pub fn with_prefix(
        &self,
        prefix: &str,
    ) -> Vec<(String, Range<usize>, &'a Spanned<DeValue<'d>>)> {
        let Some(table) = self.table else {
            return Vec::new();
        };
        let mut found = Vec::new();
        for (name, value) in table {
            let key: &str = name.get_ref();
            if let Some(tail) = key.strip_prefix(prefix)
                && !self.asked.borrow().iter().any(|asked| asked == key)
            {
                found.push((tail.to_owned(), name.span(), value));
            }
        }
        for (tail, _, _) in &found {
            self.asked.borrow_mut().push(format!("{prefix}{tail}"));
        }
        found
    }

    /// Says that a value is not of the kind expected.
    pub fn wrong(&self, key: &str, value: &Spanned<DeValue<'d>>, expected: &str) {
        let found = &self
            .doc
            .text
            .get(value.span())
            .unwrap_or_default()
            .chars()
            .take(60)
            .collect::<String>();
        self.doc.error(
            &value.span(),
            "toml-value",
            format!(
                "{} `{key}` is {found}; expected {expected}",
                self.name.as_str()
            )
            .trim_start()
            .to_owned(),
            None,
        );
    }

    /// A text.
    pub fn text(&self, key: &str) -> Option<(String, Range<usize>)> {
        let (_, value) = self.get(key)?;
        let Some(text) = value.get_ref().as_str() else {
            self.wrong(key, value, "text in quotes");
            return None;
        };
        Some((text.to_owned(), value.span()))
    }

    /// A text out of a list of words.
    pub fn word<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Option<T> {
        let (text, span) = self.text(key)?;
        let lower = text.trim().to_lowercase();
        let found = words.iter().find(|(word, _)| *word == lower);
        if found.is_none() {
            let list: Vec<&str> = words.iter().map(|(word, _)| *word).collect();
            self.doc.error(
                &span,
                "toml-word",
                format!(
                    "{} `{key}` is \"{text}\"; expected one of {}",
                    self.name,
                    list.join(", ")
                )
                .trim_start()
                .to_owned(),
                suggest(&lower, list).map(|word| format!("did you mean \"{word}\"?")),
            );
        }
        found.map(|(_, value)| *value)
    }

    /// A finite number.
    pub fn number(&self, key: &str) -> Option<(f64, Range<usize>)> {
        let (_, value) = self.get(key)?;
        let number = number_of(value);
        if number.is_none() {
            self.wrong(key, value, "a finite number");
        }
        number.map(|number| (number, value.span()))
    }

    /// A finite number above zero.
    pub fn positive(&self, key: &str) -> Option<f64> {
        let (number, span) = self.number(key)?;
        if number > 0.0 {
            return Some(number);
        }
        self.doc.error(
            &span,
            "toml-value",
            format!(
                "{} `{key}` is {number}; expected a number above 0",
                self.name
            )
            .trim_start()
            .to_owned(),
            None,
        );
        None
    }

    /// A finite number of at least zero.
    pub fn not_negative(&self, key: &str) -> Option<f64> {
        let (number, span) = self.number(key)?;
        if number >= 0.0 {
            return Some(number);
        }
        self.doc.error(
            &span,
            "toml-value",
            format!(
                "{} `{key}` is {number}; expected a number of at least 0",
                self.name
            )
            .trim_start()
            .to_owned(),
            None,
        );
        None
    }

    /// A finite number between two limits, both included.
    pub fn within(&self, key: &str, (low, high): (f64, f64), unit: &str) -> Option<f64> {
        let (number, span) = self.number(key)?;
        if (low..=high).contains(&number) {
            return Some(number);
        }
        self.doc.error(
            &span,
            "toml-value",
            format!(
                "{} `{key}` is {number}; expected {low} to {high} {unit}",
                self.name
            )
            .trim_start()
            .to_owned(),
            None,
        );
        None
    }

    /// True or false.
    pub fn flag(&self, key: &str) -> Option<bool> {
        let (_, value) = self.get(key)?;
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong(key, value, "true or false");
        }
        flag
    }

    /// A whole number of at least zero and at most `max`.
    pub fn count(&self, key: &str, max: usize) -> Option<usize> {
        let (_, value) = self.get(key)?;
        let count = count_of(value).filter(|count| *count <= max);
        if count.is_none() {
            self.wrong(key, value, &format!("a whole number from 0 to {max}"));
        }
        count
    }

    /// A list of texts; empty where the key is missing.
    pub fn texts(&self, key: &str) -> Vec<String> {
        let Some((_, value)) = self.get(key) else {
            return Vec::new();
        };
        let Some(array) = value.get_ref().as_array() else {
            self.wrong(key, value, "a list of texts, like [\"a\", \"b\"]");
            return Vec::new();
        };
        let mut texts = Vec::new();
        for item in array {
            match item.get_ref().as_str() {
                Some(text) => texts.push(text.to_owned()),
                None => self.wrong(key, item, "text in quotes"),
            }
        }
        texts
    }

    /// A list of finite numbers.
    pub fn numbers(&self, key: &str) -> Option<(Vec<f64>, Range<usize>)> {
        let (_, value) = self.get(key)?;
        let Some(array) = value.get_ref().as_array() else {
            self.wrong(key, value, "a list of numbers, like [0.0, 1.5]");
            return None;
        };
        let mut numbers = Vec::new();
        for item in array {
            match number_of(item) {
                Some(number) => numbers.push(number),
                None => self.wrong(key, item, "a finite number"),
            }
        }
        (numbers.len() == array.len()).then_some((numbers, value.span()))
    }

    /// A table inside; one that reads as empty where the file has none.
    pub fn section(&self, key: &str) -> Section<'a, 'd> {
        let name = if self.name.is_empty() {
            format!("[{key}]")
        } else {
            format!("[{}.{key}]", self.name.trim_matches(['[', ']']))
        };
        let mut section = Section {
            doc: self.doc,
            table: None,
            span: self.span.clone(),
            name,
            asked: RefCell::default(),
        };
        if let Some((span, value)) = self.get(key) {
            section.span = span;
            match value.get_ref().as_table() {
                Some(table) => section.table = Some(table),
                None => self.wrong(key, value, &format!("a table {}", section.name)),
            }
        }
        section
    }

    /// Tables of a list (`[[key]]`).
    pub fn sections(&self, key: &str) -> Vec<Section<'a, 'd>> {
        let Some((_, value)) = self.get(key) else {
            return Vec::new();
        };
        let name = format!("[[{key}]]");
        let mut sections = Vec::new();
        match value.get_ref() {
            DeValue::Array(array) => {
                for item in array {
                    match item.get_ref().as_table() {
                        Some(table) => {
                            sections.push(Section::new(self.doc, table, item.span(), &name));
                        }
                        None => self.wrong(key, item, &format!("a table {name}")),
                    }
                }
            }
            _ => self.wrong(key, value, &format!("tables headed {name}")),
        }
        sections
    }

    /// The raw table, for what serde reads.
    pub fn table(&self) -> Option<&'a DeTable<'d>> {
        self.table
    }

    /// Says of every key that was not asked for that it is unknown.
    pub fn finish(self) {
        let Some(table) = self.table else { return };
        let asked = self.asked.borrow();
        for (name, _) in table {
            let key: &str = name.get_ref();
            if asked.iter().any(|known| known == key) {
                continue;
            }
            let mut known: Vec<&str> = asked.iter().map(String::as_str).collect();
            known.sort_unstable();
            known.dedup();
            let help = match suggest(key, known.iter().copied()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("known here: {}", known.join(", ")),
            };
            let place = if self.name.is_empty() {
                "at the top of the file".to_owned()
            } else {
                format!("in {}", self.name)
            };
            self.doc.error(
                &name.span(),
                "toml-unknown-key",
                format!("unknown key `{key}` {place}"),
                Some(help),
            );
        }
    }
}

/// A whole number of at least zero.
pub(crate) fn count_of(value: &Spanned<DeValue<'_>>) -> Option<usize> {
    let integer = value.get_ref().as_integer()?;
    usize::from_str_radix(integer.as_str(), integer.radix()).ok()
}

/// A finite number, whole or not.
pub(crate) fn number_of(value: &Spanned<DeValue<'_>>) -> Option<f64> {
    let number = match value.get_ref() {
        DeValue::Integer(integer) => {
            i64::from_str_radix(integer.as_str(), integer.radix()).ok()? as f64
        }
        DeValue::Float(float) => float.as_str().parse().ok()?,
        _ => return None,
    };
    number.is_finite().then_some(number)
}
