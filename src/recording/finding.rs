//! What was doubtful or wrong, where, and what to do about it.

use super::Extent;
use serde::Serialize;

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Worth knowing; changes no number.
    Note,
    /// Some number is less sure than it looks; the message says which.
    Doubt,
    /// Something could not be used; the run or the study carries an error.
    Error,
}

/// Where in a file a finding points.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Place {
    /// File, relative to the study folder where it lies inside.
    pub file: Option<String>,
    /// Line, counted from 1.
    pub line: Option<u64>,
    /// Column: a character position in a TOML file, a column name or number in a table.
    pub column: Option<String>,
}

impl Place {
    /// A whole file.
    pub fn file(file: impl Into<String>) -> Self {
        Self {
            file: Some(file.into()),
            line: None,
            column: None,
        }
    }

    /// A line of a file.
    pub fn line(file: impl Into<String>, line: u64) -> Self {
        Self {
            file: Some(file.into()),
            line: Some(line),
            column: None,
        }
    }

    /// A cell of a file.
    pub fn cell(file: impl Into<String>, line: u64, column: impl Into<String>) -> Self {
        Self {
            file: Some(file.into()),
            line: Some(line),
            column: Some(column.into()),
        }
    }
}

/// One thing worth saying about the input, with its place. Bad samples are findings, not errors: the stage goes on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Stable name of the problem, in kebab-case (`clock-restart`).
    pub code: String,
    /// How much it matters.
    pub severity: Severity,
    /// The run it belongs to, if any.
    pub run_id: Option<String>,
    /// File, relative to the study folder where it lies inside.
    pub file: Option<String>,
    /// Line, counted from 1.
    pub line: Option<u64>,
    /// Column name, number or character position.
    pub column: Option<String>,
    /// What was found and what was expected.
    pub message: String,
    /// How to mend it.
    pub help: Option<String>,
    /// How many samples, rows or cells it is about.
    pub count: Option<usize>,
    /// Last line it is about, where `line` is the first.
    pub line_to: Option<u64>,
    /// Time of the first sample it is about, s from the first sample of the recording.
    pub t_from_s: Option<f64>,
    /// Time of the last sample it is about, s from the first sample of the recording.
    pub t_to_s: Option<f64>,
    /// What it did to the numbers.
    pub effect: Option<String>,
    /// Times from and to of each stretch, s; empty where there are none or too many to be told one by one.
    #[serde(skip)]
    pub stretches_s: Vec<(f64, f64)>,
}

impl Finding {
    /// A finding of this severity without place or help.
    pub fn new(severity: Severity, code: &str, message: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            severity,
            run_id: None,
            file: None,
            line: None,
            column: None,
            message: message.into(),
            help: None,
            count: None,
            line_to: None,
            t_from_s: None,
            t_to_s: None,
            effect: None,
            stretches_s: Vec::new(),
        }
    }

    /// A note.
    pub fn note(code: &str, message: impl Into<String>) -> Self {
        Self::new(Severity::Note, code, message)
    }

    /// A doubt.
    pub fn doubt(code: &str, message: impl Into<String>) -> Self {
        Self::new(Severity::Doubt, code, message)
    }

    /// An error.
    pub fn error(code: &str, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, message)
    }

    /// The same finding at a place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.file = place.file;
        self.line = place.line;
        self.column = place.column;
        self
    }

    /// The same finding with advice.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// The same finding about so many samples, rows or cells.
    #[must_use]
    pub fn count(mut self, count: usize) -> Self {
        self.count = Some(count);
        self
    }

    /// The same finding with what it did to the numbers.
    #[must_use]
    pub fn effect(mut self, effect: impl Into<String>) -> Self {
        self.effect = Some(effect.into());
        self
    }

    /// The same finding with more of what it did to the numbers.
    pub fn add_effect(&mut self, more: &str) {
        self.effect = Some(match self.effect.take() {
            Some(effect) => format!("{effect}; {more}"),
            None => more.to_owned(),
        });
    }

    /// The same finding about these samples: their number, lines and times.
    #[must_use]
    pub fn over(mut self, file: &str, column: Option<&str>, extent: Extent) -> Self {
        self.file = Some(file.to_owned());
        self.column = column.map(str::to_owned);
        self.count = Some(extent.count);
        self.line = extent.lines.map(|lines| lines.0);
        self.line_to = extent.lines.map(|lines| lines.1);
        self.t_from_s = extent.whole_s.map(|times| times.0);
        self.t_to_s = extent.whole_s.map(|times| times.1);
        self.stretches_s = extent.stretches_s;
        self
    }

    /// The same finding about so many stretches of time, s; more than can be told one by one are told by their ends.
    #[must_use]
    pub fn over_times(mut self, count: usize, times: Vec<(f64, f64)>) -> Self {
        self.count = Some(count);
        self.t_from_s = times.first().map(|times| times.0);
        self.t_to_s = times.last().map(|times| times.1);
        if times.len() <= Extent::MOST {
            self.stretches_s = times;
        }
        self
    }

    /// The same finding about a run.
    #[must_use]
    pub fn run(mut self, run_id: &str) -> Self {
        self.run_id = Some(run_id.to_owned());
        self
    }
}

impl Severity {
    /// The word of results and messages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Doubt => "doubt",
            Self::Error => "error",
        }
    }
}

impl Finding {
    /// `file:line:column`, as far as it is known; empty where the finding has no place.
    pub fn place(&self) -> String {
        let mut place = self.file.clone().unwrap_or_default();
        if !place.is_empty() {
            place.extend(self.line.map(|line| format!(":{line}")));
            place.extend(self.column.iter().map(|column| format!(":{column}")));
        }
        place
    }

    /// How many and when, as far as it is known: `n = 82, 12.300 s to 13.110 s, to line 4075`; empty where neither is.
    pub fn extent(&self) -> String {
        let mut parts = Vec::new();
        parts.extend(self.count.map(|count| format!("n = {count}")));
        match (self.t_from_s, self.t_to_s) {
            (Some(from), Some(to)) if to > from => parts.push(format!("{from:.3} s to {to:.3} s")),
            (Some(at), _) => parts.push(format!("at {at:.3} s")),
            _ => {}
        }
        if self.line_to > self.line {
            parts.extend(self.line_to.map(|line| format!("to line {line}")));
        }
        parts.join(", ")
    }

    /// `error[code] file:line:column: message`, without the help.
    pub fn headline(&self) -> String {
        let mut text = format!("{}[{}]", self.severity.word(), self.code);
        let place = self.place();
        if !place.is_empty() {
            text = format!("{text} {place}");
        }
        if let Some(run) = &self.run_id {
            text = format!("{text} (run {run})");
        }
        format!("{text}: {}", self.message)
    }
}

impl std::fmt::Display for Finding {
    /// The headline and, on lines of their own, the effect and the help.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.headline())?;
        if let Some(effect) = &self.effect {
            write!(f, "\n    effect: {effect}")?;
        }
        match &self.help {
            Some(help) => write!(f, "\n    help: {help}"),
            None => Ok(()),
        }
    }
}

/// Number of changes from one spelling to another: a character put in, left out or replaced, or two neighbours swapped
/// (Levenshtein's distance with Damerau's transpositions, none of them edited twice).
pub fn edit_distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, cb) in b.iter().enumerate() {
            let replaced = above[j] + usize::from(ca != cb);
            let mut least = replaced.min(above[j + 1] + 1).min(row[j] + 1);
            if i > 0 && j > 0 && *ca == b[j - 1] && a[i - 1] == *cb {
                least = least.min(before[j - 1] + 1);
            }
            row.push(least);
        }
        before = above;
        above = row;
    }
    above[b.len()]
}

/// The known word nearest to a wrong one, for "did you mean"; `None` where none is near.
pub fn suggest<'a>(wrong: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let lower = wrong.to_lowercase();
    known
        .into_iter()
        .map(|word| (edit_distance(&lower, &word.to_lowercase()), word))
        .min()
        // Where no letter is shared the words are not near, however short.
        .filter(|(distance, word)| {
            let length = word.chars().count();
            *distance <= 1.max(length / 3) && *distance < length.max(lower.chars().count())
        })
        .map(|(_, word)| word)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distances counted by hand.
    #[test]
    fn spellings_are_as_far_apart_as_changes_lead_from_one_to_the_other() {
        for (a, b, distance) in [
            ("", "", 0),
            ("", "abc", 3),
            ("kitten", "sitting", 3),
            ("side", "sied", 1),
            ("ab", "ba", 1),
            ("kpaa", "kpa", 1),
            ("abcd", "badc", 2),
            ("ca", "abc", 3),
        ] {
            assert_eq!(edit_distance(a, b), distance, "{a} {b}");
            assert_eq!(edit_distance(b, a), distance, "{b} {a}");
        }
        assert_eq!(suggest("sied", ["side", "line"]), Some("side"));
        assert_eq!(suggest("xyz", ["side", "line"]), None);
    }
}
