//! What changed between two analyses: of one study with other settings or another version, or of two studies.
//!
//! Runs are paired by their names, everything in them by its path ([`named`]); a quantity that is new in the results needs no line here.

mod difference;
mod named;

use crate::recording::{Finding, Place};
use difference::{Difference, difference};
use named::named;
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

pub use difference::{Change, OneSided, QuantityChange, SAME_SHARE, digits};
pub use named::Limits;

/// Parts of the results that are compared in a way of their own, or not at all.
const APART: &[&str] = &[
    "schema", "tool", "study", "inputs", "findings", "runs", "verdicts",
];
/// Why `z` is too small.
pub const SHARED_ERRORS: &str = "z = difference / sqrt(u1^2 + u2^2) takes the two as independent. Analyses of the same recordings share most errors, \
so z is then too small: look at the difference over the larger u, too. Of an interval, u is half its width over the normal quantile of its confidence.";

/// What an analysis says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Side {
    /// Where its results are.
    pub out: String,
    /// Title of its study.
    pub title: String,
    /// Version of the program.
    pub version: String,
}

/// Everything that differs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// The first analysis.
    pub first: Side,
    /// The second.
    pub second: Side,
    /// Runs that both have.
    pub runs_compared: usize,
    /// Runs only the first has.
    pub runs_only_first: Vec<String>,
    /// Runs only the second has.
    pub runs_only_second: Vec<String>,
    /// Version of the program, title, rig and the like.
    pub study: Vec<Change>,
    /// Settings.
    pub settings: Vec<Change>,
    /// Files that are not the same, by their SHA-256.
    pub inputs: Vec<Change>,
    /// Outcomes of runs.
    pub outcomes: Vec<Change>,
    /// Events of runs: kind, time, pressure.
    pub events: Vec<Change>,
    /// Verdicts.
    pub verdicts: Vec<Change>,
    /// Findings: how many of each code.
    pub findings: Vec<Change>,
    /// Quantities whose units differ: an error, never a number.
    pub units_differ: Vec<Change>,
    /// Quantities that one analysis lacks.
    pub one_sided: Vec<OneSided>,
    /// Quantities compared.
    pub quantities_compared: usize,
    /// Least |z| of those listed.
    pub least_z: f64,
    /// Quantities that changed, the largest |z| first, then those without z.
    pub quantities: Vec<QuantityChange>,
    /// Quantities that changed by less than `least_z`.
    pub quantities_below: usize,
    /// What else differs: plain numbers, curves and words.
    pub others: Vec<Change>,
    /// How `z` is to be read.
    pub remark: &'static str,
}

impl Comparison {
    /// True where nothing differs.
    pub fn is_same(&self) -> bool {
        let changes = [
            &self.study,
            &self.settings,
            &self.inputs,
            &self.outcomes,
            &self.events,
            &self.verdicts,
            &self.findings,
            &self.units_differ,
            &self.others,
        ];
        changes.iter().all(|list| list.is_empty())
            && self.runs_only_first.is_empty()
            && self.runs_only_second.is_empty()
            && self.one_sided.is_empty()
            && self.quantities.is_empty()
            && self.quantities_below == 0
    }
}

/// Results read, with where they came from.
#[derive(Debug, Clone, Copy)]
pub struct Results<'r> {
    /// Where they came from.
    pub out: &'r str,
    /// The whole of `results.json`.
    pub json: &'r Value,
}

/// Compares two analyses; quantities are listed from |z| = `least_z` on.
///
/// # Errors
/// An error finding where the results hold no list of runs with names.
pub fn compare(
    first: Results<'_>,
    second: Results<'_>,
    least_z: f64,
) -> Result<Comparison, Finding> {
    let (runs_a, runs_b) = (runs(first)?, runs(second)?);
    let both: Vec<&str> = runs_a
        .keys()
        .filter(|id| runs_b.contains_key(*id))
        .copied()
        .collect();
    let only = |these: &BTreeMap<&str, &Value>, others: &BTreeMap<&str, &Value>| {
        let alone = these.keys().filter(|id| !others.contains_key(*id));
        alone.map(|id| (*id).to_owned()).collect()
    };
    let mut found = Comparison {
        first: side(first),
        second: side(second),
        runs_compared: both.len(),
        runs_only_first: only(&runs_a, &runs_b),
        runs_only_second: only(&runs_b, &runs_a),
        study: words(&about(first.json), &about(second.json)),
        settings: words(&settings(first.json), &settings(second.json)),
        inputs: words(&inputs(first.json), &inputs(second.json)),
        outcomes: Vec::new(),
        events: Vec::new(),
        verdicts: words(&verdicts(first.json), &verdicts(second.json)),
        findings: words(
            &codes(first.json, "the study"),
            &codes(second.json, "the study"),
        ),
        units_differ: Vec::new(),
        one_sided: Vec::new(),
        quantities_compared: 0,
        least_z,
        quantities: Vec::new(),
        quantities_below: 0,
        others: Vec::new(),
        remark: SHARED_ERRORS,
    };
    for id in both {
        if let (Some(a), Some(b)) = (runs_a.get(id), runs_b.get(id)) {
            found.run(id, a, b);
        }
    }
    found.rest(first.json, second.json);
    found.settle();
    Ok(found)
}

impl Comparison {
    fn run(&mut self, id: &str, a: &Value, b: &Value) {
        let one = |key: &str| words(&outcome(a, id, key), &outcome(b, id, key));
        self.outcomes.extend(one("outcome"));
        self.events.extend(words(&events(a, id), &events(b, id)));
        self.findings.extend(words(&codes(a, id), &codes(b, id)));
        self.tree(
            &without(a, &["findings", "outcome"]),
            &without(b, &["findings", "outcome"]),
            id,
        );
    }

    /// Groups and whatever else stands beside the runs.
    fn rest(&mut self, a: &Value, b: &Value) {
        self.tree(&without(a, APART), &without(b, APART), "");
    }

    fn tree(&mut self, a: &Value, b: &Value, prefix: &str) {
        let (a, b) = (named(a, prefix), named(b, prefix));
        let names: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
        for name in names {
            let (first, second) = (a.get(name), b.get(name));
            let is_quantity =
                |of: Option<&named::Named>| matches!(of, Some(named::Named::Quantity(_)));
            self.quantities_compared += usize::from(is_quantity(first) && is_quantity(second));
            for difference in difference(name, first, second) {
                match difference {
                    Difference::Quantity(change) => self.quantities.push(change),
                    Difference::OneSided(change) => self.one_sided.push(change),
                    Difference::Units(change) => self.units_differ.push(change),
                    Difference::Other(change) => self.others.push(change),
                }
            }
        }
    }

    /// The largest first; what lies below the least only counted.
    fn settle(&mut self) {
        let all = self.quantities.len();
        let least = self.least_z;
        self.quantities
            .retain(|change| change.z.is_none_or(|z| z.abs() >= least));
        self.quantities_below = all - self.quantities.len();
        let size = |change: &QuantityChange| change.z.map_or(-1.0, f64::abs);
        self.quantities
            .sort_by(|a, b| size(b).total_cmp(&size(a)).then_with(|| a.of.cmp(&b.of)));
    }
}

/// The runs by name.
fn runs(results: Results<'_>) -> Result<BTreeMap<&str, &Value>, Finding> {
    let wrong = |found: String| {
        Finding::error(
            "results-runs",
            format!(
                "found {found}; expected \"runs\", a list of runs each with its own \"run_id\""
            ),
        )
        .at(Place::file(results.out))
        .help("analyse the study again")
    };
    let list = results.json.get("runs").and_then(Value::as_array);
    let list = list.ok_or_else(|| wrong("no list \"runs\"".to_owned()))?;
    let mut runs = BTreeMap::new();
    for (at, run) in list.iter().enumerate() {
        let id = run.get("run_id").and_then(Value::as_str);
        let id = id.ok_or_else(|| wrong(format!("a run without a name (number {})", at + 1)))?;
        if runs.insert(id, run).is_some() {
            return Err(wrong(format!("the run \"{id}\" twice")));
        }
    }
    Ok(runs)
}

fn text(value: &Value, pointer: &str) -> String {
    let found = value.pointer(pointer).and_then(Value::as_str);
    found.unwrap_or_default().to_owned()
}

fn side(results: Results<'_>) -> Side {
    Side {
        out: results.out.to_owned(),
        title: text(results.json, "/study/title"),
        version: text(results.json, "/tool/version"),
    }
}

/// An object without these keys.
fn without(value: &Value, keys: &[&str]) -> Value {
    let mut rest = value.clone();
    if let Value::Object(object) = &mut rest {
        object.retain(|key, _| !keys.contains(&key.as_str()));
    }
    rest
}

/// Words by name.
type Table = BTreeMap<String, String>;

/// What differs between two tables of words.
fn words(a: &Table, b: &Table) -> Vec<Change> {
    let names: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
    let pairs = names.into_iter().map(|of| (of, a.get(of), b.get(of)));
    pairs
        .filter(|(_, first, second)| first != second)
        .map(|(of, first, second)| Change {
            of: of.clone(),
            first: first.cloned(),
            second: second.cloned(),
        })
        .collect()
}

/// Every plain value below, as JSON writes it.
fn table(value: &Value, prefix: &str) -> Table {
    let mut found = Table::new();
    let mut open = vec![(prefix.to_owned(), value)];
    while let Some((path, value)) = open.pop() {
        match value {
            Value::Object(object) => {
                let dot = if path.is_empty() { "" } else { "." };
                open.extend(
                    object
                        .iter()
                        .map(|(key, v)| (format!("{path}{dot}{key}"), v)),
                );
            }
            Value::String(words) => {
                found.insert(path, words.clone());
            }
            other => {
                found.insert(path, other.to_string());
            }
        }
    }
    found
}

fn about(json: &Value) -> Table {
    let mut about = table(&json["tool"], "tool");
    about.extend(table(&without(&json["study"], &["settings"]), "study"));
    about
}

fn settings(json: &Value) -> Table {
    table(&json["study"]["settings"], "")
}

fn list<'v>(json: &'v Value, key: &str) -> &'v [Value] {
    json.get(key)
        .and_then(Value::as_array)
        .map_or(&[], |list| list)
}

fn inputs(json: &Value) -> Table {
    let file = |input: &Value| (text(input, "/path"), text(input, "/sha256"));
    list(json, "inputs").iter().map(file).collect()
}

fn verdicts(json: &Value) -> Table {
    let all = list(json, "verdicts");
    let about = |v: &Value| format!("{}, {}", text(v, "/rule"), text(v, "/group"));
    all.iter()
        .map(|v| {
            let name = about(v);
            let several = all.iter().filter(|other| about(other) == name).count() > 1;
            (
                // Two criteria of a rule are told apart by what they ask, wherever they stand.
                if several {
                    format!("{name}: {}", text(v, "/asks"))
                } else {
                    name
                },
                format!("{}: {}", text(v, "/verdict"), text(v, "/reason")),
            )
        })
        .collect()
}

fn outcome(run: &Value, id: &str, key: &str) -> Table {
    Table::from([(id.to_owned(), text(run, &format!("/{key}")))])
}

/// The events of a run in a line; without any, words that say so.
fn events(run: &Value, id: &str) -> Table {
    let shown = |event: &Value, pointer: &str, unit: &str| {
        let number = event.pointer(pointer).and_then(Value::as_f64);
        number.map_or_else(|| format!("no {unit}"), |n| format!("{} {unit}", digits(n)))
    };
    let told: Vec<String> = list(run, "events")
        .iter()
        .map(|event| {
            format!(
                "{} at {}, {}",
                text(event, "/kind"),
                shown(event, "/t_s", "s"),
                shown(event, "/pressure/value", "kPa")
            )
        })
        .collect();
    let told = if told.is_empty() {
        "none".to_owned()
    } else {
        told.join("; ")
    };
    Table::from([(id.to_owned(), told)])
}

/// How many findings of each code.
fn codes(of: &Value, name: &str) -> Table {
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for finding in list(of, "findings") {
        let code = format!(
            "{name}: {}[{}]",
            text(finding, "/severity"),
            text(finding, "/code")
        );
        *counts.entry(code).or_default() += 1;
    }
    counts
        .into_iter()
        .map(|(code, n)| (code, n.to_string()))
        .collect()
}
