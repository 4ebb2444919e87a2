//! Measured values of two groups: difference of means, shift, equivalence, difference of medians.

use super::{How, bare, untold};
use crate::judge::families::SEED;
use crate::judge::sample::Sample;
use crate::judge::strength::interval;
use crate::judge::values::VALUES;
use crate::recording::{Comparison, Interval};
use crate::stats::{
    Limits, MeanDifference, RankTest, Shift, bootstrap_difference, hodges_lehmann, kruskal_wallis,
    mann_whitney, median, welch,
};
use crate::uncertain::Draws;

/// Drawn samples of a difference of medians: an end of a 95 % interval then has 125 of them beyond it, and is known to the place of the 114th
/// to the 136th (one standard deviation of a count).
const DRAWS: usize = 5000;
/// Level of the two one-sided tests of equivalence.
const ALPHA: f64 = 0.05;
/// The unit a margin of equivalence is declared in.
const MARGIN_UNIT: &str = "mm";

/// Rank test of three groups or more.
pub(super) fn all_at_once(samples: &[Sample<'_>]) -> Vec<Comparison> {
    if samples.len() < 3 {
        return Vec::new();
    }
    VALUES
        .iter()
        .filter_map(|value| {
            let (names, values): (Vec<&str>, Vec<Vec<f64>>) = samples
                .iter()
                .map(|sample| (sample.name.as_str(), value.all(&sample.runs)))
                .filter(|(_, values)| !values.is_empty())
                .unzip();
            let lists: Vec<&[f64]> = values.iter().map(Vec::as_slice).collect();
            let test = kruskal_wallis(&lists).ok()?;
            let method =
                "ranks of all groups at once (Kruskal-Wallis); p from the chi-squared distribution";
            let words = bare("kruskal-wallis", value.name, &names, method);
            Some(words.chi2(test.h, test.dof).p(test.p))
        })
        .collect()
}

/// Every test of every value that both groups have; a difference is the second less the first.
pub(super) fn compare(first: &Sample<'_>, second: &Sample<'_>, how: How<'_>) -> Vec<Comparison> {
    let names = [first.name.as_str(), second.name.as_str()];
    let mut all = Vec::new();
    for value in VALUES {
        let (a, b) = (value.all(&first.runs), value.all(&second.runs));
        if a.is_empty() || b.is_empty() {
            continue;
        }
        let (name, unit) = (value.name, value.unit(&first.runs));
        let margin = how.series.equivalence_mm.filter(|_| unit == MARGIN_UNIT);
        match welch(&a, &b) {
            Ok(difference) => {
                let method = "difference of means, scatters of their own (Welch)";
                let test = bare("welch", name, &names, method);
                all.extend(means(test, &difference, &unit, how));
                if let Some(margin) = margin {
                    all.extend(equivalence(&names, name, &difference, margin));
                }
            }
            Err(why) => {
                let untold = |test, what| untold(test, name, &names, what, &why);
                all.push(untold("welch", "difference of means (Welch)"));
                all.extend(margin.map(|_| untold("equivalence", "equivalence of means")));
            }
        }
        let method = "rank-sum test (Mann-Whitney)";
        all.push(match mann_whitney(&a, &b) {
            Ok(test) => ranks(bare("mann-whitney", name, &names, method), &test),
            Err(why) => untold("mann-whitney", name, &names, method, why),
        });
        let method = "shift: median of all differences (Hodges-Lehmann)";
        all.push(match hodges_lehmann(&a, &b, how.confidence) {
            Ok(shift) => shifted(
                bare("hodges-lehmann", name, &names, method),
                &shift,
                &unit,
                how,
            ),
            Err(why) => untold("hodges-lehmann", name, &names, method, why),
        });
        all.push(medians(&names, name, (&a, &b), &unit, how));
    }
    all
}

/// A difference of means with its test.
pub(super) fn means(
    test: Comparison,
    found: &MeanDifference,
    unit: &str,
    how: How<'_>,
) -> Option<Comparison> {
    let limits = found.limits(how.confidence);
    let estimate = interval(found.difference, limits, how.confidence, unit, "t-interval");
    let mut test = test.statistic(found.t).p(found.p).estimate(estimate);
    test.df = Some(found.dof);
    test.p.is_some().then_some(test)
}

/// A rank test.
pub(super) fn ranks(mut test: Comparison, found: &RankTest) -> Comparison {
    test.method.push_str(if found.exact {
        ", exact, two-sided"
    } else {
        ", normal approximation, two-sided"
    });
    test.statistic(found.statistic).p(found.p)
}

/// A shift with the interval that belongs to its rank test.
pub(super) fn shifted(test: Comparison, found: &Shift, unit: &str, how: How<'_>) -> Comparison {
    let method = if found.limits.is_some() {
        "interval of the rank test"
    } else {
        "too few values for an interval of this confidence"
    };
    let estimate = Interval {
        value: Some(found.shift),
        lower: found.limits.map(|l| l.lower),
        upper: found.limits.map(|l| l.upper),
        confidence: how.confidence,
        unit: unit.to_owned(),
        method: method.to_owned(),
    };
    test.estimate(estimate)
}

/// Two one-sided tests within the margin declared.
fn equivalence(
    names: &[&str],
    quantity: &str,
    found: &MeanDifference,
    margin: f64,
) -> Option<Comparison> {
    let margins = Limits {
        lower: -margin,
        upper: margin,
    };
    let test = found.equivalence(margins).ok()?;
    // Both tests at the level are the same as this interval lying within the margins.
    let confidence = 1.0 - 2.0 * ALPHA;
    let estimate = interval(
        found.difference,
        found.limits(confidence),
        confidence,
        MARGIN_UNIT,
        "t-interval; equivalent where it lies within the margin",
    );
    let method = format!(
        "equivalence of means within {margin} mm, two one-sided tests at {ALPHA}: {}",
        if test.p < ALPHA {
            "equivalent"
        } else {
            "not shown to be equivalent"
        }
    );
    Some(
        bare("equivalence", quantity, names, method)
            .p(test.p)
            .estimate(estimate),
    )
}

/// Difference of medians by drawing again.
fn medians(
    names: &[&str],
    quantity: &str,
    (a, b): (&[f64], &[f64]),
    unit: &str,
    how: How<'_>,
) -> Comparison {
    let label = format!("bootstrap: {}, {quantity}", names.join(", "));
    let mut draws = Draws::new(SEED, &label);
    let uniform = &mut || draws.unit();
    let found = match bootstrap_difference((a, b), &median, DRAWS, how.confidence, uniform) {
        Ok(found) => found,
        Err(why) => {
            return untold(
                "bootstrap",
                quantity,
                names,
                "difference of medians (bootstrap)",
                why,
            );
        }
    };
    let estimate = interval(
        found.estimate,
        Ok(found.percentile),
        how.confidence,
        unit,
        "percentiles of drawn differences",
    );
    let method = format!(
        "difference of medians, {} samples drawn again from each group (bootstrap, seed {SEED})",
        found.draws
    );
    bare("bootstrap", quantity, names, method).estimate(estimate)
}
