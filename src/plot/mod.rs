//! Pictures of a run and of a study, as SVG and PNG.
//!
//! Every figure is a function from results (and, where it shows samples, the trace) to one SVG document of normal size: thinned to at
//! most about 1200 points a line, with units in every axis label, and the same bytes for the same data. Missing data give no
//! figure rather than an empty one.

mod agreement;
mod axis;
mod balloon;
mod compact;
mod curve;
mod decimate;
mod diameters;
mod dose;
mod error;
mod figure;
mod font;
mod forest;
mod frame;
mod kept;
mod line;
mod normal;
mod overview;
pub mod palette;
mod panel;
mod photograph;
mod png;
mod pressure_volume;
mod probability;
mod pyramid;
mod recall;
mod study;
mod survival;
mod trace;
mod zoom;

pub use agreement::agreement_figures;
pub use error::PlotError;
pub use figure::{capital, clean, escape};
pub use normal::normal_figures;
pub use overview::overview;
pub use photograph::{PhotographFigure, stage_word};
pub use png::png;
pub use recall::{RecallPoint, recall};
pub use study::{StudyFigure, study_figures};
pub use zoom::Zoom;

use crate::recording::{BalloonRow, Curve, FrameRow, RunKind, RunResult, Trace};

/// What a run's figures need from elsewhere in the study.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RunContext {
    /// Volume the line takes at pressure (from the blank runs).
    pub line: Option<Curve>,
    /// Diameter and volume of the free balloon at pressure.
    pub free_balloon: Option<Curve>,
    /// Ambient (absolute) pressure, kPa.
    pub ambient_kpa: f64,
    /// The frame of the run, for reference lines.
    pub frame: Option<FrameRow>,
    /// The balloon of the run, for nominal and rated pressure and diameter.
    pub balloon: Option<BalloonRow>,
}

/// The figures of a run, each a whole SVG document; `None` where the data for it are missing.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct RunFigures {
    /// Pressure, volume and diameter over time, with phases and events.
    pub trace: Option<String>,
    /// Each event close up.
    pub zooms: Vec<Zoom>,
    /// Pressure against volume.
    pub loop_: Option<String>,
    /// Load on the frame against diameter.
    pub frame: Option<String>,
    /// Diameters before, loaded and after, by method.
    pub diameters: Option<String>,
    /// Photographs with their outlines.
    pub photographs: Vec<PhotographFigure>,
    /// Free balloon: diameter and volume against pressure.
    pub balloon: Option<String>,
    /// Blank run: volume against pressure, with residuals.
    pub line: Option<String>,
}

/// Every figure of a run. Without a trace only those that rest on results are drawn.
pub fn figures(run: &RunResult, trace: Option<&Trace>, context: &RunContext) -> RunFigures {
    let trace = trace.filter(|t| trace::usable(t));
    RunFigures {
        trace: trace.and_then(|t| trace::figure(run, t, context).ok().flatten()),
        zooms: trace.map_or_else(Vec::new, |t| zoom::figures(run, t)),
        loop_: trace
            .filter(|_| run.kind == RunKind::Frame || run.kind == RunKind::Free)
            .and_then(|t| pressure_volume::figure(run, t, context).ok().flatten()),
        frame: frame::figure(run).ok().flatten(),
        diameters: diameters::figure(run, context).ok().flatten(),
        photographs: photograph::figures(run),
        balloon: balloon::figure(run, trace, context).ok().flatten(),
        line: line::figure(run, trace).ok().flatten(),
    }
}
