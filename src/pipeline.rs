//! The way of the data, from a study folder to results. Open this file first.
//!
//! ```text
//! read -> calibrate -> segment -> detect -> fit -> measure -> judge -> report
//! ```
//!
//! Blank and free runs go first, because the line and the balloons they measure are needed to judge the frames. Then
//! every frame run goes its whole way by itself, on as many threads as there are; results are put in the order of the runs table, so
//! the number of threads changes nothing. One bad run never stops the others: it ends as `invalid` with an error finding.

mod burst_test;
mod chain;
mod check;
mod checks;
mod dial;
mod effects;
mod flow;
mod frame_figures;
mod frame_run;
mod frame_under_load;
mod further;
mod load_budget;
mod open;
mod photographs;
mod reference;
mod results;
mod same_recordings;
mod setup;
mod spellings;
mod trials;

use crate::balloon::{FreeBalloon, LineModel, Unfolding};
use crate::judge::Protocol;
use crate::measure::Repeatability;
use crate::plot::{RunContext, RunFigures};
use crate::read::Original;
use crate::recording::{
    Analysis, Finding, Input, Phase, Place, RawRecording, RecordingInfo, RunKind, RunResult,
    RunRow, Severity, StudyTables, Trace,
};
use crate::rig::{Rig, Series, Settings, StudyFile};
use crate::segment::{Motion, Rest, rests, segment};
use crate::uncertain::Trials;
use crate::{calibrate, plot, read, table};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::PathBuf;

pub use check::{Checked, check};
pub use checks::{CHECKS, Check};
pub use open::open_study;

/// What to analyse.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// Only these runs (and the blank and free runs they rest on); empty means all.
    pub only: Vec<String>,
    /// Draw plots and write the report page.
    pub plots: bool,
    /// Trials of every quantity beside its propagated uncertainty, if asked for.
    pub trials: Option<Trials>,
}

/// A study read and ready: its tables, rigs and settings.
pub struct Study {
    folder: PathBuf,
    file: StudyFile,
    rig: Rig,
    rigs: BTreeMap<String, Rig>,
    tables: StudyTables,
    protocol: Option<Protocol>,
    /// How well hands repeat themselves with a caliper, if anything was repeated.
    repeatability: Option<Repeatability>,
    inputs: Vec<Input>,
    findings: Vec<Finding>,
    /// Which findings are about each run.
    findings_of: BTreeMap<String, Vec<usize>>,
}

/// A recording through read, calibrate and segment.
struct Prepared {
    trace: Trace,
    motion: Motion,
    phases: Vec<Phase>,
    rests: Vec<Rest>,
    info: RecordingInfo,
}

/// A run on its way: prepared, or why not.
struct Attempt {
    prepared: Option<Prepared>,
    original: Option<Original>,
    /// Further recordings of the run, as far as they could be opened.
    further: Vec<further::Opened>,
    photographed: photographs::Photographed,
    findings: Vec<Finding>,
}

impl Attempt {
    /// Fingerprint of the main recording, with an error finding where it can no longer be read.
    fn fingerprint(&self) -> (Option<Input>, Option<Finding>) {
        match self.original.as_ref().map(Original::fingerprint) {
            Some(Ok(input)) => (Some(input), None),
            Some(Err(finding)) => (None, Some(finding)),
            None => (None, None),
        }
    }
}

/// What the reference runs tell the frame runs.
struct References {
    line: Option<LineModel>,
    balloons: BTreeMap<String, FreeBalloon>,
    /// What each balloon needs below its unfolded size, where a free run shows it.
    unfoldings: BTreeMap<String, Unfolding>,
    /// How fast the zero drifts, kPa/s (root mean square), where a closing vent of a reference run shows it.
    drift_kpa_per_s: Option<f64>,
}

/// Results with their files.
pub struct Analysed {
    /// The results.
    pub analysis: Analysis,
    /// Every file of the output folder.
    pub outputs: Vec<table::Output>,
}

impl Study {
    /// Title of the study.
    pub fn title(&self) -> &str {
        &self.file.title
    }

    /// Names of the runs, in the order of the table.
    pub fn run_ids(&self) -> impl Iterator<Item = &str> {
        self.tables.runs.iter().map(|run| run.run_id.as_str())
    }

    /// What the tables say of a run.
    fn findings_of(&self, run_id: &str) -> impl Iterator<Item = &Finding> {
        let places = self.findings_of.get(run_id).into_iter().flatten();
        places.filter_map(|at| self.findings.get(*at))
    }

    /// How its runs are grouped and what is called the fracture pressure.
    pub fn series(&self) -> &Series {
        &self.file.series
    }

    fn settings(&self) -> &Settings {
        &self.file.settings
    }

    /// The rig of a run; an error finding where the run names a rig that could not be loaded.
    fn rig_of(&self, run: &RunRow) -> Result<&Rig, Finding> {
        let Some(path) = &run.rig else {
            return Ok(&self.rig);
        };
        self.rigs.get(path).ok_or_else(|| {
            Finding::error(
                "rig-unusable",
                format!("the rig {path} of this run could not be loaded"),
            )
            .at(Place::line(&run.file, run.line))
        })
    }
}

/// Analyses a study. `progress` is told after every run: done, of how many.
///
/// # Errors
///
/// Error findings where nothing can be analysed: an unknown run asked for, or (never expected) a result that cannot be written out.
pub fn analyse(
    study: &Study,
    options: &Options,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Analysed, Vec<Finding>> {
    let chosen = choose(study, options)?;
    let (reference, frames): (Vec<&RunRow>, Vec<&RunRow>) = chosen
        .iter()
        .copied()
        .partition(|run| run.kind != RunKind::Frame);
    let done = std::sync::atomic::AtomicUsize::new(0);
    let tick = || {
        progress(
            done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1,
            chosen.len(),
        );
    };

    let attempts: Vec<Attempt> = reference
        .par_iter()
        .map(|run| prepare(study, run, None, options.plots))
        .inspect(|_| tick())
        .collect();
    let (references, measured) = reference::measure(study, &reference, &attempts, options.trials);
    let mut finished: Vec<(RunResult, RunFigures, Vec<Input>)> = measured
        .into_iter()
        .zip(&attempts)
        .map(|(run, attempt)| {
            let figures = draw(study, options, &references, &run, attempt.prepared.as_ref());
            signed(run, figures, attempt, attempt.fingerprint())
        })
        .collect();
    drop(attempts);
    // The trace of a frame run lives only as long as its own way takes.
    // One run at a time goes to whoever is free: the last ones are shared out too.
    let framed: Vec<(RunResult, RunFigures, Vec<Input>)> = frames
        .par_iter()
        .with_max_len(1)
        .map(|run| {
            let attempt = prepare(study, run, references.drift_kpa_per_s, options.plots);
            // A large file takes as long to hash as its recording to analyse.
            let ((result, figures), fingerprint) = rayon::join(
                || {
                    let result =
                        frame_run::analyse(study, &references, run, &attempt, options.trials);
                    let prepared = attempt.prepared.as_ref();
                    let figures = draw(study, options, &references, &result, prepared);
                    (result, figures)
                },
                || attempt.fingerprint(),
            );
            tick();
            signed(result, figures, &attempt, fingerprint)
        })
        .collect();
    finished.extend(framed);
    results::assemble(study, options, finished)
}

/// A finished run with the fingerprints of its recordings.
fn signed(
    mut run: RunResult,
    figures: RunFigures,
    attempt: &Attempt,
    (input, finding): (Option<Input>, Option<Finding>),
) -> (RunResult, RunFigures, Vec<Input>) {
    run.findings.extend(finding.map(|f| f.run(&run.run_id)));
    let further = attempt.further.iter().map(|opened| opened.input.clone());
    let pictures = attempt.photographed.inputs.iter().cloned();
    let inputs = input.into_iter().chain(further).chain(pictures);
    (run, figures, inputs.collect())
}

/// The runs to analyse: all, or the named ones with every reference run.
fn choose<'s>(study: &'s Study, options: &Options) -> Result<Vec<&'s RunRow>, Vec<Finding>> {
    let unknown: Vec<Finding> = options
        .only
        .iter()
        .filter(|name| !study.run_ids().any(|id| id == name.as_str()))
        .map(|name| {
            let known: Vec<&str> = study.run_ids().collect();
            let near = crate::recording::suggest(name, known.iter().copied());
            Finding::error(
                "unknown-run",
                format!("there is no run \"{name}\" in this study"),
            )
            .help(near.map_or_else(
                || format!("runs: {}", known.join(", ")),
                |near| format!("did you mean \"{near}\"?"),
            ))
        })
        .collect();
    if !unknown.is_empty() {
        return Err(unknown);
    }
    let wanted = |run: &&RunRow| {
        options.only.is_empty() || run.kind != RunKind::Frame || options.only.contains(&run.run_id)
    };
    Ok(study.tables.runs.iter().filter(wanted).collect())
}

/// Reads a recording, and measures photographs, as far as it can be had without the others; `usual_drift` of the zero, kPa/s, is what
/// they tell of a run that does not show its own, and `draw` keeps small copies of pictures.
fn prepare(study: &Study, run: &RunRow, usual_drift: Option<f64>, draw: bool) -> Attempt {
    let mut attempt = recorded(study, run, usual_drift);
    attempt.photographed = photographs::measure(study, run, draw);
    attempt.findings.append(&mut attempt.photographed.findings);
    attempt
}

/// The recording of a run.
fn recorded(study: &Study, run: &RunRow, usual_drift: Option<f64>) -> Attempt {
    let mut attempt = Attempt {
        prepared: None,
        original: None,
        further: Vec::new(),
        photographed: photographs::Photographed::default(),
        findings: Vec::new(),
    };
    let Some(file) = &run.trace else {
        // A path that leaves the study was reported with the table; a run without any recording may still have diameters.
        if !study
            .findings_of(&run.run_id)
            .any(|f| f.severity == Severity::Error)
        {
            attempt.findings.push(
                Finding::error("no-recording", "the run names no recording")
                    .at(Place::line(&run.file, run.line))
                    .help("fill in the trace column"),
            );
        }
        return attempt;
    };
    let rig = match study.rig_of(run) {
        Ok(rig) => rig,
        Err(finding) => {
            attempt.findings.push(finding);
            return attempt;
        }
    };
    let path = study.folder.join(file);
    let (raw, original) = match read::read_original(&path, file, rig) {
        Ok(read) => read,
        Err(findings) => {
            let file = read::file_of(&study.folder, file);
            attempt.original = Original::of(&study.folder.join(&file), &file).ok();
            attempt.findings.extend(findings);
            return attempt;
        }
    };
    attempt.original = Some(original);
    match calibrate_and_segment(study, rig, run, raw, usual_drift, &mut attempt.further) {
        Ok((prepared, findings)) => {
            attempt.prepared = Some(prepared);
            attempt.findings.extend(findings);
        }
        Err(findings) => attempt.findings.extend(findings),
    }
    attempt
}

/// Calibrate, add the further recordings, segment.
fn calibrate_and_segment(
    study: &Study,
    rig: &Rig,
    run: &RunRow,
    mut raw: RawRecording,
    usual_drift: Option<f64>,
    opened: &mut Vec<further::Opened>,
) -> Result<(Prepared, Vec<Finding>), Vec<Finding>> {
    let mut info = recording_info(&raw, rig);
    let started_at = raw.started_at.take();
    let (mut trace, mut findings) =
        calibrate::calibrate(raw, rig, run, study.settings(), usual_drift)?;
    let main = further::Main {
        study,
        rig,
        run,
        started_at: started_at.as_deref(),
    };
    let added = further::add(&main, &mut trace, opened);
    info.further = added.recordings;
    findings.extend(added.findings);
    info.samples = trace.len();
    info.duration_s = trace.time_s.last().copied().unwrap_or(0.0);
    info.rate_hz = 1.0 / trace.step_s;
    info.noise_kpa = trace.noise_kpa;
    let settings = study.settings();
    let motion = Motion::of(&trace, &settings.motion);
    let phases = segment(&trace, &motion, &settings.phases);
    let rests = rests(&trace, &motion, &phases, &settings.rests);
    effects::in_phases(&mut findings, &phases);
    let prepared = Prepared {
        trace,
        motion,
        phases,
        rests,
        info,
    };
    Ok((prepared, findings))
}

/// What the file says of a recording; what the trace says is filled in later.
fn recording_info(raw: &RawRecording, rig: &Rig) -> RecordingInfo {
    RecordingInfo {
        read: raw.summary.clone(),
        samples: 0,
        duration_s: f64::NAN,
        rate_hz: f64::NAN,
        noise_kpa: f64::NAN,
        smallest_drop_kpa: f64::NAN,
        channels: raw
            .channels
            .iter()
            .filter_map(|c| {
                rig.channels.get(c.channel).map(|spec| {
                    format!("{} ({}, {})", spec.quantity.word(), c.column, c.unit.symbol)
                })
            })
            .collect(),
        further: Vec::new(),
    }
}

fn draw(
    study: &Study,
    options: &Options,
    references: &References,
    run: &RunResult,
    prepared: Option<&Prepared>,
) -> RunFigures {
    if !options.plots {
        return RunFigures::default();
    }
    let balloon = run.balloon_id.as_deref();
    let context = RunContext {
        line: references.line.as_ref().map(reference::line_curve),
        free_balloon: balloon
            .and_then(|id| references.balloons.get(id))
            .map(reference::balloon_curve),
        ambient_kpa: study.rig.ambient(),
        frame: study
            .tables
            .frames
            .iter()
            .find(|f| Some(&f.frame_id) == run.frame_id.as_ref())
            .cloned(),
        balloon: study
            .tables
            .balloons
            .iter()
            .find(|b| Some(b.balloon_id.as_str()) == balloon)
            .cloned(),
    };
    plot::figures(run, prepared.map(|p| &p.trace), &context)
}
