//! Which opening is taken, what is told of it, and what the light does to it.

use super::coverage::held;
use super::scene::{Chance, Scene, row, scale};
use hooptrace::measure::photograph::{leaflets, photograph};
use hooptrace::recording::{
    Finding, LeafletRow, OpeningSide, PhotographResult, PhotographRow, Picture, Severity, Stage,
    Tone,
};

fn measured(picture: Picture, row: &PhotographRow) -> (PhotographResult, Vec<Finding>) {
    let (found, findings) = photograph(picture, row, false);
    (found.unwrap_or_else(|| panic!("{findings:?}")), findings)
}

fn refused(picture: Picture, row: &PhotographRow) -> String {
    let (found, findings) = photograph(picture, row, false);
    assert!(found.is_none());
    let error = findings.iter().find(|f| f.severity == Severity::Error);
    let error = error.unwrap();
    assert_eq!(error.line, Some(2));
    assert_eq!(error.file.as_deref(), Some("images.csv"));
    assert_eq!(error.run_id.as_deref(), Some("f1"));
    error.code.clone()
}

fn told(findings: &[Finding], code: &str) -> bool {
    findings.iter().any(|f| f.code == code)
}

fn taken(scene: &Scene) -> Picture {
    scene.picture(&mut Chance::new(7))
}

/// Two pictures side by side.
fn beside(left: &Picture, right: &Picture) -> Picture {
    let mut grey = Vec::new();
    for y in 0..left.height {
        grey.extend_from_slice(left.row(y));
        grey.extend_from_slice(right.row(y));
    }
    Picture {
        width: left.width + right.width,
        grey,
        ..left.clone()
    }
}

fn near(found: &PhotographResult, scene: &Scene) {
    let (area, u) = found.area.pair().unwrap();
    let off = (area - scene.area()).abs();
    assert!(off < 3.0 * u, "{area} ± {u}, truth {}", scene.area());
    assert!(u < 0.01 * area, "{u} of {area}");
}

#[test]
fn a_dark_and_a_bright_opening_are_found_without_being_told() {
    for (inside, outside) in [(210.0, 30.0), (30.0, 210.0)] {
        let scene = Scene {
            inside,
            outside,
            depth: 0.15,
            ..Scene::default()
        };
        let (found, findings) = measured(taken(&scene), &row());
        assert_eq!(found.bright, inside > outside);
        near(&found, &scene);
        assert!(told(&findings, "photograph-no-scale"), "{findings:?}");
        assert_eq!(found.area.unit, "px2");
    }
}

#[test]
fn the_budget_names_what_contributes_and_adds_up() {
    let scene = Scene::default();
    let row = PhotographRow {
        scale: Some(scale(0.05, 1e-3)),
        ..row()
    };
    let (found, _) = measured(taken(&scene), &row);
    let (diameter, u) = found.area_diameter.pair().unwrap();
    assert!((diameter - 0.05 * scene.diameter()).abs() < 2.0 * u);
    assert_eq!(found.area.unit, "mm2");
    let names: Vec<&str> = found
        .budget
        .components
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    assert_eq!(
        names,
        [
            "scale of the image",
            "level of the outline",
            "grey noise at the edge",
            "pixel grid",
            "blur of a curved edge"
        ]
    );
    // A tenth of a percent of the scale hides everything else here: 6 mm times 0.001.
    assert!((found.budget.components[0].contribution() - 1e-3 * diameter).abs() < 1e-9);
    assert!((found.budget.combined() - u).abs() < 1e-12);
    assert!(found.budget.shares().iter().all(|share| *share > 0.0));
}

/// A curve that nobody declared may move the level as far as half the light lies from half the height.
#[test]
fn a_tone_curve_counts_where_it_is_declared_and_widens_where_it_is_not() {
    let scene = Scene {
        srgb: true,
        inside: 220.0,
        outside: 10.0,
        blur: 2.0,
        ..Scene::default()
    };
    let of = |tone| measured(taken(&scene), &PhotographRow { tone, ..row() }).0;
    let (right, silent, wrong) = (of(Tone::Srgb), of(Tone::Undeclared), of(Tone::Linear));
    near(&right, &scene);
    let ((area, u), (_, u_right)) = (silent.area.pair().unwrap(), right.area.pair().unwrap());
    assert!((area - scene.area()).abs() < 2.0 * u, "{area} ± {u}");
    assert!(u > 5.0 * u_right, "{u} {u_right}");
    let (area, u) = wrong.area.pair().unwrap();
    assert!(
        (area - scene.area()).abs() > 5.0 * u,
        "the curve does nothing here"
    );
}

#[test]
fn a_chosen_threshold_is_used_and_its_distance_from_half_the_height_counts() {
    let scene = Scene {
        blur: 2.0,
        ..Scene::default()
    };
    let at = |threshold| {
        let row = PhotographRow {
            threshold: Some(threshold),
            ..row()
        };
        measured(taken(&scene), &row).0
    };
    let (share, level) = (at(0.4), at(102.0));
    assert_eq!(share.level, 102.0);
    assert_eq!(share.area, level.area);
    // 18 of 160 levels below the middle of a bright opening: wider, and by less than it says.
    let (area, u) = level.area.pair().unwrap();
    assert!(
        area > scene.area() && area - scene.area() < 2.0 * u,
        "{area} ± {u}"
    );
    assert!(area - scene.area() > 20.0);
    assert_eq!(
        refused(
            taken(&scene),
            &PhotographRow {
                threshold: Some(300.0),
                ..row()
            }
        ),
        "value-out-of-range"
    );
}

#[test]
fn nothing_is_measured_where_there_is_no_whole_opening() {
    let flat = Picture {
        grey: vec![80; 200 * 200],
        ..taken(&Scene::default())
    };
    assert_eq!(refused(flat, &row()), "photograph-flat");
    let cut = Scene {
        centre: (150.0, 100.0),
        ..Scene::default()
    };
    assert_eq!(refused(taken(&cut), &row()), "photograph-cut-off");
    let small = Scene {
        radius: 4.0,
        ..Scene::default()
    };
    let code = refused(taken(&small), &row());
    assert!(
        ["photograph-cut-off", "photograph-no-opening"].contains(&code.as_str()),
        "{code}"
    );
    // Noise alone: whatever is found must be doubted or refused.
    let noise = Scene {
        inside: 100.0,
        outside: 100.0,
        noise: 20.0,
        ..Scene::default()
    };
    let (found, findings) = photograph(taken(&noise), &row(), false);
    let severe = findings.iter().any(|f| f.severity != Severity::Note);
    assert!(found.is_none() && severe, "{findings:?}");
}

#[test]
fn the_opening_that_holds_the_centre_is_taken_and_others_are_told() {
    let left = Scene {
        radius: 55.0,
        ..Scene::default()
    };
    let right = Scene {
        radius: 60.0,
        ..Scene::default()
    };
    let both = || beside(&taken(&left), &taken(&right));
    let with = |x| PhotographRow {
        centre_x: Some(x),
        centre_y: Some(100.0),
        ..row()
    };
    for (x, scene) in [(95.0, &left), (310.0, &right)] {
        let (found, findings) = measured(both(), &with(x));
        near(&found, scene);
        assert!(told(&findings, "photograph-other-openings"));
        assert!(!told(&findings, "photograph-off-centre"));
    }
    // Told to take the bright, but nearer to the left one: the dark ground is at the point.
    let (found, findings) = measured(
        both(),
        &PhotographRow {
            side: OpeningSide::Bright,
            ..with(180.0)
        },
    );
    near(&found, &left);
    assert!(told(&findings, "photograph-off-centre"));
}

/// A dark ring on a bright table seen from above: the smallest outline about the centre is the bore.
#[test]
fn the_bore_of_a_ring_is_taken_and_not_its_outside() {
    let bore = Scene {
        radius: 50.0,
        inside: 200.0,
        outside: 40.0,
        ..Scene::default()
    };
    let outside = Scene {
        radius: 80.0,
        inside: 0.0,
        outside: 160.0,
        noise: 0.0,
        ..bore.clone()
    };
    let mut picture = taken(&bore);
    for (grey, more) in picture.grey.iter_mut().zip(taken(&outside).grey) {
        *grey += more;
    }
    let (found, _) = measured(picture, &row());
    near(&found, &bore);
}

/// Shading, a tilted light, noise and JPEG together, as a camera over a bench takes it; the file is decoded by the program's reader.
#[test]
fn shading_tilt_noise_and_jpeg_leave_the_area_within_its_interval() {
    let mut held = 0;
    for seed in 0..20 {
        let mut chance = Chance::new(100 + seed);
        let scene = Scene {
            depth: 0.12,
            blur: chance.between(0.8, 1.8),
            tilt: 0.15,
            tilt_angle: chance.between(0.0, 6.0),
            shade: 0.2,
            noise: 4.0,
            ..Scene::default()
        };
        let raw = scene.picture(&mut chance);
        let bytes: Vec<u8> = raw.grey.iter().map(|grey| *grey as u8).collect();
        let mut file = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut file, 80)
            .encode(
                &bytes,
                raw.width as u32,
                raw.height as u32,
                image::ExtendedColorType::L8,
            )
            .unwrap();
        let picture = hooptrace::read::picture_from_bytes(&file, "f1.jpg").unwrap();
        let (found, findings) = measured(picture, &row());
        let (area, u) = found.area.pair().unwrap();
        assert!(
            (area - scene.area()).abs() < 0.005 * scene.area(),
            "{area} {}: {findings:?}",
            scene.area()
        );
        held += usize::from((area - scene.area()).abs() < 2.0 * u);
    }
    assert!(held >= 17, "{held} of 20");
}

/// The long table: `cargo test --test photographs -- --ignored --nocapture`. With 1000 pictures a true 95 % stays within 93 and 97 %.
#[test]
#[ignore = "takes minutes"]
fn a_thousand_intervals_hold_the_truth_in_ninety_five_of_a_hundred() {
    let held = held(1, 1000, true);
    let share = |n: usize| n as f64 / held.pictures as f64;
    println!(
        "area {:.3}, diameter {:.3}, diameter in mm {:.3}, error over u {:.2}",
        share(held.area),
        share(held.diameter),
        share(held.diameter_mm),
        held.rms
    );
    for part in [held.area, held.diameter, held.diameter_mm] {
        assert!((0.93..=0.98).contains(&share(part)), "{}", share(part));
    }
}

/// A short one: 200 pictures; of a true 95 to 97 % fewer than 92 or more than 99.5 are seen once in some hundred seeds, and the seed is
/// fixed.
#[test]
fn two_hundred_intervals_hold_the_truth() {
    let held = held(2, 200, false);
    let share = |n: usize| n as f64 / held.pictures as f64;
    for part in [held.area, held.diameter, held.diameter_mm] {
        assert!((0.92..=0.995).contains(&share(part)), "{}", share(part));
    }
    assert!((0.75..1.15).contains(&held.rms), "{}", held.rms);
}

fn edge(points: &[(f64, f64)], unit: &str, u_point: Option<f64>) -> LeafletRow {
    LeafletRow {
        run_id: "f1".to_owned(),
        stage: Stage::After,
        leaflet: "A".to_owned(),
        points: points.to_vec(),
        unit: unit.to_owned(),
        u_point,
        table: "leaflets.csv".to_owned(),
        line: 2,
    }
}

/// A right angle of sides 3 and 4 on a chord of 5: (7 − 5) / 5 by hand.
#[test]
fn the_index_of_a_right_angle_is_two_fifths() {
    let bent = edge(&[(0.0, 0.0), (300.0, 0.0), (300.0, 400.0)], "px", Some(2.0));
    let straight = LeafletRow {
        leaflet: "B".to_owned(),
        ..edge(&[(0.0, 0.0), (200.0, 0.0), (500.0, 0.0)], "px", Some(2.0))
    };
    let (found, findings) = leaflets(&[&bent, &straight]);
    assert!(findings.is_empty(), "{findings:?}");
    let (index, u) = found[0].leaflets[0].1.pair().unwrap();
    assert!((index - 0.4).abs() < 1e-12);
    // By hand: ends ∓(1,0)/5 ± 7/25 (0.6,0.8)/… in units of 100 px, the corner (1,−1)/5, each coordinate 0.02.
    let by_hand = {
        let (c, l) = (5.0, 7.0);
        let way = (0.6, 0.8);
        let first = (-1.0 / c + l / (c * c) * way.0, l / (c * c) * way.1);
        let corner = (1.0 / c, -1.0 / c);
        let last = (-l / (c * c) * way.0, 1.0 / c - l / (c * c) * way.1);
        let square = |p: (f64, f64)| p.0 * p.0 + p.1 * p.1;
        0.02 * (square(first) + square(corner) + square(last)).sqrt()
    };
    assert!((u - by_hand).abs() < 0.01 * by_hand, "{u} {by_hand}");
    assert_eq!(found[0].leaflets[1].1.value, Some(0.0));
    assert_eq!(found[0].mean.value, Some(index / 2.0));
    assert_eq!(found[0].max.value, Some(index));
    assert!(found[0].max.method.contains("leaflet A"));
}

/// Marks scattered by what they are said to be: the index moves as much as it says.
#[test]
fn the_uncertainty_of_an_index_is_what_marking_again_gives() {
    let arc: Vec<(f64, f64)> = (0..=12)
        .map(|k| (f64::from(k) * std::f64::consts::PI / 12.0).sin_cos())
        .map(|(sin, cos)| (400.0 * cos, 250.0 * sin))
        .collect();
    let index = |points: &[(f64, f64)]| {
        let (found, _) = leaflets(&[&edge(points, "px", Some(2.0))]);
        found[0].leaflets[0].1.pair().unwrap()
    };
    let (value, u) = index(&arc);
    let mut chance = Chance::new(3);
    let squares = (0..400).map(|_| {
        let marked: Vec<(f64, f64)> = arc
            .iter()
            .map(|(x, y)| (x + 2.0 * chance.normal(), y + 2.0 * chance.normal()))
            .collect();
        (index(&marked).0 - value).powi(2)
    });
    let scatter = (squares.sum::<f64>() / 400.0).sqrt();
    assert!((u / scatter - 1.0).abs() < 0.15, "{u} {scatter}");
}

#[test]
fn an_edge_that_cannot_be_measured_is_told() {
    let short = edge(&[(0.0, 0.0), (1.0, 0.0)], "px", Some(1.0));
    let closed = edge(&[(0.0, 0.0), (9.0, 0.0), (0.0, 0.0)], "px", Some(1.0));
    let silent = edge(&[(0.0, 0.0), (5.0, 5.0), (9.0, 0.0)], "mm", None);
    let (_, findings) = leaflets(&[&short]);
    assert!(told(&findings, "leaflet-too-short"));
    let (_, findings) = leaflets(&[&closed]);
    assert!(told(&findings, "leaflet-closed"));
    let (found, _) = leaflets(&[&silent]);
    assert_eq!(found[0].mean.u, None);
    assert!(found[0].mean.reason.is_some());
}
