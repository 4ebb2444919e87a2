//! What else was seen, over the runs of a group.

use super::quantity::kept;
use super::sample::Sample;
use super::strength::interval;
use crate::recording::{
    GradeSummary, Interval, NumberSummary, ObservationKind, ObservationRow, ObservationSummary,
    ShareSummary, Stage,
};
use crate::stats::{Limits, StatsError, describe, median, poisson_limits};
use std::collections::BTreeMap;

/// The unit of pieces.
pub(super) const COUNTS: &str = "counts";

/// One observation: name, stage, kind and, for numbers, unit. Others are never put together.
pub(super) type Key = (String, Option<Stage>, ObservationKind, String);

/// The rows of each observation, by run.
pub(super) fn rows<'a>(sample: &Sample<'a>) -> BTreeMap<Key, Vec<Vec<&'a ObservationRow>>> {
    let mut by_key: BTreeMap<Key, BTreeMap<usize, Vec<&ObservationRow>>> = BTreeMap::new();
    for (at, run) in sample.runs.iter().enumerate() {
        for row in &run.observations {
            let Some(kind) = row.kind else {
                continue;
            };
            let unit = row.quantity.as_ref().map_or("", |q| &q.unit).to_owned();
            let key = (row.name.clone(), row.stage, kind, unit);
            let runs = by_key.entry(key).or_default();
            runs.entry(at).or_default().push(row);
        }
    }
    by_key
        .into_iter()
        .map(|(key, rows)| (key, rows.into_values().collect()))
        .collect()
}

/// Summaries of what was seen of the runs of a group, by name and stage. Words are only counted.
pub(super) fn observations(sample: &Sample<'_>, confidence: f64) -> Vec<ObservationSummary> {
    rows(sample)
        .into_iter()
        .map(|((name, stage, kind, unit), rows)| {
            let mut summary = ObservationSummary {
                name,
                stage,
                kind,
                n: rows.len(),
                without: sample.runs.len() - rows.len(),
                number: None,
                rate: None,
                grades: None,
                share: None,
                method: String::new(),
            };
            fill(&mut summary, &rows, &unit, confidence);
            summary
        })
        .collect()
}

fn fill(
    summary: &mut ObservationSummary,
    rows: &[Vec<&ObservationRow>],
    unit: &str,
    confidence: f64,
) {
    let method = match summary.kind {
        ObservationKind::Number if unit == COUNTS => {
            let counts: Vec<f64> = rows.iter().map(|rows| pieces(rows)).collect();
            summary.number = numbers(&counts, unit, confidence);
            summary.rate = Some(rate(&counts, confidence));
            "pieces of several rows of a run added up, of several observers the highest sum"
        }
        ObservationKind::Number => {
            let values: Vec<f64> = rows.iter().filter_map(|rows| mean(rows)).collect();
            summary.number = numbers(&values, unit, confidence);
            "several rows of a run averaged first; the intervals come from the scatter between runs, uncertainties of single values are not in them"
        }
        ObservationKind::Grade => {
            summary.grades = Some(grades(rows));
            "of several rows of a run the highest grade"
        }
        ObservationKind::YesNo => {
            let yes = rows
                .iter()
                .filter(|rows| rows.iter().any(|row| row.yes == Some(true)));
            summary.share = Some(share(yes.count(), rows.len(), confidence));
            "yes where any row of a run says yes"
        }
        ObservationKind::Text => "words are counted only",
    };
    method.clone_into(&mut summary.method);
}

fn value(row: &ObservationRow) -> Option<f64> {
    row.quantity.as_ref()?.value.map(kept)
}

fn mean(rows: &[&ObservationRow]) -> Option<f64> {
    let values: Vec<f64> = rows.iter().filter_map(|row| value(row)).collect();
    describe(&values).ok().map(|d| d.mean)
}

/// Pieces of a run.
pub(super) fn pieces(rows: &[&ObservationRow]) -> f64 {
    let mut sums: BTreeMap<Option<&str>, f64> = BTreeMap::new();
    for row in rows {
        *sums.entry(row.observer.as_deref()).or_default() += value(row).unwrap_or(0.0);
    }
    sums.into_values().fold(0.0, f64::max)
}

fn numbers(values: &[f64], unit: &str, confidence: f64) -> Option<NumberSummary> {
    let d = describe(values).ok()?;
    Some(NumberSummary {
        mean: interval(
            d.mean,
            d.mean_interval(confidence),
            confidence,
            unit,
            "mean over runs; t-interval of the mean",
        ),
        sd: d.sd,
        median: median(values)?,
        min: d.min,
        max: d.max,
        unit: unit.to_owned(),
    })
}

/// Expected number of pieces a run.
fn rate(counts: &[f64], confidence: f64) -> Interval {
    let (total, runs) = (counts.iter().sum::<f64>(), counts.len() as f64);
    let limits: Result<Limits, StatsError> =
        poisson_limits(total as u64, confidence).map(|limits| Limits {
            lower: limits.lower / runs,
            upper: limits.upper / runs,
        });
    interval(
        total / runs,
        limits,
        confidence,
        COUNTS,
        "pieces a run; exact limits of a Poisson mean (Garwood), too narrow where pieces come in clusters",
    )
}

/// True for a grade that is a word, not a number.
pub(super) fn in_words(grade: &str) -> bool {
    grade.parse::<u8>().is_err()
}

fn grades(rows: &[Vec<&ObservationRow>]) -> GradeSummary {
    let mut worst: Vec<(u8, &str)> = rows
        .iter()
        .filter_map(|rows| {
            let grades = rows.iter();
            grades
                .filter_map(|row| Some((row.grade_rank?, row.grade.as_deref()?)))
                .max()
        })
        .collect();
    worst.sort_unstable();
    let mut counts = BTreeMap::new();
    for (_, grade) in &worst {
        *counts.entry((*grade).to_owned()).or_insert(0) += 1;
    }
    let words = worst.iter().filter(|(_, grade)| in_words(grade)).count();
    // Nobody said which number is which word.
    let one_scale = words == 0 || words == worst.len();
    let middle = worst
        .get(worst.len().saturating_sub(1) / 2)
        .zip(worst.get(worst.len() / 2));
    GradeSummary {
        counts,
        // Of an even number the two in the middle may differ; between grades there is nothing to take the mean of.
        median: middle.filter(|_| one_scale).map(|((_, low), (_, high))| {
            if low == high {
                (*low).to_owned()
            } else {
                format!("{low} to {high}")
            }
        }),
    }
}

fn share(yes: usize, n: usize, confidence: f64) -> ShareSummary {
    ShareSummary {
        yes,
        share: super::strength::share(yes, n, confidence, "yes over all runs that have it"),
    }
}
