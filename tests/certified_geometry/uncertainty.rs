//! Whether twice the standard uncertainty of an outline's figures holds their truth.

use super::noise;
use hooptrace::measure::geometry::{
    Figures, Outline, RESAMPLINGS, fit_circle, fit_circle_hyper, fit_ellipse, resample,
};
use hooptrace::measure::{SectionMeasure, measure_outline};
use hooptrace::uncertain::{Draws, Quantity};
use std::f64::consts::{PI, TAU};

/// Outlines traced.
const OUTLINES: usize = 1000;
/// Points of each.
const POINTS: usize = 240;
/// Correlation of neighbouring points, as on the edge of a photograph.
const CORRELATION: f64 = 0.5;
/// Their standard deviation, mm.
const NOISE_MM: f64 = 0.03;
/// Relative standard uncertainty of the scale, drawn anew for each.
const SCALE: f64 = 5e-4;

/// Oval and three-lobed.
fn radius(t: f64) -> f64 {
    10.5 + 0.25 * (2.0 * t + 0.4).cos() + 0.15 * (3.0 * t).cos()
}

fn outline(n: usize, r: impl Fn(usize, f64) -> f64) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            let t = i as f64 * TAU / n as f64;
            let r = r(i, t);
            (r * t.cos(), r * t.sin())
        })
        .collect()
}

type Pick = (&'static str, fn(&SectionMeasure) -> &Quantity, f64);

/// Truths by a polygon of 20 000 corners, for fits those of its corners; area and amplitude by the integral of r².
fn truths() -> Vec<Pick> {
    let fine = Outline::new(&outline(20_000, |_, t| radius(t))).unwrap();
    let area = PI * (10.5 * 10.5 + f64::midpoint(0.25 * 0.25, 0.15 * 0.15));
    assert!((fine.area() / area - 1.0).abs() < 1e-6);
    let feret = fine.feret();
    let ellipse = fit_ellipse(fine.points()).unwrap().ellipse;
    vec![
        ("area", |s| &s.area, area),
        (
            "area diameter",
            |s| &s.area_diameter,
            2.0 * (area / PI).sqrt(),
        ),
        ("perimeter", |s| &s.perimeter, fine.perimeter()),
        ("mean two-point", |s| &s.mean_two_point_diameter, 21.0),
        ("largest two-point", |s| &s.max_two_point_diameter, 21.5),
        ("smallest two-point", |s| &s.min_two_point_diameter, 20.5),
        (
            "inscribed",
            |s| &s.largest_inscribed_circle,
            fine.largest_inscribed_circle().unwrap().diameter_mm,
        ),
        (
            "circumscribed",
            |s| &s.smallest_circumscribed_circle,
            2.0 * fine.smallest_circumscribed_circle().radius_mm,
        ),
        ("feret max", |s| &s.feret_max, feret.max_mm),
        ("feret min", |s| &s.feret_min, feret.min_mm),
        ("three lobes", |s| &s.three_lobe_amplitude, 0.15),
        (
            "circle",
            |s| &s.fits["circle_geometric"].largest_diameter,
            2.0 * fit_circle(fine.points()).unwrap().circle.radius_mm,
        ),
        (
            "hyper circle",
            |s| &s.fits["circle_hyper"].largest_diameter,
            2.0 * fit_circle_hyper(fine.points()).unwrap().radius_mm,
        ),
        (
            "ellipse, longest",
            |s| &s.fits["ellipse_geometric"].largest_diameter,
            2.0 * ellipse.semi_major_mm,
        ),
        (
            "ellipse, shortest",
            |s| {
                let fit = &s.fits["ellipse_geometric"];
                fit.smallest_diameter.as_ref().unwrap()
            },
            2.0 * ellipse.semi_minor_mm,
        ),
    ]
}

/// Neighbouring points share errors (first-order autoregression), and the scale is off: 93 to 97 % of a thousand intervals of ± 2 u hold the
/// truth, for every figure.
#[test]
fn intervals_of_outlines_hold_their_truth() {
    let truths = truths();
    let mut held = vec![0_usize; truths.len()];
    let white = noise(OUTLINES * (POINTS + 1), 1.0);
    for draws in white.chunks(POINTS + 1) {
        let mut errors = vec![NOISE_MM * draws[0]];
        for draw in &draws[1..POINTS] {
            let last = errors[errors.len() - 1];
            errors.push(CORRELATION * last + NOISE_MM * (1.0 - CORRELATION.powi(2)).sqrt() * draw);
        }
        let scale = 1.0 + SCALE * draws[POINTS];
        let points = outline(POINTS, |i, t| scale * (radius(t) + errors[i]));
        let section = measure_outline(&points, Some(SCALE)).unwrap();
        for (held, (_, pick, truth)) in held.iter_mut().zip(&truths) {
            let (value, u) = pick(&section).pair().unwrap();
            *held += usize::from((value - truth).abs() <= 2.0 * u);
        }
    }
    let shares: Vec<(&str, f64)> = truths
        .iter()
        .zip(held)
        .map(|((name, ..), held)| (*name, held as f64 / OUTLINES as f64))
        .collect();
    for (name, share) in &shares {
        assert!(
            (0.93..=0.97).contains(share),
            "{name}: {share} of {shares:?}"
        );
    }
}

/// Resampled standard uncertainties stand beside propagated ones as `src/measure/geometry/resample.rs` says, on average over outlines (each knows
/// the correlation of its residuals to about a tenth), and the same seed gives the same figures.
#[test]
fn resampling_stands_beside_propagation() {
    const TRACED: usize = 8;
    let draws = noise(TRACED * POINTS, 1.0);
    let mut ratios = [0.0; 7];
    for (at, draws) in draws.chunks(POINTS).enumerate() {
        let mut error = NOISE_MM * draws[0];
        let errors: Vec<f64> = draws
            .iter()
            .map(|draw| {
                error = CORRELATION * error + NOISE_MM * (1.0 - CORRELATION.powi(2)).sqrt() * draw;
                error
            })
            .collect();
        let points = outline(POINTS, |i, t| radius(t) + errors[i]);
        let section = measure_outline(&points, None).unwrap();
        let traced = Outline::new(&points).unwrap();
        let label = format!("outline {at}");
        let figures = resample(&traced, &mut Draws::new(1, &label)).unwrap();
        assert_eq!(figures.len(), RESAMPLINGS);
        if at == 0 {
            let again = resample(&traced, &mut Draws::new(1, &label)).unwrap();
            assert_eq!(figures, again);
        }
        let sd = |pick: fn(&Figures) -> f64| {
            let values: Vec<f64> = figures.iter().map(pick).collect();
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
            (squares / (values.len() - 1) as f64).sqrt()
        };
        for (ratio, (sd, quantity)) in ratios.iter_mut().zip([
            (sd(|f| f.area_diameter), &section.area_diameter),
            (sd(|f| f.perimeter_diameter), &section.perimeter_diameter),
            (sd(|f| f.mean_two_point), &section.mean_two_point_diameter),
            (sd(|f| f.inscribed), &section.largest_inscribed_circle),
            (
                sd(|f| f.circumscribed),
                &section.smallest_circumscribed_circle,
            ),
            (sd(|f| f.feret_max), &section.feret_max),
            (sd(|f| f.feret_min), &section.feret_min),
        ]) {
            *ratio += sd / quantity.u.unwrap() / TRACED as f64;
        }
    }
    for ratio in &ratios {
        assert!((0.6..1.1).contains(ratio), "{ratios:?}");
    }
}
