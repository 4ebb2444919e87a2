//! Published fits of curves and robust lines, and curves that break the rules.

use hooptrace::fit::{
    Bound, CurveFit, Fitted, Loss, Model, NoUncertainty, UncertainPoints, broken_line,
    check_gradient, check_residuals, fit_both_errors, fit_curve, fit_curve_robust, mad_sigma,
    median, profile_parameter, straight_line, theil_sen,
};

use super::models::{BOD, Formula, MICHAELIS_MENTEN};
use super::{columns, csv, digits, worst};

type Gradient = fn(&[f64], f64, &mut [f64]);

/// The same with a gradient of its own.
struct WithGradient(Formula, Gradient);

impl Model for WithGradient {
    fn names(&self) -> &[&str] {
        self.0.names()
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        self.0.value(p, x)
    }
    fn gradient(&self, p: &[f64], x: f64, out: &mut [f64]) {
        (self.1)(p, x, out);
    }
}

/// File, model, start, parameters, standard uncertainties, residual sum of squares.
type Case<'a> = (&'a str, &'a dyn Model, &'a [f64], &'a [f64], &'a [f64], f64);

#[test]
fn curves_with_published_fits() {
    let logistic = Formula {
        names: &["b", "c", "d", "e"],
        value: |p, x| p[1] + (p[2] - p[1]) / (1.0 + (x / p[3]).powf(p[0])),
    };
    let michaelis_menten = WithGradient(MICHAELIS_MENTEN, |p, x, out| {
        out[0] = x / (p[1] + x);
        out[1] = -p[0] * x / (p[1] + x).powi(2);
    });
    // Gauss-Newton at 40 digits; sources in tests/data/curves/SOURCE.md.
    let cases: [Case; 3] = [
        (
            "puromycin_mm.csv",
            &michaelis_menten,
            &[200.0, 0.05],
            &[212.683743143, 0.0641212816816],
            &[6.94715516, 0.0082809495],
            1195.44881444,
        ),
        (
            "bod_first_order.csv",
            &BOD,
            &[19.0, -0.6],
            &[19.1425752846, -0.632821187865],
            &[2.49591733, 0.382386364],
            25.9902672819,
        ),
        (
            "ryegrass_4pl.csv",
            &logistic,
            &[2.5, 0.4, 8.0, 3.0],
            &[2.98222866622, 0.481409942939, 7.79296232774, 3.05795516934],
            &[0.458428817, 0.209506044, 0.18973326, 0.185828903],
            5.40021462777,
        ),
    ];
    for (file, model, start, parameters, us, sum_of_squares) in cases {
        let (x, y) = columns(&csv("curves", file));
        let fit = fit_curve(model, &x, &y, None, start, None).unwrap();
        let p = worst(
            fit.parameters
                .iter()
                .copied()
                .zip(parameters.iter().copied()),
        );
        let u = worst(us.iter().enumerate().map(|(i, &c)| (fit.u(i).unwrap(), c)));
        assert!(p > 6.0 && u > 6.0, "{file}: {p:.1} {u:.1} {fit:?}");
        assert!(digits(fit.sum_of_squares, sum_of_squares) > 9.0, "{file}");
        // Bounds that do not bind must not change the fit, its uncertainties or its degrees of freedom.
        let bounds: Vec<Bound> = parameters
            .iter()
            .map(|p| Bound::between(p - 5.0 * p.abs(), p + 7.0 * p.abs()))
            .collect();
        let bounded = fit_curve(model, &x, &y, None, start, Some(&bounds)).unwrap();
        let p = worst(
            bounded
                .parameters
                .iter()
                .copied()
                .zip(parameters.iter().copied()),
        );
        let u = worst(
            us.iter()
                .enumerate()
                .map(|(i, &c)| (bounded.u(i).unwrap(), c)),
        );
        assert!(
            p > 6.0 && u > 6.0 && bounded.dof == fit.dof,
            "{file} bounded: {p:.1} {u:.1}"
        );
    }
}

#[test]
fn published_digits_of_puromycin_with_weights_and_differences() {
    // Bates & Watts (1988): Vm 212.7, K 0.06412. A common weight must leave parameters and uncertainties as they are.
    let (x, y) = columns(&csv("curves", "puromycin_mm.csv"));
    let weights = vec![0.25; x.len()];
    let plain = MICHAELIS_MENTEN;
    let fit = fit_curve(&plain, &x, &y, Some(&weights), &[200.0, 0.05], None).unwrap();
    assert!((fit.parameters[0] - 212.7).abs() < 0.05 && (fit.parameters[1] - 0.06412).abs() < 5e-6);
    assert!(digits(fit.u(0).unwrap(), 6.94715516) > 6.0);
    assert!(digits(fit.sum_of_squares, 0.25 * 1195.44881444) > 9.0);
    // Akaike: n ln(SS/n) + 2 (p + 1), by hand for the unweighted fit: 12 ln(1195.44881444/12) + 6.
    let unweighted = fit_curve(&plain, &x, &y, None, &[200.0, 0.05], None).unwrap();
    assert!(
        (unweighted.aic - 61.21644).abs() < 1e-4,
        "{}",
        unweighted.aic
    );
    assert_eq!(fit.u(2), Err(NoUncertainty::NoSuchParameter));
}

#[test]
fn mercury_vapour_pressure_as_straight_line() {
    // ln(p/Pa) against 1/(T/K); slope and intercept by 40-digit arithmetic.
    let rows = csv("curves", "mercury_vapour_pressure.csv");
    let x: Vec<f64> = rows.iter().map(|r| 1.0 / (r[0] + 273.15)).collect();
    let y: Vec<f64> = rows.iter().map(|r| (r[1] * 133.322387415).ln()).collect();
    let line = straight_line(&x, &y, None).unwrap();
    assert!(
        worst([(line.slope, -7306.65379224), (line.intercept, 23.166523847)]) > 10.0,
        "{line:?}"
    );
}

#[test]
fn theil_sen_of_sen_and_of_arsenate() {
    // Sen (1968), JASA 63:1379: slope 4, intercept 6.
    let (x, y) = columns(&csv("stats", "methodcomp_sen1968.csv"));
    let (intercept, slope) = theil_sen(&x, &y).unwrap();
    assert!((slope - 4.0).abs() < 1e-12 && (intercept - 6.0).abs() < 1e-12);
    // Ripley & Thompson (1987) arsenate: slope and median-residual intercept by two statistics packages.
    let (x, y) = columns(&csv("stats", "methodcomp_arsenate.csv"));
    let (intercept, slope) = theil_sen(&x, &y).unwrap();
    assert!(worst([(slope, 0.8207343412527), (intercept, 0.4580561555076)]) > 11.0);
}

#[test]
fn median_and_mad_of_newcomb() {
    // Newcomb's speed of light (Stigler 1977): median 27, MAD 3, scaled 4.4478 with the rounded constant 1.4826.
    let values: Vec<f64> = csv("stats", "newcomb.csv")
        .into_iter()
        .map(|r| r[0])
        .collect();
    assert_eq!(median(&values), Some(27.0));
    assert!((mad_sigma(&values).unwrap() - 4.4478).abs() < 1e-4);
}

#[test]
fn broken_line_of_bacon_and_watts() {
    // Bacon & Watts (1971), Biometrika 58:525: join and slopes from a grid of 20001 joins and a bounded minimisation. The published fit is
    // of a smooth transition (join about 0.06, slopes about -0.418 and -1.014).
    let (x, y) = columns(&csv("curves", "bacon_watts.csv"));
    let b = broken_line(&x, &y).unwrap();
    assert!((b.x_break - 0.0359119958).abs() < 1e-7, "{b:?}");
    assert!((b.y_break - 0.529503458).abs() < 1e-7, "{b:?}");
    assert!((b.slope_left + 0.4220768141).abs() < 1e-7, "{b:?}");
    assert!((b.slope_right + 1.016592652).abs() < 1e-7, "{b:?}");
    assert!(digits(b.sum_of_squares, 0.0093813626976) > 9.0, "{b:?}");
    assert!((b.x_break - 0.06).abs() < 2.0 * b.u_break, "{b:?}");
    assert!(
        (b.slope_left + 0.418).abs() < 2.0 * b.u_slopes.0
            && (b.slope_right + 1.014).abs() < 2.0 * b.u_slopes.1
    );
    assert!(b.improvement > 100.0);
}

/// Whatever is asked of a fit to hostile data has an answer that is finite, or none.
fn what_is_said_of_it_is_finite(
    model: &Formula,
    x: &[f64],
    y: &[f64],
    bounds: Option<&[Bound]>,
    fit: &CurveFit,
) {
    let of = Fitted {
        model,
        x,
        y,
        weights: None,
        bounds,
    };
    for i in 0..3 {
        if let Ok(interval) = profile_parameter(&of, fit, i, 0.9) {
            for end in [interval.lower, interval.upper].into_iter().flatten() {
                assert!(end.is_finite(), "{interval:?}");
            }
        }
    }
    if let Some(band) = fit.band(model, 3.5, 1.0, 0.9) {
        assert!(band.curve.0 <= band.value && band.value <= band.observation.1);
    }
    if let Ok(checks) = check_residuals(model, x, y, None, fit) {
        let tests = [
            checks.lag_one,
            checks.runs,
            checks.normality,
            checks.largest,
        ];
        for test in tests.into_iter().flatten() {
            assert!((0.0..=1.0).contains(&test.p), "{checks:?}");
        }
    }
    for loss in [Loss::Huber, Loss::Bisquare] {
        if let Ok(robust) = fit_curve_robust(model, x, y, None, &[0.5, 0.5], bounds, loss) {
            assert!(robust.parameters.iter().all(|p| p.is_finite()));
            assert!(
                (0..2).all(|i| robust.u(i).is_err() || robust.u(i).is_ok_and(|u| u > 0.0)),
                "{robust:?}"
            );
        }
    }
    let u = vec![0.1; x.len()];
    let points = UncertainPoints {
        x,
        y,
        u_x: &u,
        u_y: &u,
    };
    if let Ok(both) = fit_both_errors(model, points, &[0.5, 0.5], bounds) {
        assert!(both.fit.parameters.iter().all(|p| p.is_finite()));
    }
    let _ = check_gradient(model, &fit.parameters, x);
}

#[test]
fn hostile_curves_neither_panic_nor_pretend() {
    type Value = fn(&[f64], f64) -> f64;
    let x: Vec<f64> = (0..12).map(f64::from).collect();
    let wild: [Value; 7] = [
        |_, _| 1.0,
        |p, x| {
            if p[0] > 1.0 {
                f64::NAN
            } else {
                p[0] + p[1] * x
            }
        },
        |p, x| (p[0] * x).exp() * 1e300 + p[1],
        |p, x| p[0].sqrt() + p[1].ln() * x,
        |p, _| (p[0] - p[0]) + p[1] * 0.0,
        |p, x| p[0] * 1e-300 + p[1] * x * 1e300,
        |p, x| (p[0] * x * 1e6).sin() * p[1],
    ];
    for (number, value) in wild.into_iter().enumerate() {
        for y in [
            vec![0.0; 12],
            vec![1e308; 12],
            x.iter().map(|x| (7.0 * x).sin()).collect(),
        ] {
            for bounds in [
                None,
                Some([Bound::between(0.25, 1e300), Bound::at_least(-3.0)]),
            ] {
                let model = Formula {
                    names: &["a", "b"],
                    value,
                };
                let fit = fit_curve(
                    &model,
                    &x,
                    &y,
                    None,
                    &[0.5, 0.5],
                    bounds.as_ref().map(|b| &b[..]),
                );
                let Ok(fit) = fit else {
                    continue;
                };
                what_is_said_of_it_is_finite(&model, &x, &y, bounds.as_ref().map(|b| &b[..]), &fit);
                for i in 0..2 {
                    // Where the curve does not depend on a parameter there must be no uncertainty of it.
                    assert!(
                        !(matches!(number, 0 | 4) && fit.u(i).is_ok()),
                        "{number}: {fit:?}"
                    );
                    assert!(fit.parameters[i].is_finite(), "{number}: {fit:?}");
                    if let Ok(u) = fit.u(i) {
                        assert!(u > 0.0, "{number}: {fit:?}");
                    }
                }
            }
        }
    }
}

/// Modulus of a measured stress-strain curve by least squares over strains of 0.001 to 0.002, and where the line offset by 0.2 % from its foot
/// meets the curve (`tests/data/wave/SOURCE.md`).
#[test]
fn modulus_and_offset_yield() {
    let (strain, stress) = columns(&csv("wave", "stress_strain_1.csv"));
    assert_eq!(strain.len(), 200);
    let (x, y): (Vec<f64>, Vec<f64>) = strain
        .iter()
        .zip(&stress)
        .filter(|(strain, _)| (0.001..=0.002).contains(*strain))
        .unzip();
    let line = straight_line(&x, &y, None).unwrap();
    assert!(digits(line.slope, 61_024.201_83) > 9.0, "{}", line.slope);
    let foot = -line.intercept / line.slope;
    assert!(digits(foot, 5.561_095_3e-5) > 7.0, "{foot}");
    let above = |i: usize| stress[i] - line.at(strain[i] - 0.002);
    let at = (1..strain.len()).find(|i| above(*i) <= 0.0).unwrap();
    let share = above(at - 1) / (above(at - 1) - above(at));
    let yielded = stress[at - 1] + share * (stress[at] - stress[at - 1]);
    assert!(digits(yielded, 257.905_137_3) > 8.0, "{yielded}");
}
