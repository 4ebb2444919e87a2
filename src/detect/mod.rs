//! What happened: events from the joint behaviour of pressure and volume.
//!
//! Falls of pressure that moved volume does not explain are found once ([`falls`]); each detector of [`DETECTORS`] then claims what is
//! its own. Thresholds follow the recording's own noise, measured at rest, and the capacity of its line and balloon: never a
//! fixed number of atmospheres. Nothing is smoothed or resampled before an edge is placed: an onset lies between two samples.

mod burst;
mod definitions;
mod edge;
mod evidence;
mod falls;
mod false_alarm;
mod fracture;
mod leak;
mod level;
mod levels;
mod onset;
mod pressure_only;
mod ranges;
mod search;
mod slip;
mod stiffness;
mod stopcock;

use crate::balloon::LineModel;
use crate::recording::{Event, EventKind, Phase, PhaseKind, Trace};
use crate::rig::Settings;
use crate::segment::Motion;

use evidence::{Kind, Weighed};

pub use falls::{Fall, Found, find_falls};
pub use false_alarm::Noise;
pub use level::Level;

/// What a detector looks at.
pub struct Context<'a> {
    /// The trace.
    pub trace: &'a Trace,
    /// Its phases.
    pub phases: &'a [Phase],
    /// Its motion.
    pub motion: &'a Motion,
    /// Thresholds.
    pub settings: &'a Settings,
    /// The line, if blank runs told it.
    pub line: Option<&'a LineModel>,
    /// Sudden falls that moved volume does not explain.
    pub falls: &'a [Fall],
    /// What each of them is likely to be.
    weighed: Vec<Weighed>,
    /// Falls that noise alone makes.
    pub noise: Noise,
    /// Stretches in which the stopcock was shut and the transducer did not see the balloon: first sample and one past the last.
    pub shut: &'a [(usize, usize)],
}

impl Context<'_> {
    /// The falls that are likeliest of a kind.
    fn likeliest(&self, kind: Kind) -> impl Iterator<Item = (&Fall, &Weighed)> {
        let both = self.falls.iter().zip(&self.weighed);
        both.filter(move |(_, weighed)| weighed.kind == kind)
    }

    /// Highest finite pressure, kPa.
    pub fn highest(&self) -> f64 {
        self.trace
            .pressure_kpa
            .iter()
            .copied()
            .filter(|p| p.is_finite())
            .fold(0.0, f64::max)
    }

    /// First sample of the closing deflation, or the end of the trace.
    pub fn deflation_start(&self) -> usize {
        self.phases
            .iter()
            .find(|p| p.kind == PhaseKind::Deflate)
            .map_or(self.trace.len(), |p| p.start)
    }
}

/// One kind of event.
pub trait Detector: Sync {
    /// Name, one word.
    fn name(&self) -> &'static str;
    /// What it looks for, in one sentence.
    fn looks_for(&self) -> &'static str;
    /// The events it claims, in time order.
    fn find(&self, context: &Context<'_>) -> Vec<Event>;
}

/// Every detector. A new one is one file and one line here.
pub const DETECTORS: &[&dyn Detector] =
    &[&fracture::Fracture, &burst::Burst, &slip::Slip, &leak::Leak];

/// All events of a trace in time order, and the smallest sudden fall that would have been seen (kPa).
pub fn detect(
    trace: &Trace,
    phases: &[Phase],
    motion: &Motion,
    line: Option<&LineModel>,
    settings: &Settings,
) -> (Vec<Event>, f64) {
    let found = find_falls(trace, phases, motion, line, settings);
    let mut context = Context {
        trace,
        phases,
        motion,
        settings,
        line,
        falls: &found.falls,
        weighed: Vec::new(),
        noise: found.noise,
        shut: &found.shut,
    };
    context.weighed = found
        .falls
        .iter()
        .map(|fall| evidence::weigh(&context, fall))
        .collect();
    let mut events: Vec<Event> = DETECTORS
        .iter()
        .flat_map(|detector| detector.find(&context))
        .collect();
    // After a burst nothing is loaded any more.
    let burst = events
        .iter()
        .filter(|e| e.kind == EventKind::Burst)
        .filter_map(|e| e.t_s)
        .fold(f64::INFINITY, f64::min);
    events.retain(|e| e.t_s.is_some_and(|t| t <= burst));
    events.sort_by(|a, b| {
        a.t_s
            .unwrap_or(f64::INFINITY)
            .total_cmp(&b.t_s.unwrap_or(f64::INFINITY))
    });
    (events, found.smallest_kpa)
}
