//! Difference against mean of two methods (Bland-Altman), one figure a pair of methods.

use super::PlotError;
use super::axis::{at_least, padded, range};
use super::figure::{Figure, Type, shorten};
use super::palette::{self, Ink};
use super::panel::{HEADING, Mark, Panel, SMALL, Swatch, draw_mark, legend, legend_extra};
use super::study::StudyFigure;
use crate::recording::{AgreementPoint, Analysis, Interval, MethodAgreement, PairAgreement};

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;
/// Differences are spread over at least this, mm, so that the last digit of a caliper does not fill the panel.
const LEAST_SPREAD_MM: f64 = 0.1;
/// Stages with their marks.
const STAGES: [(&str, Mark, Ink); 3] = [
    ("before", Mark::Ring, palette::PRESSURE),
    ("loaded", Mark::Square, palette::VOLUME),
    ("after", Mark::Dot, palette::DIAMETER),
];

/// A figure for every pair of methods that has limits of agreement.
pub fn agreement_figures(analysis: &Analysis) -> Vec<StudyFigure> {
    analysis
        .agreement
        .iter()
        .filter_map(|of| {
            let svg = figure(of, of.pairs.as_ref()?).ok().flatten()?;
            Some(StudyFigure {
                caption: format!(
                    "{} less {}, {} pairs of {} frames. The full line is the bias, broken lines are the limits that hold 95 % of the \
                     differences of a normal population, bands their confidence intervals; the slanting line is the difference as it depends \
                     on the mean.",
                    super::capital(&words(&of.second)),
                    words(&of.first),
                    of.n,
                    of.frames
                ),
                svg,
            })
        })
        .collect()
}

/// The name of a method in words.
fn words(method: &str) -> String {
    method.replace('_', " ")
}

fn place(point: &AgreementPoint) -> (f64, f64) {
    (
        f64::midpoint(point.first_mm, point.second_mm),
        point.second_mm - point.first_mm,
    )
}

fn figure(of: &MethodAgreement, pairs: &PairAgreement) -> Result<Option<String>, PlotError> {
    let Some(means) = range(of.points.iter().map(|p| place(p).0)) else {
        return Ok(None);
    };
    let lines = [&pairs.bias, &pairs.lower, &pairs.upper];
    let heights = lines
        .iter()
        .flat_map(|line| [line.lower, line.value, line.upper])
        .flatten()
        .chain(of.points.iter().map(|p| place(p).1))
        .chain([0.0]);
    let Some(differences) = range(heights) else {
        return Ok(None);
    };
    let title = shorten(
        &format!(
            "{} less {}",
            super::capital(&words(&of.second)),
            words(&of.first)
        ),
        60,
    );
    let entries: Vec<(Swatch, String)> = STAGES
        .iter()
        .filter(|(stage, _, _)| of.points.iter().any(|p| p.stage == *stage))
        .map(|(stage, mark, ink)| (Swatch::Mark(*mark, *ink), (*stage).to_owned()))
        .chain([
            (Swatch::Line(palette::TEXT, 1.8), "bias".to_owned()),
            (
                Swatch::Dashed(palette::TEXT),
                "limits of agreement".to_owned(),
            ),
            (Swatch::Field(band_ink()), "their intervals".to_owned()),
            (
                Swatch::Line(palette::SECOND, 1.2),
                "slope on the mean".to_owned(),
            ),
        ])
        .collect();
    let extra = legend_extra(70.0, WIDTH - 8.0, &entries);
    let mut figure = Figure::new(WIDTH, HEIGHT + extra, title.clone());
    figure.text(&title, (70.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (70.0, 62.0 + extra),
        (WIDTH - 64.0, HEIGHT + extra - 52.0),
        padded(means, 0.08),
        padded(at_least(differences, LEAST_SPREAD_MM), 0.08),
    );
    for line in lines {
        band(&mut figure, &panel, line);
    }
    panel.x_axis(&mut figure, Some("Mean of both methods (mm)"));
    panel.y_axis(&mut figure, "Difference (mm)", palette::TEXT);
    let across = |y: f64| [(panel.x.low, y), (panel.x.high, y)];
    panel.line(&mut figure, &across(0.0), palette::AXIS, 1.0);
    for (line, whole) in lines.into_iter().zip([true, false, false]) {
        let Some(y) = line.value else {
            continue;
        };
        if whole {
            panel.line(&mut figure, &across(y), palette::TEXT, 1.8);
        } else {
            panel.dashed(&mut figure, &across(y), palette::TEXT, 1.6, (8.0, 4.0));
        }
        let right = (panel.right() + 6.0, panel.y.at(y));
        figure.text(&super::axis::number(y, 3), right, Type::plain(SMALL));
    }
    trend(&mut figure, &panel, of, pairs);
    for point in &of.points {
        let looks = STAGES.iter().find(|(stage, _, _)| *stage == point.stage);
        if let Some((_, mark, ink)) = looks {
            let (x, y) = place(point);
            draw_mark(&mut figure, panel.at(x, y), *mark, 3.6, *ink);
        }
    }
    panel.frame(&mut figure);
    legend(&mut figure, (70.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

fn band_ink() -> Ink {
    palette::REFERENCE.faded(0.22)
}

/// The interval of a level line over the whole width.
fn band(figure: &mut Figure, panel: &Panel, line: &Interval) {
    if let (Some(low), Some(high)) = (line.lower, line.upper) {
        figure.rect(
            (panel.left(), panel.y.at(high)),
            (panel.right(), panel.y.at(low)),
            band_ink(),
        );
    }
}

/// The line of the difference on the mean, through the middle of all pairs.
fn trend(figure: &mut Figure, panel: &Panel, of: &MethodAgreement, pairs: &PairAgreement) {
    let slope = pairs.slope.as_ref().and_then(|slope| slope.value);
    if let (Some(slope), Some(bias)) = (slope, pairs.bias.value) {
        let n = of.points.len().max(1) as f64;
        let middle = of.points.iter().map(|p| place(p).0).sum::<f64>() / n;
        let at = |x: f64| (x, bias + slope * (x - middle));
        panel.line(
            figure,
            &[at(panel.x.low), at(panel.x.high)],
            palette::SECOND,
            1.2,
        );
    }
}
