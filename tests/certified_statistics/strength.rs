//! Weibull and normal fits of censored strengths.

use hooptrace::stats::{
    IntervalObservation, NORMAL, ParameterEstimate, StatsError, StrengthFit, WEIBULL, describe,
    strength_fit,
};
use statrs::function::gamma::gamma;

use super::{FRAME, number, printed, relative, rows};

/// Strengths known by value, and runs stopped without failure.
fn ranges(failures: &[f64], censored: &[f64]) -> Vec<IntervalObservation> {
    let failures = failures.iter().map(|&v| IntervalObservation::failure(v));
    let censored = censored.iter().map(|&v| IntervalObservation::censored(v));
    failures.chain(censored).collect()
}

/// A fit with its parameters by their names.
struct Weibull {
    fit: StrengthFit,
    scale: ParameterEstimate,
    shape: ParameterEstimate,
}

/// Limits of a parameter by its uncertainty, as printed.
#[track_caller]
fn wald(parameter: &ParameterEstimate, [lower, upper]: [f64; 2], decimals: i32) {
    let limits = parameter.wald_on_logarithm(0.95).unwrap();
    printed(limits.lower, lower, decimals);
    printed(limits.upper, upper, decimals);
}

fn weibull(data: &[IntervalObservation]) -> Result<Weibull, StatsError> {
    let fit = strength_fit(&WEIBULL, data)?;
    let [scale, shape] = fit.parameters(0.95)?;
    assert_eq!((scale.name, shape.name), ("scale", "shape"));
    Ok(Weibull { fit, scale, shape })
}

/// The same of a normal distribution: fit, mean, standard deviation.
fn normal(
    data: &[IntervalObservation],
) -> Result<(StrengthFit, ParameterEstimate, ParameterEstimate), StatsError> {
    let fit = strength_fit(&NORMAL, data)?;
    let [mean, sd] = fit.parameters(0.95)?;
    Ok((fit, mean, sd))
}

const HANDBOOK: [f64; 10] = [
    54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0,
];

#[test]
fn weibull_handbook() {
    // NIST/SEMATECH e-Handbook 8.4.1.2 (shape 1.7208, scale 606.5280, ln L -75.135, mean 540.737, sd 323.806), further digits at 30 digits.
    let Weibull { fit, scale, shape } = weibull(&ranges(&HANDBOOK, &[500.0; 10])).unwrap();
    relative(shape.value, 1.7207972608014, 1e-9);
    relative(scale.value, 606.52755800357, 1e-9);
    printed(fit.ln_likelihood, -75.134618164475, 9);
    // Mean and sd by the formulas of the handbook: scale Γ(1 + 1/shape), scale sqrt(Γ(1 + 2/shape) - Γ(1 + 1/shape)²).
    let (first, second) = (
        gamma(1.0 + 1.0 / shape.value),
        gamma(1.0 + 2.0 / shape.value),
    );
    printed(scale.value * first, 540.737, 3);
    printed(scale.value * (second - first * first).sqrt(), 323.806, 3);
    wald(&shape, [0.9713, 3.0487], 4);
    wald(&scale, [405.09, 908.13], 2);
    assert_eq!((fit.n, fit.failures), (20, 10));
    // Likelihood-ratio limits of the 10 % quantile, from the definition at 30 digits.
    relative(fit.quantile(0.1).unwrap(), 164.02243866001, 1e-9);
    let profile = fit.quantile_limits(0.1, 0.95).unwrap();
    relative(profile.lower.unwrap(), 59.854554249415, 1e-8);
    relative(profile.upper.unwrap(), 271.94951755532, 1e-8);
    let one_sided = fit.quantile_lower(0.1, 0.95).unwrap();
    relative(one_sided.unwrap(), 74.833574873778, 1e-8);
}

#[test]
fn weibull_frame_set() {
    // Pressures in atm, three frames stopped at 26.0 without fracture.
    let Weibull { fit, scale, shape } = weibull(&ranges(&FRAME, &[26.0; 3])).unwrap();
    printed(shape.value, 8.490050, 6);
    printed(scale.value, 24.928568, 6);
    printed(fit.ln_likelihood, -21.308970, 6);
    for (p, q) in [(0.1, 19.12421), (0.5, 23.87531), (0.95, 28.36757)] {
        printed(fit.quantile(p).unwrap(), q, 5);
    }
    wald(&shape, [4.559, 15.812], 3);
    wald(&scale, [22.839, 27.209], 3);
    let profile = fit.quantile_limits(0.1, 0.95).unwrap();
    relative(profile.lower.unwrap(), 14.327296694262, 1e-8);
    relative(profile.upper.unwrap(), 21.837308910998, 1e-8);

    // The two wrong ways to treat the frames that did not fracture, which must come out as different numbers.
    let dropped = weibull(&ranges(&FRAME, &[])).unwrap();
    printed(dropped.shape.value, 17.3074, 4);
    printed(dropped.scale.value, 22.6257, 4);
    printed(dropped.fit.quantile(0.95).unwrap(), 24.1065, 4);
    let as_fractures: Vec<f64> = FRAME.into_iter().chain([26.0; 3]).collect();
    let counted = weibull(&ranges(&as_fractures, &[])).unwrap();
    printed(counted.shape.value, 11.9636, 4);
    printed(counted.scale.value, 24.1805, 4);
    printed(counted.fit.quantile(0.95).unwrap(), 26.5030, 4);
    assert!(dropped.shape.value > 2.0 * shape.value && counted.shape.value > 1.4 * shape.value);
}

#[test]
fn normal_frame_set() {
    let (fit, mean, sd) = normal(&ranges(&FRAME, &[26.0; 3])).unwrap();
    printed(mean.value, 23.69008, 5);
    printed(sd.value, 3.01471, 5);
    printed(fit.ln_likelihood, -20.63384, 5);
    // Without censoring the estimate is the mean, the sd with n, and their uncertainties sd/√n and sd/√(2n) (textbook).
    let (plain, mean, sd) = normal(&ranges(&FRAME, &[])).unwrap();
    let d = describe(&FRAME).unwrap();
    relative(mean.value, d.mean, 1e-12);
    relative(sd.value, d.sd.unwrap() * (6.0_f64 / 7.0).sqrt(), 1e-12);
    relative(mean.u, sd.value / 7f64.sqrt(), 1e-10);
    relative(sd.u, sd.value / 14f64.sqrt(), 1e-10);
    relative(plain.quantile(0.5).unwrap(), mean.value, 1e-12);
    let limits = plain.quantile_wald(0.5, 0.95).unwrap();
    relative(limits.upper - mean.value, 1.959963985 * mean.u, 1e-8);
}

#[test]
fn strengths_known_by_their_step() {
    // The frame set in steps of 2 atm: (18,20] 1, (20,22] 3, (22,24] 2, (24,26] 1, beyond 26 three.
    let mut steps = vec![IntervalObservation::between(18.0, 20.0)];
    steps.extend([IntervalObservation::between(20.0, 22.0); 3]);
    steps.extend([IntervalObservation::between(22.0, 24.0); 2]);
    steps.push(IntervalObservation::between(24.0, 26.0));
    steps.extend([IntervalObservation::censored(26.0); 3]);
    let Weibull { fit, scale, shape } = weibull(&steps).unwrap();
    printed(shape.value, 8.03391, 5);
    printed(scale.value, 25.03312, 5);
    printed(fit.ln_likelihood, -16.87877, 5);
    assert_eq!((fit.n, fit.failures), (10, 7));
    let (fit, mean, sd) = normal(&steps).unwrap();
    printed(mean.value, 23.72309, 5);
    printed(sd.value, 3.28484, 5);
    printed(fit.ln_likelihood, -16.36571, 5);
    // Very narrow steps are as good as values: the estimate of the values themselves comes back.
    let narrow: Vec<IntervalObservation> = FRAME
        .iter()
        .map(|v| IntervalObservation::between(v - 1e-6, v + 1e-6))
        .chain([IntervalObservation::censored(26.0); 3])
        .collect();
    printed(weibull(&narrow).unwrap().shape.value, 8.490050, 5);
    printed(normal(&narrow).unwrap().1.value, 23.69008, 5);
}

#[test]
fn weibull_published_sets() {
    // Shape, scale, ln L, 10 % quantile, standard uncertainties of scale and shape, Wald limits; at 40 digits, equal to a statistics
    // package to 1e-14. Published: ball bearings 2.102 and 81.87 (Lieblein & Zelen 1956), shock absorbers mu 10.23, sigma 0.3164 (Meeker &
    // Escobar 1998).
    for (file, shape, scale, ln_l, b10, u_scale, u_shape, scale_limits, shape_limits) in [
        (
            "weibull_ball_bearings.csv",
            2.101846863765,
            81.87455872411,
            -113.6919590877,
            28.0650889629,
            8.600926479,
            0.3286573273,
            [66.63926644, 100.5929946],
            [1.547042037, 2.855617452],
        ),
        (
            "weibull_shock_absorber.csv",
            3.160470314535,
            27718.71812852,
            -123.9953611888,
            13600.0347151,
            3046.023183,
            0.7308183946,
            [22347.77024, 34380.49194],
            [2.008733073, 4.972573381],
        ),
        (
            "weibull_gehan_6mp.csv",
            1.353734523826,
            33.76515096763,
            -41.65867847688,
            6.40506464418,
            9.230342926,
            0.3768768269,
            [19.75953169, 57.69799799],
            [0.7844419241, 2.336179524],
        ),
    ] {
        let data: Vec<IntervalObservation> = rows(file)
            .iter()
            .map(|r| match (number(&r[0]), r[1] == "0") {
                (value, true) => IntervalObservation::censored(value),
                (value, false) => IntervalObservation::failure(value),
            })
            .collect();
        let found = weibull(&data).unwrap();
        relative(found.shape.value, shape, 1e-10);
        relative(found.scale.value, scale, 1e-10);
        relative(found.fit.ln_likelihood, ln_l, 1e-11);
        relative(found.fit.quantile(0.1).unwrap(), b10, 1e-9);
        relative(found.scale.u, u_scale, 1e-7);
        relative(found.shape.u, u_shape, 1e-7);
        let (ls, lb) = (
            found.scale.wald_on_logarithm(0.95).unwrap(),
            found.shape.wald_on_logarithm(0.95).unwrap(),
        );
        relative(ls.lower, scale_limits[0], 1e-7);
        relative(ls.upper, scale_limits[1], 1e-7);
        relative(lb.lower, shape_limits[0], 1e-7);
        relative(lb.upper, shape_limits[1], 1e-7);
        // The same data in another unit give the same shape, whatever the magnitude.
        for factor in [1e-150, 1e150] {
            let scaled: Vec<IntervalObservation> = data
                .iter()
                .map(|o| IntervalObservation::between(o.above * factor, o.up_to * factor))
                .collect();
            let other = weibull(&scaled).unwrap();
            relative(other.shape.value, shape, 1e-9);
            relative(other.scale.value, scale * factor, 1e-9);
        }
    }
}

#[test]
fn no_estimate_says_why() {
    let few = strength_fit(&WEIBULL, &ranges(&[20.0], &[26.0; 5])).unwrap_err();
    assert!(matches!(few, StatsError::TooFew { found: 1, .. }));
    assert!(matches!(weibull(&[]), Err(StatsError::TooFew { .. })));
    assert!(matches!(
        weibull(&ranges(&[20.0, 20.0, 20.0], &[20.0, 15.0])),
        Err(StatsError::NoMaximum { .. })
    ));
    assert!(matches!(
        weibull(&ranges(&[20.0, 0.0], &[])),
        Err(StatsError::BadValue { index: 1, .. })
    ));
    assert!(matches!(
        normal(&ranges(&[20.0, 21.0], &[f64::INFINITY])),
        Err(StatsError::BadValue { index: 2, .. })
    ));
    // Equal failures with a frame that withstood more do have an estimate.
    assert!(weibull(&ranges(&[20.0, 20.0, 20.0], &[22.0])).is_ok());
    // All in one step: the spread is anything below it.
    let step = [IntervalObservation::between(18.0, 20.0); 5];
    assert!(matches!(weibull(&step), Err(StatsError::NoMaximum { .. })));
    assert!(weibull(&[IntervalObservation::between(20.0, 18.0); 3]).is_err());
    let nothing = [IntervalObservation::between(0.0, f64::INFINITY); 3];
    assert!(weibull(&nothing).is_err());
}
