//! Fracture pressures and shares of fractured frames.

use super::{How, bare, pairs, untold};
use crate::judge::groups::ended_by_balloon;
use crate::judge::sample::Sample;
use crate::recording::Comparison;
use crate::stats::{
    IntervalObservation, LikelihoodRatio, Observation, STRENGTH_MODELS, StrengthModel, TrendGroup,
    compare_strengths, fisher_exact, holm, logrank, proportion_trend, strength_fit,
};

const ALL: &str = "all groups at once";
const TWO: &str = "two of the groups";
const PRESSURE: &str = "fracture_pressure";
const SHARE: &str = "fractured";

/// Log-rank and likelihood-ratio test over all groups that have a run with a known pressure; of more than two also two by two.
pub(super) fn compare(samples: &[Sample<'_>]) -> Vec<Comparison> {
    let known: Vec<&Sample<'_>> = samples
        .iter()
        .filter(|sample| !sample.strengths.is_empty())
        .collect();
    if known.len() < 2 {
        return Vec::new();
    }
    let mut all = vec![log_rank(&known, ALL)];
    let (tests, family) = likelihood_ratio(&known);
    all.extend(tests);
    if known.len() > 2 {
        all.extend(two_by_two(&known, family));
    }
    all
}

/// The same tests of every two groups, adjusted for how many pairs each was made of; the family is that of all groups together.
fn two_by_two(known: &[&Sample<'_>], family: Option<&'static StrengthModel>) -> Vec<Comparison> {
    let pairs = pairs(known);
    let ranks = pairs.iter().map(|&(a, b)| log_rank(&[*a, *b], TWO));
    let ratios = pairs.iter().filter_map(|&(a, b)| {
        let (two, family) = ([*a, *b], family?);
        Some(
            match compare_strengths(family, &two.map(|s| s.ranges.as_slice())) {
                Ok(found) => ratio(&two, family, &found.any_difference),
                Err(why) => {
                    let what = "one distribution for both groups against one for each";
                    untold("likelihood-ratio", PRESSURE, &names(&two), what, why)
                }
            },
        )
    });
    [adjusted(ranks.collect()), adjusted(ratios.collect())].concat()
}

fn adjusted(mut tests: Vec<Comparison>) -> Vec<Comparison> {
    let p: Vec<f64> = tests.iter().map(|t| t.p.unwrap_or(f64::NAN)).collect();
    let n = p.iter().filter(|p| p.is_finite()).count();
    let told = format!(
        "; adjusted for {n} pair{} (Holm)",
        if n == 1 { "" } else { "s" }
    );
    for (test, p) in tests.iter_mut().zip(holm(&p)) {
        if p.is_finite() {
            test.p_adjusted = Some(p);
            test.method.push_str(&told);
        }
    }
    tests
}

fn names<'s>(known: &[&'s Sample<'_>]) -> Vec<&'s str> {
    known.iter().map(|sample| sample.name.as_str()).collect()
}

/// Not told where nothing fractured, where the fractures do not tell the groups apart (all others had been stopped below), and where pressures
/// are known by steps.
fn log_rank(known: &[&Sample<'_>], of: &str) -> Comparison {
    let names = names(known);
    let untold = |why: &str| {
        let what = format!("log-rank test of the fracture pressures of {of}");
        untold("logrank", PRESSURE, &names, &what, why)
    };
    if known.iter().any(|sample| sample.by_step()) {
        return untold("some of them are known by a step only");
    }
    let strengths: Vec<&[Observation]> = known.iter().map(|s| s.strengths.as_slice()).collect();
    match logrank(&strengths) {
        Ok(test) => {
            let method = format!(
                "log-rank test of the fracture pressures of {of}, runs without fracture right-censored; p from the chi-squared distribution, rough where a group has fewer than ten fractures"
            );
            bare("logrank", PRESSURE, &names, method)
                .chi2(test.chi_squared, test.dof)
                .p(test.p)
        }
        Err(why) => untold(&why.to_string()),
    }
}

/// By the family that describes the groups best, each by itself; all families have as many parameters. Beside the tests that family.
fn likelihood_ratio(known: &[&Sample<'_>]) -> (Vec<Comparison>, Option<&'static StrengthModel>) {
    let names = names(known);
    let ranges: Vec<&[IntervalObservation]> = known.iter().map(|s| s.ranges.as_slice()).collect();
    let best = STRENGTH_MODELS
        .iter()
        .filter_map(|model| Some((*model, compare_strengths(model, &ranges).ok()?)))
        .max_by(|a, b| {
            let each = |c: &crate::stats::StrengthComparison| c.ln_likelihood[2];
            each(&a.1).total_cmp(&each(&b.1))
        });
    let Some((family, found)) = best else {
        let what = "one distribution for all groups against one for each";
        let why = no_fit(known, &ranges);
        let untold = untold("likelihood-ratio", PRESSURE, &names, what, why);
        return (vec![untold], None);
    };
    let mut spreads = ratio(known, family, &found.spread);
    "likelihood-ratio of spreads".clone_into(&mut spreads.name);
    spreads.method = spreads
        .method
        .replace("one distribution", "one spread (shape)");
    (
        vec![ratio(known, family, &found.any_difference), spreads],
        Some(family),
    )
}

fn ratio(known: &[&Sample<'_>], family: &StrengthModel, test: &LikelihoodRatio) -> Comparison {
    let groups = if known.len() > 2 { "all" } else { "both" };
    let method = format!(
        "one distribution for {groups} groups against one for each, {} distributions, runs without fracture right-censored; p from the chi-squared distribution, too small where a group has fewer than ten fractures",
        family.name
    );
    bare("likelihood-ratio", PRESSURE, &names(known), method)
        .chi2(test.chi_squared, test.dof)
        .p(test.p)
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

/// What a count of fractures hides: runs that the balloon ended count as whole, though nobody knows what their frames would have done.
fn ended_early(samples: [&Sample<'_>; 2]) -> String {
    let counts = samples.map(|sample| sample.count(ended_by_balloon));
    if counts == [0, 0] {
        return String::new();
    }
    format!(
        " ({} and {} of them counted as whole though a burst, leak or slip of the balloon ended the run; the log-rank test takes them as censored)",
        counts[0], counts[1]
    )
}

/// Shares of fractured frames of two groups.
pub(super) fn shares(first: &Sample<'_>, second: &Sample<'_>) -> Comparison {
    let (a, b) = (counts(first), counts(second));
    let names = [first.name.as_str(), second.name.as_str()];
    let told = format!(
        "{} of {} against {} of {}{}",
        a.0,
        a.1,
        b.0,
        b.1,
        ended_early([first, second])
    );
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
