//! The same frames in two states: before and after a run, without and with an inner valve.

use super::values::{means, ranks, shifted};
use super::{How, bare, untold};
use crate::judge::quantity::kept;
use crate::judge::sample::Sample;
use crate::recording::{Comparison, RunResult};
use crate::stats::{StatsError, paired_shift, paired_t, signed_rank};
use crate::uncertain::Quantity;

/// A quantity before and after the same run.
struct Change {
    name: &'static str,
    unit: &'static str,
    before: fn(&RunResult) -> Option<&Quantity>,
    after: fn(&RunResult) -> Option<&Quantity>,
}

const CHANGES: &[Change] = &[
    Change {
        name: "diameters, before to after",
        unit: "mm",
        before: |run| Some(&run.diameters.as_ref()?.before),
        after: |run| Some(&run.diameters.as_ref()?.after),
    },
    Change {
        name: "effective_orifice_area, before to after",
        unit: "cm2",
        before: |run| Some(&run.flow.get("before")?.effective_orifice_area),
        after: |run| Some(&run.flow.get("after")?.effective_orifice_area),
    },
];

/// What runs changed of their own frames.
pub(super) fn before_and_after(sample: &Sample<'_>, how: How<'_>) -> Vec<Comparison> {
    let finite = |q: Option<&Quantity>| q.and_then(|q| q.value).filter(|v| v.is_finite()).map(kept);
    CHANGES
        .iter()
        .flat_map(|change| {
            let pairs = sample.runs.iter().filter_map(|run| {
                Some((finite((change.before)(run))?, finite((change.after)(run))?))
            });
            let (before, after): (Vec<f64>, Vec<f64>) = pairs.unzip();
            compare(
                change.name,
                change.unit,
                &[&sample.name],
                &before,
                &after,
                how,
            )
        })
        .collect()
}

/// Tests of pairs, second less first.
pub(super) fn compare(
    quantity: &str,
    unit: &str,
    groups: &[&str],
    first: &[f64],
    second: &[f64],
    how: How<'_>,
) -> Vec<Comparison> {
    if first.is_empty() {
        return Vec::new();
    }
    let n = first.len();
    let pairs = format!(
        "of {n} pair{} of the same frame",
        if n == 1 { "" } else { "s" }
    );
    let mean = format!("mean difference {pairs} (paired t)");
    let rank = format!("signed ranks {pairs} (Wilcoxon)");
    let shift = format!("shift {pairs} (Hodges-Lehmann)");
    let untold =
        |name: &str, what: &str, why: &StatsError| vec![untold(name, quantity, groups, what, why)];
    let mut all = match paired_t(first, second) {
        Ok(found) => means(bare("paired-t", quantity, groups, mean), &found, unit, how)
            .into_iter()
            .collect(),
        Err(why) => untold("paired-t", &mean, &why),
    };
    all.extend(match signed_rank(first, second) {
        Ok(found) => vec![ranks(bare("signed-rank", quantity, groups, rank), &found)],
        Err(why) => untold("signed-rank", &rank, &why),
    });
    // The shift of one pair is its difference, which says nothing of others.
    let found = if n > 1 {
        paired_shift(first, second, how.confidence)
    } else {
        Err(StatsError::TooFew {
            what: "pairs",
            needed: 2,
            found: n,
        })
    };
    all.extend(match found {
        Ok(found) => {
            let words = bare("paired-shift", quantity, groups, shift);
            vec![shifted(words, &found, unit, how)]
        }
        Err(why) => untold("paired-shift", &shift, &why),
    });
    all
}
