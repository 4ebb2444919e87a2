//! What every plug-in of a list must do, for the lists that no other file of tests goes through.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::balloon::{MODELS, fit_diameter};
use hooptrace::fit::{check_gradient, fit_curve};
use hooptrace::uncertain::Draws;

/// Pressures of a maker's chart, kPa.
fn pressures() -> Vec<f64> {
    (0..=16).map(|k| 100.0 * f64::from(k)).collect()
}

/// A balloon as charts show them: it unfolds to 21.9 mm, seats by 0.8 mm in the first atmospheres and then grows by 0.07 mm/atm.
fn chart() -> Vec<f64> {
    pressures()
        .iter()
        .map(|p| 21.9 + 0.8 * (1.0 - (-p / 180.0).exp()) + 6.9e-4 * p)
        .collect()
}

/// Every model finds itself: points of its own curve are fitted from its own guess to well below what any gauge sees, and the
/// choice among all models is as good.
#[test]
fn every_balloon_model_fits_its_own_curve() {
    for model in MODELS {
        let start = model.guess(&pressures(), &chart()).unwrap();
        assert_eq!(start.len(), model.names().len(), "{}", model.name());
        let of_model = |params: &[f64]| -> Vec<f64> {
            pressures()
                .iter()
                .map(|p| model.value(params, *p))
                .collect()
        };
        let truth = fit_curve(*model, &pressures(), &chart(), None, &start, None).unwrap();
        let points = of_model(&truth.parameters);
        let guess = model.guess(&pressures(), &points).unwrap();
        let found = fit_curve(*model, &pressures(), &points, None, &guess, None).unwrap();
        let chosen = fit_diameter(&pressures(), &points, 0.0).unwrap();
        let fitted = of_model(&found.parameters);
        for ((p, d), own) in pressures().iter().zip(&points).zip(&fitted) {
            assert!(
                (own - d).abs() < 1e-4,
                "{} at {p} kPa: {own} mm, truly {d}",
                model.name()
            );
            let best = chosen.at(*p);
            assert!(
                (best - d).abs() < 1e-3,
                "{} stands for {} at {p} kPa: {best} mm, truly {d}",
                chosen.name(),
                model.name()
            );
        }
    }
}

/// The derivatives a model gives are those of its values, at the parameters fitted to a chart and at its guess.
#[test]
fn every_balloon_model_gives_the_derivatives_of_its_values() {
    /// What differences are good to, with a margin.
    const ALIKE: f64 = 1e-8;
    for model in MODELS {
        let guess = model.guess(&pressures(), &chart()).unwrap();
        let fit = fit_curve(*model, &pressures(), &chart(), None, &guess, None).unwrap();
        for parameters in [&guess, &fit.parameters] {
            let check = check_gradient(*model, parameters, &pressures()).unwrap();
            assert!(check.worst < ALIKE, "{}: {check:?}", model.name());
        }
    }
}

/// Every model stands in the ranking of the chosen curve, the chosen one first, and one without enough points says so.
#[test]
fn the_ranking_holds_every_model() {
    let chosen = fit_diameter(&pressures(), &chart(), 0.0).unwrap();
    assert_eq!(chosen.ranking.len(), MODELS.len());
    assert_eq!(chosen.ranking[0].model, chosen.name());
    let weights: f64 = chosen.ranking.iter().filter_map(|r| r.weight).sum();
    assert!((weights - 1.0).abs() < 1e-12);
    let order: Vec<f64> = chosen.ranking.iter().filter_map(|r| r.delta_aicc).collect();
    assert!(order[0] == 0.0 && order.is_sorted(), "{order:?}");
    let few = fit_diameter(&pressures()[..5], &chart()[..5], 0.0).unwrap();
    assert_eq!(few.name(), "straight");
    for rank in &few.ranking[1..] {
        assert!(rank.weight.is_none() && rank.reason.is_some(), "{rank:?}");
    }
}

/// The models that bend follow a chart that bends within its rounding to a hundredth of a millimetre.
#[test]
fn the_chosen_model_follows_a_chart() {
    let rounded: Vec<f64> = chart()
        .iter()
        .map(|d| (100.0 * d).round() / 100.0)
        .collect();
    let chosen = fit_diameter(&pressures(), &rounded, 0.0).unwrap();
    for (p, d) in pressures().iter().zip(chart()) {
        assert!((chosen.at(*p) - d).abs() < 0.01, "{p} kPa");
        // And back again, where the balloon is unfolded.
        assert!(
            *p < 1.0 || (chosen.pressure_for(chosen.at(*p)) - p).abs() < 0.5,
            "{p} kPa"
        );
    }
}

/// Curves drawn from the uncertainty of a fit scatter as much as the fit says its diameters do, and a model's growth as much as its growth
/// (within five standard errors of a standard deviation, 1/sqrt(2 n) of it).
#[test]
fn drawn_curves_scatter_as_their_uncertainty_says() {
    const CURVES: usize = 4000;
    let noisy: Vec<f64> = chart()
        .iter()
        .enumerate()
        .map(|(i, d)| d + 0.01 * (7.0 * i as f64).sin())
        .collect();
    let curve = fit_diameter(&pressures(), &noisy, 0.02).unwrap();
    let mut draws = Draws::new(3, "curves");
    let drawn: Vec<_> = (0..CURVES)
        .map(|_| {
            let z: Vec<f64> = (0..curve.draws()).map(|_| draws.normal()).collect();
            curve.drawn(&z)
        })
        .collect();
    let sd = |value: &dyn Fn(&hooptrace::balloon::DiameterCurve) -> f64| {
        let values: Vec<f64> = drawn.iter().map(value).collect();
        let mean = values.iter().sum::<f64>() / CURVES as f64;
        (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / CURVES as f64).sqrt()
    };
    let near = |found: f64, said: f64| {
        assert!(
            (found / said - 1.0).abs() < 5.0 / (2.0 * CURVES as f64).sqrt(),
            "{found}, said {said}"
        );
    };
    near(sd(&|c| c.at(800.0)), curve.u_at(800.0));
    near(
        sd(&|c| c.at(1400.0) - c.at(400.0)),
        curve.u_growth(400.0, 1400.0),
    );
}

#[test]
fn every_balloon_model_says_what_it_is_and_refuses_too_few_points() {
    for model in MODELS {
        assert!(model.equation().contains("D = ") && model.equation().contains("mm"));
        assert!(!model.source().is_empty());
        assert!(model.guess(&[], &[]).is_none(), "{}", model.name());
        assert!(model.guess(&[100.0], &[22.0]).is_none(), "{}", model.name());
        // Outside what it is defined for a model says so and does not give up.
        assert!(model.value(&[], 100.0).is_nan());
    }
}

/// Limits of a new reading about a straight curve: statsmodels 0.15.0, `OLS(...).get_prediction`, `obs_ci` of 95 %.
#[test]
fn a_new_reading_lies_within_the_limits_of_a_line() {
    let pressures: Vec<f64> = (1..=8).map(|k| 200.0 * f64::from(k)).collect();
    let diameters = [
        22.412, 22.493, 22.613, 22.689, 22.812, 22.887, 23.013, 23.088,
    ];
    let curve = fit_diameter(&pressures, &diameters, 0.0).unwrap();
    assert_eq!(curve.name(), "straight");
    for (p, low, high) in [
        (200.0, 22.368_161, 22.443_839),
        (900.0, 22.717_155, 22.784_595),
        (1600.0, 23.057_911, 23.133_589),
    ] {
        let limits = curve.reading_band(p, 0.95).unwrap();
        assert!(
            (limits.0 - low).abs() < 2e-6 && (limits.1 - high).abs() < 2e-6,
            "{p} kPa: {limits:?}"
        );
    }
}

/// Where models part, below the lowest pressure they were fitted to, the truth lies within twice what that adds; from there on it adds nothing.
#[test]
fn below_the_lowest_pressure_a_curve_is_less_sure() {
    let lowest = 3;
    // A foot that unfolds in two stages, as no model has it.
    let truth = |p: f64| {
        21.9 + 0.4 * (1.0 - (-p / 150.0).exp()) + 0.5 * (1.0 - (-p / 500.0).exp()) + 5e-4 * p
    };
    let seen = &pressures()[lowest..];
    let diameters: Vec<f64> = seen.iter().map(|p| truth(*p)).collect();
    let curve = fit_diameter(seen, &diameters, 0.0).unwrap();
    let unseen = curve.u_unseen_at(0.0);
    let off = (curve.at(0.0) - truth(0.0)).abs();
    assert!(
        off > 2.0 * curve.u_at(0.0) && off < 2.0 * unseen.hypot(curve.u_at(0.0)),
        "{off} {} {unseen}",
        curve.u_at(0.0)
    );
    // Half of the growth that nobody saw, as the half width of a rectangle.
    let growth = curve.at(pressures()[lowest]) - curve.at(0.0);
    assert!((unseen - 0.5 * growth / 3.0_f64.sqrt()).abs() < 1e-12);
    assert!(curve.u_unseen_at(pressures()[lowest + 1]) < 1e-12);
}
