//! A tree of JSON as named values. Names are paths (`diameters.by_method.caliper.after`), so that a quantity that is new in the
//! results is compared without a line here.

use serde::Serialize;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Keys whose words tell the members of a list apart, in the order in which a name is made of them.
const IDENTITY: &[&str] = &[
    "run_id",
    "name",
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
    "method",
    "first",
    "second",
];
/// A key whose number tells the rows of a table apart.
const ROW: &str = "pressure_kpa";

/// A quantity as it stands in the results.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Stated {
    /// Value, in `unit`.
    pub value: Option<f64>,
    /// Standard uncertainty, in `unit`.
    pub u: Option<f64>,
    /// Unit.
    pub unit: String,
    /// Why something is missing.
    pub reason: Option<String>,
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
    let reason = object.get("reason").and_then(Value::as_str);
    Some(Stated {
        value: value.as_f64(),
        u: object.get("u").and_then(Value::as_f64),
        unit: unit.to_owned(),
        reason: reason.map(str::to_owned),
    })
}

/// A quantity, its limits as quantities of their own, and what else is said of it.
fn walk_quantity(
    object: &Map<String, Value>,
    stated: Stated,
    path: &str,
    found: &mut BTreeMap<String, Named>,
) {
    for (key, value) in object {
        match (key.as_str(), value) {
            ("value" | "u" | "unit" | "reason", _) | ("lower" | "upper", Value::Null) => {}
            ("lower" | "upper", Value::Number(number)) => {
                let limit = Stated {
                    value: Some(plain(number)),
                    u: None,
                    unit: stated.unit.clone(),
                    reason: Some("a limit carries no uncertainty of its own".to_owned()),
                };
                add(found, &join(path, key), Named::Quantity(limit));
            }
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
            let words: Vec<&str> = IDENTITY
                .iter()
                .filter_map(|key| member.get(key)?.as_str())
                .collect();
            let name = match member.get(ROW).and_then(Value::as_f64) {
                _ if !words.is_empty() => words.join(", "),
                Some(pressure) => format!("{pressure:.2} kPa"),
                None => return ((at + 1).to_string(), member),
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
                "r1.share.lower",
                "r1.share.method",
            ]
        );
        let quantities = all.values().filter(|n| matches!(n, Named::Quantity(_)));
        assert_eq!(quantities.count(), 3);
    }
}
