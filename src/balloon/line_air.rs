//! How full of air a line is.

use super::LineModel;
use crate::fit::LinearFit;
use crate::recording::Finding;
use crate::rig::settings;
use crate::uncertain::Quantity;

/// Places of the compliance and of the air among the fitted parameters.
const COMPLIANCE: usize = 1;
const AIR: usize = 2;

/// Part of the volume that the line takes up between nothing and a gauge pressure that is air, with its standard uncertainty from the fit
/// and from `by_zero`, what the zero of the pressure does to compliance (mL/kPa) and air (mL).
pub(super) fn share(
    model: &LineModel,
    fit: &LinearFit,
    by_zero: (f64, f64),
    up_to_kpa: f64,
) -> Quantity {
    let (elastic, air) = parts(model, up_to_kpa);
    let all = elastic + air;
    if !(all > 0.0 && up_to_kpa > 0.0) {
        return Quantity::missing("1", "the line takes up no volume");
    }
    // share = a f/(a f + C p): gains of the channels act on both parts alike and fall out.
    let by_air = per_ml_of_air(model, up_to_kpa) * elastic / (all * all);
    let by_compliance = -air * up_to_kpa / (all * all);
    let cov = |i: usize, j: usize| fit.covariance.get((i, j)).copied().unwrap_or(f64::NAN);
    let fitted = by_air * by_air * cov(AIR, AIR)
        + 2.0 * by_air * by_compliance * cov(AIR, COMPLIANCE)
        + by_compliance * by_compliance * cov(COMPLIANCE, COMPLIANCE);
    let zero = by_compliance * by_zero.0 + by_air * by_zero.1;
    Quantity::known(
        air / all,
        (fitted + zero * zero).sqrt(),
        "1",
        format!("air over all the line takes up from 0 to {up_to_kpa} kPa"),
    )
}

fn parts(model: &LineModel, p: f64) -> (f64, f64) {
    (
        model.compliance_ml_per_kpa * p,
        model.air_ml * per_ml_of_air(model, p),
    )
}

/// Volume that a millilitre of air at ambient pressure gives up, mL (Boyle).
fn per_ml_of_air(model: &LineModel, p: f64) -> f64 {
    p / (p + model.ambient_kpa)
}

/// How full of air, in words.
pub(super) fn words(share: &Quantity, settings: &settings::Line) -> &'static str {
    match share.value {
        None => "not known",
        Some(share) if share < settings.some_air_share => "hardly any air",
        Some(share) if share < settings.much_air_share => "some air",
        Some(_) => "much air",
    }
}

/// The doubt that a line with much air deserves.
pub(super) fn doubt(share: &Quantity, settings: &settings::Line) -> Option<Finding> {
    let value = share.value.filter(|s| *s >= settings.much_air_share)?;
    Some(
        Finding::doubt(
            "line-full-of-air",
            format!(
                "{:.0} % of what the line takes up from 0 to {} kPa is trapped air",
                100.0 * value,
                settings.air_up_to_kpa
            ),
        )
        .effect("the drop of a break is the smaller and the stored energy the larger for it")
        .help("purge the line, and repeat the blank run"),
    )
}
