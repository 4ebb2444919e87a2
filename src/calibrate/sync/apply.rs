//! Values of a further recording on the samples of the main one.

use super::{Alignment, GAP_STEPS, Signal};
use crate::calibrate::median;
use crate::recording::Readings;

/// Values at the times of the main recording, straight between their own samples; NaN across gaps, beside missing samples and outside:
/// nothing is extrapolated.
pub fn onto(main_s: &[f64], own: Signal<'_>, clock: &Alignment) -> Readings {
    let usual = median(
        &own.time_s
            .windows(2)
            .map(|w| w[1] - w[0])
            .collect::<Vec<_>>(),
    );
    let longest = GAP_STEPS * usual;
    let mut above = 0;
    main_s
        .iter()
        .map(|t| {
            let at = clock.own_time(*t);
            while above < own.time_s.len() && own.time_s[above] < at {
                above += 1;
            }
            let (Some(&next), Some(&value)) = (own.time_s.get(above), own.values.get(above)) else {
                return f64::NAN;
            };
            if next == at {
                return value;
            }
            let Some(before) = above.checked_sub(1) else {
                return f64::NAN;
            };
            let (last, step) = (own.values[before], next - own.time_s[before]);
            if step > longest {
                return f64::NAN;
            }
            last + (value - last) * (at - own.time_s[before]) / step
        })
        .collect()
}

/// Envelope of a channel that is much faster than the main recording (sound): the largest distance from its median in the interval of
/// each main sample, which reaches half way to its neighbours. NaN where no sample falls into it.
pub fn envelope(main_s: &[f64], own: Signal<'_>, clock: &Alignment) -> Readings {
    let centre = median(own.values);
    let half_way = |k: usize| {
        let (a, b) = (main_s.get(k), main_s.get(k + 1));
        a.zip(b).map(|(a, b)| f64::midpoint(*a, *b))
    };
    let mut next = 0;
    (0..main_s.len())
        .map(|k| {
            let here = main_s[k];
            let before = k.checked_sub(1).and_then(half_way);
            let after = half_way(k);
            let from = before.or(after.map(|a| 2.0 * here - a)).unwrap_or(here);
            let to = after.or(before.map(|b| 2.0 * here - b)).unwrap_or(here);
            let mut largest = f64::NAN;
            while let Some((t, v)) = own.time_s.get(next).zip(own.values.get(next)) {
                let t = clock.main_time(*t);
                if t >= to {
                    break;
                }
                if t >= from && v.is_finite() {
                    largest = largest.max((v - centre).abs());
                }
                next += 1;
            }
            largest
        })
        .collect()
}
