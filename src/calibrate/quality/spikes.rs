//! Spikes of one sample.

use super::{Channel, Said, counted};
use crate::calibrate::stretches::pieces;
use crate::recording::{Finding, Trace};
use rayon::prelude::*;

/// A single sample far from both neighbours, which agree with each other: no volume can come and go in one sample.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let settings = channel.settings;
    let least = settings.spike_sigmas * trace.noise_kpa;
    let is_spike = |w: &[f64]| {
        let (before, here, after) = (w[1], w[2], w[3]);
        let (up, down) = (here - before, here - after);
        let height = up.abs().min(down.abs());
        // NaN is on no side.
        let one_side = up * down > 0.0;
        if height <= least || !one_side {
            return false;
        }
        let around = (w[0] - before)
            .abs()
            .max((w[4] - after).abs())
            .max((after - before).abs());
        around < settings.spike_neighbours * height
    };
    let found: Vec<(usize, usize)> = pieces(p.len(), 4)
        .into_par_iter()
        .flat_map_iter(|piece| {
            let middle = piece.start + 2;
            let places = p[piece].windows(5).enumerate();
            places
                .filter(|(_, w)| is_spike(w))
                .map(move |(at, _)| (middle + at, middle + at + 1))
        })
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
