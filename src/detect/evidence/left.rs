//! What is left of the pressure: a torn balloon keeps nothing and no stroke rebuilds it.

use super::{Context, Fall, Witness};
use crate::calibrate::median;

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let is = &context.settings.evidence;
    let decides = is.left_decides_ratio * is.sure_log_odds;
    let pressure = &context.trace.pressure_kpa;
    // The first tenths of a second still belong to the fall.
    let settled = context
        .trace
        .time_s
        .partition_point(|t| *t < fall.t_hi_s + is.left_settling_s);
    let over = pressure.get(fall.after..settled.max(fall.after + 1))?;
    let left = median(over).min(fall.pressure_kpa - fall.drop_kpa);
    let nothing = (context.settings.burst_left_share * fall.pressure_kpa)
        .max(is.left_nothing_sigmas * context.trace.noise_kpa);
    let highest = |from: usize, to: usize| {
        pressure[from.min(to)..to]
            .iter()
            .copied()
            .filter(|p| p.is_finite())
            .fold(0.0, f64::max)
    };
    let rebuilt = highest(settled, pressure.len()) >= is.left_rebuilt_share * fall.pressure_kpa;
    if left > nothing || rebuilt {
        let again = highest(
            fall.after,
            context.deflation_start().clamp(fall.after, pressure.len()),
        );
        return Some(Witness {
            says: format!("the balloon holds afterwards: up to {again:.0} kPa again"),
            weights: [0.0, -decides, 0.0, 0.0],
        });
    }
    Some(Witness {
        says: format!("next to nothing is left ({left:.0} kPa) and nothing is rebuilt"),
        weights: [-decides, 0.0, -decides, 0.0],
    })
}
