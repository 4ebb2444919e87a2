//! `hooptrace compare`: what changed between two analyses, as text or JSON.

use super::args;
use super::columns::columns;
use crate::compare::{self, Change, Comparison, Limits, QuantityChange, Results, digits};
use crate::read::read_results;
use crate::recording::Finding;
use std::fmt::Write as _;
use std::path::Path;

/// Status where something changed.
const CHANGED: u8 = 1;
/// Longest words of a change that are shown, characters; all of them are in the JSON.
const LONGEST_WORDS: usize = 160;

/// Compares two output folders; gives the report for standard output and the exit status.
///
/// # Errors
/// Error findings of both where a file cannot be read as results.
pub fn run(args: &args::Compare) -> Result<(String, u8), Vec<Finding>> {
    let read = |out: &Path| read_results(out);
    let (first, second) = match (read(&args.first), read(&args.second)) {
        (Ok(first), Ok(second)) => (first, second),
        (first, second) => return Err([first.err(), second.err()].into_iter().flatten().collect()),
    };
    let (out_first, out_second) = (
        args.first.display().to_string(),
        args.second.display().to_string(),
    );
    let found = compare::compare(
        Results {
            out: &out_first,
            json: &first,
        },
        Results {
            out: &out_second,
            json: &second,
        },
        args.least,
    )
    .map_err(|finding| vec![finding])?;
    let status = if found.is_same() { 0 } else { CHANGED };
    let report = if args.json {
        super::to_json(&found)?
    } else {
        to_text(&found)
    };
    Ok((report, status))
}

fn to_text(found: &Comparison) -> String {
    let mut text = String::new();
    for (name, side) in [("first", &found.first), ("second", &found.second)] {
        let _ = writeln!(
            text,
            "{name}: {} (\"{}\", hooptrace {})",
            side.out, side.title, side.version
        );
    }
    let _ = writeln!(
        text,
        "{} runs and {} quantities in both",
        found.runs_compared, found.quantities_compared
    );
    if found.is_same() {
        text.push_str("no change\n");
        return text;
    }
    for (name, runs) in [
        ("only in the first", &found.runs_only_first),
        ("only in the second", &found.runs_only_second),
    ] {
        if !runs.is_empty() {
            let _ = writeln!(text, "runs {name}: {}", runs.join(", "));
        }
    }
    for (heading, changes) in [
        ("study and program", &found.study),
        ("settings", &found.settings),
        ("files (SHA-256)", &found.inputs),
        ("outcomes", &found.outcomes),
        ("events", &found.events),
        ("verdicts", &found.verdicts),
        ("findings (how many)", &found.findings),
    ] {
        list(&mut text, heading, changes);
    }
    for change in &found.units_differ {
        let _ = writeln!(
            text,
            "\nerror[unit-differs] {}: {} in the first, {} in the second; not compared",
            change.of,
            side(change.first.as_ref()),
            side(change.second.as_ref())
        );
    }
    quantities(&mut text, found);
    if !found.one_sided.is_empty() {
        text.push_str("\nquantities of one side only\n");
    }
    for one in &found.one_sided {
        let _ = writeln!(
            text,
            "  {}: the {} has {}; the other has no {}: {}",
            one.of, one.only_in, one.stated, one.missing, one.reason
        );
    }
    list(&mut text, "other numbers and words", &found.others);
    text
}

fn list(text: &mut String, heading: &str, changes: &[Change]) {
    if changes.is_empty() {
        return;
    }
    let _ = writeln!(text, "\n{heading}");
    for change in changes {
        let _ = writeln!(
            text,
            "  {}: {} -> {}",
            change.of,
            side(change.first.as_ref()),
            side(change.second.as_ref())
        );
    }
}

fn side(words: Option<&String>) -> String {
    let Some(words) = words else {
        return "(none)".to_owned();
    };
    if words.chars().count() <= LONGEST_WORDS {
        return words.clone();
    }
    let head: String = words.chars().take(LONGEST_WORDS).collect();
    format!("{head} ...")
}

fn quantities(text: &mut String, found: &Comparison) {
    let mut rows = vec![
        [
            "quantity",
            "unit",
            "first",
            "u",
            "second",
            "u",
            "difference",
            "z",
            "over larger u",
        ]
        .map(str::to_owned)
        .to_vec(),
    ];
    rows.extend(found.quantities.iter().map(row));
    if rows.len() > 1 {
        let _ = writeln!(
            text,
            "\nquantities, the largest |z| first\n{}",
            columns(&rows)
        );
    }
    if found.quantities_below > 0 {
        let _ = writeln!(
            text,
            "{} more quantities changed by |z| below {}",
            found.quantities_below, found.least_z
        );
    }
    if found.quantities_below + found.quantities.len() > 0 {
        let _ = writeln!(text, "{}", found.remark);
    }
}

fn row(change: &QuantityChange) -> Vec<String> {
    let maybe = |number: Option<f64>| number.map_or_else(|| "none".to_owned(), digits);
    let over =
        |number: Option<f64>| number.map_or_else(|| "none".to_owned(), |z| format!("{z:+.2}"));
    vec![
        change.of.clone(),
        change.unit.clone(),
        stated(change.first, change.limits_first),
        maybe(change.u_first),
        stated(change.second, change.limits_second),
        maybe(change.u_second),
        digits(change.difference),
        over(change.z),
        over(change.over_larger_u),
    ]
}

/// A value, with its limits where it is an interval.
fn stated(value: f64, limits: Option<Limits>) -> String {
    let Some(limits) = limits else {
        return digits(value);
    };
    let end = |limit: Option<f64>| limit.map_or_else(|| "none".to_owned(), digits);
    format!(
        "{} [{}, {}]",
        digits(value),
        end(limits.lower),
        end(limits.upper)
    )
}
