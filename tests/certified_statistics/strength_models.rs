//! Strengths by every family: values, steps and mixtures of both, with profile intervals, plots and comparisons.

use hooptrace::stats::{
    IntervalObservation, LOGNORMAL, NORMAL, STRENGTH_MODELS, StatsError, StrengthModel, WEIBULL,
    calibrate_quantile, compare_strengths, goodness_of_fit, kaplan_meier, logrank, plot_points,
    strength_fit, turnbull,
};
use hooptrace::uncertain::Draws;

use super::survival::gehan;
use super::{FRAME, number, observations, outside, printed, read, relative, rows};

fn frame() -> Vec<IntervalObservation> {
    observations(&FRAME, &[26.0; 3])
        .into_iter()
        .map(Into::into)
        .collect()
}

/// The frame set in steps of 2 atm.
fn steps() -> Vec<IntervalObservation> {
    let mut steps = vec![IntervalObservation::between(18.0, 20.0)];
    steps.extend([IntervalObservation::between(20.0, 22.0); 3]);
    steps.extend([IntervalObservation::between(22.0, 24.0); 2]);
    steps.push(IntervalObservation::between(24.0, 26.0));
    steps.extend([IntervalObservation::censored(26.0); 3]);
    steps
}

/// Values, steps, a failure without a lower end, and frames that withstood.
fn mixed() -> Vec<IntervalObservation> {
    let (value, step, stopped) = (
        IntervalObservation::failure,
        IntervalObservation::between,
        IntervalObservation::censored,
    );
    vec![
        value(19.5),
        step(20.0, 22.0),
        step(20.0, 22.0),
        value(21.4),
        step(0.0, 21.0),
        step(22.0, 24.0),
        value(23.1),
        step(24.0, 26.0),
        stopped(26.0),
        stopped(22.5),
    ]
}

#[test]
fn every_family_with_its_profile_intervals() {
    // Plain numerical maximisation of the definitions (scipy), profiles included.
    for (name, data) in [("frame", frame()), ("steps", steps()), ("mixed", mixed())] {
        for model in STRENGTH_MODELS {
            // A normal strength has no lower end at 0, and the script takes 0 as a value there.
            let data: Vec<IntervalObservation> = data.clone();
            let expected = |what: &str| outside(&format!("strength/{name}/{}/{what}", model.name));
            let fit = strength_fit(model, &data).unwrap();
            let (mu, sigma) = fit.location_and_spread();
            relative(mu, expected("mu"), 1e-7);
            relative(sigma, expected("sigma"), 1e-6);
            relative(fit.ln_likelihood, expected("ln_l"), 1e-10);
            relative(fit.aicc().unwrap(), expected("aicc"), 1e-10);
            for p in [0.1, 0.5, 0.9] {
                let limits = fit.quantile_limits(p, 0.95).unwrap();
                relative(
                    limits.lower.unwrap(),
                    expected(&format!("q{p}/lower")),
                    1e-6,
                );
                relative(
                    limits.upper.unwrap(),
                    expected(&format!("q{p}/upper")),
                    1e-6,
                );
            }
            let [location, spread] = fit.parameters(0.95).unwrap();
            relative(
                location.limits.lower.unwrap(),
                expected("location/lower"),
                1e-6,
            );
            relative(
                location.limits.upper.unwrap(),
                expected("location/upper"),
                1e-6,
            );
            let sigmas = [expected("sigma/lower"), expected("sigma/upper")];
            let wanted = if model.name == "Weibull" {
                [1.0 / sigmas[1], 1.0 / sigmas[0]]
            } else {
                sigmas
            };
            relative(spread.limits.lower.unwrap(), wanted[0], 1e-6);
            relative(spread.limits.upper.unwrap(), wanted[1], 1e-6);
        }
    }
}

#[test]
fn families_by_another_library() {
    // lifelines, whose iteration stops at some six digits.
    let check = |model: &'static StrengthModel, data: &[IntervalObservation], key: &str| {
        let fit = strength_fit(model, data).unwrap();
        let (mu, sigma) = fit.location_and_spread();
        relative(mu, outside(&format!("{key}/mu")), 1e-5);
        relative(sigma, outside(&format!("{key}/sigma")), 1e-4);
        relative(fit.ln_likelihood, outside(&format!("{key}/ln_l")), 1e-7);
    };
    check(&LOGNORMAL, &frame(), "lifelines/frame/lognormal");
    check(&LOGNORMAL, &steps(), "lifelines/steps/lognormal");
    check(&WEIBULL, &steps(), "lifelines/steps/Weibull");
}

#[test]
fn names_and_worked_numbers() {
    // Worked numbers of the frame set: shape 8.490050, scale 24.928568, mean 23.69008, sd 3.01471; in steps 8.03391 and 25.03312.
    let fit = strength_fit(&WEIBULL, &frame()).unwrap();
    let [scale, shape] = fit.parameters(0.95).unwrap();
    printed(scale.value, 24.928568, 6);
    printed(shape.value, 8.490050, 6);
    assert_eq!((scale.name, scale.has_unit), ("scale", true));
    assert_eq!((shape.name, shape.has_unit), ("shape", false));
    printed(fit.ln_likelihood, -21.308970, 6);
    for (p, q) in [(0.1, 19.12421), (0.5, 23.87531), (0.95, 28.36757)] {
        printed(fit.quantile(p).unwrap(), q, 5);
        printed(fit.probability_below(fit.quantile(p).unwrap()), p, 12);
    }
    let one_sided = fit.quantile_lower(0.1, 0.975).unwrap().unwrap();
    printed(one_sided, 14.327296694262, 6);
    let [mean, sd] = strength_fit(&NORMAL, &frame())
        .unwrap()
        .parameters(0.95)
        .unwrap();
    printed(mean.value, 23.69008, 5);
    printed(sd.value, 3.01471, 5);
    let [scale, shape] = strength_fit(&WEIBULL, &steps())
        .unwrap()
        .parameters(0.95)
        .unwrap();
    printed(scale.value, 25.03312, 5);
    printed(shape.value, 8.03391, 5);
    // Of the three the one with the highest likelihood has the least AICc, since all have two parameters.
    let fits: Vec<_> = STRENGTH_MODELS
        .iter()
        .map(|m| strength_fit(m, &frame()).unwrap())
        .collect();
    let best = fits
        .iter()
        .min_by(|a, b| a.aicc().unwrap().total_cmp(&b.aicc().unwrap()));
    let best = best.unwrap();
    assert!(fits.iter().all(|f| f.ln_likelihood <= best.ln_likelihood));
}

#[test]
fn what_the_data_leave_open() {
    // Failures on both sides of one level: any small spread explains them, so there is no estimate.
    let data = [
        IntervalObservation::between(18.0, 20.0),
        IntervalObservation::between(20.0, 22.0),
        IntervalObservation::between(20.0, 22.0),
    ];
    assert!(matches!(
        strength_fit(&NORMAL, &data),
        Err(StatsError::NoMaximum { .. })
    ));
    // Each frame tried at one level only, passes and failures mixed: a spread without end is nearly as likely as the best one.
    let once = [
        IntervalObservation::between(f64::NEG_INFINITY, 20.0),
        IntervalObservation::between(f64::NEG_INFINITY, 22.0),
        IntervalObservation::between(f64::NEG_INFINITY, 22.0),
        IntervalObservation::censored(19.0),
        IntervalObservation::censored(21.0),
        IntervalObservation::censored(21.0),
    ];
    let fit = strength_fit(&NORMAL, &once).unwrap();
    let [_, sd] = fit.parameters(0.95).unwrap();
    assert_eq!((sd.limits.upper, sd.limits.closed()), (None, None));
    let few = [
        IntervalObservation::between(18.0, 20.0),
        IntervalObservation::between(20.0, 22.0),
        IntervalObservation::between(22.0, 24.0),
    ];
    assert!(matches!(
        strength_fit(&WEIBULL, &[IntervalObservation::failure(-1.0); 3]),
        Err(StatsError::BadValue { index: 0, .. })
    ));
    assert_eq!(strength_fit(&NORMAL, &few).unwrap().aicc(), None);
}

fn cosmesis() -> Vec<IntervalObservation> {
    rows("turnbull_cosmesis.csv")
        .iter()
        .map(|r| IntervalObservation {
            above: number(&r[0]),
            up_to: if r[1].is_empty() {
                f64::INFINITY
            } else {
                number(&r[1])
            },
        })
        .collect()
}

#[test]
fn distribution_of_steps() {
    // Published estimate of the radiotherapy arm (Finkelstein & Wolfe 1985), as printed in many texts, from memory.
    let curve = turnbull(&cosmesis()).unwrap();
    let expected = [
        (4.0, 5.0, 0.0463),
        (6.0, 7.0, 0.0334),
        (7.0, 8.0, 0.0887),
        (11.0, 12.0, 0.0708),
        (24.0, 25.0, 0.0926),
        (33.0, 34.0, 0.0818),
        (38.0, 40.0, 0.1209),
        (46.0, 48.0, 0.4656),
    ];
    assert_eq!(curve.steps.len(), expected.len(), "{curve:?}");
    for (step, (above, up_to, probability)) in curve.steps.iter().zip(expected) {
        assert_eq!((step.above, step.up_to), (above, up_to));
        printed(step.probability, probability, 4);
        // The same by self-consistency run 200 000 times.
        let key = format!("turnbull/cosmesis/{above:?}-{up_to:?}");
        printed(step.probability, outside(&key), 6);
    }
    assert_eq!(curve.survival_at(45.0), curve.survival_at(40.0));
    let (low, high) = curve.survival_at(47.0);
    assert!(low == 0.0 && (high - 0.4656).abs() < 1e-4, "{low} {high}");
    let mixture = turnbull(&mixed()).unwrap();
    for step in &mixture.steps {
        let up_to = if step.up_to.is_finite() {
            format!("{:?}", step.up_to)
        } else {
            "inf".to_owned()
        };
        let key = format!("turnbull/mixed/{:?}-{up_to}", step.above);
        printed(step.probability, outside(&key), 6);
    }
    let sum: f64 = mixture.steps.iter().map(|s| s.probability).sum();
    printed(sum, 1.0, 9);
    // Without steps it is the product-limit estimate.
    let (treated, _) = gehan();
    let data: Vec<IntervalObservation> = treated.iter().map(|&o| o.into()).collect();
    let (ours, plain) = (turnbull(&data).unwrap(), kaplan_meier(&treated).unwrap());
    for (a, b) in ours.steps.iter().zip(&plain.steps) {
        assert_eq!((a.above, a.up_to), (b.value, b.value));
        printed(a.survival, b.survival, 7);
    }
    // Steps of any place and width, as from frames each loaded in its own steps: the iteration ends at the maximum.
    let mut draws = Draws::new(8, "steps");
    for n in [30, 300] {
        let data: Vec<IntervalObservation> = (0..n)
            .map(|_| {
                let above = (22.0 + 2.0 * draws.normal()) * 10.0;
                let width = 1.0 + 20.0 * draws.unit();
                IntervalObservation::between(above.round() / 10.0, (above + width).round() / 10.0)
            })
            .collect();
        let curve = turnbull(&data).unwrap();
        let sum: f64 = curve.steps.iter().map(|s| s.probability).sum();
        printed(sum, 1.0, 9);
        // At the maximum every range with probability is wanted exactly: the mean of 1/P over all that hold it is 1.
        for step in &curve.steps {
            let wanted: f64 = data
                .iter()
                .filter(|o| o.above <= step.above && step.up_to <= o.up_to)
                .map(|o| {
                    let held: f64 = curve
                        .steps
                        .iter()
                        .filter(|s| o.above <= s.above && s.up_to <= o.up_to)
                        .map(|s| s.probability)
                        .sum();
                    1.0 / held
                })
                .sum();
            assert!(
                (wanted / f64::from(n) - 1.0).abs() < 1e-3,
                "{step:?} {wanted}"
            );
        }
    }
    assert!(turnbull(&[]).is_err());
    assert!(turnbull(&[IntervalObservation::between(3.0, 2.0)]).is_err());
    assert!(turnbull(&[IntervalObservation::between(f64::NAN, 2.0)]).is_err());
}

#[test]
fn probability_plots() {
    // Hazen's (i - 1/2)/n for the first seven of ten.
    let points = plot_points(&frame()).unwrap();
    assert_eq!(points.len(), 7);
    for (i, (point, value)) in points.iter().zip(FRAME).enumerate() {
        printed(point.probability, (i as f64 + 0.5) / 10.0, 12);
        assert_eq!((point.above, point.up_to), (value, value));
    }
    // On its own paper the points of a family are straight: quantiles at these positions correlate perfectly.
    for model in STRENGTH_MODELS {
        let data: Vec<IntervalObservation> = (0..9)
            .map(|i| {
                let z = model.ordinate((f64::from(i) + 0.5) / 9.0);
                IntervalObservation::failure(model.value_at(3.0 + 0.1 * z))
            })
            .collect();
        printed(
            model
                .plot_correlation(&plot_points(&data).unwrap())
                .unwrap(),
            1.0,
            12,
        );
    }
    // Steps are drawn at their middle.
    let points = plot_points(&steps()).unwrap();
    printed(points[0].abscissa(&NORMAL), 19.0, 12);
    printed(points[0].probability, 0.05, 6);
    printed(points[1].probability, 0.25, 6);
    assert_eq!(points.len(), 4);
    assert!(NORMAL.plot_correlation(&points[..2]).is_err());
}

#[test]
fn goodness_of_fit_by_simulation() {
    let stopped = |stop: f64| {
        move |_: usize, strength: f64| {
            if strength > stop {
                IntervalObservation::censored(stop)
            } else {
                IntervalObservation::failure(strength)
            }
        }
    };
    // A sample of the family itself: p is uniform, so that 200 studies reject 10 of them give or take 3 at 5 %.
    let mut draws = Draws::new(11, "goodness");
    let mut rejected = 0;
    for _ in 0..200 {
        let sample: Vec<IntervalObservation> = (0..20)
            .map(|i| stopped(24.5)(i, 23.0 + 1.5 * draws.normal()))
            .collect();
        let mut uniform = || draws.unit();
        let test = goodness_of_fit(&NORMAL, &sample, &stopped(24.5), 199, &mut uniform).unwrap();
        rejected += i32::from(test.p <= 0.05);
    }
    assert!((2..=20).contains(&rejected), "{rejected} of 200");
    // Two lots far apart are no normal population.
    let lots: Vec<IntervalObservation> = (0..20)
        .map(|i| {
            let off = f64::from(i % 2) * 8.0;
            IntervalObservation::failure(15.0 + off + 0.05 * f64::from(i))
        })
        .collect();
    let mut uniform = || draws.unit();
    let test = goodness_of_fit(&NORMAL, &lots, &stopped(99.0), 199, &mut uniform).unwrap();
    assert!(test.p < 0.01, "{test:?}");
    assert!(goodness_of_fit(&NORMAL, &lots, &stopped(99.0), 9, &mut uniform).is_err());
}

#[test]
fn calibrated_intervals_reproduce_exact_ones() {
    // The median of a normal population without censoring has the exact interval of Student's t: for n = 7 the fall of twice the
    // log-likelihood is n ln(1 + t²/(n - 1)) = 6.4783 at t = 2.446912 (textbook algebra), where chi-squared has 3.8415.
    let sample: Vec<IntervalObservation> = FRAME.map(IntervalObservation::failure).to_vec();
    let fit = strength_fit(&NORMAL, &sample).unwrap();
    let seen = |_: usize, strength: f64| IntervalObservation::failure(strength);
    let mut draws = Draws::new(5, "calibration");
    let mut uniform = || draws.unit();
    let result = calibrate_quantile(&fit, 0.5, 0.95, &seen, 20_000, &mut uniform).unwrap();
    let exact = 7.0 * (1.0 + 2.446912_f64.powi(2) / 6.0).ln();
    // A quantile of 20 000 at 2.5 % is uncertain by some 3 % of the fall.
    relative(result.below, exact, 0.08);
    relative(result.above, exact, 0.08);
    let limits = result.limits.closed().unwrap();
    let (mean, half) = (153.7 / 7.0, 2.446912 * 1.5638467592 / 7f64.sqrt());
    relative(limits.lower, mean - half, 0.005);
    relative(limits.upper, mean + half, 0.005);
}

#[test]
fn groups_by_the_likelihood_ratio() {
    let (treated, control) = gehan();
    let a: Vec<IntervalObservation> = treated.iter().map(|&o| o.into()).collect();
    let b: Vec<IntervalObservation> = control.iter().map(|&o| o.into()).collect();
    for model in [&WEIBULL, &LOGNORMAL] {
        let expected = |what: &str| outside(&format!("lifelines/gehan/{}/{what}", model.name));
        let test = compare_strengths(model, &[&a, &b]).unwrap();
        let [one, common, each] = test.ln_likelihood;
        printed(one, expected("one"), 5);
        printed(common, expected("common"), 5);
        printed(each, expected("each"), 5);
        relative(test.any_difference.chi_squared, 2.0 * (each - one), 1e-12);
        assert_eq!(
            (test.any_difference.dof, test.spread.dof, test.location.dof),
            (2, 1, 1)
        );
        // Two degrees of freedom: p = exp(-chi²/2).
        relative(
            test.any_difference.p,
            (-0.5 * test.any_difference.chi_squared).exp(),
            1e-9,
        );
    }
    // The Weibull test of location says nearly what the log-rank test does (16.79, published).
    let test = compare_strengths(&WEIBULL, &[&a, &b]).unwrap();
    let rank = logrank(&[&treated, &control]).unwrap();
    assert!((test.location.chi_squared - rank.chi_squared).abs() < 4.0);
    // Groups alike do not differ, whichever the order.
    let same = compare_strengths(&NORMAL, &[&steps(), &steps(), &steps()]).unwrap();
    assert!(same.any_difference.chi_squared < 1e-8 && same.any_difference.p > 0.999);
    let fit = strength_fit(&NORMAL, &steps()).unwrap();
    relative(same.common_spread, fit.location_and_spread().1, 1e-7);
    relative(same.locations[2], fit.location_and_spread().0, 1e-7);
    assert!(compare_strengths(&NORMAL, &[&a]).is_err());
    let none = [IntervalObservation::censored(26.0); 4];
    assert!(compare_strengths(&NORMAL, &[&a, &none]).is_err());
    assert!(read("stats", "SOURCE.md").contains("outside_values.csv"));
}
