//! Fracture pressures and shares of fractured frames.

use super::{How, bare};
use crate::judge::sample::Sample;
use crate::recording::Comparison;
use crate::stats::{
    IntervalObservation, Observation, STRENGTH_MODELS, TrendGroup, compare_strengths, fisher_exact,
    logrank, proportion_trend,
};

const LOGRANK: &str = "log-rank test of the fracture pressures of all groups at once, runs without fracture right-censored; p from the chi-squared distribution, rough where a group has fewer than ten fractures";
const PRESSURE: &str = "fracture_pressure";
const SHARE: &str = "fractured";

/// Log-rank and likelihood-ratio test over all groups that have a run with a known pressure.
///
/// The log-rank test is left out where nothing fractured, where the fractures do not tell the groups apart (all others had been stopped
/// below), and where pressures are known by steps.
pub(super) fn compare(samples: &[Sample<'_>]) -> Vec<Comparison> {
    let known: Vec<&Sample<'_>> = samples
        .iter()
        .filter(|sample| !sample.strengths.is_empty())
        .collect();
    let names: Vec<&str> = known.iter().map(|sample| sample.name.as_str()).collect();
    let mut all = Vec::new();
    if !known.iter().any(|sample| sample.by_step()) {
        let strengths: Vec<&[Observation]> = known.iter().map(|s| s.strengths.as_slice()).collect();
        if let Ok(test) = logrank(&strengths)
            && test.chi_squared.is_finite()
            && test.p.is_finite()
        {
            let words = bare("logrank", PRESSURE, &names, LOGRANK);
            all.push(words.chi2(test.chi_squared, test.dof).p(test.p));
        }
    }
    all.extend(likelihood_ratio(&known, &names));
    all
}

/// By the family that describes the groups best, each by itself; all families have as many parameters.
fn likelihood_ratio(known: &[&Sample<'_>], names: &[&str]) -> Vec<Comparison> {
    let ranges: Vec<&[IntervalObservation]> = known.iter().map(|s| s.ranges.as_slice()).collect();
    let best = STRENGTH_MODELS
        .iter()
        .filter_map(|model| Some((model.name, compare_strengths(model, &ranges).ok()?)))
        .max_by(|a, b| {
            let each = |c: &crate::stats::StrengthComparison| c.ln_likelihood[2];
            each(&a.1).total_cmp(&each(&b.1))
        });
    let Some((family, found)) = best else {
        return Vec::new();
    };
    let entry = |test: &crate::stats::LikelihoodRatio, name: &str, what: &str| {
        let method = format!(
            "{what}, {family} distributions, runs without fracture right-censored; p from the chi-squared distribution, too small where a group has fewer than ten fractures"
        );
        bare(name, PRESSURE, names, method)
            .chi2(test.chi_squared, test.dof)
            .p(test.p)
    };
    vec![
        entry(
            &found.any_difference,
            "likelihood-ratio",
            "one distribution for all groups against one for each",
        ),
        entry(
            &found.spread,
            "likelihood-ratio of spreads",
            "one spread (shape) for all groups against one for each",
        ),
    ]
}

fn counts(sample: &Sample<'_>) -> (u64, u64) {
    (sample.fractured() as u64, sample.runs.len() as u64)
}

/// Shares of fractured frames of two groups.
pub(super) fn shares(first: &Sample<'_>, second: &Sample<'_>) -> Vec<Comparison> {
    let (a, b) = (counts(first), counts(second));
    let mixed = (1..a.1 + b.1).contains(&(a.0 + b.0));
    let Some(test) = fisher_exact(a, b).ok().filter(|_| mixed) else {
        return Vec::new();
    };
    let method = format!(
        "{} of {} against {} of {}; Fisher's exact test, two-sided",
        a.0, a.1, b.0, b.1
    );
    vec![bare("fisher", SHARE, &[&first.name, &second.name], method).p(test.p)]
}

/// Whether the share of fractured frames follows what the groups are ordered by.
pub(super) fn trend(samples: &[Sample<'_>], how: How<'_>) -> Option<Comparison> {
    let mut columns = how.series.group_by.columns();
    let column = columns.next().filter(|_| columns.next().is_none())?;
    let score = column.score?;
    let ordered: Vec<(&str, TrendGroup)> = samples
        .iter()
        .filter_map(|sample| {
            let (events, n) = counts(sample);
            let score = score(sample.runs.first()?)?;
            Some((sample.name.as_str(), TrendGroup { score, events, n }))
        })
        .collect();
    let groups: Vec<TrendGroup> = ordered.iter().map(|(_, group)| *group).collect();
    let names: Vec<&str> = ordered.iter().map(|(name, _)| *name).collect();
    let test = proportion_trend(&groups).ok()?;
    let method = format!(
        "trend of the share with {} (Cochran-Armitage), {}",
        column.name,
        exactness(test.p_exact)
    );
    let p = test.p_exact.unwrap_or(test.p);
    Some(
        bare("cochran-armitage", SHARE, &names, method)
            .statistic(test.z)
            .p(p),
    )
}

/// How a p of a trend was had.
pub(super) fn exactness(p_exact: Option<f64>) -> &'static str {
    if p_exact.is_some() {
        "exact, two-sided"
    } else {
        "by the normal distribution, two-sided"
    }
}
