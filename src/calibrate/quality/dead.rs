//! A transducer that shows nothing.

use super::{Channel, Said, median};
use crate::recording::{Finding, Place, Trace};

/// Noise alone spans six standard deviations either side.
const NOISE_SPAN: f64 = 12.0;
/// One sample of so many at either end counts for nothing where the span is taken: spikes do not make a channel move.
const ENDS: usize = 100;
/// So many samples, spread evenly over the recording, tell whether it moves.
const LOOKED_AT: usize = 10_000;

/// A pressure that shows nothing but its own noise over the whole recording: an error.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let Some(message) = why(trace) else {
        return Said::default();
    };
    Said::only(
        Finding::error("pressure-never-moves", message)
            .at(Place::file(channel.file))
            .count(trace.len())
            .effect("nothing is made of this recording")
            .help("the transducer was unplugged, closed off or scaled wrongly"),
    )
}

fn why(trace: &Trace) -> Option<String> {
    let stride = (trace.len() / LOOKED_AT).max(1);
    let mut finite: Vec<f64> = trace
        .pressure_kpa
        .iter()
        .step_by(stride)
        .copied()
        .filter(|v| v.is_finite())
        .collect();
    let (first, last) = (
        finite.len() / ENDS,
        finite.len().checked_sub(1 + finite.len() / ENDS)?,
    );
    let low = *finite.select_nth_unstable_by(first, f64::total_cmp).1;
    let high = *finite.select_nth_unstable_by(last, f64::total_cmp).1;
    let span = high - low;
    // A hold under pressure may do no more than noise, but stands far from zero.
    let noise = NOISE_SPAN * trace.noise_kpa;
    let noise_only = span <= noise && median(&finite).abs() <= noise;
    if !noise_only && span > trace.noise_kpa {
        return None;
    }
    let moved = trace.volume_ml.as_ref().map_or(0.0, |volume| {
        let (low, high) = volume
            .iter()
            .filter(|x| x.is_finite())
            .fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
        high - low
    });
    Some(format!(
        "the pressure stays within {span:.2} kPa over the whole recording although {moved:.2} mL were moved"
    ))
}
