//! Weibull probability plot: on its axes a Weibull distribution is a straight line, ln(−ln(1 − F)) against ln p.

use super::PlotError;
use super::axis::{number, range};
use super::figure::{Anchor, Figure, Type, shorten};
use super::palette;
use super::panel::{
    HEADING, KPA_PER_ATM, NORMAL, Panel, SMALL, Swatch, draw_mark, legend, legend_extra,
};
use super::study::{Arm, Reached, look};
use crate::recording::Analysis;

const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 390.0;
/// Room for the axis on top.
const TOP_AXIS: f64 = 24.0;
/// Shares at which the vertical axis is labelled, %.
const LABELS: [f64; 9] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 80.0, 95.0, 99.0];

/// Position of an arm, the arm, and pressure and share of its fractured frames.
type Set<'a> = (usize, &'a Arm, Vec<(f64, f64)>);

/// The figure; `None` where no arm has at least two fractured frames.
pub fn figure(analysis: &Analysis, arms: &[Arm]) -> Result<Option<String>, PlotError> {
    let sets: Vec<Set<'_>> = arms
        .iter()
        .enumerate()
        .map(|(i, arm)| (i, arm, plotting_positions(&arm.runs)))
        .filter(|(_, _, points)| points.len() > 1)
        .collect();
    let Some((low, high)) = range(sets.iter().flat_map(|(_, _, p)| p.iter().map(|q| q.0))) else {
        return Ok(None);
    };
    let title = "Weibull plot of fracture pressures";
    let mut entries: Vec<(Swatch, String)> = sets
        .iter()
        .map(|(i, arm, _)| {
            let (mark, ink) = look(*i);
            (Swatch::Mark(mark, ink), shorten(&arm.name, 30))
        })
        .collect();
    entries.push((
        Swatch::Line(palette::QUIET, 1.8),
        "maximum-likelihood fit".to_owned(),
    ));
    let extra = legend_extra(76.0, WIDTH - 8.0, &entries);
    let height_all = HEIGHT + extra + TOP_AXIS;
    let mut figure = Figure::new(WIDTH, height_all, title);
    figure.text(title, (76.0, 18.0), Type::plain(HEADING).bold());
    let panel = Panel::new(
        (76.0, 62.0 + extra + TOP_AXIS),
        (WIDTH - 24.0, height_all - 48.0),
        ((low * 0.9).ln(), (high * 1.1).ln()),
        (height(0.008), height(0.995)),
    );
    axes(&mut figure, panel, low * 0.9, high * 1.1);
    for (i, arm, points) in &sets {
        let (mark, ink) = look(*i);
        let fit = analysis
            .groups
            .iter()
            .find(|g| g.name == arm.name)
            .and_then(|g| g.weibull.as_ref())
            .and_then(|w| w.shape.value.zip(w.scale.value));
        if let Some((shape, scale)) = fit
            && scale > 0.0
        {
            let line = [panel.x.low, panel.x.high].map(|x| (x, shape * (x - scale.ln())));
            panel.line(&mut figure, &line, ink, 1.8);
        }
        for (p, share) in points {
            draw_mark(
                &mut figure,
                panel.at(p.ln(), height(*share)),
                mark,
                4.0,
                ink,
            );
        }
    }

    legend(&mut figure, (76.0, 42.0), WIDTH - 8.0, &entries);
    figure.finish().map(Some)
}

/// Height of a share on the plot.
fn height(share: f64) -> f64 {
    (-(1.0 - share).ln()).ln()
}

fn axes(figure: &mut Figure, panel: Panel, low: f64, high: f64) {
    let small = Type::plain(SMALL).ink(palette::QUIET);
    for percent in LABELS {
        let y = panel.y.at(height(percent / 100.0));
        figure.line([(panel.left(), y), (panel.right(), y)], palette::GRID, 1.0);
        figure.text(
            &number(percent, 0),
            (panel.left() - 6.0, y),
            small.anchor(Anchor::End),
        );
    }
    // Round pressures; on the logarithmic axis those that would touch the one before are left out.
    let mut last = f64::NEG_INFINITY;
    for (p, text) in super::axis::ticks(low, high, 9.0) {
        let x = panel.x.at(p.ln());
        if p > 0.0 && x - last > 44.0 {
            figure.line([(x, panel.top()), (x, panel.bottom())], palette::GRID, 1.0);
            figure.text(
                &text,
                (x, panel.bottom() + 13.0),
                small.anchor(Anchor::Middle),
            );
            last = x;
        }
    }
    let mut last = f64::NEG_INFINITY;
    for (p, text) in super::axis::ticks(low / KPA_PER_ATM, high / KPA_PER_ATM, 9.0) {
        let x = panel.x.at((p * KPA_PER_ATM).ln());
        if p > 0.0 && x - last > 40.0 {
            panel.top_tick(figure, x, &text);
            last = x;
        }
    }
    figure.text(
        "Pressure (atm)",
        (panel.right(), panel.top() - 27.0),
        small.anchor(Anchor::End),
    );
    panel.frame(figure);
    let look = Type::plain(NORMAL).anchor(Anchor::Middle);
    let across = f64::midpoint(panel.left(), panel.right());
    let down = f64::midpoint(panel.top(), panel.bottom());
    figure.text(
        "Pressure (kPa), logarithmic",
        (across, panel.bottom() + 32.0),
        look,
    );
    figure.text(
        "Share fractured (%)",
        (panel.left() - 50.0, down),
        look.upward(),
    );
}

/// Plotting positions of the fractured: Johnson's ranks adjusted for the censored runs before them, put through Benard's
/// (rank − 0.3) / (n + 0.4). Common practice for probability plots of few, censored data.
fn plotting_positions(runs: &[Reached]) -> Vec<(f64, f64)> {
    let mut sorted: Vec<&Reached> = runs.iter().filter(|r| r.pressure_kpa > 0.0).collect();
    // At equal pressure the fractured come first: the censored one held at least as long.
    sorted.sort_by(|a, b| {
        a.pressure_kpa
            .total_cmp(&b.pressure_kpa)
            .then(b.fractured.cmp(&a.fractured))
    });
    let n = sorted.len() as f64;
    let mut rank = 0.0;
    let mut positions = Vec::new();
    for (i, run) in sorted.iter().enumerate() {
        if run.fractured {
            let beyond = n - i as f64;
            rank += (n + 1.0 - rank) / (1.0 + beyond);
            positions.push((run.pressure_kpa, (rank - 0.3) / (n + 0.4)));
        }
    }
    positions
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reached(pressure_kpa: f64, fractured: bool) -> Reached {
        Reached {
            pressure_kpa,
            fractured,
        }
    }

    /// Without censoring the ranks are 1, 2, 3; Benard's positions for n = 3 are 0.2059, 0.5, 0.7941 (by hand).
    #[test]
    fn uncensored_ranks_are_whole() {
        let positions =
            plotting_positions(&[reached(3.0, true), reached(1.0, true), reached(2.0, true)]);
        let shares: Vec<f64> = positions.iter().map(|p| p.1).collect();
        for (share, wanted) in shares.iter().zip([0.7 / 3.4, 0.5, 2.7 / 3.4]) {
            assert!((share - wanted).abs() < 1e-12);
        }
    }

    /// Johnson's increment by hand for n = 4, the second censored: ranks 1, 1 + (5 − 1)/3 = 2.3333, 3.6667.
    #[test]
    fn censored_runs_push_later_ranks_up() {
        let positions = plotting_positions(&[
            reached(1.0, true),
            reached(2.0, false),
            reached(3.0, true),
            reached(4.0, true),
        ]);
        let ranks: Vec<f64> = positions.iter().map(|p| p.1 * 4.4 + 0.3).collect();
        for (rank, wanted) in ranks.iter().zip([1.0, 7.0 / 3.0, 11.0 / 3.0]) {
            assert!((rank - wanted).abs() < 1e-12, "{ranks:?}");
        }
    }
}
