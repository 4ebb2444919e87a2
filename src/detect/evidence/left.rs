//! What is left of the pressure: a torn balloon keeps nothing and no stroke rebuilds it.

use super::{Context, Fall, SURE, Witness};
use crate::calibrate::median;

/// A pressure rebuilt to this share of the one before means that the balloon holds.
const REBUILT_SHARE: f64 = 0.25;
/// What is left counts as nothing within so many standard deviations of the noise.
const NOTHING_SIGMAS: f64 = 6.0;
/// What is left after a fall shows within this time, s.
const SETTLING_S: f64 = 0.3;
/// Against a burst it decides whatever the pace says.
const DECIDES: f64 = 3.0 * SURE;

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let pressure = &context.trace.pressure_kpa;
    // The first tenths of a second still belong to the fall.
    let settled = context
        .trace
        .time_s
        .partition_point(|t| *t < fall.t_hi_s + SETTLING_S);
    let over = pressure.get(fall.after..settled.max(fall.after + 1))?;
    let left = median(over).min(fall.pressure_kpa - fall.drop_kpa);
    let nothing = (context.settings.burst_left_share * fall.pressure_kpa)
        .max(NOTHING_SIGMAS * context.trace.noise_kpa);
    let highest = |from: usize, to: usize| {
        pressure[from.min(to)..to]
            .iter()
            .copied()
            .filter(|p| p.is_finite())
            .fold(0.0, f64::max)
    };
    let rebuilt = highest(settled, pressure.len()) >= REBUILT_SHARE * fall.pressure_kpa;
    if left > nothing || rebuilt {
        let again = highest(
            fall.after,
            context.deflation_start().clamp(fall.after, pressure.len()),
        );
        return Some(Witness {
            says: format!("the balloon holds afterwards: up to {again:.0} kPa again"),
            weights: [0.0, -DECIDES, 0.0, 0.0],
        });
    }
    Some(Witness {
        says: format!("next to nothing is left ({left:.0} kPa) and nothing is rebuilt"),
        weights: [-DECIDES, 0.0, -DECIDES, 0.0],
    })
}
