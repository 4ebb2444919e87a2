//! What the uncertainties of a load and of the wall tension it makes are made of.

use crate::balloon::LoadPoint;
use crate::measure::mechanics;
use crate::uncertain::{Budget, Component, root_of_variance};

/// The name of the part that both have in common.
const DIAMETER: &str = "diameter against that of the free balloon";

fn of(diameter: f64, others: impl Iterator<Item = (&'static str, f64)>) -> Budget {
    let parts = std::iter::once((DIAMETER, diameter)).chain(others);
    parts
        .filter(|(_, by)| *by != 0.0)
        .fold(Budget::new(), |budget, (name, by)| {
            budget.with(Component::normal(name, by))
        })
}

/// Budget of the load at a point, kPa.
pub(super) fn load(point: &LoadPoint) -> Budget {
    let errors = point.errors;
    of(errors.diameter, errors.beside_the_diameter().into_iter())
}

/// Wall tension, N/mm, with its budget. Diameter and load err together: of a product both relative uncertainties count, and twice what they
/// have in common (JCGM 100, 5.2.2).
pub(super) fn tension(point: &LoadPoint) -> (f64, Budget) {
    let tension = |load| mechanics::tension(load, point.diameter_mm);
    let by_diameter = tension(point.errors.diameter);
    let by_length = mechanics::tension(point.load_kpa, point.u_diameter_mm);
    let both = 2.0 * tension(1.0) * mechanics::tension(point.load_kpa, 1.0) * point.covariance;
    let variance = by_diameter.powi(2) + by_length.powi(2) + both;
    let others = point.errors.beside_the_diameter();
    let budget = of(
        root_of_variance(variance),
        others.into_iter().map(|(name, by)| (name, tension(by))),
    );
    (tension(point.load_kpa), budget)
}
