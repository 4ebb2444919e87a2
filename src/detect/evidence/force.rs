//! What the load cell felt: anything that lets go unloads or jolts it, noise of the pressure channel does not.

use super::steps::step;
use super::{Context, Fall, Witness};

pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let (trace, is) = (context.trace, &context.settings.evidence);
    let values = trace.force_n.as_ref()?;
    let step = step(
        trace,
        values,
        (fall.t_lo_s, fall.t_hi_s),
        (f64::NAN, 0.0),
        is,
    )?;
    let weight = step.times.abs() - is.force_felt_sigmas;
    let weight = weight.clamp(-is.force_not_felt_log_odds, is.sure_log_odds);
    Some(Witness {
        says: format!(
            "force: {:+.2} N over the onset, {:.1} times what it usually changes in that time",
            step.size,
            step.times.abs()
        ),
        weights: [0.0, 0.0, 0.0, -weight],
    })
}
