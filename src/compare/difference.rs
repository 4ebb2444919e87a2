//! What differs between two values of one name, and by how much of what they are worth.

use super::named::{Limits, Named, Stated};
use serde::Serialize;

/// Changes below this share of the larger value (or of its uncertainty, where that is larger) are none: the last digits of a
/// sum depend on the machine.
pub const SAME_SHARE: f64 = 1e-9;

/// A value before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    /// What it is.
    pub of: String,
    /// As the first analysis has it; null where it has none.
    pub first: Option<String>,
    /// As the second has it.
    pub second: Option<String>,
}

/// A quantity that changed: in both analyses and in the same unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct QuantityChange {
    /// Where it stands: the run and its path.
    pub of: String,
    /// Unit of all numbers here but `z` and `over_larger_u`.
    pub unit: String,
    /// First value.
    pub first: f64,
    /// Its standard uncertainty.
    pub u_first: Option<f64>,
    /// Second value.
    pub second: f64,
    /// Its standard uncertainty.
    pub u_second: Option<f64>,
    /// Limits of the first, where it is an interval: then its u is half the width over the normal quantile of its confidence.
    pub limits_first: Option<Limits>,
    /// Those of the second.
    pub limits_second: Option<Limits>,
    /// Second less first.
    pub difference: f64,
    /// The difference over √(u² + u²), as if the two shared no error; null without both uncertainties.
    pub z: Option<f64>,
    /// The difference over the larger of the uncertainties; null without any.
    pub over_larger_u: Option<f64>,
}

/// A quantity that one analysis has and the other has not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OneSided {
    /// Where it stands.
    pub of: String,
    /// Which analysis has it: `first` or `second`.
    pub only_in: &'static str,
    /// What is missing in the other: `value` or `u`.
    pub missing: &'static str,
    /// What the one has.
    pub stated: String,
    /// Why the other has none.
    pub reason: String,
}

/// What a name says in two analyses.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Difference {
    Quantity(QuantityChange),
    OneSided(OneSided),
    /// Numbers of different units, told and never subtracted.
    Units(Change),
    Other(Change),
}

/// True where two numbers are the same but for rounding; `u` is the larger of their uncertainties, or 0.
pub(super) fn same(a: f64, b: f64, u: f64) -> bool {
    (a.is_nan() && b.is_nan())
        || a == b
        || (b - a).abs() <= SAME_SHARE * a.abs().max(b.abs()).max(u)
}

/// How two values of a name differ: nothing where they do not, two entries where value and uncertainty are worth a line each.
pub(super) fn difference(
    of: &str,
    first: Option<&Named>,
    second: Option<&Named>,
) -> Vec<Difference> {
    let changed = |first: Option<String>, second: Option<String>| {
        vec![Difference::Other(Change {
            of: of.to_owned(),
            first,
            second,
        })]
    };
    match (first, second) {
        (Some(Named::Quantity(a)), Some(Named::Quantity(b))) => quantities(of, a, b),
        (Some(Named::Quantity(a)), None) => absent(of, a, "first"),
        (None, Some(Named::Quantity(b))) => absent(of, b, "second"),
        (Some(Named::Number(a)), Some(Named::Number(b))) if same(*a, *b, 0.0) => Vec::new(),
        (Some(Named::Series(a)), Some(Named::Series(b))) => match series(a, b) {
            Some((a, b)) => changed(Some(a), Some(b)),
            None => Vec::new(),
        },
        (a, b) if a == b => Vec::new(),
        (a, b) => changed(a.map(words), b.map(words)),
    }
}

fn absent(of: &str, stated: &Stated, only_in: &'static str) -> Vec<Difference> {
    if stated.value.is_none() {
        return Vec::new();
    }
    vec![Difference::OneSided(OneSided {
        of: of.to_owned(),
        only_in,
        missing: "value",
        stated: in_words(stated),
        reason: "the other analysis does not name it".to_owned(),
    })]
}

fn quantities(of: &str, a: &Stated, b: &Stated) -> Vec<Difference> {
    let why = |stated: &Stated| {
        let reason = stated.reason.clone();
        reason.unwrap_or_else(|| "no reason is given".to_owned())
    };
    let one_sided = |has: &Stated, lacks: &Stated, only_in, missing| {
        Difference::OneSided(OneSided {
            of: of.to_owned(),
            only_in,
            missing,
            stated: in_words(has),
            reason: why(lacks),
        })
    };
    let (first, second) = match (a.value, b.value) {
        (None, None) => return Vec::new(),
        (Some(_), None) => return vec![one_sided(a, b, "first", "value")],
        (None, Some(_)) => return vec![one_sided(b, a, "second", "value")],
        (Some(first), Some(second)) => (first, second),
    };
    if a.unit != b.unit {
        return vec![Difference::Units(Change {
            of: of.to_owned(),
            first: Some(a.unit.clone()),
            second: Some(b.unit.clone()),
        })];
    }
    let mut found = Vec::new();
    match (a.u, b.u) {
        (Some(_), None) => found.push(one_sided(a, b, "first", "u")),
        (None, Some(_)) => found.push(one_sided(b, a, "second", "u")),
        _ => {}
    }
    let larger = a.u.unwrap_or(0.0).max(b.u.unwrap_or(0.0));
    let u_changed = matches!((a.u, b.u), (Some(p), Some(q)) if !same(p, q, 0.0));
    if same(first, second, larger) && !u_changed && !apart(a.limits, b.limits) {
        return found;
    }
    let over = |u: f64| {
        (u > 0.0)
            .then(|| (second - first) / u)
            .filter(|z| z.is_finite())
    };
    let both = a.u.zip(b.u);
    found.push(Difference::Quantity(QuantityChange {
        of: of.to_owned(),
        unit: a.unit.clone(),
        first,
        u_first: a.u,
        second,
        u_second: b.u,
        limits_first: a.limits,
        limits_second: b.limits,
        difference: second - first,
        z: both.and_then(|(p, q)| over(p.hypot(q))),
        over_larger_u: over(larger),
    }));
    found
}

/// True where the limits of two intervals differ.
fn apart(a: Option<Limits>, b: Option<Limits>) -> bool {
    let differ = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => !same(a, b, 0.0),
        (a, b) => a.is_some() != b.is_some(),
    };
    match (a, b) {
        (Some(a), Some(b)) => differ(a.lower, b.lower) || differ(a.upper, b.upper),
        (a, b) => a.is_some() != b.is_some(),
    }
}

/// How two lists of numbers differ; `None` where they do not.
fn series(a: &[f64], b: &[f64]) -> Option<(String, String)> {
    if a.len() != b.len() {
        let count = |list: &[f64]| format!("{} numbers", list.len());
        return Some((count(a), count(b)));
    }
    let apart = |(a, b): (&f64, &f64)| {
        if a.is_nan() == b.is_nan() {
            (b - a).abs()
        } else {
            f64::INFINITY
        }
    };
    let differ = |pair: &(usize, (&f64, &f64))| !same(*pair.1.0, *pair.1.1, 0.0);
    let all = || a.iter().zip(b).enumerate().filter(differ);
    let (at, (p, q)) = all().max_by(|x, y| apart(x.1).total_cmp(&apart(y.1)))?;
    let place = format!(
        "{} of {} numbers differ, most the one at {}: ",
        all().count(),
        a.len(),
        at + 1
    );
    Some((format!("{place}{}", digits(*p)), digits(*q)))
}

/// A number with as many digits as tell it from its neighbour in a table.
pub fn digits(number: f64) -> String {
    /// Digits that count.
    const DIGITS: i32 = 6;
    let size = number.abs();
    if !number.is_finite() {
        return "none".to_owned();
    }
    if number != 0.0 && !(1e-4..1e9).contains(&size) {
        return format!("{number:.5e}");
    }
    let before = if size >= 1.0 {
        size.log10().floor() as i32 + 1
    } else {
        1
    };
    let text = format!("{number:.*}", (DIGITS - before).max(0) as usize);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn in_words(stated: &Stated) -> String {
    let value = stated.value.map_or_else(|| "none".to_owned(), digits);
    match stated.u {
        Some(u) => format!(
            "{value} {unit} (u {} {unit})",
            digits(u),
            unit = stated.unit
        ),
        None => format!("{value} {} (no u)", stated.unit),
    }
}

fn words(value: &Named) -> String {
    match value {
        Named::Quantity(stated) => in_words(stated),
        Named::Number(number) => digits(*number),
        Named::Series(numbers) => format!("{} numbers", numbers.len()),
        Named::Words(words) => words.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stated(value: f64, u: Option<f64>, unit: &str) -> Named {
        Named::Quantity(Stated {
            value: Some(value),
            u,
            limits: None,
            unit: unit.to_owned(),
            reason: None,
        })
    }

    /// 10 with u 3 and 20 with u 4: z = 10/5; over the larger 10/4.
    #[test]
    fn a_difference_is_told_in_units_of_its_uncertainty() {
        let (a, b) = (stated(10.0, Some(3.0), "mm"), stated(20.0, Some(4.0), "mm"));
        let found = difference("x", Some(&a), Some(&b));
        let quantity = found.iter().find_map(|difference| match difference {
            Difference::Quantity(change) => Some((change.z, change.over_larger_u)),
            _ => None,
        });
        assert_eq!(quantity, Some((Some(2.0), Some(2.5))));
        assert!(difference("x", Some(&a), Some(&a)).is_empty());
        let near = stated(10.0 + 1e-9, Some(3.0), "mm");
        assert!(difference("x", Some(&a), Some(&near)).is_empty());
        // Another unit is never subtracted.
        let other = difference("x", Some(&a), Some(&stated(10.0, Some(3.0), "kPa")));
        assert!(matches!(other.as_slice(), [Difference::Units(_)]));
    }

    #[test]
    fn digits_are_those_that_count() {
        for (number, text) in [
            (0.0, "0"),
            (800.540_681_9, "800.541"),
            (1.25, "1.25"),
            (1200.0, "1200"),
            (0.000_012_3, "1.23000e-5"),
            (-22.0, "-22"),
            (1_234_567.8, "1234568"),
        ] {
            assert_eq!(digits(number), text);
        }
    }
}
