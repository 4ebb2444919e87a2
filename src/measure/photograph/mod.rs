//! From a photograph to the outline of an opening: grey levels, threshold, contour, opening, edge, budget.
//!
//! The picture is split in two by Otsu's threshold, the opening is chosen among the closed contours, and its outline is drawn again at
//! half the height of its own edge, where a blur moves a straight edge neither way. The outline is the contour as it comes, with a
//! point wherever it passes between two pixels: nothing is smoothed. Perspective, distortion by the lens and the depth of the plane
//! are not corrected.

mod budget;
mod contour;
mod drawing;
mod edge;
mod leaflets;
mod opening;
mod otsu;
mod tone;

pub use contour::{Ring, points, rings};
pub use leaflets::leaflets;
pub use opening::{LEAST_PX, LEAST_SHARE};
pub use otsu::{Otsu, histogram, otsu};

use super::geometry::{MAX_POINTS, Outline, area_diameter, fit_circle, perimeter_diameter};
use super::section::DEFAULT_U_SCALE_REL;
use crate::recording::{Finding, PhotographResult, PhotographRow, Picture, Place, Severity, Tone};
use crate::uncertain::Quantity;
use budget::{Parts, lost_to_blur};
use edge::Edge;
use opening::{Chosen, NoOpening, Wanted, choose};

/// Levels that fall into one heap have 2/π of their variance between the halves (a normal distribution); a picture with less than this
/// hardly has two sides.
const POOR_SEPARATION: f64 = 0.7;
/// The area is drawn again with the level moved by this share of the height of the edge to either side.
const LEVEL_MOVED: f64 = 0.05;
/// Times the level is drawn nearer to half the height: the second changes nothing that can be seen.
const DRAWN_AGAIN: usize = 2;
/// Noise at one place of the outline, px, beyond which the outline is doubtful: half a pixel.
const NOISY_PX: f64 = 0.5;

/// Measures the opening of a photograph; `draw` keeps a small copy with the outline. What cannot be measured is an error finding.
pub fn photograph(
    picture: Picture,
    row: &PhotographRow,
    draw: bool,
) -> (Option<PhotographResult>, Vec<Finding>) {
    let mut findings = Vec::new();
    let measured = measure(picture, row, draw, &mut findings);
    let result = match measured {
        Ok(result) => Some(result),
        Err(error) => {
            findings.push(error);
            None
        }
    };
    let at = |finding: Finding| {
        let column = finding.column.clone().unwrap_or_else(|| "file".to_owned());
        let mut finding = finding.at(Place::cell(&row.table, row.line, column));
        finding.message = format!("{}: {}", row.file, finding.message);
        if !row.used {
            // What nobody uses takes nothing away.
            finding.severity = Severity::Note;
        }
        finding.run(&row.run_id)
    };
    (result, findings.into_iter().map(at).collect())
}

/// The outline at a level with the picture it was drawn in.
struct Traced {
    level: f64,
    chosen: Chosen,
    outline: Outline,
}

fn trace(picture: &Picture, level: f64, wanted: &Wanted) -> Result<Traced, Finding> {
    let chosen = choose(picture, level, wanted).map_err(|why| no_opening(why, wanted))?;
    let points = points(picture, level, &chosen.ring, MAX_POINTS).ok_or_else(|| {
        Finding::error(
            "photograph-too-fine",
            format!(
                "its outline has {} points, at most {MAX_POINTS} are taken",
                chosen.ring.points
            ),
        )
        .help("the picture is noise at this threshold; choose one in the column threshold")
    })?;
    let outline = Outline::new(&points)
        .map_err(|error| Finding::error("photograph-unusable", format!("its outline: {error}")))?;
    Ok(Traced {
        level,
        chosen,
        outline,
    })
}

fn no_opening(why: NoOpening, wanted: &Wanted) -> Finding {
    let (x, y) = wanted.centre;
    match why {
        NoOpening::CutOff => Finding::error(
            "photograph-cut-off",
            format!("what lies about x {x:.0}, y {y:.0} px reaches the border of the picture: the opening is cut off, or the point is not in it"),
        )
        .help("name a point inside the opening in centre_x and centre_y, say dark or bright in orifice, or take the picture anew with the whole opening in it"),
        NoOpening::None => Finding::error(
            "photograph-no-opening",
            format!("no closed outline of at least {LEAST_SHARE} of the picture was found about x {x:.0}, y {y:.0} px"),
        )
        .help("choose a threshold in the column threshold, or say dark or bright in orifice"),
    }
}

fn measure(
    mut picture: Picture,
    row: &PhotographRow,
    draw: bool,
    findings: &mut Vec<Finding>,
) -> Result<PhotographResult, Finding> {
    let small = draw.then(|| drawing::small(&picture));
    let split = otsu(&histogram(&picture)).ok_or_else(|| {
        Finding::error(
            "photograph-flat",
            "all its pixels have one grey level: nothing can be seen",
        )
    })?;
    if split.separation < POOR_SEPARATION {
        findings.push(Finding::doubt(
            "photograph-poor-contrast",
            format!(
                "its threshold parts {:.0} % of the variance of the grey levels; two clear sides part more than {:.0} %",
                100.0 * split.separation,
                100.0 * POOR_SEPARATION
            ),
        ).help("light the opening from behind, or look hard at the outline in the report"));
    }
    let levels = Levels::of(&picture, row);
    if row.tone == Tone::Srgb {
        tone::linearise(&mut picture);
    }
    let middle = |given: Option<f64>, size: usize| given.unwrap_or((size as f64 - 1.0) / 2.0);
    let mut wanted = Wanted {
        centre: (
            middle(row.centre_x, picture.width),
            middle(row.centre_y, picture.height),
        ),
        side: row.side,
    };
    let chosen_level = levels.chosen(row.threshold)?;
    let between = levels.inner(f64::from(split.level) + 0.5);
    let first = trace(&picture, chosen_level.unwrap_or(between), &wanted)?;
    tell_choice(&first.chosen, findings);
    // From here on the opening is known; only its outline is drawn again.
    wanted.side = if first.chosen.ring.bright {
        crate::recording::OpeningSide::Bright
    } else {
        crate::recording::OpeningSide::Dark
    };
    let bright = first.chosen.ring.bright;
    let seen = |traced: &Traced| {
        edge::look(&picture, &traced.outline, bright).ok_or_else(|| {
            Finding::error("photograph-no-edge", "its outline lies on no edge from dark to bright")
                .help("choose a threshold in the column threshold, or take the picture anew with more light")
        })
    };
    let mut traced = first;
    let mut edge = seen(&traced)?;
    if chosen_level.is_none() {
        for _ in 0..DRAWN_AGAIN {
            traced = trace(&picture, edge.half, &wanted)?;
            edge = seen(&traced)?;
        }
    }
    let moved = LEVEL_MOVED * (edge.bright - edge.dark);
    let area = traced.outline.area();
    let at = |level: f64| trace(&picture, level, &wanted).map(|t| t.outline.area());
    let area_by_level = match (at(traced.level - moved), at(traced.level + moved)) {
        // A jump is no slope: another contour was taken.
        (Ok(low), Ok(high)) if (high - low).abs() < area / 2.0 => (high - low) / (2.0 * moved),
        _ => {
            findings.push(Finding::doubt(
                "photograph-outline-opens",
                "its outline opens or joins another where the threshold moves by a twentieth of the height of the edge",
            ).help("look at the outline in the report; reject the picture with use = no if it is wrong"));
            traced.outline.perimeter() / edge.slope
        }
    };
    if edge.local_px > NOISY_PX {
        findings.push(Finding::doubt(
            "photograph-noisy",
            format!(
                "the noise moves its outline by {:.1} px from place to place",
                edge.local_px
            ),
        ));
    }
    let scale = scale_of(row, findings);
    let parts = Parts {
        edge: &edge,
        area,
        perimeter: traced.outline.perimeter(),
        area_by_level,
        level_step: levels.step(traced.level),
        tone_shift: (row.tone == Tone::Undeclared)
            .then(|| tone::half_light_shift(edge.dark, edge.bright, f64::from(picture.white))),
        off_half: chosen_level.map(|level| edge.half - level),
        u_scale_rel: scale.map(|(_, u)| u),
    };
    let mut result = quantities(&traced, &parts, row, scale)?;
    result.width_px = picture.width;
    result.height_px = picture.height;
    result.grey = format!("{}; {}", picture.formula, tone_words(row.tone));
    result.otsu_level = split.level;
    result.level = levels.outer(traced.level);
    result.level_method = if chosen_level.is_some() {
        "chosen in the table".to_owned()
    } else {
        format!(
            "half the height between {:.0} and {:.0} on the two sides of the edge",
            levels.outer(edge.dark),
            levels.outer(edge.bright)
        )
    };
    result.drawing = small.map(|small| drawing::with_outline(small, traced.outline.points()));
    if !row.used {
        findings.push(Finding::note(
            "photograph-rejected",
            "it was rejected (use = no): its numbers are shown and used for nothing",
        ));
    }
    Ok(result)
}

/// Grey levels of the file and those the outline is drawn in: light where the tone curve is declared.
struct Levels {
    white: f64,
    light: bool,
}

impl Levels {
    fn of(picture: &Picture, row: &PhotographRow) -> Self {
        Self {
            white: f64::from(picture.white),
            light: row.tone == Tone::Srgb,
        }
    }

    fn inner(&self, level: f64) -> f64 {
        if self.light {
            f64::from(u16::MAX) * tone::light(level / self.white)
        } else {
            level
        }
    }

    fn outer(&self, level: f64) -> f64 {
        if self.light {
            self.white * tone::level(level / f64::from(u16::MAX))
        } else {
            level
        }
    }

    /// One grey level of the file at an inner level.
    fn step(&self, level: f64) -> f64 {
        self.inner(self.outer(level) + 0.5) - self.inner(self.outer(level) - 0.5)
    }

    /// The inner level that somebody chose.
    fn chosen(&self, threshold: Option<f64>) -> Result<Option<f64>, Finding> {
        let Some(given) = threshold else {
            return Ok(None);
        };
        let level = if given <= 1.0 {
            given * self.white
        } else {
            given
        };
        if level > 0.0 && level < self.white {
            return Ok(Some(self.inner(level)));
        }
        let mut finding = Finding::error(
            "value-out-of-range",
            format!(
                "threshold is {given}; a share of white between 0 and 1 or a grey level below {} was expected",
                self.white
            ),
        );
        finding.column = Some("threshold".to_owned());
        Err(finding)
    }
}

fn tone_words(tone: Tone) -> &'static str {
    match tone {
        Tone::Linear => "levels taken as light (tone = linear)",
        Tone::Srgb => "levels turned into light (tone = srgb)",
        Tone::Undeclared => "levels as they stand; whether they are light was not declared",
    }
}

fn tell_choice(chosen: &Chosen, findings: &mut Vec<Finding>) {
    let ring = &chosen.ring;
    if !ring.holds_centre {
        findings.push(
            Finding::doubt(
                "photograph-off-centre",
                format!(
                    "no opening goes round the centre; the nearest, {:.0} px away, was taken",
                    ring.distance
                ),
            )
            .help("name a point inside the opening in centre_x and centre_y"),
        );
    }
    if let Some(other) = chosen
        .rivals
        .iter()
        .max_by(|a, b| a.area.total_cmp(&b.area))
    {
        let message = format!(
            "{} other openings of at least half the area were not taken, the largest of {:.0} px² ({:.0} px from the centre) beside {:.0} px²",
            chosen.rivals.len(),
            other.area,
            other.distance,
            ring.area
        );
        findings.push(if ring.holds_centre {
            Finding::note("photograph-other-openings", message)
        } else {
            Finding::doubt("photograph-other-openings", message)
        });
    }
}

/// Scale and its relative uncertainty.
fn scale_of(row: &PhotographRow, findings: &mut Vec<Finding>) -> Option<(f64, f64)> {
    let Some(scale) = &row.scale else {
        let mut finding = Finding::doubt(
            "photograph-no-scale",
            "no scale is declared; it was measured in pixels only and no diameter of the frame comes from it",
        )
        .help("fill mm_per_px, or gauge_mm with gauge_x1, gauge_y1, gauge_x2, gauge_y2, or give mm_per_px in [geometry] of the rig");
        finding.column = Some("mm_per_px".to_owned());
        findings.push(finding);
        return None;
    };
    let u = scale.u_rel.unwrap_or_else(|| {
        let mut finding = Finding::doubt(
            "image-scale-uncertainty-assumed",
            format!(
                "its scale has no declared uncertainty; {} % is assumed",
                DEFAULT_U_SCALE_REL * 100.0
            ),
        )
        .help("fill u_mm_per_px_rel");
        finding.column = Some("u_mm_per_px_rel".to_owned());
        findings.push(finding);
        DEFAULT_U_SCALE_REL
    });
    Some((scale.mm_per_px, u))
}

/// The figures of an outline, in mm where there is a scale, else in px.
fn quantities(
    traced: &Traced,
    parts: &Parts<'_>,
    row: &PhotographRow,
    scale: Option<(f64, f64)>,
) -> Result<PhotographResult, Finding> {
    let unusable = |error| Finding::error("photograph-unusable", format!("its outline: {error}"));
    let px = &traced.outline;
    let edge: &Edge = parts.edge;
    let (factor, length, square) = scale.map_or((1.0, "px", "px2"), |(s, _)| (s, "mm", "mm2"));
    let u_scale = parts.u_scale_rel.unwrap_or(0.0);
    let budget = parts.budget(factor);
    let method = format!(
        "photograph {}, contour at one level, not smoothed",
        row.file
    );
    let area_px = parts.area + lost_to_blur(edge);
    let diameter = area_diameter(area_px);
    let u_diameter = budget.combined();
    let area = factor * factor * area_px;
    // What moves the whole outline alike: all of the budget but the scale, as a displacement.
    let shift = (u_diameter.powi(2) - (u_scale * factor * diameter).powi(2))
        .max(0.0)
        .sqrt()
        / factor;
    let local = parts.local_px();
    let of_length = |value: f64, u_px: f64, how: &str| {
        let u = (factor * u_px).hypot(u_scale * factor * value);
        Quantity::known(factor * value, u, length, format!("{method}; {how}"))
    };
    let spacing = parts.perimeter / px.points().len() as f64;
    let excess = parts.perimeter * (local / spacing).powi(2);
    let perimeter_u = (std::f64::consts::PI * shift).hypot(excess);
    let perimeter_how = format!(
        "sum of the sides; noise and grid make it too long by about {:.1} %, which is not corrected and counted in u",
        100.0 * excess / parts.perimeter
    );
    let inscribed = px.largest_inscribed_circle().map_err(unusable)?;
    let feret = px.feret();
    let hull = Outline::new(&px.convex_hull()).map_err(unusable)?.area();
    let solidity = px.area() / hull;
    // Extremes rest on two places of the outline.
    let u_extreme = shift.hypot(2.0_f64.sqrt() * local);
    let circle = fit_circle(px.points()).map_or_else(
        |error| Quantity::missing(length, format!("no circle fits: {error}")),
        |fit| {
            let u = shift.hypot(2.0 * fit.u_radius_mm);
            of_length(
                2.0 * fit.circle.radius_mm,
                u,
                "circle by geometric least squares",
            )
        },
    );
    Ok(PhotographResult {
        stage: row.stage,
        file: row.file.clone(),
        used: row.used,
        shows: row.shows,
        width_px: 0,
        height_px: 0,
        grey: String::new(),
        otsu_level: 0,
        level: traced.level,
        level_method: String::new(),
        bright: traced.chosen.ring.bright,
        scale: match (scale, &row.scale) {
            (Some((mm, u)), Some(declared)) => {
                Quantity::known(mm, u * mm, "mm/px", declared.source.clone())
            }
            _ => Quantity::missing("mm/px", "no scale is declared"),
        },
        area: Quantity::known(
            area,
            2.0 * area * u_diameter / (factor * diameter),
            square,
            format!(
                "{method}; polygon, with π σ² for an edge blurred by σ = {:.2} px",
                edge.blur_px
            ),
        ),
        area_diameter: budget.quantity(factor * diameter, length, format!("{method}; 2 √(A/π)")),
        perimeter: of_length(parts.perimeter, perimeter_u, &perimeter_how),
        perimeter_diameter: of_length(
            perimeter_diameter(parts.perimeter),
            perimeter_u / std::f64::consts::PI,
            &format!("P/π, P {perimeter_how}"),
        ),
        largest_inscribed_circle: of_length(
            inscribed.diameter_mm,
            u_extreme,
            "largest circle inside",
        ),
        feret_max: of_length(feret.max_mm, u_extreme, "largest width between jaws"),
        feret_min: of_length(feret.min_mm, u_extreme, "smallest width between jaws"),
        fitted_circle: circle,
        solidity: Quantity::known(
            solidity,
            // The hull goes over the outermost places of the outline.
            solidity * local * parts.perimeter / area_px,
            "1",
            format!("{method}; area over that of the convex hull"),
        ),
        centroid_px: px.centroid(),
        points: px.points().len(),
        budget,
        drawing: None,
    })
}
