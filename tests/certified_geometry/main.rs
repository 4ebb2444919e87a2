//! Geometry against published and independently computed values; sources in `tests/data/geometry/SOURCE.md`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod outline_fits;
mod outlines;
mod uncertainty;

use hooptrace::measure::geometry::{
    Circle, Ellipse, GeometryError, Outline, SmoothOutline, area_diameter, circle_area,
    eccentricity_index, fit_circle, fit_circle_algebraic, fit_circle_hyper, fit_ellipse,
    fit_ellipse_algebraic, ovality, perimeter_diameter,
};
use std::collections::BTreeMap;
use std::f64::consts::TAU;

fn close(got: f64, want: f64, relative: f64, what: &str) {
    assert!(
        (got - want).abs() <= relative * want.abs().max(1e-3),
        "{what}: got {got:.15}, expected {want:.15}"
    );
}

fn data(file: &str) -> String {
    let path = format!("{}/tests/data/geometry/{file}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

fn points(file: &str) -> Vec<(f64, f64)> {
    data(file)
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| {
            let (x, y) = line.split_once(',').unwrap();
            (x.parse().unwrap(), y.parse().unwrap())
        })
        .collect()
}

/// Case -> (file, quantity -> value).
fn expected(kind: &str) -> BTreeMap<String, (String, BTreeMap<String, f64>)> {
    let mut cases = BTreeMap::new();
    for line in data("expected.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if cells[0].starts_with(kind) {
            let case = cases
                .entry(cells[0].to_owned())
                .or_insert_with(|| (cells[1].to_owned(), BTreeMap::new()));
            case.1
                .insert(cells[2].to_owned(), cells[3].parse().unwrap());
        }
    }
    assert!(!cases.is_empty());
    cases
}

fn check_circle(name: &str, circle: Circle, want: &BTreeMap<String, f64>, fit: &str) {
    // Centres near 0 are judged beside the radius.
    let r = want[&format!("{fit}.r")];
    close(circle.radius_mm, r, 1e-9, name);
    for (got, key) in [(circle.center_mm.0, "cx"), (circle.center_mm.1, "cy")] {
        let difference = (got - want[&format!("{fit}.{key}")]).abs();
        assert!(difference <= 1e-9 * r, "{name} {key}: off by {difference}");
    }
}

#[test]
fn circle_fits() {
    let (mut checked, mut hyper) = (0, 0);
    for (name, (file, want)) in expected("circle-") {
        let points = points(&file);
        if name == "circle-chernov_w5" {
            // No circle of finite size is best: never a silent huge radius.
            assert!(matches!(
                fit_circle(&points),
                Err(GeometryError::NoFit { .. })
            ));
            continue;
        }
        if want.contains_key("taubin.r") {
            let circle = fit_circle_algebraic(&points).unwrap();
            check_circle(&name, circle, &want, "taubin");
        }
        if want.contains_key("hyper.r") {
            check_circle(&name, fit_circle_hyper(&points).unwrap(), &want, "hyper");
            hyper += 1;
        }
        let fit = fit_circle(&points).unwrap();
        check_circle(&name, fit.circle, &want, "geometric");
        close(fit.rms_mm + 1.0, want["geometric.rms"] + 1.0, 1e-9, &name);
        checked += 1;
    }
    assert_eq!((checked, hyper), (8, 8));
}

/// The uncertainty of the radius of `circle_full60` (noise sd 0.05, 60 points all around): sd/√n by theory.
#[test]
fn circle_uncertainty() {
    let fit = fit_circle(&points("circle_full60.csv")).unwrap();
    let theory = 0.05 / 60.0_f64.sqrt();
    assert!(
        (fit.u_radius_mm / theory - 1.0).abs() < 0.3,
        "{} against {theory}",
        fit.u_radius_mm
    );
    assert!((fit.circle.radius_mm - 5.5).abs() < 3.0 * fit.u_radius_mm);
    assert!(
        fit_circle(&points("circle_exact3.csv"))
            .unwrap()
            .u_radius_mm
            .is_infinite()
    );
}

fn check_ellipse(name: &str, got: Ellipse, want: &BTreeMap<String, f64>, fit: &str, tol: f64) {
    let a = want[&format!("{fit}.a")];
    for (value, key) in [
        (got.center_mm.0, "cx"),
        (got.center_mm.1, "cy"),
        (got.semi_major_mm, "a"),
        (got.semi_minor_mm, "b"),
    ] {
        let difference = (value - want[&format!("{fit}.{key}")]).abs();
        assert!(
            difference <= tol * a,
            "{name} {fit} {key}: {value} off by {difference}"
        );
    }
    let angle = got.angle_rad - want[&format!("{fit}.angle")];
    assert!(
        angle.abs() <= 10.0 * tol,
        "{name} {fit}: angle off by {angle}"
    );
}

#[test]
fn ellipse_fits() {
    let cases = expected("ellipse-");
    assert_eq!(cases.len(), 6);
    for (name, (file, want)) in cases {
        let points = points(&file);
        let direct = fit_ellipse_algebraic(&points).unwrap();
        check_ellipse(&name, direct, &want, "direct", 1e-8);
        let fit = fit_ellipse(&points).unwrap();
        check_ellipse(&name, fit.ellipse, &want, "geometric", 1e-7);
        close(
            fit.residual_norm_mm,
            want["geometric.residual_norm"],
            1e-6,
            &name,
        );
    }
}

#[test]
fn polygons() {
    let cases = expected("polygon-");
    assert_eq!(cases.len(), 7);
    for (name, (file, want)) in cases {
        let outline = Outline::new(&points(&file)).unwrap();
        outline.check_simple().unwrap();
        close(outline.signed_area(), want["signed_area"], 1e-12, &name);
        close(outline.perimeter(), want["perimeter"], 1e-12, &name);
        let (x, y) = outline.centroid();
        assert!((x - want["centroid_x"]).abs() < 1e-9, "{name}: {x}");
        assert!((y - want["centroid_y"]).abs() < 1e-9, "{name}: {y}");
        let feret = outline.feret();
        close(feret.max_mm, want["feret_max"], 1e-11, &name);
        close(feret.min_mm, want["feret_min"], 1e-9, &name);
        close(
            feret.mean_mm,
            want["convex_hull_perimeter"] / std::f64::consts::PI,
            1e-11,
            &name,
        );
    }
}

/// A circle of radius 10 with 100 points and noise of 0.5: the essential bias of the radius is 0 for the hyper-accurate fit, σ²/2R = 0.0125 for the
/// geometric and σ²/R = 0.025 for Taubin's (Al-Sharadqah and Chernov, Electronic Journal of Statistics 2009, 3:886).
#[test]
fn the_hyper_accurate_fit_has_no_essential_bias() {
    let (trials, n) = (4000, 100);
    let deviates = noise(2 * trials * n, 0.5);
    let mut bias = [0.0; 3];
    for noise in deviates.chunks(2 * n) {
        let points: Vec<(f64, f64)> = (0..n)
            .map(|i| {
                let t = i as f64 / n as f64 * TAU;
                (
                    10.0 * t.cos() + noise[2 * i],
                    10.0 * t.sin() + noise[2 * i + 1],
                )
            })
            .collect();
        for (bias, radius) in bias.iter_mut().zip([
            fit_circle_hyper(&points).unwrap().radius_mm,
            fit_circle(&points).unwrap().circle.radius_mm,
            fit_circle_algebraic(&points).unwrap().radius_mm,
        ]) {
            *bias += (radius - 10.0) / trials as f64;
        }
    }
    // Standard deviation of a mean radius: 0.5/√(100 × 4000) = 0.0008.
    for (bias, theory) in bias.iter().zip([0.0, 0.0125, 0.025]) {
        assert!((bias - theory).abs() < 0.003, "{bias} against {theory}");
    }
}

/// Lattice points of discs (`tests/data/image/gauss_circle.csv`, OEIS A000328) by Pick's theorem from the convex hull: N = A + B/2 + 1, B the
/// lattice points on its sides.
#[test]
fn hulls_hold_the_lattice_points_of_discs() {
    fn divisor(a: i64, b: i64) -> i64 {
        if b == 0 { a.abs() } else { divisor(b, a % b) }
    }
    let path = format!(
        "{}/tests/data/image/gauss_circle.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let mut checked = 0;
    for line in std::fs::read_to_string(path).unwrap().lines().skip(2) {
        let (r, count) = line.split_once(',').unwrap();
        let (r, count): (i64, f64) = (r.parse().unwrap(), count.parse().unwrap());
        let square = (-r..=r).flat_map(|x| (-r..=r).map(move |y| (x, y)));
        let disc: Vec<(f64, f64)> = square
            .filter(|(x, y)| x * x + y * y <= r * r)
            .map(|(x, y)| (x as f64, y as f64))
            .collect();
        let hull = Outline::new(&Outline::new(&disc).unwrap().convex_hull()).unwrap();
        let on_sides: i64 = hull
            .sides()
            .map(|((x1, y1), (x2, y2))| divisor((x2 - x1) as i64, (y2 - y1) as i64))
            .sum();
        close(
            hull.area() + on_sides as f64 / 2.0 + 1.0,
            count,
            1e-12,
            line,
        );
        // The farthest points are r from the centre, on both axes.
        let around = hull.smallest_circumscribed_circle();
        close(around.radius_mm, r as f64, 1e-12, "circumscribed");
        checked += 1;
    }
    assert!(checked >= 10, "{checked}");
}

/// Circle areas to the printed digits (π D²/4).
#[test]
fn circle_areas() {
    for (d, area) in [
        (17.0, 226.980),
        (19.0, 283.529),
        (20.0, 314.159),
        (21.0, 346.361),
        (22.5, 397.608),
        (23.0, 415.476),
    ] {
        assert!((circle_area(d) - area).abs() < 6e-4);
        close(area_diameter(circle_area(d)), d, 1e-14, "D_A");
    }
    assert!((circle_area(22.0) / circle_area(19.0) - 1.34072).abs() < 5e-6);
    // 492.12 mm² and 80.1 mm as printed for a CT series.
    assert!((area_diameter(492.12) - 25.0317).abs() < 5e-5);
    assert!((perimeter_diameter(80.1) - 25.4966).abs() < 5e-5);
}

fn ring(n: usize, radius: impl Fn(f64) -> (f64, f64)) -> Vec<(f64, f64)> {
    (0..n).map(|i| radius(i as f64 * TAU / n as f64)).collect()
}

/// Ellipse 24 × 20 mm: A 376.99112, P 69.257912 (elliptic integral), D_A 21.908902, D_P 22.045478, D_mean 22, EI 1/6.
#[test]
fn ellipse_section() {
    let ellipse = Ellipse {
        center_mm: (0.0, 0.0),
        semi_major_mm: 12.0,
        semi_minor_mm: 10.0,
        angle_rad: 0.0,
    };
    assert!((ellipse.area() - 376.991_12).abs() < 5e-6);
    assert!((ellipse.perimeter() - 69.257_912).abs() < 5e-7);
    assert!((area_diameter(ellipse.area()) - 21.908_902).abs() < 5e-7);
    assert!((perimeter_diameter(ellipse.perimeter()) - 22.045_478).abs() < 5e-7);
    assert!((ellipse.mean_diameter() - 22.0).abs() < 1e-12);
    assert!((ellipse.eccentricity_index() - 0.166_666_7).abs() < 1e-6);
    assert!((eccentricity_index(24.0, 20.0) - 1.0 / 6.0).abs() < 1e-12);
    assert!((ovality(24.0, 20.0) - 0.181_818).abs() < 5e-7);

    // The same figure traced far from the origin, as a polygon and as a smooth curve.
    let traced = ring(720, |t| (1234.5 + 12.0 * t.cos(), -678.9 + 10.0 * t.sin()));
    let outline = Outline::new(&traced).unwrap();
    assert!((outline.area() - 376.991_12).abs() < 0.01);
    assert!((outline.perimeter() - 69.257_912).abs() < 0.001);
    let smooth = SmoothOutline::fit(&outline).unwrap();
    assert!((smooth.area().0 - 376.991_12).abs() < 1e-3, "{smooth:?}");
    assert!((smooth.perimeter().0 - 69.257_912).abs() < 1e-3);
    let circle = outline.largest_inscribed_circle().unwrap();
    assert!((circle.diameter_mm - 20.0).abs() < 1e-3);
    assert!(circle.diameter_bound_mm - circle.diameter_mm < 2e-4);
    let (max, min) = smooth.extreme_two_point_diameters();
    assert!((max - 24.0).abs() < 2e-3 && (min - 20.0).abs() < 2e-3);
}

/// Degenerate ellipses: a circle and a flat one (perimeter 4a); Abramowitz and Stegun table 17.1: E(m = 0.5) = 1.350643881.
#[test]
fn ellipse_perimeter_limits() {
    let perimeter = |a: f64, b: f64| {
        Ellipse {
            center_mm: (0.0, 0.0),
            semi_major_mm: a,
            semi_minor_mm: b,
            angle_rad: 0.0,
        }
        .perimeter()
    };
    close(perimeter(7.0, 7.0), 7.0 * TAU, 1e-15, "circle");
    close(perimeter(3.0, 0.0), 12.0, 1e-15, "flat");
    close(
        perimeter(1.0, 0.5_f64.sqrt()),
        4.0 * 1.350_643_881,
        1e-9,
        "E(0.5)",
    );
}

/// A three-lobed ring r = 10 + 0.3 cos 3t mm: every two-point diameter is 20.00 mm, yet only a plug of 19.40 mm passes.
#[test]
fn three_lobed_ring() {
    let traced = ring(3600, |t| {
        let r = 10.0 + 0.3 * (3.0 * t).cos();
        (r * t.cos(), r * t.sin())
    });
    let outline = Outline::new(&traced).unwrap();
    let smooth = SmoothOutline::fit(&outline).unwrap();
    for i in 0..180 {
        let d = smooth.two_point_diameter(f64::from(i).to_radians());
        assert!((d - 20.0).abs() < 1e-6, "{d}");
    }
    assert!((smooth.amplitude(3) - 0.3).abs() < 1e-9);
    let plug = outline.largest_inscribed_circle().unwrap();
    assert!((plug.diameter_mm - 19.40).abs() < 2e-4, "{plug:?}");
    // Area of r(θ): π (r₀² + a²/2).
    close(
        smooth.area().0,
        std::f64::consts::PI * (100.0 + 0.045),
        1e-9,
        "area",
    );
}

/// Normal deviates without a library: Box–Muller on a linear congruential sequence (Knuth's MMIX constants).
fn noise(n: usize, sd: f64) -> Vec<f64> {
    let mut state = 20_240_611_u64;
    let mut uniform = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    (0..n)
        .map(|_| sd * (-2.0 * uniform().ln()).sqrt() * (TAU * uniform()).cos())
        .collect()
}

/// A noisy traced ring with specks and a missing arc: the raw perimeter is far too long, the smooth one right within its
/// uncertainty, and that uncertainty is not inflated.
#[test]
fn noisy_outlines() {
    let (r0, a2, a3, n) = (11.0, 0.2, 0.1, 500);
    let truth_area = std::f64::consts::PI * (r0 * r0 + f64::midpoint(a2 * a2, a3 * a3));
    let deviates = noise(200 * n, 0.03);
    let mut scores = Vec::new();
    for (trial, noise) in deviates.chunks(n).enumerate() {
        let mut traced: Vec<_> = (0..n)
            .filter(|i| !(200..220).contains(i))
            .map(|i| {
                let t = i as f64 * TAU / n as f64;
                let speck = if i % 83 == 7 { 1.5 } else { 0.0 };
                let r = r0 + a2 * (2.0 * t + 0.4).cos() + a3 * (3.0 * t).sin() + noise[i] - speck;
                (5.0 + r * t.cos(), 7.0 + r * t.sin())
            })
            .collect();
        if trial % 2 == 1 {
            traced.reverse();
        }
        let outline = Outline::new(&traced).unwrap();
        let smooth = SmoothOutline::fit(&outline).unwrap();
        // Six specks; of 100 000 good points the cut loses one or two.
        assert!((6..=7).contains(&smooth.outliers), "{smooth:?}");
        assert!((14.0..17.0).contains(&smooth.widest_gap_deg));
        let (area, u) = smooth.area();
        scores.push((area - truth_area) / u);
        assert!(outline.perimeter() > smooth.perimeter().0 + 5.0);
    }
    let rms = (scores.iter().map(|z| z * z).sum::<f64>() / scores.len() as f64).sqrt();
    assert!((0.8..1.2).contains(&rms), "rms of error/u {rms}");
    let within = scores.iter().filter(|z| z.abs() <= 2.0).count();
    assert!(within >= 180, "{within} of 200 within 2 u");
}

/// Not an outline seen from inside: typed errors, never a number.
#[test]
fn refusals() {
    let arc: Vec<_> = (0..40)
        .map(|i| {
            let t = f64::from(i) * 0.05;
            (10.0 * t.cos(), 10.0 * t.sin())
        })
        .collect();
    let fit = SmoothOutline::fit(&Outline::new(&arc).unwrap());
    assert!(matches!(fit, Err(GeometryError::NoFit { .. })), "{fit:?}");
    assert!(matches!(
        fit_ellipse(&arc[..4]),
        Err(GeometryError::TooFewPoints { .. })
    ));
    assert_eq!(
        fit_circle(&[(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]),
        Err(GeometryError::Collinear)
    );
    assert!(matches!(
        fit_circle(&[(0.0, 0.0), (f64::INFINITY, 1.0), (2.0, 2.0)]),
        Err(GeometryError::NotFinite { index: 1 })
    ));
}

/// Whatever the numbers, every function returns: huge, tiny, doubled, spiked and random outlines.
#[test]
fn nothing_panics() {
    let deviates = noise(4000, 1.0);
    let mut cases: Vec<Vec<(f64, f64)>> = [1e-300, 1e-9, 1.0, 1e9, 1e150, 1e308]
        .iter()
        .map(|scale| ring(50, |t| (scale * t.cos(), scale * t.sin())))
        .collect();
    cases.push(ring(60, |t| ((2.0 * t).cos(), (2.0 * t).sin())));
    cases.push(ring(60, |t| (t.cos(), (2.0 * t).sin())));
    for size in [3, 4, 8, 9, 40, 400] {
        cases.push(
            deviates[..2 * size]
                .chunks(2)
                .map(|pair| (pair[0], pair[1]))
                .collect(),
        );
    }
    let mut measured = 0;
    for case in &cases {
        let _ = (fit_circle(case), fit_ellipse(case));
        if let Ok(outline) = Outline::new(case) {
            let _ = (outline.check_simple(), outline.largest_inscribed_circle());
            let _ = (outline.area(), outline.centroid(), outline.feret());
            measured += usize::from(SmoothOutline::fit(&outline).is_ok());
        }
    }
    assert!(measured >= 3, "{measured}");
}
