//! Thresholds and contours against scikit-image 0.26.0, whose numbers lie in `tests/data/image/` with their source.

use super::scene::row;
use hooptrace::measure::photograph::{Ring, histogram, otsu, photograph, points as follow, rings};
use hooptrace::recording::Picture;
use std::f64::consts::PI;
use std::path::PathBuf;

fn data(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data/image")
        .join(name)
}

fn text(name: &str) -> String {
    std::fs::read_to_string(data(name)).unwrap()
}

fn numbers(name: &str) -> Vec<Vec<f64>> {
    let row = |line: &str| line.split(',').map(|cell| cell.parse().unwrap()).collect();
    text(name).lines().skip(1).map(row).collect()
}

/// A portable grey map (P5, 8 bit) or bit map (P4); a set bit is 1.
fn picture(name: &str) -> Picture {
    let bytes = std::fs::read(data(name)).unwrap();
    let bits = bytes.starts_with(b"P4");
    let mut at = 2;
    let mut header = Vec::new();
    while header.len() < if bits { 2 } else { 3 } {
        let end = at
            + bytes[at..]
                .iter()
                .skip(1)
                .position(u8::is_ascii_whitespace)
                .unwrap()
            + 1;
        let word = std::str::from_utf8(&bytes[at..end]).unwrap().trim();
        header.push(word.parse::<usize>().unwrap());
        at = end;
    }
    let (width, height) = (header[0], header[1]);
    let body = &bytes[at + 1..];
    let level = |i: usize| {
        let (x, y) = (i % width, i / width);
        if bits {
            u16::from(body[y * width.div_ceil(8) + x / 8] >> (7 - x % 8) & 1)
        } else {
            u16::from(body[i])
        }
    };
    Picture {
        width,
        height,
        grey: (0..width * height).map(level).collect(),
        white: 255,
        formula: "reference",
    }
}

#[test]
fn thresholds_are_those_of_scikit_image() {
    for (name, threshold) in [
        ("camera", 102),
        ("coins", 107),
        ("page", 157),
        ("text", 109),
    ] {
        let mut counts = vec![0; 256];
        for row in numbers(&format!("{name}_histogram.csv")) {
            counts[row[0] as usize] = row[1] as u64;
        }
        assert_eq!(otsu(&counts).unwrap().level, threshold, "{name}");
    }
    for (name, threshold) in [
        ("coins.pgm", 107),
        ("disc_r20.pgm", 119),
        ("disc_r35_noise.pgm", 119),
        ("disc_r15_noise.pgm", 104),
        ("ellipse_a28_b15.pgm", 118),
    ] {
        let found = otsu(&histogram(&picture(name))).unwrap();
        assert_eq!(found.level, threshold, "{name}");
    }
}

/// Printed with the threshold: 2115.1147614221495 between the classes of the coins, 52.87981861987 standard deviation of all.
#[test]
fn the_share_between_the_classes_is_that_of_the_coins() {
    let found = otsu(&histogram(&picture("coins.pgm"))).unwrap();
    let share = 2_115.114_761_422_149_5 / 52.879_818_619_87_f64.powi(2);
    assert!((found.separation - share).abs() < 1e-9, "{found:?}");
}

/// 21575 by exact fractions (Python's `fractions` over the 65536 counts); scikit-image, which counts in single precision, says 21574.
#[test]
fn sixteen_bits_have_a_bin_a_level() {
    let mut coins = picture("coins.pgm");
    let width = coins.width;
    for (i, grey) in coins.grey.iter_mut().enumerate() {
        let (x, y) = (i % width, i / width);
        *grey = *grey * 200 + ((y * 7 + x * 13) % 200) as u16;
    }
    coins.white = u16::MAX;
    assert_eq!(otsu(&histogram(&coins)).unwrap().level, 21_575);
}

/// Picture and level.
type Key<'t> = (&'t str, f64);

fn length(points: &[(f64, f64)]) -> f64 {
    let next = points.iter().cycle().skip(1);
    let sides = points.iter().zip(next).take(points.len());
    sides.map(|(a, b)| (a.0 - b.0).hypot(a.1 - b.1)).sum()
}

/// The largest ring of a level.
fn largest(picture: &Picture, level: f64) -> Ring {
    let found = rings(picture, level, (0.0, 0.0), 2.0);
    *found
        .iter()
        .max_by(|a, b| a.area.total_cmp(&b.area))
        .unwrap()
}

/// Every vertex in the same order, wherever the ring begins and whichever way it goes.
#[test]
fn vertices_are_those_of_scikit_image() {
    for (name, level) in [
        ("disc_r20", 120.0),
        ("disc_r35_noise", 120.0),
        ("disc_r15_noise", 105.0),
        ("ellipse_a28_b15", 119.5),
    ] {
        let picture = picture(&format!("{name}.pgm"));
        let ring = largest(&picture, level);
        let mut ours = follow(&picture, level, &ring, 10_000).unwrap();
        // Where a pixel has the very level, two neighbours of the ring may fall together.
        ours.dedup_by(|a, b| (a.0 - b.0).hypot(a.1 - b.1) < 1e-12);
        let theirs: Vec<(f64, f64)> = numbers(&format!("{name}_contour.csv"))
            .iter()
            .map(|row| (row[0], row[1]))
            .collect();
        assert_eq!(ours.len(), theirs.len(), "{name}");
        let gap = |a: &(f64, f64), b: &(f64, f64)| (a.0 - b.0).hypot(a.1 - b.1);
        let first = theirs.iter().position(|p| gap(p, &ours[0]) < 1e-6).unwrap();
        let n = theirs.len();
        let worst = |forwards: bool| {
            let at = |i: usize| if forwards { first + i } else { first + n - i };
            (0..n)
                .map(|i| gap(&ours[i], &theirs[at(i) % n]))
                .fold(0.0, f64::max)
        };
        let worst = worst(true).min(worst(false));
        assert!(worst < 1e-6, "{name}: {worst} px");
    }
}

/// All closed contours of whole pictures, saddles and holes and all: number of points, area, length.
#[test]
fn every_ring_of_a_picture_is_that_of_scikit_image() {
    let table = text("rings.csv");
    let mut groups: Vec<(Key<'_>, Vec<[f64; 3]>)> = Vec::new();
    for line in table.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let key = (cells[0], cells[1].parse().unwrap());
        if groups.last().is_none_or(|(last, _)| *last != key) {
            groups.push((key, Vec::new()));
        }
        let values = [2, 3, 4].map(|i| cells[i].parse().unwrap());
        groups.last_mut().unwrap().1.push(values);
    }
    assert_eq!(groups.len(), 6);
    for ((name, level), theirs) in groups {
        let picture = picture(name);
        let mut ours = rings(&picture, level, (0.0, 0.0), 2.0);
        ours.sort_by(|a, b| b.area.total_cmp(&a.area));
        assert_eq!(ours.len(), theirs.len(), "{name} {level}");
        for (ring, [count, area, along]) in ours.iter().zip(theirs) {
            assert!((ring.area - area).abs() < 1e-6, "{name}: {ring:?} {area}");
            // Areas repeat among small rings of a picture of whole levels; lengths then differ.
            let same = ours
                .iter()
                .filter(|other| (other.area - area).abs() < 1e-6)
                .any(|other| {
                    let mut points = follow(&picture, level, other, 100_000).unwrap();
                    // A pixel of the very level gives the same point several times, there once.
                    points.dedup_by(|a, b| (a.0 - b.0).hypot(a.1 - b.1) < 1e-12);
                    (length(&points) - along).abs() < 1e-6 && points.len() as f64 == count
                });
            assert!(
                same,
                "{name} {level}: no ring of area {area} and length {along}"
            );
        }
    }
}

/// The discs and the ellipse as photographs: the area within its own interval and within 0.1 % (0.2 % with noise) of the truth.
#[test]
fn discs_and_an_ellipse_have_their_true_area() {
    for (name, truth, share) in [
        ("disc_r20.pgm", PI * 20.3 * 20.3, 1e-3),
        ("disc_r35_noise.pgm", PI * 35.0 * 35.0, 2e-3),
        ("disc_r15_noise.pgm", PI * 15.5 * 15.5, 2e-3),
        ("ellipse_a28_b15.pgm", 1_319.468_914_507_713_2, 1e-3),
    ] {
        let (found, findings) = photograph(picture(name), &row(), false);
        let found = found.unwrap_or_else(|| panic!("{name}: {findings:?}"));
        assert!(found.bright);
        let (area, u) = found.area.pair().unwrap();
        assert!(
            (area - truth).abs() < share * truth,
            "{name}: {area} ± {u}, {truth}"
        );
        assert!(
            (area - truth).abs() < 2.0 * u,
            "{name}: {area} ± {u}, {truth}"
        );
    }
}
