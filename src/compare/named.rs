//! A tree of JSON as named values. Names are paths (`diameters.by_method.caliper.after`), so that a quantity that is new in the
//! results is compared without a line here.

use super::difference::digits;
use crate::stats::normal_quantile;
use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Keys whose words tell the members of a list apart, in the order in which a name is made of them.
const IDENTITY: &[&str] = &[
    "run_id",
    "name",
    "quantity",
    "by",
    "stage",
    "rule",
    "group",
    "kind",
    "path",
    "code",
    "definition",
    "of",
    "source",
    "model",
    "first",
    "second",
    "groups",
];
/// Where no such words are: what tells the rows of a table apart, by the first of these keys that a row has.
const ROWS: &[&[&str]] = &[
    &["p"],
    &["pressure_kpa"],
    &["sides", "coverage", "confidence", "scale"],
    &["method"],
];

/// A quantity as it stands in the results.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stated {
    /// Value, in `unit`.
    pub value: Option<f64>,
    /// Standard uncertainty, in `unit`; of an interval, half its width over the normal quantile of its confidence.
    pub u: Option<f64>,
    /// Limits, where it is an interval.
    pub limits: Option<Limits>,
    /// Unit.
    pub unit: String,
    /// Why something is missing.
    pub reason: Option<String>,
}

/// Limits of an interval, in the unit of its value; null where it is open.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Limits {
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
}

/// A named value.
#[derive(Debug, Clone, PartialEq)]
pub enum Named {
    /// With unit and uncertainty.
    Quantity(Stated),
    /// A number whose unit is in its name.
    Number(f64),
    /// A list of numbers, missing ones as NaN.
    Series(Vec<f64>),
    /// Anything else.
    Words(String),
}

/// Every value below, by its name. What is null is not there.
pub fn named(value: &Value, prefix: &str) -> BTreeMap<String, Named> {
    let mut found = BTreeMap::new();
    walk(value, prefix, &mut found);
    found
}

fn walk(value: &Value, path: &str, found: &mut BTreeMap<String, Named>) {
    match value {
        Value::Null => {}
        Value::Bool(yes) => add(found, path, Named::Words(yes.to_string())),
        Value::String(words) => add(found, path, Named::Words(words.clone())),
        Value::Number(number) => add(found, path, Named::Number(plain(number))),
        Value::Array(list) => walk_list(list, path, found),
        Value::Object(object) => match quantity(object) {
            Some(stated) => walk_quantity(object, stated, path, found),
            None => object
                .iter()
                .for_each(|(key, value)| walk(value, &join(path, key), found)),
        },
    }
}

fn add(found: &mut BTreeMap<String, Named>, path: &str, value: Named) {
    found.insert(path.to_owned(), value);
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

fn plain(number: &serde_json::Number) -> f64 {
    number.as_f64().unwrap_or(f64::NAN)
}

/// The quantity that an object is: it has a unit, and a value with an uncertainty or with limits.
fn quantity(object: &Map<String, Value>) -> Option<Stated> {
    let unit = object.get("unit")?.as_str()?;
    let value = object.get("value")?;
    let has = |key| object.contains_key(key);
    if !(value.is_null() || value.is_number()) || !(has("u") || has("lower") || has("upper")) {
        return None;
    }
    let number = |key| object.get(key).and_then(Value::as_f64);
    let limits = (has("lower") || has("upper")).then(|| Limits {
        lower: number("lower"),
        upper: number("upper"),
    });
    let u = number("u").or_else(|| limits?.standard_uncertainty(number("confidence")?));
    let reason = object.get("reason").and_then(Value::as_str);
    let open = limits.filter(|_| u.is_none());
    let open = open.map(|_| "the interval has not both limits, so no u follows from it");
    Some(Stated {
        value: value.as_f64(),
        u,
        limits,
        unit: unit.to_owned(),
        reason: reason.or(open).map(str::to_owned),
    })
}

impl Limits {
    /// As if the interval were that of a normal distribution.
    fn standard_uncertainty(self, confidence: f64) -> Option<f64> {
        let u = (self.upper? - self.lower?) / 2.0 / normal_quantile(f64::midpoint(1.0, confidence));
        u.is_finite().then_some(u)
    }
}

/// A quantity, and what else is said of it.
fn walk_quantity(
    object: &Map<String, Value>,
    stated: Stated,
    path: &str,
    found: &mut BTreeMap<String, Named>,
) {
    for (key, value) in object {
        match key.as_str() {
            "value" | "u" | "unit" | "reason" | "lower" | "upper" => {}
            _ => walk(value, &join(path, key), found),
        }
    }
    add(found, path, Named::Quantity(stated));
}

fn walk_list(list: &[Value], path: &str, found: &mut BTreeMap<String, Named>) {
    if list.is_empty() {
        return;
    }
    if list.iter().all(|v| v.is_number() || v.is_null()) {
        let numbers = list.iter().map(|v| v.as_f64().unwrap_or(f64::NAN));
        return add(found, path, Named::Series(numbers.collect()));
    }
    if list.iter().all(Value::is_string) {
        let words: Vec<&str> = list.iter().filter_map(Value::as_str).collect();
        return add(found, path, Named::Words(words.join("; ")));
    }
    for (name, member) in members(list) {
        walk(member, &format!("{path}[{name}]"), found);
    }
}

/// The members of a list by the words that tell them apart, else by their place, from 1; a further one of the same words by its number.
pub(super) fn members(list: &[Value]) -> Vec<(String, &Value)> {
    let mut met: BTreeMap<String, usize> = BTreeMap::new();
    list.iter()
        .enumerate()
        .map(|(at, member)| {
            let words: Vec<String> = IDENTITY
                .iter()
                .filter_map(|key| words(member.get(key)?))
                .collect();
            let name = if words.is_empty() {
                row(member)
            } else {
                Some(words.join(", "))
            };
            let Some(name) = name else {
                return ((at + 1).to_string(), member);
            };
            let times = met.entry(name.clone()).or_default();
            *times += 1;
            match *times {
                1 => (name, member),
                further => (format!("{name} #{further}"), member),
            }
        })
        .collect()
}

/// Words, or a list of words.
fn words(value: &Value) -> Option<String> {
    match value {
        Value::String(words) => Some(words.clone()),
        Value::Array(list) if !list.is_empty() => {
            let words: Option<Vec<&str>> = list.iter().map(Value::as_str).collect();
            Some(words?.join(" and "))
        }
        _ => None,
    }
}

/// A row of a table without words of its own: `p 0.1`.
fn row(member: &Value) -> Option<String> {
    let has = |keys: &&&[&str]| keys.first().is_some_and(|key| member.get(key).is_some());
    let cells = ROWS.iter().find(has)?.iter().filter_map(|key| {
        let cell = member.get(key)?;
        let number = || Some(format!("{key} {}", digits(cell.as_f64()?)));
        words(cell).or_else(number)
    });
    let cells: Vec<String> = cells.collect();
    (!cells.is_empty()).then(|| cells.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn everything_gets_a_name_that_does_not_depend_on_its_place() {
        let tree = json!({
            "set": {"value": 1.5, "u": 0.1, "unit": "mm", "method": "m"},
            "share": {"value": 0.5, "lower": 0.2, "upper": null, "confidence": 0.95, "unit": "1", "method": "exact"},
            "events": [{"kind": "slip", "t_s": 1.0}, {"kind": "fracture", "t_s": 2}, {"kind": "fracture", "t_s": 3}],
            "curve": {"pressure_kpa": [1, null, 3]},
            "observation": {"value": "5.8", "unit": "mm"},
            "note": null,
            "seen": ["a", "b"],
        });
        let all = named(&tree, "r1");
        let names: Vec<&str> = all.keys().map(String::as_str).collect();
        assert_eq!(
            names,
            [
                "r1.curve.pressure_kpa",
                "r1.events[fracture #2].kind",
                "r1.events[fracture #2].t_s",
                "r1.events[fracture].kind",
                "r1.events[fracture].t_s",
                "r1.events[slip].kind",
                "r1.events[slip].t_s",
                "r1.observation.unit",
                "r1.observation.value",
                "r1.seen",
                "r1.set",
                "r1.set.method",
                "r1.share",
                "r1.share.confidence",
                "r1.share.method",
            ]
        );
        let quantities = all.values().filter(|n| matches!(n, Named::Quantity(_)));
        assert_eq!(quantities.count(), 2);
    }

    /// 0.2 to 0.6 with 95 %: half of 0.4 over 1.959964. An open interval tells no u, and why.
    #[test]
    fn an_interval_tells_its_standard_uncertainty() {
        let of = |upper: Value| {
            let tree = json!({"value": 0.5, "lower": 0.2, "upper": upper, "confidence": 0.95, "unit": "1", "method": "m"});
            match named(&tree, "s").remove("s") {
                Some(Named::Quantity(stated)) => (stated.u, stated.reason),
                _ => (None, None),
            }
        };
        let (u, reason) = of(json!(0.6));
        assert!((u.unwrap_or(0.0) - 0.2 / 1.959_964).abs() < 1e-6 && reason.is_none());
        let (u, reason) = of(Value::Null);
        assert!(u.is_none() && reason.is_some_and(|why| why.contains("not both limits")));
    }

    #[test]
    fn rows_are_told_apart_by_what_they_are_about() {
        let quantile = |p: f64| json!({"p": p, "value": 1.0, "lower": 0.5, "upper": 1.5, "confidence": 0.95, "unit": "kPa", "method": "m"});
        let tree = json!({
            "quantiles": [quantile(0.01), quantile(0.1)],
            "strength": [{"quantity": "tension", "model": "normal", "n": 3}],
            "tests": [{"name": "fisher", "quantity": "fractured", "groups": ["a", "b"], "p": 0.5, "method": "m"}],
            "tolerance": [{"scale": "log", "confidence": 0.95, "coverage": 0.9, "sides": 2, "k": 3.0, "unit": "mm"}],
            "gauge": [{"method": "plug", "n": 3}],
        });
        let all = named(&tree, "");
        for name in [
            "quantiles[p 0.01]",
            "quantiles[p 0.1]",
            "strength[tension, normal].n",
            "tests[fisher, fractured, a and b].p",
            "tolerance[sides 2, coverage 0.9, confidence 0.95, log].k",
            "gauge[plug].n",
        ] {
            assert!(all.contains_key(name), "{name}: {:?}", all.keys());
        }
    }
}
