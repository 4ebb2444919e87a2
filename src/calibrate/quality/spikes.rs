//! Spikes of one sample.

use super::{Channel, Said, counted};
use crate::calibrate::stretches::places;
use crate::recording::{Finding, Trace};

/// A single sample far from both neighbours, which agree with each other: no volume can come and go in one sample.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let settings = channel.settings;
    let least = settings.spike_sigmas * trace.noise_kpa;
    // NaN is on no side.
    let stands_off = |[_, before, here, after, _]: &[f64; 5]| {
        let (up, down) = (here - before, here - after);
        (up.abs() > least) & (down.abs() > least) & (up * down > 0.0)
    };
    let is_spike = |at: &usize| {
        let [first, before, here, after, last] = std::array::from_fn(|k| p[at + k]);
        let height = f64::min((here - before).abs(), (here - after).abs());
        let around = f64::max((first - before).abs(), (last - after).abs());
        around.max((after - before).abs()) < settings.spike_neighbours * height
    };
    let found: Vec<(usize, usize)> = places(p, stands_off)
        .into_iter()
        .filter(is_spike)
        .map(|at| (at + 2, at + 3))
        .collect();
    if found.is_empty() {
        return Said::default();
    }
    let count = found.len();
    let finding = Finding::doubt(
        "spikes",
        format!("{count} single samples stand off from both neighbours and are left out"),
    )
    .effect(format!(
        "{} of {} left out",
        counted(count, "sample"),
        trace.len()
    ));
    Said {
        findings: vec![channel.over(finding, trace, &found)],
        left_out: found,
        ..Said::default()
    }
}
