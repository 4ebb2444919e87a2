//! Circles and ellipses through an outline as results carry them.

use super::{close, expected, noise, points};
use hooptrace::measure::measure_outline;
use hooptrace::recording::OutlineFit;
use std::collections::BTreeMap;
use std::f64::consts::TAU;

fn diameter(fit: &OutlineFit) -> f64 {
    fit.largest_diameter.value.unwrap()
}

fn rms(fit: &OutlineFit) -> f64 {
    fit.rms_residual.value.unwrap()
}

/// An outline of the data.
struct Case {
    name: String,
    want: BTreeMap<String, f64>,
    fits: BTreeMap<String, OutlineFit>,
}

/// Outlines whose points all lie on one curve: their fits by the names they have in `expected.csv`.
fn measured(kind: &str) -> Vec<Case> {
    expected(kind)
        .into_iter()
        .filter_map(|(name, (file, want))| {
            let points = points(&file);
            let section = measure_outline(&points, None).ok()?;
            let whole = section.smooth.used == points.len();
            whole.then_some(Case {
                name,
                want,
                fits: section.fits,
            })
        })
        .collect()
}

/// The values of `circle_fits`, as diameters and root mean square distances (`tests/data/geometry/SOURCE.md`).
#[test]
fn circles_of_an_outline() {
    let cases = measured("circle-");
    for Case { name, want, fits } in &cases {
        for (fit, key) in [
            ("circle_algebraic", "taubin"),
            ("circle_hyper", "hyper"),
            ("circle_geometric", "geometric"),
        ] {
            let said = &fits[fit];
            close(diameter(said), 2.0 * want[&format!("{key}.r")], 1e-9, name);
            if let Some(want) = want.get(&format!("{key}.rms")) {
                close(rms(said), *want, 1e-9, name);
            }
            assert!(said.smallest_diameter.is_none());
            let u = said.largest_diameter.u;
            assert!(u.is_some() || said.largest_diameter.reason.is_some());
        }
    }
    let names: Vec<&String> = cases.iter().map(|case| &case.name).collect();
    assert!(names.len() >= 3, "{names:?}");
}

/// The values of `ellipse_fits`, as longest and shortest diameter, and the norm of the distances as their root mean square.
#[test]
fn ellipses_of_an_outline() {
    let cases = measured("ellipse-");
    for Case { name, want, fits } in &cases {
        for (fit, key, tolerance) in [
            ("ellipse_direct", "direct", 1e-8),
            ("ellipse_geometric", "geometric", 1e-7),
        ] {
            let said = &fits[fit];
            let smallest = said.smallest_diameter.as_ref().unwrap();
            let [a, b] = ["a", "b"].map(|axis| 2.0 * want[&format!("{key}.{axis}")]);
            close(diameter(said), a, tolerance, name);
            close(smallest.value.unwrap(), b, tolerance, name);
        }
        assert!(rms(&fits["ellipse_geometric"]) <= rms(&fits["ellipse_direct"]) * (1.0 + 1e-9));
    }
    let names: Vec<&String> = cases.iter().map(|case| &case.name).collect();
    assert!(names.len() >= 2, "{names:?}");
}

/// Of 24 × 20 mm with a speck: the speck is left out, the ellipse is found, and a circle leaves the second harmonic: radius 11 + cos 2t at
/// the first order, so the points stand off by 1/√2 mm in the root mean square.
#[test]
fn specks_are_left_out_and_the_residual_tells_the_form() {
    let deviates = noise(240, 0.005);
    let mut points: Vec<(f64, f64)> = (0..240)
        .map(|i| {
            let t = f64::from(i) / 240.0 * TAU;
            let off = deviates[i as usize];
            ((12.0 + off) * t.cos(), (10.0 + off) * t.sin())
        })
        .collect();
    points[17].0 += 2.5;
    let section = measure_outline(&points, None).unwrap();
    assert_eq!(section.smooth.outliers, 1);
    let ellipse = &section.fits["ellipse_geometric"];
    let smallest = ellipse.smallest_diameter.as_ref().unwrap();
    for (said, truth) in [(&ellipse.largest_diameter, 24.0), (smallest, 20.0)] {
        let (value, u) = said.pair().unwrap();
        assert!((value - truth).abs() < 4.0 * u && u < 0.003, "{said:?}");
    }
    assert!((0.003..0.008).contains(&rms(ellipse)), "{}", rms(ellipse));
    let off = rms(&section.fits["circle_geometric"]);
    assert!((off - 0.5_f64.sqrt()).abs() < 0.03, "{off}");
    let direct = &section.fits["ellipse_direct"].largest_diameter;
    assert!(direct.u.is_none() && direct.reason.as_ref().unwrap().contains("algebraic"));
}

/// 25 000 points are fitted by every third of them, and the fit says how many.
#[test]
fn a_long_outline_is_thinned() {
    let points: Vec<(f64, f64)> = (0..25_000)
        .map(|i| {
            let t = f64::from(i) / 25_000.0 * TAU;
            let r = 10.0 + 0.01 * (40.0 * t).sin();
            (r * t.cos(), r * t.sin())
        })
        .collect();
    let fits = measure_outline(&points, None).unwrap().fits;
    let circle = &fits["circle_geometric"];
    assert!((diameter(circle) - 20.0).abs() < 1e-4);
    assert!(
        circle.rms_residual.method.contains("8334 points"),
        "{:?}",
        circle.rms_residual
    );
}
