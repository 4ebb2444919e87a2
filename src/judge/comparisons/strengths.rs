//! Fracture pressures and shares of fractured frames.

use super::{How, bare, untold};
use crate::judge::sample::Sample;
use crate::recording::Comparison;
use crate::stats::{
    IntervalObservation, Observation, STRENGTH_MODELS, TrendGroup, compare_strengths, fisher_exact,
    logrank, proportion_trend, strength_fit,
};

const LOGRANK: &str = "log-rank test of the fracture pressures of all groups at once, runs without fracture right-censored; p from the chi-squared distribution, rough where a group has fewer than ten fractures";
const PRESSURE: &str = "fracture_pressure";
const SHARE: &str = "fractured";

/// Log-rank and likelihood-ratio test over all groups that have a run with a known pressure.
pub(super) fn compare(samples: &[Sample<'_>]) -> Vec<Comparison> {
    let known: Vec<&Sample<'_>> = samples
        .iter()
        .filter(|sample| !sample.strengths.is_empty())
        .collect();
    if known.len() < 2 {
        return Vec::new();
    }
    let names: Vec<&str> = known.iter().map(|sample| sample.name.as_str()).collect();
    let mut all = vec![log_rank(&known, &names)];
    all.extend(likelihood_ratio(&known, &names));
    all
}

/// Not told where nothing fractured, where the fractures do not tell the groups apart (all others had been stopped below), and where pressures
/// are known by steps.
fn log_rank(known: &[&Sample<'_>], names: &[&str]) -> Comparison {
    let untold = |why: &str| {
        let what = "log-rank test of the fracture pressures";
        untold("logrank", PRESSURE, names, what, why)
    };
    if known.iter().any(|sample| sample.by_step()) {
        return untold("some of them are known by a step only");
    }
    let strengths: Vec<&[Observation]> = known.iter().map(|s| s.strengths.as_slice()).collect();
    match logrank(&strengths) {
        Ok(test) => bare("logrank", PRESSURE, names, LOGRANK)
            .chi2(test.chi_squared, test.dof)
            .p(test.p),
        Err(why) => untold(&why.to_string()),
    }
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
        let what = "one distribution for all groups against one for each";
        let why = no_fit(known, &ranges);
        return vec![untold("likelihood-ratio", PRESSURE, names, what, why)];
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

/// Why no family describes every group: the first group that none fits, else the groups together.
fn no_fit(known: &[&Sample<'_>], ranges: &[&[IntervalObservation]]) -> String {
    let alone = known.iter().find_map(|sample| {
        let fits = STRENGTH_MODELS.iter();
        let mut fits = fits.map(|model| strength_fit(model, &sample.ranges).err());
        let first = fits.next()??;
        let none = fits.all(|error| error.is_some());
        none.then(|| format!("group {}: {first}", sample.name))
    });
    alone.unwrap_or_else(|| {
        let together = STRENGTH_MODELS.iter();
        let mut together = together.filter_map(|model| compare_strengths(model, ranges).err());
        let why = together.next().map(|error| error.to_string());
        why.unwrap_or_else(|| "no family of distributions is known".to_owned())
    })
}

fn counts(sample: &Sample<'_>) -> (u64, u64) {
    (sample.fractured() as u64, sample.runs.len() as u64)
}

/// Shares of fractured frames of two groups.
pub(super) fn shares(first: &Sample<'_>, second: &Sample<'_>) -> Comparison {
    let (a, b) = (counts(first), counts(second));
    let names = [first.name.as_str(), second.name.as_str()];
    let told = format!("{} of {} against {} of {}", a.0, a.1, b.0, b.1);
    let mixed = (1..a.1 + b.1).contains(&(a.0 + b.0));
    let tested = match fisher_exact(a, b) {
        Ok(test) if mixed => Ok(test),
        Ok(_) => Err("all fractured, or none did".to_owned()),
        Err(why) => Err(why.to_string()),
    };
    match tested {
        Ok(test) => {
            let method = format!("{told}; Fisher's exact test, two-sided");
            bare("fisher", SHARE, &names, method).p(test.p)
        }
        Err(why) => {
            let what = format!("{told}; Fisher's exact test");
            untold("fisher", SHARE, &names, &what, why)
        }
    }
}

/// Whether the share of fractured frames follows what the groups are ordered by.
pub(super) fn trend(samples: &[Sample<'_>], how: How<'_>) -> Option<Comparison> {
    let mut columns = how.series.group_by.columns();
    let column = columns.next().filter(|_| columns.next().is_none())?;
    let ordered: Vec<(&str, TrendGroup)> = samples
        .iter()
        .filter_map(|sample| {
            let (events, n) = counts(sample);
            let score = column.score(sample.runs.first()?)?;
            Some((sample.name.as_str(), TrendGroup { score, events, n }))
        })
        .collect();
    let groups: Vec<TrendGroup> = ordered.iter().map(|(_, group)| *group).collect();
    let names: Vec<&str> = ordered.iter().map(|(name, _)| *name).collect();
    if names.len() < 2 {
        return None;
    }
    let what = format!(
        "trend of the share with {} (Cochran-Armitage)",
        column.name()
    );
    let test = match proportion_trend(&groups) {
        Ok(test) => test,
        Err(why) => return Some(untold("cochran-armitage", SHARE, &names, &what, why)),
    };
    let method = format!("{what}, {}", exactness(test.p_exact));
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
