//! Whether volume came out meanwhile: then a hand may have made the fall.

use super::{Context, Fall, Witness};

#[expect(
    clippy::unnecessary_wraps,
    reason = "other witnesses may have nothing to say"
)]
pub(super) fn witness(context: &Context<'_>, fall: &Fall) -> Option<Witness> {
    let (trace, is) = (context.trace, &context.settings.evidence);
    if trace.volume_ml.is_none() {
        return Some(Witness::remark(
            "no volume channel: whether volume was withdrawn is not seen".to_owned(),
        ));
    }
    let moved = fall.moved_ml;
    let out = moved < -is.volume_out_sigmas * trace.noise_ml;
    Some(if out {
        Witness {
            says: format!(
                "{moved:+.3} mL moved meanwhile: some was withdrawn, less than explains the fall"
            ),
            weights: [0.0, 0.0, 0.0, is.volume_withdrawn_log_odds],
        }
    } else {
        Witness::remark(format!(
            "{moved:+.3} mL moved meanwhile: nothing was withdrawn"
        ))
    })
}
