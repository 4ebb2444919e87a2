//! Curves that wild points do not upset, and curves through points uncertain in both directions.

use hooptrace::fit::{
    BothErrorsFit, Loss, Model, UncertainPoints, fit_both_errors, fit_curve, fit_curve_robust,
};

use super::models::{Formula, Stackloss, stackloss};
use super::{csv, digits, worst};

const STRAIGHT: Formula = Formula {
    names: &["intercept", "slope"],
    value: |p, x| p[0] + p[1] * x,
};

#[test]
fn stackloss_with_bounded_losses() {
    // statsmodels 0.15.0, RLM with HuberT and TukeyBiweight, scale by MAD, covariance H1, tolerance 1e-14. Venables & Ripley (2002), 6.5, print
    // -41.03, 0.83, 0.93, -0.13 and scale 2.44 for Huber.
    let (rows, x, y) = stackloss();
    let model = Stackloss(&rows);
    for (loss, parameters, us, scale, down) in [
        (
            Loss::Huber,
            [
                -41.0264983524,
                0.8293843346,
                0.926065966197,
                -0.127846724946,
            ],
            [
                9.791898541349,
                0.111005213355,
                0.302930163109,
                0.128649614935,
            ],
            2.440536091720932,
            vec![20],
        ),
        (
            Loss::Bisquare,
            [
                -42.28535077933,
                0.927557322756,
                0.650717687214,
                -0.112333153791,
            ],
            [
                9.504491924919,
                0.107747047163,
                0.294038717509,
                0.12487355962,
            ],
            2.281881334951164,
            vec![3, 20],
        ),
    ] {
        let fit = fit_curve_robust(&model, &x, &y, None, &[0.0; 4], None, loss).unwrap();
        let p = worst(fit.parameters.iter().copied().zip(parameters));
        let u = worst((0..4).map(|i| (fit.u(i).unwrap(), us[i])));
        assert!(fit.settled && fit.down_weighted == down, "{fit:?}");
        assert!(
            p > 7.0 && u > 7.0 && digits(fit.scale, scale) > 7.0,
            "{p} {u} {fit:?}"
        );
    }
}

fn uncertainties(found: &BothErrorsFit) -> (Vec<f64>, Vec<f64>) {
    let scaled = found.fit.covariance.diag().mapv(f64::sqrt).to_vec();
    let as_given = found
        .fit
        .covariance_as_weighted
        .diag()
        .mapv(f64::sqrt)
        .to_vec();
    (scaled, as_given)
}

#[test]
fn line_of_pearson_with_the_weights_of_york() {
    let rows = csv("curves", "pearson_york.csv");
    let column = |k: usize| rows.iter().map(|r| r[k]).collect::<Vec<f64>>();
    let (x, y) = (column(0), column(1));
    let from_weights = |k: usize| {
        column(k)
            .iter()
            .map(|w| 1.0 / w.sqrt())
            .collect::<Vec<f64>>()
    };
    let (u_x, u_y) = (from_weights(2), from_weights(3));
    let points = UncertainPoints {
        x: &x,
        y: &y,
        u_x: &u_x,
        u_y: &u_y,
    };
    let found = fit_both_errors(&STRAIGHT, points, &[5.0, -0.5], None).unwrap();
    // York et al. (2004), table I: all printed digits.
    let (_, u) = uncertainties(&found);
    for (value, printed) in [
        (found.fit.parameters[0], 5.479910),
        (found.fit.parameters[1], -0.480533),
        (u[0], 0.294971),
        (u[1], 0.057985),
    ] {
        assert!((value - printed).abs() < 6e-7, "{value} {printed}");
    }
    assert!((found.fit.sum_of_squares / 8.0 - 1.4833).abs() < 6e-5);
    // With the rounded uncertainties, and with x and y exchanged: scipy 1.17.1, scipy/odr/tests/test_odr.py, test_pearson.
    let (u_x, u_y) = (column(4), column(5));
    let points = UncertainPoints {
        x: &x,
        y: &y,
        u_x: &u_x,
        u_y: &u_y,
    };
    let exchanged = UncertainPoints {
        x: &y,
        y: &x,
        u_x: &u_y,
        u_y: &u_x,
    };
    for (points, parameters, us) in [
        (
            points,
            [5.4767400299231674, -0.4796082367610305],
            [0.3590121690702467, 0.0706291186037444],
        ),
        (
            exchanged,
            [11.4192022410781231, -2.0850374506165474],
            [0.9820231665657161, 0.3070515616198911],
        ),
    ] {
        let found = fit_both_errors(&STRAIGHT, points, &[1.0, 1.0], None).unwrap();
        let p = worst(found.fit.parameters.iter().copied().zip(parameters));
        let u = worst(uncertainties(&found).0.into_iter().zip(us));
        assert!(p > 6.0 && u > 6.0, "{p} {u} {found:?}");
    }
}

#[test]
fn curves_of_odrpack() {
    // scipy 1.17.1, scipy/odr/tests/test_odr.py: test_explicit (User's Reference Guide of ODRPACK, explicit example) and test_lorentz.
    let rows = csv("curves", "odr_explicit.csv");
    let column = |k: usize| rows.iter().map(|r| r[k]).collect::<Vec<f64>>();
    let (x, y, u_x) = (column(0), column(1), column(2));
    let u_y = vec![1.0; x.len()];
    let explicit = Formula {
        names: &["limit", "height", "rate"],
        value: |p, x| p[0] + p[1] * ((p[2] * x).exp() - 1.0).powi(2),
    };
    let points = UncertainPoints {
        x: &x,
        y: &y,
        u_x: &u_x,
        u_y: &u_y,
    };
    let found = fit_both_errors(&explicit, points, &[1500.0, -50.0, -0.1], None).unwrap();
    let p = worst(found.fit.parameters.iter().copied().zip([
        1.2646548050648876e+03,
        -5.4018409956678255e+01,
        -8.7849712165253724e-02,
    ]));
    let u = worst(uncertainties(&found).0.into_iter().zip([
        1.0349270280543437,
        1.583997785262061,
        0.0063321988657267,
    ]));
    assert_eq!((found.shift[0], found.shift[11]), (0.0, 0.0));
    // Those values are where its iteration rests, at six digits or so.
    assert!(p > 5.5 && u > 5.0, "{p} {u} {found:?}");
    // Gauss-Newton in parameters and true places together, to rest at 40 digits (mpmath 1.3.0).
    let to_rest = [1264.6548105006, -54.018386822689, -0.087849851762078];
    let u_to_rest = [1.0349272348358, 1.5839967124004, 0.0063322190368379];
    let p = worst(found.fit.parameters.iter().copied().zip(to_rest));
    let u = worst(uncertainties(&found).0.into_iter().zip(u_to_rest));
    assert!(p > 9.0 && u > 8.0, "{p} {u} {found:?}");
    assert!(digits(found.fit.sum_of_squares, 21.445501659402) > 11.0);

    let rows = csv("curves", "odr_resonance.csv");
    let column = |k: usize| rows.iter().map(|r| r[k]).collect::<Vec<f64>>();
    let (x, y, u_x, u_y) = (column(0), column(1), column(2), column(3));
    let resonance = Formula {
        names: &["size", "width", "centre"],
        value: |p, x| {
            p[0] * p[1] * p[2] / ((x * x - p[2] * p[2]).powi(2) + (p[1] * x).powi(2)).sqrt()
        },
    };
    let points = UncertainPoints {
        x: &x,
        y: &y,
        u_x: &u_x,
        u_y: &u_y,
    };
    let found = fit_both_errors(&resonance, points, &[1000.0, 0.1, 3.8], None).unwrap();
    let p = worst(found.fit.parameters.iter().copied().zip([
        1.4306780846149925e+03,
        1.3390509034538309e-01,
        3.7798193600109009e+00,
    ]));
    let u = worst(uncertainties(&found).0.into_iter().zip([
        7.3621186811330963e-01,
        3.5068899941471650e-04,
        2.4451209281408992e-04,
    ]));
    assert!(p > 6.0 && u > 5.0, "{p} {u} {found:?}");
    assert!(found.largest_share_of_x > 0.5);
}

#[test]
fn with_exact_x_it_is_the_weighted_fit() {
    let x: Vec<f64> = (0..12).map(f64::from).collect();
    let y: Vec<f64> = x
        .iter()
        .map(|x| 3.0 * (-0.3 * x).exp() + 0.02 * (5.0 * x).sin())
        .collect();
    let decay = Formula {
        names: &["size", "rate"],
        value: |p, x| p[0] * (-p[1] * x).exp(),
    };
    let u_y: Vec<f64> = x.iter().map(|x| 0.01 + 0.002 * x).collect();
    let weights: Vec<f64> = u_y.iter().map(|u| 1.0 / (u * u)).collect();
    let exact = vec![0.0; 12];
    let points = UncertainPoints {
        x: &x,
        y: &y,
        u_x: &exact,
        u_y: &u_y,
    };
    let found = fit_both_errors(&decay, points, &[2.0, 0.5], None).unwrap();
    let fit = fit_curve(&decay, &x, &y, Some(&weights), &[2.0, 0.5], None).unwrap();
    assert!(
        worst(
            found
                .fit
                .parameters
                .iter()
                .copied()
                .zip(fit.parameters.iter().copied())
        ) > 9.0
    );
    assert!(worst((0..2).map(|i| (found.fit.u(i).unwrap(), fit.u(i).unwrap()))) > 8.0);
    assert_eq!(found.largest_share_of_x, 0.0);
    // What makes no sense is refused.
    let none = vec![0.0; 12];
    let points = UncertainPoints {
        u_y: &none,
        ..points
    };
    assert!(fit_both_errors(&decay, points, &[2.0, 0.5], None).is_err());
    assert!(decay.value(&[1.0, 0.0], 3.0) == 1.0);
}
