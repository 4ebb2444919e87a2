//! Results put together: bare runs, findings in order, groups, files.

use super::same_recordings::same_recordings;
use super::setup::ids;
use super::{Analysed, Attempt, Options, Study};
use crate::plot::{self, RunFigures};
use crate::recording::{
    Analysis, Finding, Group, Input, Outcome, Place, RecordingInfo, RunResult, RunRow, SCHEMA,
    Severity, StudyInfo, Tool, Trace, highest,
};
use crate::table::{self, Output};
use crate::uncertain::Quantity;
use crate::{judge, report};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Scale of the PNG against the SVG.
const PNG_SCALE: f32 = 1.5;

/// A run with what the table and the recording say before anything is analysed.
pub(super) fn bare(study: &Study, run: &RunRow, attempt: &Attempt) -> RunResult {
    let mut findings: Vec<Finding> = attempt
        .findings
        .iter()
        .cloned()
        .map(|f| f.run(&run.run_id))
        .collect();
    // Table findings about this run stand with it, so that a reader of the run sees them.
    findings.extend(study.findings_of(&run.run_id).cloned());
    let reason = findings
        .iter()
        .find(|f| f.severity == Severity::Error)
        .map_or_else(String::new, |f| f.message.clone());
    RunResult {
        run_id: run.run_id.clone(),
        kind: run.kind,
        frame_id: run.frame_id.clone(),
        balloon_id: run.balloon_id.clone(),
        arm: run.arm.clone(),
        operator: run.operator.clone(),
        started_at: run.started_at.clone(),
        trace: run.trace.clone(),
        inspection: run.inspection,
        inner_valve: run.inner_valve.clone(),
        note: run.note.clone(),
        setup: super::setup::setup(study, run, attempt),
        outcome: Outcome::Invalid,
        outcome_reason: reason,
        highest_pressure: attempt.prepared.as_ref().map_or_else(
            || Quantity::missing("kPa", "the recording cannot be used"),
            |p| highest_pressure(&p.trace),
        ),
        phases: attempt
            .prepared
            .as_ref()
            .map_or_else(Vec::new, |p| p.phases.clone()),
        events: Vec::new(),
        line: None,
        balloon: None,
        frame: None,
        relaxation: Vec::new(),
        relaxation_reason: None,
        diameters: None,
        areas: None,
        photographs: attempt.photographed.results.clone(),
        leaflets: attempt.photographed.leaflets.clone(),
        flow: BTreeMap::new(),
        budgets: BTreeMap::new(),
        monte_carlo: Vec::new(),
        observations: study
            .tables
            .observations
            .iter()
            .filter(|o| o.run_id == run.run_id)
            .cloned()
            .collect(),
        adherence: Vec::new(),
        recording: attempt
            .prepared
            .as_ref()
            .map_or_else(RecordingInfo::default, |p| p.info.clone()),
        findings,
    }
}

/// Median of three neighbours; NaN where one is missing.
#[inline]
fn middle(&[a, b, c]: &[f64; 3]) -> f64 {
    let (low, high) = if a < b { (a, b) } else { (b, a) };
    let up = if c > low { c } else { low };
    let middle = if up < high { up } else { high };
    let all_there = (a + b + c).is_finite();
    if all_there { middle } else { f64::NAN }
}

/// Medians of neighbours looked at together.
const TOGETHER: usize = 1024;

/// Highest pressure: the largest median of three neighbouring samples, so that no single sample makes it.
pub(super) fn highest_pressure(trace: &Trace) -> Quantity {
    let mut top = (f64::NEG_INFINITY, 0);
    let mut middles = Vec::with_capacity(TOGETHER);
    let p = &trace.pressure_kpa;
    let parts: Vec<(usize, &[f64], f64)> = (0..p.len())
        .step_by(TOGETHER)
        .map(|from| (from, &p[from..(from + TOGETHER + 2).min(p.len())]))
        .map(|(from, part)| (from, part, highest(part)))
        .collect();
    // A median of three is no higher than the highest of them: the part with the highest sample first, then hardly another counts.
    let first = parts.iter().max_by(|a, b| a.2.total_cmp(&b.2));
    for (from, part, most) in first.into_iter().chain(&parts) {
        if *most < top.0 {
            continue;
        }
        middles.clear();
        middles.extend(part.array_windows().map(middle));
        let highest = highest(&middles);
        if highest > top.0 {
            let at = middles.iter().position(|middle| *middle == highest);
            top = (highest, from + 1 + at.unwrap_or(0));
        }
    }
    if !top.0.is_finite() {
        return Quantity::missing("kPa", "no three neighbouring samples with a pressure");
    }
    if trace.clipped[top.1] {
        return Quantity::without_u(
            top.0,
            "kPa",
            "limit of the channel",
            "the channel was at its limit: the pressure was at least this",
        );
    }
    let t_s = trace.time_s.get(top.1).copied();
    let u = trace
        .u_pressure_at(top.0, t_s.unwrap_or(trace.zeroed_at_s))
        .hypot(trace.noise_kpa);
    Quantity::known(
        top.0,
        u,
        "kPa",
        "largest median of three neighbouring samples",
    )
}

/// Everything in the order of the runs table, with groups, page and files.
pub(super) fn assemble(
    study: &Study,
    options: &Options,
    mut finished: Vec<(RunResult, RunFigures, Vec<Input>)>,
) -> Result<Analysed, Vec<Finding>> {
    let order: BTreeMap<&str, usize> = study
        .tables
        .runs
        .iter()
        .enumerate()
        .map(|(i, r)| (r.run_id.as_str(), i))
        .collect();
    finished.sort_by_key(|(run, _, _)| order.get(run.run_id.as_str()).copied());
    let mut inputs = study.inputs.clone();
    let mut runs = Vec::new();
    let mut figures = BTreeMap::new();
    for (run, drawn, read) in finished {
        inputs.extend(read);
        figures.insert(run.run_id.clone(), drawn);
        runs.push(run);
    }
    inputs.sort();
    inputs.dedup();
    let protocol = study.protocol.as_ref();
    if let Some(protocol) = protocol {
        judge::keep_steps(protocol, &mut runs, study.series());
    }
    let in_runs = |f: &Finding| f.run_id.as_ref().is_some_and(|id| figures.contains_key(id));
    let mut findings: Vec<Finding> = study
        .findings
        .iter()
        .filter(|f| !in_runs(f))
        .cloned()
        .collect();
    let readings = &study.tables.calipers;
    let confidence = study.settings().confidence;
    let series = &study.file.series;
    // Statistics of arms and of methods know nothing of each other.
    let (groups, (agreement, gauge_rr)) = rayon::join(
        || -> Vec<Group> {
            judge::samples(&runs, series)
                .par_iter()
                .with_max_len(1)
                .map(|sample| judge::group(sample, series, study.settings()))
                .collect()
        },
        || {
            rayon::join(
                || {
                    (0..judge::METHOD_PAIRS)
                        .into_par_iter()
                        .with_max_len(1)
                        .filter_map(|pair| {
                            judge::agreement_of_pair(pair, &runs, readings, confidence)
                        })
                        .collect()
                },
                || judge::gauge_studies(readings, study.file.diameter_tolerance_mm, confidence),
            )
        },
    );
    findings.extend(judge::mixed_groups(&runs, series, &|run, column| {
        let row = study
            .tables
            .runs
            .iter()
            .find(|row| row.run_id == run.run_id)?;
        let cell = study.tables.listed.cell(column, ids(row));
        Some(cell.map_or_else(|| Place::line(&row.file, row.line), |cell| cell.at))
    }));
    let named = runs
        .iter()
        .map(|run| (run.run_id.as_str(), run.trace.as_deref()));
    findings.extend(same_recordings(named, &inputs));
    if let Some(protocol) = protocol {
        findings.extend(judge::unseen_observations(protocol, &runs));
        // With some runs only, an arm without a run is none that is not there.
        if options.only.is_empty() {
            findings.extend(judge::unseen_arms(protocol, &runs, series));
        }
    }
    let comparisons = judge::comparisons(&runs, series, &groups, confidence);
    let verdicts = protocol.map_or_else(Vec::new, |p| judge::verdicts(p, &runs, series, &groups));
    let adherence = protocol.map_or_else(Vec::new, |p| judge::group_adherence(p, &runs, series));
    let balloon_ratings =
        judge::rated_bursts(&runs, &study.tables.balloons, &study.settings().balloon);
    let analysis = Analysis {
        schema: SCHEMA.to_owned(),
        tool: Tool {
            name: env!("CARGO_PKG_NAME").to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        },
        study: study_info(study, options),
        inputs,
        findings,
        runs,
        groups,
        comparisons,
        verdicts,
        adherence,
        balloon_ratings,
        agreement,
        gauge_rr,
    };
    let outputs = files(&analysis, options, &figures)
        .map_err(|message| vec![Finding::error("cannot-write-out", message)])?;
    Ok(Analysed { analysis, outputs })
}

fn study_info(study: &Study, options: &Options) -> StudyInfo {
    StudyInfo {
        title: study.file.title.clone(),
        rig: study.rig.name.clone(),
        rig_file: study.rig.file.clone(),
        ambient_pressure_kpa: study.rig.ambient(),
        transducer_side: match study.rig.side {
            Some(crate::rig::Side::Inflator) => "inflator",
            Some(crate::rig::Side::Balloon) => "balloon",
            None => "not declared",
        }
        .to_owned(),
        definition: study.file.series.definition,
        fracture_pressure_definition: study.file.series.definition.meaning().to_owned(),
        monte_carlo: options.trials,
        report: study.file.report.clone(),
        settings: serde_json::to_value(study.settings()).unwrap_or_default(),
    }
}

fn files(
    analysis: &Analysis,
    options: &Options,
    figures: &BTreeMap<String, RunFigures>,
) -> Result<Vec<Output>, String> {
    let (json, (runs, events, observations)) = rayon::join(
        || table::results_json(analysis),
        || {
            (
                table::runs_csv(analysis),
                table::events_csv(analysis),
                table::observations_csv(analysis),
            )
        },
    );
    let output = |path: &str, bytes| Output {
        path: path.to_owned(),
        bytes,
    };
    let mut outputs = vec![
        output("results.json", json.map_err(|e| e.to_string())?),
        output("runs.csv", runs.map_err(|e| e.to_string())?),
        output("events.csv", events.map_err(|e| e.to_string())?),
        output("observations.csv", observations.map_err(|e| e.to_string())?),
    ];
    if !options.plots {
        return Ok(outputs);
    }
    let page = report::render(analysis, figures, &plot::study_figures(analysis))
        .map_err(|e| e.to_string())?;
    outputs.push(Output {
        path: "report.html".to_owned(),
        bytes: page.into_bytes(),
    });
    let drawn: Result<Vec<[Output; 2]>, String> = analysis
        .runs
        .par_iter()
        .filter_map(|run| figures.get(&run.run_id).map(|f| (run, f)))
        .map(|(run, f)| {
            let svg = plot::overview(run, f);
            let png = plot::png(&svg, PNG_SCALE).map_err(|e| e.to_string())?;
            let name = file_name(&run.run_id);
            Ok([
                Output {
                    path: format!("plots/{name}.svg"),
                    bytes: svg.into_bytes(),
                },
                Output {
                    path: format!("plots/{name}.png"),
                    bytes: png,
                },
            ])
        })
        .collect();
    outputs.extend(drawn?.into_iter().flatten());
    Ok(outputs)
}

/// Longest file name made of a run's name, bytes: file systems take 255, and an ending follows.
const LONGEST_NAME: usize = 120;

/// A run's name as a file name: letters, digits, `.`, `_`, `-`; everything else becomes its code, so two names never meet. The end
/// of a long one gives way to a fingerprint of the whole.
fn file_name(run_id: &str) -> String {
    let mut name = String::new();
    for (i, c) in run_id.chars().enumerate() {
        if c.is_ascii_alphanumeric() || c == '_' || c == '-' || (c == '.' && i > 0) {
            name.push(c);
        } else {
            let _ = write!(name, "%{:x}", u32::from(c));
        }
    }
    if name.len() > LONGEST_NAME {
        let fingerprint = crate::read::sha256(run_id.as_bytes());
        name.truncate(LONGEST_NAME);
        let _ = write!(name, "-{}", &fingerprint[..16]);
    }
    name
}

#[cfg(test)]
mod tests {
    use super::*;

    fn highest_of(pressure: Vec<f64>) -> Option<f64> {
        let n = pressure.len();
        let trace = Trace {
            clipped: vec![false; n],
            pressure_kpa: pressure.into(),
            ..Trace::default()
        };
        highest_pressure(&trace).value
    }

    /// A ramp with a spike, at the ends of what is looked at together and in the middle; and a single reading beside a missing one.
    #[test]
    fn no_single_sample_makes_the_highest_pressure() {
        for at in [1, TOGETHER - 1, TOGETHER, TOGETHER + 1, 1500] {
            let mut pressure: Vec<f64> = (0..2000).map(f64::from).collect();
            assert_eq!(highest_of(pressure.clone()), Some(1998.0));
            pressure[at] = 9000.0;
            assert_eq!(highest_of(pressure.clone()), Some(1998.0), "{at}");
            pressure[at] = f64::NAN;
            pressure[at + 1] = 9000.0;
            assert_eq!(highest_of(pressure), Some(1998.0), "{at}");
        }
        assert_eq!(highest_of(vec![1.0, f64::NAN, 2.0]), None);
        assert_eq!(highest_of(vec![5.0, 7.0]), None);
        assert_eq!(highest_of(vec![]), None);
    }
}
