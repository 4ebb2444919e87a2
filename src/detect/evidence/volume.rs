//! Whether volume came out meanwhile: then a hand may have made the fall.

use super::{Context, Fall, Witness};

/// Volume comes out from so many standard deviations of the counter.
const OUT_SIGMAS: f64 = 3.0;
/// A fall far larger than a withdrawal explains may still be one in part.
const WITHDRAWN: f64 = 2.0;

#[expect(
    clippy::unnecessary_wraps,
    reason = "other witnesses may have nothing to say"
)]
pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let trace = context.trace;
    if trace.volume_ml.is_none() {
        return Some(Witness::remark(
            "no volume channel: whether volume was withdrawn is not seen".to_owned(),
        ));
    }
    let moved = fall.moved_ml;
    let out = moved < -OUT_SIGMAS * trace.noise_ml;
    Some(if out {
        Witness {
            says: format!(
                "{moved:+.3} mL moved meanwhile: some was withdrawn, less than explains the fall"
            ),
            weights: [0.0, 0.0, 0.0, WITHDRAWN],
        }
    } else {
        Witness::remark(format!(
            "{moved:+.3} mL moved meanwhile: nothing was withdrawn"
        ))
    })
}
