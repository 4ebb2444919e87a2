//! Outlines as a lab hands them over: what is said of them, and what follows from them.

use super::{noise, ring};
use hooptrace::measure::geometry::{Outline, SmoothOutline};
use hooptrace::measure::measure_outline;
use hooptrace::recording::Severity;
use std::f64::consts::{PI, TAU};

/// A traced ring of radius 10 with noise of 0.01 mm.
fn traced(n: usize) -> Vec<(f64, f64)> {
    let noise = noise(n, 0.01);
    (0..n)
        .map(|i| {
            let t = i as f64 * TAU / n as f64;
            let r = 10.0 + noise[i];
            (r * t.cos(), r * t.sin())
        })
        .collect()
}

fn codes(points: &[(f64, f64)]) -> Vec<String> {
    let found = measure_outline(points, None).unwrap().findings;
    assert!(
        found.iter().all(|f| f.severity == Severity::Note),
        "{found:?}"
    );
    found.into_iter().map(|f| f.code).collect()
}

/// Every doubt by itself, on an outline that is otherwise clean.
#[test]
fn each_flaw_of_an_outline_is_told() {
    let clean = traced(200);
    assert!(codes(&clean).is_empty());
    let mut closed = clean.clone();
    closed.push(clean[0]);
    assert_eq!(codes(&closed), ["outline-closing-point"]);
    let mut repeated = clean.clone();
    repeated.insert(7, clean[6]);
    repeated.insert(50, repeated[49]);
    assert_eq!(codes(&repeated), ["outline-repeated-points"]);
    let mut speck = clean.clone();
    speck[20].0 *= 1.2;
    speck[20].1 *= 1.2;
    assert_eq!(codes(&speck), ["outline-outliers"]);
    let mut gap = clean.clone();
    gap.drain(30..40);
    assert_eq!(codes(&gap), ["outline-gap"]);
    let mut crossing = clean.clone();
    crossing.swap(60, 61);
    assert_eq!(codes(&crossing), ["outline-crosses-itself"]);
    // Twelve points are coarse, not broken.
    assert!(codes(&traced(12)).is_empty());
    // What is dropped moves nothing.
    let area = |points: &[(f64, f64)]| measure_outline(points, None).unwrap().area.value.unwrap();
    assert!((area(&closed) - area(&clean)).abs() < 1e-12);
    assert!((area(&repeated) - area(&clean)).abs() < 1e-12);
}

/// r = 10 + 0.3 cos 3t mm: every two-point diameter 20.00 mm, inscribed 19.40 mm, circumscribed 20.60 mm, amplitude 0.30 mm by definition.
#[test]
fn three_lobes_have_an_amplitude() {
    let points = ring(1200, |t| {
        let r = 10.0 + 0.3 * (3.0 * t).cos();
        (r * t.cos(), r * t.sin())
    });
    let section = measure_outline(&points, Some(0.001)).unwrap();
    let near = |quantity: &hooptrace::uncertain::Quantity, truth: f64, tolerance: f64| {
        let value = quantity.value.unwrap();
        assert!((value - truth).abs() <= tolerance, "{quantity:?} {truth}");
    };
    near(&section.three_lobe_amplitude, 0.3, 1e-9);
    near(&section.max_two_point_diameter, 20.0, 1e-6);
    near(&section.min_two_point_diameter, 20.0, 1e-6);
    near(&section.largest_inscribed_circle, 19.40, 2e-4);
    near(&section.smallest_circumscribed_circle, 20.60, 2e-4);
    // The scale moves an amplitude as it does any length.
    let u = section.three_lobe_amplitude.u.unwrap();
    assert!((u - 0.0003).abs() < 1e-6, "{u}");
    // Too few points for three waves.
    let few = measure_outline(&traced(12), None).unwrap();
    assert!(few.three_lobe_amplitude.u.is_some() || few.three_lobe_amplitude.reason.is_some());
}

/// Smallest circles by plane geometry: of an acute triangle the circle through its corners (side a: 2a/√3), of an obtuse one that on the longest
/// side, of a rectangle that on its diagonal, of an ellipse that on its long axis.
#[test]
fn circles_around() {
    let around = |points: &[(f64, f64)]| {
        let circle = Outline::new(points)
            .unwrap()
            .smallest_circumscribed_circle();
        2.0 * circle.radius_mm
    };
    let far = 1e5;
    let equilateral = [
        (far, far),
        (far + 6.0, far),
        (far + 3.0, far + 27.0_f64.sqrt()),
    ];
    assert!((around(&equilateral) - 12.0 / 3.0_f64.sqrt()).abs() < 1e-9);
    assert!((around(&[(0.0, 0.0), (10.0, 0.0), (5.0, 1.0)]) - 10.0).abs() < 1e-12);
    assert!((around(&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)]) - 5.0).abs() < 1e-12);
    let ellipse = ring(720, |t| (12.0 * t.cos(), 10.0 * t.sin()));
    assert!((around(&ellipse) - 24.0).abs() < 1e-9);
    // Clouds: the circle holds every point, and none through two or three of them that does is smaller.
    let deviates = noise(2 * 9 * 60, 5.0);
    for cloud in deviates.chunks(18) {
        let points: Vec<(f64, f64)> = cloud.chunks(2).map(|p| (p[0], p[1])).collect();
        let circle = Outline::new(&points)
            .unwrap()
            .smallest_circumscribed_circle();
        let out = |center: (f64, f64)| {
            points
                .iter()
                .map(|p| (p.0 - center.0).hypot(p.1 - center.1))
                .fold(0.0, f64::max)
        };
        assert!(out(circle.center_mm) <= circle.radius_mm * (1.0 + 1e-9));
        // Moving the centre anywhere makes it larger.
        for i in 0..32 {
            let t = f64::from(i) * TAU / 32.0;
            let moved = (
                circle.center_mm.0 + 1e-3 * t.cos(),
                circle.center_mm.1 + 1e-3 * t.sin(),
            );
            assert!(out(moved) > circle.radius_mm, "{circle:?}");
        }
    }
}

/// A ring of radius 11 with a gap of 30°: chord 22 sin 15° = 5.694 mm, arc 11 × 330° = 63.355 mm by definition.
#[test]
fn a_gap_has_a_chord_and_leaves_an_arc() {
    let (n, from, to) = (720, 100, 160);
    let noise = noise(n, 0.02);
    let points: Vec<(f64, f64)> = (0..n)
        .filter(|i| !(from + 1..to).contains(i))
        .map(|i| {
            let t = i as f64 * TAU / n as f64;
            let r = 11.0 + noise[i];
            (3.0 + r * t.cos(), r * t.sin() - 2.0)
        })
        .collect();
    let section = measure_outline(&points, None).unwrap();
    let gap = section.gap.unwrap();
    for (quantity, truth) in [
        (&gap.chord, 22.0 * (PI / 12.0).sin()),
        (&gap.material_arc, 11.0 * TAU * 330.0 / 360.0),
    ] {
        let (value, u) = quantity.pair().unwrap();
        assert!(
            (value - truth).abs() < 3.0 * u && u < 0.06,
            "{quantity:?} {truth}"
        );
    }
    assert!(measure_outline(&traced(200), None).unwrap().gap.is_none());
    // Arcs of an exact circle.
    let circle = ring(360, |t| (5.0 * t.cos(), 5.0 * t.sin()));
    let smooth = SmoothOutline::fit(&Outline::new(&circle).unwrap()).unwrap();
    assert!((smooth.arc(1.0, 2.5).0 - 7.5).abs() < 1e-6);
    assert!((smooth.arc(0.0, TAU).0 - smooth.perimeter().0).abs() < 1e-6);
}
