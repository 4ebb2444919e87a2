//! Free edges of leaflets: how much longer than the way from end to end they are.

use crate::recording::{Finding, LeafletResult, LeafletRow, Place, Stage};
use crate::uncertain::{Budget, Component, Quantity};
use std::collections::BTreeMap;

/// Standard uncertainty of a marked point in each coordinate where nobody declared one, px: a careful hand hits the pixel it means and
/// sees the edge to its neighbour (common practice, no source).
pub const DEFAULT_U_POINT_PX: f64 = 1.0;
/// Fewest points of an edge: with two it is its own chord.
const FEWEST: usize = 3;

/// The pin-wheeling index of every leaflet of a run, by stage: (length along the marked edge − chord from its first to its last point)
/// / chord. Lengths in pixels need no scale.
pub fn leaflets(rows: &[&LeafletRow]) -> (Vec<LeafletResult>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut stages: BTreeMap<Stage, Vec<(String, Quantity)>> = BTreeMap::new();
    for row in rows {
        let at = |finding: Finding| {
            finding
                .at(Place::line(&row.table, row.line))
                .run(&row.run_id)
        };
        match index(row) {
            Ok(quantity) => stages
                .entry(row.stage)
                .or_default()
                .push((row.leaflet.clone(), quantity)),
            Err(error) => findings.push(at(error)),
        }
        if row.u_point.is_none() {
            let px = row.unit == "px";
            let message = if px {
                format!(
                    "leaflet {}: no u_point is declared; {DEFAULT_U_POINT_PX} px is assumed for every marked point",
                    row.leaflet
                )
            } else {
                format!(
                    "leaflet {}: no u_point is declared, so its index has no uncertainty",
                    row.leaflet
                )
            };
            findings.push(at(Finding::note("leaflet-u-point", message).help(
                "fill the column u_point with the standard uncertainty of a marked point",
            )));
        }
    }
    let results = stages
        .into_iter()
        .map(|(stage, leaflets)| LeafletResult {
            stage,
            mean: mean(&leaflets),
            max: max(&leaflets),
            leaflets,
        })
        .collect();
    (results, findings)
}

fn index(row: &LeafletRow) -> Result<Quantity, Finding> {
    let points = &row.points;
    let wrong = |code: &str, message: String| {
        Finding::doubt(
            code,
            format!("leaflet {}: {message}; it was left out", row.leaflet),
        )
    };
    if points.len() < FEWEST {
        return Err(wrong(
            "leaflet-too-short",
            format!("{} points, at least {FEWEST} are needed", points.len()),
        ));
    }
    let sides: Vec<(f64, f64)> = points
        .iter()
        .zip(points.iter().skip(1))
        .map(|(a, b)| (b.0 - a.0, b.1 - a.1))
        .filter(|side| side.0.hypot(side.1) > 0.0)
        .collect();
    let length: f64 = sides.iter().map(|side| side.0.hypot(side.1)).sum();
    let along = sides
        .iter()
        .fold((0.0, 0.0), |sum, side| (sum.0 + side.0, sum.1 + side.1));
    let chord = along.0.hypot(along.1);
    if chord <= 0.0 || !length.is_finite() {
        return Err(wrong(
            "leaflet-closed",
            "its edge ends where it begins; an open line from post to centre or from post to post was expected".to_owned(),
        ));
    }
    let value = (length - chord) / chord;
    let method = format!(
        "(length of {} marked points − chord) / chord, chord from the first to the last point",
        points.len()
    );
    let u_point = row
        .u_point
        .or((row.unit == "px").then_some(DEFAULT_U_POINT_PX));
    let Some(u) = u_point else {
        return Ok(Quantity::without_u(
            value,
            "1",
            method,
            "no u_point is declared",
        ));
    };
    // A point moves the length by the difference of the directions that meet in it, an end also the chord.
    let unit = |side: &(f64, f64)| {
        let length = side.0.hypot(side.1);
        (side.0 / length, side.1 / length)
    };
    let chord_way = unit(&along);
    let none = (0.0, 0.0);
    let ways: Vec<(f64, f64)> = sides.iter().map(unit).collect();
    let before = std::iter::once(none).chain(ways.iter().copied());
    let after = ways.iter().copied().chain(std::iter::once(none));
    let last = ways.len();
    let square: f64 = before
        .zip(after)
        .enumerate()
        .map(|(i, (before, after))| {
            let end = if i == 0 {
                -1.0
            } else if i == last {
                1.0
            } else {
                0.0
            };
            let part = |before: f64, after: f64, way: f64| {
                ((before - after) / chord - end * length / (chord * chord) * way).powi(2)
            };
            part(before.0, after.0, chord_way.0) + part(before.1, after.1, chord_way.1)
        })
        .sum();
    // Points beside the edge make every side longer by u²/side in the mean.
    let excess: f64 = sides.iter().map(|side| u * u / side.0.hypot(side.1)).sum();
    let budget = Budget::new()
        .with(Component::normal("place of the marked points", u).sensitivity(square.sqrt()))
        .with(Component::normal("points beside the edge", excess).sensitivity(1.0 / chord));
    Ok(budget.quantity(value, "1", method))
}

fn mean(leaflets: &[(String, Quantity)]) -> Quantity {
    let n = leaflets.len() as f64;
    let values: Vec<f64> = leaflets.iter().filter_map(|(_, q)| q.value).collect();
    let mean = values.iter().sum::<f64>() / n;
    let method = format!("mean of {} leaflets", leaflets.len());
    let squares: Option<Vec<f64>> = leaflets.iter().map(|(_, q)| Some(q.u?.powi(2))).collect();
    match squares {
        Some(squares) => Quantity::known(mean, squares.iter().sum::<f64>().sqrt() / n, "1", method),
        None => Quantity::without_u(mean, "1", method, "a leaflet has no uncertainty"),
    }
}

fn max(leaflets: &[(String, Quantity)]) -> Quantity {
    let value = |q: &Quantity| q.value.unwrap_or(f64::NEG_INFINITY);
    let most = leaflets
        .iter()
        .max_by(|a, b| value(&a.1).total_cmp(&value(&b.1)));
    most.map_or_else(
        || Quantity::missing("1", "no leaflet is marked"),
        |(name, quantity)| Quantity {
            method: format!("largest, leaflet {name}; {}", quantity.method),
            ..quantity.clone()
        },
    )
}
