//! Findings as lines for the terminal: a fault that many runs share is told a few times, not a thousand.

use crate::read::{SourceLine, SourceLines};
use crate::recording::Finding;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A fault of one kind is told in full for so many runs; of the others only the names follow.
const TOLD_IN_FULL: usize = 3;
/// Names of further runs listed.
const NAMED: usize = 12;

/// So many findings show the line they point at; of further ones the place will do.
const SHOWN_LINES: usize = 60;

/// A finding in full: what and where, the line of the file with a mark under the part meant, and the help.
///
/// ```text
/// error[unknown-unit] rigs/a.toml:12:8: [[channel]] `unit` is "kpaa", which is no known unit
///    12 | unit = "kpaa"
///       |        ^^^^^^
///     help: did you mean "kPa"?
/// ```
pub fn told(finding: &Finding, lines: &mut SourceLines) -> String {
    in_full(finding, lines.find(finding))
}

fn in_full(finding: &Finding, line: Option<SourceLine>) -> String {
    let mut text = format!("{}\n", finding.headline());
    if let Some(line) = line {
        text.push_str(&marked(&line));
    }
    if let Some(effect) = &finding.effect {
        let _ = writeln!(text, "    effect: {effect}");
    }
    if let Some(help) = &finding.help {
        let _ = writeln!(text, "    help: {help}");
    }
    text
}

/// A line of a file with its number, and a mark under the part meant.
pub(super) fn marked(line: &SourceLine) -> String {
    let number = line.number.to_string();
    format!(
        "  {number} | {}\n  {} | {}{}\n",
        line.text.trim_end(),
        " ".repeat(number.len()),
        " ".repeat(line.mark.start),
        "^".repeat(line.mark.len())
    )
}

/// The findings as text with the lines they point at. Findings of no run are all told; `rest` says where those are that are not.
pub fn in_words(findings: &[Finding], lines: &mut SourceLines, rest: &str) -> String {
    let mut text = String::new();
    let mut shown = 0;
    let mut told: BTreeMap<&str, usize> = BTreeMap::new();
    let mut further: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for finding in findings {
        if let Some(run) = &finding.run_id {
            let count = told.entry(&finding.code).or_default();
            *count += 1;
            if *count > TOLD_IN_FULL {
                further.entry(&finding.code).or_default().push(run);
                continue;
            }
        }
        let line = (shown < SHOWN_LINES).then(|| lines.find(finding)).flatten();
        shown += usize::from(line.is_some());
        text.push_str(&in_full(finding, line));
    }
    for (code, mut runs) in further {
        let count = runs.len();
        runs.dedup();
        let named = runs[..runs.len().min(NAMED)].join(", ");
        let more = if runs.len() > NAMED { ", ..." } else { "" };
        let _ = writeln!(
            text,
            "error[{code}] {count} more of this kind, in {named}{more}{rest}"
        );
    }
    text
}

/// Text of unknown origin made safe for a terminal: control characters and marks that turn the direction of writing become `?`.
pub fn printable(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\t' => c,
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => '?',
            _ if c.is_control() => '?',
            _ => c,
        })
        .collect()
}

/// "1 error", "2 doubts" and so on; nothing where there are none.
pub fn counted(count: usize, what: &str) -> Option<String> {
    match count {
        0 => None,
        1 => Some(format!("1 {what}")),
        _ => Some(format!("{count} {what}s")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_of_many_runs_is_told_three_times() {
        let mut findings: Vec<Finding> = (0..40)
            .map(|at| Finding::error("column-missing", "no column").run(&format!("r{at}")))
            .collect();
        findings.push(Finding::error("run-twice", "listed twice").run("r7"));
        findings.extend((0..5).map(|_| Finding::error("sheet-unreadable", "of no run")));
        let text = in_words(
            &findings,
            &mut SourceLines::of_files(),
            ": all of them are in results.json",
        );
        assert_eq!(text.matches("no column").count(), 3, "{text}");
        assert!(
            text.contains("error[column-missing] 37 more of this kind, in r3, r4"),
            "{text}"
        );
        assert!(
            text.contains("r14, ...: all") && !text.contains("r15"),
            "{text}"
        );
        assert!(text.contains("listed twice"), "{text}");
        assert_eq!(text.matches("of no run").count(), 5, "{text}");
    }

    #[test]
    fn a_terminal_gets_no_control_characters() {
        assert_eq!(printable("a\u{1b}[31m\tb\r\nä\u{202e}x"), "a?[31m\tb?\nä?x");
    }

    #[test]
    fn one_is_no_plural() {
        assert_eq!(counted(0, "doubt"), None);
        assert_eq!(counted(1, "error").as_deref(), Some("1 error"));
        assert_eq!(counted(2, "doubt").as_deref(), Some("2 doubts"));
    }
}
