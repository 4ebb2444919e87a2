//! From a traced outline to areas and diameters with their uncertainty.

use super::geometry::{
    Figures, GeometryError, Measured, Outline, SmoothOutline, eccentricity_index, fit_circle,
    perimeter_diameter, resample,
};
use super::outline_fits::outline_fits;
use crate::recording::{Contour, Finding, OutlineFit};
use crate::uncertain::{Budget, Component, Draws, MonteCarlo, Quantity};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// Relative standard uncertainty of an image scale that nobody declared: 0.05 %, a gauge block of 25 mm whose two edges are
/// found to a quarter of a pixel of 0.04 mm (common practice, no source).
pub const DEFAULT_U_SCALE_REL: f64 = 5e-4;
/// A gap wider than this is reported, degrees: outlines have at least some hundred points, 3.6° apart.
const GAP_WORTH_TELLING_DEG: f64 = 8.0;
/// A gap of an outline is also so many times as wide as the usual step between its points: a coarse outline has no gap.
const GAP_OVER_STEP: f64 = 3.0;
/// Points farther than this share of the radius from the curve, as standard deviation, do not belong to a ring: a rough trace by
/// hand stays within 2 %.
const ROUGH_SHARE: f64 = 0.02;
/// Share of specks that makes the outline doubtful.
const MANY_OUTLIERS: f64 = 0.1;

/// A stretch without points.
#[derive(Debug, Clone, PartialEq)]
pub struct Gap {
    /// Straight distance between the ends of the curve on both sides, mm.
    pub chord: Quantity,
    /// Length of the curve that has points, mm: the material of a broken ring.
    pub material_arc: Quantity,
}

/// What an outline says about the ring.
#[derive(Debug, Clone, PartialEq)]
pub struct SectionMeasure {
    /// Enclosed area of the smooth curve, mm².
    pub area: Quantity,
    /// Length of the smooth curve, mm.
    pub perimeter: Quantity,
    /// 2 √(A/π), mm: the diameter to compare with the mean of many calipers; it does not grow with noise.
    pub area_diameter: Quantity,
    /// P/π, mm: grows with ovality; an ellipse of 18 % ovality (24 × 20 mm) makes it 0.6 % larger than the area diameter.
    pub perimeter_diameter: Quantity,
    /// Mean of the diameters through the centroid, mm.
    pub mean_two_point_diameter: Quantity,
    /// Largest and smallest diameter through the centroid, mm.
    pub max_two_point_diameter: Quantity,
    /// See [`Self::max_two_point_diameter`].
    pub min_two_point_diameter: Quantity,
    /// Eccentricity index 1 − Dmin/Dmax.
    pub eccentricity_index: Quantity,
    /// Diameter of the largest circle inside the curve, mm: what the largest plug that passes would show.
    pub largest_inscribed_circle: Quantity,
    /// Largest width between parallel jaws outside the curve, mm.
    pub feret_max: Quantity,
    /// Smallest width between parallel jaws outside the curve, mm.
    pub feret_min: Quantity,
    /// Diameter of the smallest circle around the curve, mm.
    pub smallest_circumscribed_circle: Quantity,
    /// Diameter of the circle of least squared distances to the curve, mm.
    pub fitted_circle: Quantity,
    /// Circles and ellipses of least squares through the points, by the name of the fit.
    pub fits: BTreeMap<String, OutlineFit>,
    /// Amplitude of the wave with three lobes, mm; no pair of jaws sees it.
    pub three_lobe_amplitude: Quantity,
    /// The widest stretch without points, where it is wide enough to tell.
    pub gap: Option<Gap>,
    /// Enclosed area of the polygon as traced, mm², specks and all; without uncertainty.
    pub raw_area: Quantity,
    /// Length of the polygon as traced, mm: too long by its noise; without uncertainty.
    pub raw_perimeter: Quantity,
    /// Where the uncertainty of the area diameter comes from.
    pub budget: Budget,
    /// The smooth curve.
    pub smooth: SmoothOutline,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// Measures a contour of the study. Coordinates must be in mm.
///
/// # Errors
/// [`GeometryError`] where the points are no closed outline around a point inside it.
pub fn measure_contour(contour: &Contour) -> Result<SectionMeasure, GeometryError> {
    let undeclared = (contour.u_scale_rel.is_none() && contour.mm_per_px.is_some()).then(|| {
        Finding::doubt(
            "image-scale-uncertainty-assumed",
            format!(
                "the image scale has no declared uncertainty; {} % is assumed",
                DEFAULT_U_SCALE_REL * 100.0
            ),
        )
        .help("declare `u_mm_per_px_rel` under [geometry] in the rig")
    });
    let mut measured = measure_outline(&contour.points_mm, scale_of(contour))?;
    measured.findings.extend(undeclared);
    for finding in &mut measured.findings {
        finding.run_id = Some(contour.run_id.clone());
        finding.line = Some(contour.line);
    }
    Ok(measured)
}

/// Measures an outline in mm. `u_scale_rel` is the relative standard uncertainty of its scale, common to all lengths; `None` where
/// coordinates were given in mm by a device whose scale is taken as exact.
///
/// # Errors
/// As [`measure_contour`].
pub fn measure_outline(
    points_mm: &[(f64, f64)],
    u_scale_rel: Option<f64>,
) -> Result<SectionMeasure, GeometryError> {
    let raw = Outline::new(points_mm)?;
    let smooth = SmoothOutline::fit(&raw)?;
    let scale = u_scale_rel.unwrap_or(0.0);
    let method = format!(
        "outline, Fourier series of order {} about the centroid, {} points{}",
        smooth.order,
        smooth.used,
        if u_scale_rel.is_none() {
            ", scale of the mm taken as exact"
        } else {
            ""
        }
    );
    let length =
        |(value, u): Measured| Quantity::known(value, u.hypot(scale * value), "mm", method.clone());
    let (area, u_area) = smooth.area();
    let (by_area, u_scatter) = smooth.area_diameter();
    let mut budget = Budget::new().with(Component::normal("scatter of the outline", u_scatter));
    if scale > 0.0 {
        budget.push(Component::normal("scale of the image", scale).sensitivity(by_area));
    }
    let perimeter = smooth.perimeter();
    let (max, min) = smooth.extreme_two_point_diameters();
    // The curve at one angle is known worse than its mean. A diameter rests on two such places; so does the inscribed circle of an
    // oval ring, and that of a lobed one on three.
    let u_local = 2.0 * pointwise(&smooth);
    let curve = smooth.outline()?;
    let inscribed = curve.largest_inscribed_circle()?;
    let feret = curve.feret();
    let circumscribed = 2.0 * curve.smallest_circumscribed_circle().radius_mm;
    // The mean radius carries the scatter of a circle through the whole curve.
    // A quarter of the angles gives the same sums: they tell waves of twice the highest order apart.
    let round: Vec<(f64, f64)> = curve.points().iter().step_by(4).copied().collect();
    let fitted = 2.0 * fit_circle(&round)?.circle.radius_mm;
    let (_, u_mean) = smooth.mean_two_point_diameter();
    let three_lobes = smooth.wave(3).map_or_else(
        || Quantity::missing("mm", "too few points for a wave of three lobes"),
        |(amplitude, u)| {
            Quantity::known(
                amplitude,
                u.hypot(scale * amplitude),
                "mm",
                "third harmonic of r(θ) about the centroid; scatter alone makes it positive",
            )
        },
    );
    let raw_reason = "noise of the traced points biases it; see the smooth outline";
    let raw_method = "polygon as traced";
    Ok(SectionMeasure {
        area: Quantity::known(
            area,
            u_area.hypot(2.0 * scale * area),
            "mm2",
            method.clone(),
        ),
        perimeter: length(perimeter),
        area_diameter: budget.quantity(by_area, "mm", format!("{method}, 2 √(A/π)")),
        perimeter_diameter: length((perimeter_diameter(perimeter.0), perimeter.1 / PI)),
        mean_two_point_diameter: length(smooth.mean_two_point_diameter()),
        max_two_point_diameter: length((max, u_local / 2.0_f64.sqrt())),
        min_two_point_diameter: length((min, u_local / 2.0_f64.sqrt())),
        eccentricity_index: Quantity::known(
            eccentricity_index(max, min),
            u_local / max,
            "1",
            "1 − Dmin/Dmax over all two-point diameters",
        ),
        largest_inscribed_circle: length((inscribed.diameter_mm, u_local / 2.0_f64.sqrt())),
        feret_max: length((feret.max_mm, u_local / 2.0_f64.sqrt())),
        feret_min: length((feret.min_mm, u_local / 2.0_f64.sqrt())),
        smallest_circumscribed_circle: length((circumscribed, u_local / 2.0_f64.sqrt())),
        fitted_circle: length((fitted, u_mean)),
        fits: outline_fits(&raw, &smooth, scale),
        three_lobe_amplitude: three_lobes,
        gap: gap(&smooth, scale),
        raw_area: Quantity::without_u(raw.area(), "mm2", raw_method, raw_reason),
        raw_perimeter: Quantity::without_u(raw.perimeter(), "mm", raw_method, raw_reason),
        budget,
        findings: doubts(points_mm, &raw, &smooth),
        smooth,
    })
}

/// Diameters of a contour by resampling, beside what was propagated for them, under the names of the methods. The scale moves all of a
/// curve's figures alike.
///
/// # Errors
/// As [`measure_contour`].
pub fn by_resampling(
    contour: &Contour,
    label: &str,
    seed: u64,
) -> Result<Vec<(&'static str, MonteCarlo)>, GeometryError> {
    let u_scale = scale_of(contour).unwrap_or(0.0);
    let mut draws = Draws::new(seed, label);
    let mut figures = resample(&Outline::new(&contour.points_mm)?, &mut draws)?;
    for figure in &mut figures {
        figure.scale(1.0 + u_scale * draws.normal());
    }
    let of = |name: &'static str, pick: fn(&Figures) -> f64| {
        MonteCarlo::of(figures.iter().map(pick).collect()).map(|found| (name, found))
    };
    let all = [
        of("outline_area", |f| f.area_diameter),
        of("outline_perimeter", |f| f.perimeter_diameter),
        of("outline_two_point", |f| f.mean_two_point),
        of("outline_largest_inscribed", |f| f.inscribed),
        of("outline_circumscribed", |f| f.circumscribed),
        of("outline_feret_max", |f| f.feret_max),
        of("outline_feret_min", |f| f.feret_min),
    ];
    Ok(all.into_iter().flatten().collect())
}

/// Relative standard uncertainty of a contour's scale: declared, or assumed where an image has none; `None` for coordinates in mm.
fn scale_of(contour: &Contour) -> Option<f64> {
    contour
        .u_scale_rel
        .or(contour.mm_per_px.map(|_| DEFAULT_U_SCALE_REL))
}

/// Standard uncertainty of the radius at one angle, mm, averaged over angles: s √(p/n).
fn pointwise(smooth: &SmoothOutline) -> f64 {
    let parameters = (2 * smooth.order + 1) as f64;
    smooth.residual_sd_mm
        * smooth.correlation_factor
        * (parameters / smooth.used.max(1) as f64).sqrt()
}

/// Whether the points leave out a stretch that is worth telling.
fn has_gap(smooth: &SmoothOutline) -> bool {
    smooth.widest_gap_deg > GAP_WORTH_TELLING_DEG.max(GAP_OVER_STEP * smooth.usual_step_deg)
}

fn gap(smooth: &SmoothOutline, scale: f64) -> Option<Gap> {
    if !has_gap(smooth) {
        return None;
    }
    let angle = smooth.widest_gap_deg.to_radians();
    let (from, to) = (smooth.gap_from_rad, smooth.gap_from_rad + angle);
    let end = |angle: f64| {
        let r = smooth.radius(angle);
        (r * angle.cos(), r * angle.sin())
    };
    let ((x1, y1), (x2, y2)) = (end(from), end(to));
    let chord = (x2 - x1).hypot(y2 - y1);
    let (arc, u_arc) = smooth.arc(to, from + std::f64::consts::TAU);
    // The true end of the material lies somewhere between the last point and where the next would have been.
    let ends = Component::rectangular(
        "ends of the gap",
        smooth.radius(from) * smooth.usual_step_deg.to_radians() / 2.0,
    );
    let u_ends = ends.u * 2.0_f64.sqrt();
    let known = |value: f64, u: f64, method: &str| {
        Quantity::known(value, u.hypot(u_ends).hypot(scale * value), "mm", method)
    };
    Some(Gap {
        chord: known(
            chord,
            2.0_f64.sqrt() * pointwise(smooth),
            "chord of the outline over the stretch without points",
        ),
        material_arc: known(
            arc,
            u_arc,
            "length of the outline less the stretch without points",
        ),
    })
}

fn doubts(points: &[(f64, f64)], raw: &Outline, smooth: &SmoothOutline) -> Vec<Finding> {
    let mut findings = Vec::new();
    let closing = points.len() > 1 && points.first() == points.last();
    if closing {
        findings.push(Finding::note(
            "outline-closing-point",
            "the last point of the outline repeats the first; it counts once",
        ));
    }
    let repeated = points.len() - raw.points().len() - usize::from(closing);
    if repeated > 0 {
        findings.push(Finding::note(
            "outline-repeated-points",
            format!("{repeated} points of the outline repeat the one before; each counts once"),
        ));
    }
    if let Err(error) = raw.check_simple() {
        findings.push(Finding::note(
            "outline-crosses-itself",
            format!("{error}; areas and diameters come from the smooth curve"),
        ));
    }
    if smooth.outliers > 0 {
        let many = smooth.outliers as f64 > MANY_OUTLIERS * raw.points().len() as f64;
        let message = format!(
            "{} of {} outline points lie off the curve and were left out",
            smooth.outliers,
            raw.points().len()
        );
        findings.push(if many {
            Finding::doubt("outline-outliers", message)
        } else {
            Finding::note("outline-outliers", message)
        });
    }
    if has_gap(smooth) {
        findings.push(Finding::note(
            "outline-gap",
            format!(
                "the outline has no points over {:.0}°; the curve bridges it",
                smooth.widest_gap_deg
            ),
        ));
    }
    if smooth.residual_sd_mm > ROUGH_SHARE * smooth.radius(0.0).abs() {
        findings.push(Finding::doubt(
            "outline-rough",
            format!(
                "the points scatter by {:.2} mm about the curve: not the outline of a ring?",
                smooth.residual_sd_mm
            ),
        ));
    }
    findings
}
