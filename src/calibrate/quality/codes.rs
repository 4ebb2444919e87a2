//! Codes for "nothing measured" that would be possible readings: 9999 mbar, 999 mmHg.

use super::excerpts::excerpts;
use super::{Channel, Said, counted};
use crate::calibrate::convert::codes_in_bench;
use crate::calibrate::noise::mad_sigma;
use crate::calibrate::stretches::{samples, stretches};
use crate::recording::{Finding, Trace};

/// A code stands off from both neighbours by so many times the usual step from sample to sample ...
const OFF_STEPS: f64 = 20.0;
/// ... and by this much, kPa: an atmosphere, more than a stroke moves within a sample of all but the slowest recorders.
const OFF_KPA: f64 = 101.325;

/// Stretches of such codes, to the last digit, that stand off from the samples before and after them, on one side of both.
/// Codes that no sensor of the rig could read are left out when the numbers are converted.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let p = &trace.pressure_kpa;
    let codes = codes_in_bench(channel.spec, channel.unit, channel.rig);
    if codes.is_empty() {
        return Said::default();
    }
    let mut found = stretches(p, |v| codes.contains(&v));
    if found.is_empty() {
        return Said::default();
    }
    let steps: Vec<f64> = excerpts(p)
        .flat_map(|part| part.windows(2).map(|w| w[1] - w[0]))
        .collect();
    let off = (OFF_STEPS * mad_sigma(&steps)).max(OFF_KPA);
    found.retain(|&(start, end)| stands_off(p, start, end, off));
    if found.is_empty() {
        return Said::default();
    }
    let count = samples(&found);
    let finding = channel.over(
        Finding::doubt(
            "missing-code",
            format!(
                "{count} cells of column {} hold a number that stands for \"nothing measured\": it stands off from the readings before and after",
                channel.column
            ),
        )
        .help("declare range of the channel, so that a code outside it is known at once"),
        trace,
        &found,
    );
    let of = trace.len();
    Said {
        findings: vec![finding.effect(format!("{} of {of} left out", counted(count, "sample")))],
        left_out: found,
        ..Said::default()
    }
}

/// True where the samples on either side are off by so much in the same direction; the end of the recording is off.
fn stands_off(p: &[f64], start: usize, end: usize, off: f64) -> bool {
    let finite = |v: &&f64| v.is_finite();
    let before = p[..start].iter().rev().find(finite).map(|v| p[start] - v);
    let after = p[end..].iter().find(finite).map(|v| p[end - 1] - v);
    match (before, after) {
        (Some(a), Some(b)) => a.abs() > off && b.abs() > off && a * b > 0.0,
        (Some(a), None) | (None, Some(a)) => a.abs() > off,
        (None, None) => false,
    }
}
