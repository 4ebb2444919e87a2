//! Grades, counts, and yes and no of groups.

use super::strengths::exactness;
use super::{How, bare, untold};
use crate::judge::observations::{COUNTS, Key, in_words, pieces, rows};
use crate::judge::sample::Sample;
use crate::recording::{Comparison, Interval, ObservationKind, ObservationRow};
use crate::stats::{
    TrendGroup, fisher_exact, kruskal_wallis, poisson_limits, poisson_ratio, proportion_trend,
};
use std::collections::BTreeMap;

type Rows<'a> = Vec<Vec<&'a ObservationRow>>;

/// Name of an observation with its stage.
fn name(key: &Key) -> String {
    match key.1 {
        Some(stage) => format!("{}, {}", key.0, stage.word()),
        None => key.0.clone(),
    }
}

/// Why grades are not compared.
const TWO_SCALES: &str =
    "some grades are words and others are numbers, and nobody said which number is which word";

/// True where all grades are words, or all are numbers.
fn one_scale<'r, 'a: 'r>(groups: impl IntoIterator<Item = &'r Rows<'a>>) -> bool {
    let rows = groups.into_iter().flatten().flatten();
    let mut words = rows
        .filter(|row| row.grade_rank.is_some())
        .filter_map(|row| row.grade.as_deref().map(in_words));
    words
        .next()
        .is_none_or(|first| words.all(|word| word == first))
}

/// The highest grade of each run, as its place in the order.
fn grades(rows: &Rows<'_>) -> Vec<f64> {
    rows.iter()
        .filter_map(|rows| rows.iter().filter_map(|row| row.grade_rank).max())
        .map(f64::from)
        .collect()
}

/// Ranks of grades over all groups that have them.
pub(super) fn all_at_once(samples: &[Sample<'_>]) -> Vec<Comparison> {
    let mut by_key: BTreeMap<Key, Vec<(&str, Rows<'_>)>> = BTreeMap::new();
    for sample in samples {
        for (key, rows) in rows(sample) {
            if key.2 == ObservationKind::Grade && !grades(&rows).is_empty() {
                by_key.entry(key).or_default().push((&sample.name, rows));
            }
        }
    }
    by_key
        .iter()
        .filter(|(_, groups)| groups.len() > 1)
        .map(|(key, groups)| {
            let names: Vec<&str> = groups.iter().map(|(name, _)| *name).collect();
            let untold = |why: &str| {
                let what = "ranks of grades (Kruskal-Wallis)";
                untold("kruskal-wallis", &name(key), &names, what, why)
            };
            if !one_scale(groups.iter().map(|(_, rows)| rows)) {
                return untold(TWO_SCALES);
            }
            let grades: Vec<Vec<f64>> = groups.iter().map(|(_, rows)| grades(rows)).collect();
            let lists: Vec<&[f64]> = grades.iter().map(Vec::as_slice).collect();
            match kruskal_wallis(&lists) {
                Ok(test) => {
                    let method = "ranks of grades (Kruskal-Wallis, ties corrected); p from the chi-squared distribution";
                    let words = bare("kruskal-wallis", &name(key), &names, method);
                    words.chi2(test.h, test.dof).p(test.p)
                }
                Err(why) => untold(&why.to_string()),
            }
        })
        .collect()
}

/// What two groups both have.
pub(super) fn compare(first: &Sample<'_>, second: &Sample<'_>, how: How<'_>) -> Vec<Comparison> {
    let names = [first.name.as_str(), second.name.as_str()];
    let mut others = rows(second);
    rows(first)
        .into_iter()
        .filter_map(|(key, a)| {
            let b = others.remove(&key)?;
            match key.2 {
                ObservationKind::Number if key.3 == COUNTS => counts(&key, &names, (&a, &b), how),
                ObservationKind::Grade => trend(&key, &names, (&a, &b)),
                ObservationKind::YesNo => shares(&key, &names, (&a, &b)),
                _ => None,
            }
        })
        .collect()
}

/// Rates of pieces a run.
fn counts(
    key: &Key,
    names: &[&str],
    (a, b): (&Rows<'_>, &Rows<'_>),
    how: How<'_>,
) -> Option<Comparison> {
    let sum = |rows: &Rows<'_>| {
        let sum: f64 = rows.iter().map(|rows| pieces(rows)).sum();
        // A part of a piece is no count.
        (sum.fract() == 0.0 && sum >= 0.0).then_some((sum as u64, rows.len() as f64))
    };
    let (first, second) = (sum(a)?, sum(b)?);
    let seen = format!(
        "{} in {} runs against {} in {}",
        first.0, first.1, second.0, second.1
    );
    if first.0 + second.0 == 0 {
        return nothing_counted(key, names, &seen, (first.1, second.1), how);
    }
    let found = match poisson_ratio(first, second, how.confidence) {
        Ok(found) => found,
        Err(why) => {
            let what = format!("{seen}; exact test of two Poisson rates");
            return Some(untold("poisson-rates", &name(key), names, &what, why));
        }
    };
    let method = format!(
        "{seen}; exact test of two Poisson rates, too sure of itself where runs scatter more than chance"
    );
    let estimate = Interval {
        value: found.ratio,
        lower: Some(found.lower),
        upper: found.upper.is_finite().then_some(found.upper),
        confidence: how.confidence,
        unit: "1".to_owned(),
        method: "second rate over first; exact limits".to_owned(),
    };
    Some(
        bare("poisson-rates", &name(key), names, method)
            .p(found.p)
            .estimate(estimate),
    )
}

/// Nothing in either group: every ratio of the rates fits as well, so there is no test. What is known is how far the rates can differ: no more
/// than the larger of them can be, each below its exact limit.
fn nothing_counted(
    key: &Key,
    names: &[&str],
    seen: &str,
    runs: (f64, f64),
    how: How<'_>,
) -> Option<Comparison> {
    // Both limits hold together with the confidence named (Bonferroni).
    let upper = |runs: f64| Some(poisson_limits(0, how.confidence).ok()?.upper / runs);
    let (first, second) = (upper(runs.0)?, upper(runs.1)?);
    let estimate = Interval {
        value: Some(0.0),
        lower: Some(-first),
        upper: Some(second),
        confidence: how.confidence,
        unit: "count a run".to_owned(),
        method: "second rate less first; each rate from 0 to its exact upper limit (Garwood 1936), both together at this confidence".to_owned(),
    };
    let method = format!(
        "{seen}; no test: where nothing was counted every ratio of the rates fits alike, and no p tells them apart. At most {first:.4} and {second:.4} a run"
    );
    Some(bare("poisson-rates", &name(key), names, method).estimate(estimate))
}

/// Whether the second group has the higher grades: the trend of its share among the runs of each grade.
fn trend(key: &Key, names: &[&str], (a, b): (&Rows<'_>, &Rows<'_>)) -> Option<Comparison> {
    let untold = |why: &str| {
        let what = "trend of the share of the second group with the grade (Cochran-Armitage)";
        untold("cochran-armitage", &name(key), names, what, why)
    };
    if grades(a).is_empty() || grades(b).is_empty() {
        return None;
    }
    if !one_scale([a, b]) {
        return Some(untold(TWO_SCALES));
    }
    let mut by_grade: BTreeMap<u64, (u64, u64)> = BTreeMap::new();
    for (grades, second) in [(grades(a), 0), (grades(b), 1)] {
        for grade in grades {
            let entry = by_grade.entry(grade as u64).or_default();
            entry.0 += second;
            entry.1 += 1;
        }
    }
    let groups: Vec<TrendGroup> = by_grade
        .iter()
        .map(|(grade, (events, n))| TrendGroup {
            score: *grade as f64,
            events: *events,
            n: *n,
        })
        .collect();
    let test = match proportion_trend(&groups) {
        Ok(test) => test,
        Err(why) => return Some(untold(&why.to_string())),
    };
    let method = format!(
        "trend of the share of the second group with the grade (Cochran-Armitage), {}",
        exactness(test.p_exact)
    );
    let p = test.p_exact.unwrap_or(test.p);
    Some(
        bare("cochran-armitage", &name(key), names, method)
            .statistic(test.z)
            .p(p),
    )
}

/// Shares of yes.
fn shares(key: &Key, names: &[&str], (a, b): (&Rows<'_>, &Rows<'_>)) -> Option<Comparison> {
    let yes = |rows: &Rows<'_>| {
        let yes = rows
            .iter()
            .filter(|rows| rows.iter().any(|row| row.yes == Some(true)));
        (yes.count() as u64, rows.len() as u64)
    };
    let (first, second) = (yes(a), yes(b));
    let test = fisher_exact(first, second).ok()?;
    let method = format!(
        "{} of {} against {} of {}; Fisher's exact test, two-sided",
        first.0, first.1, second.0, second.1
    );
    Some(bare("fisher", &name(key), names, method).p(test.p))
}
