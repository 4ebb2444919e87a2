//! The same frames in two states: before and after a run, without and with an inner valve.

use super::values::{means, ranks, shifted};
use super::{How, bare};
use crate::judge::quantity::kept;
use crate::judge::sample::Sample;
use crate::recording::{Comparison, RunResult};
use crate::stats::{paired_shift, paired_t, signed_rank};
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
    let pairs = format!("of {} pairs of the same frame", first.len());
    let mut all = Vec::new();
    if let Ok(found) = paired_t(first, second) {
        let method = format!("mean difference {pairs} (paired t)");
        all.extend(means(
            bare("paired-t", quantity, groups, method),
            &found,
            unit,
            how,
        ));
    }
    if let Ok(found) = signed_rank(first, second) {
        let method = format!("signed ranks {pairs} (Wilcoxon)");
        all.push(ranks(bare("signed-rank", quantity, groups, method), &found));
    }
    if first.len() > 1
        && let Ok(found) = paired_shift(first, second, how.confidence)
    {
        let method = format!("shift {pairs} (Hodges-Lehmann)");
        all.push(shifted(
            bare("paired-shift", quantity, groups, method),
            &found,
            unit,
            how,
        ));
    }
    all
}
