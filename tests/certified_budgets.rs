//! Budgets and propagation against worked values of the definitions (JCGM 100:2008, 4.3, 5.1 and G.4), each computed by hand from the
//! inputs beside it.
#![allow(clippy::unwrap_used)]

use hooptrace::measure::mechanics::area_quantity;
use hooptrace::orifice::{EffectiveArea, OrificeFormula};
use hooptrace::uncertain::{Budget, Component, product};

fn near(value: f64, expected: f64, within: f64) {
    assert!(
        (value - expected).abs() <= within,
        "{value}, expected {expected}"
    );
}

/// A diameter of 21.50 mm: resolution 0.01 (0.0028868), largest permissible error 0.02 as a rectangle (0.0115470), three readings that
/// scatter by 0.012 (0.0069282): u = 0.0137720, U = 0.0275439 with k = 2, 31.23 effective degrees of freedom; area 363.0503 mm²,
/// u = 0.465108 mm².
#[test]
fn a_diameter_and_its_area() {
    let budget = Budget::new()
        .with(Component::resolution("resolution", 0.01))
        .with(Component::rectangular("largest permissible error", 0.02))
        .with(Component::normal("repeats", 0.012 / 3.0_f64.sqrt()).dof(2.0));
    near(budget.combined(), 0.013_772_0, 5e-8);
    near(budget.expanded(2.0), 0.027_543_9, 5e-8);
    near(budget.effective_dof().unwrap(), 31.23, 5e-3);
    let diameter = budget.quantity(21.5, "mm", "mean of three readings");
    let (area, u) = area_quantity(&diameter).pair().unwrap();
    near(area, 363.050_3, 5e-5);
    near(u, 0.465_108, 5e-7);
}

/// Effective orifice area of 300 mL/s (2 %), 10 mmHg (5 %), 1.05 g/mL (0.2 %): 1.883936 cm², u = 0.060345 cm² (3.2031 %) with relative
/// variances added. Differences over plus and minus the uncertainties (JCGM 100, 5.1.3 note 2) see a little of the curvature, as trials do:
/// 0.0606 by two million draws.
#[test]
fn an_effective_orifice_area() {
    let root = 1.05_f64.sqrt();
    let (area, u) = product(&[(300.0, 6.0, 1.0), (10.0, 0.5, -0.5), (1.05, 0.0021, 0.5)]);
    near(area / 51.6, 1.883_936, 5e-7);
    near(u / 51.6, 0.060_345, 5e-7);
    near(100.0 * u / area, 3.203_1, 5e-5);
    near(area, 300.0 * root / 10.0_f64.sqrt(), 1e-9);
    let (value, u) = EffectiveArea
        .evaluate(&[300.0, 10.0, 1.05], &[6.0, 0.5, 0.0021])
        .pair()
        .unwrap();
    near(value, 1.883_936, 5e-7);
    assert!((0.060_345..0.060_6).contains(&u), "{u}");
}
