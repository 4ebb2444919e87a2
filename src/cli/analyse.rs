//! `hooptrace analyse`: from the typed options to a written folder and a summary in words.

use super::args::Analyse;
use super::messages::counted;
use crate::pipeline::{self, Options, Study};
use crate::recording::{Analysis, Finding, Place, PressureDefinition, RunKind, Severity};
use crate::table::write_folder;
use crate::uncertain::Trials;
use crate::units::KPA_PER_ATM;
use std::fmt::Write as _;
use std::path::{Component, Path, PathBuf};

/// Longest name of a run shown in full on the screen, characters.
const WIDEST_NAME: usize = 32;

/// What an analysis ended with.
pub struct Ended {
    /// Lines for standard output.
    pub summary: String,
    /// Findings for standard error.
    pub findings: Vec<Finding>,
    /// Exit status.
    pub status: u8,
}

/// Analyses the study and writes the folder. `progress` gets (runs done, runs in all).
///
/// # Errors
///
/// Findings where it could not be done at all (exit status 2).
pub fn run(
    args: &Analyse,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Ended, Vec<Finding>> {
    study_folder(&args.study)?;
    keep_out_of_study(args)?;
    let study = pipeline::open_study(&args.study).map_err(errors)?;
    let options = Options {
        only: args.only.clone(),
        plots: !args.no_plots,
        trials: args.monte_carlo.map(|most| Trials {
            most: most as usize,
            seed: args.seed,
        }),
    };
    let analysed = match args.threads {
        None => pipeline::analyse(&study, &options, progress)?,
        Some(n) => rayon::ThreadPoolBuilder::new()
            .num_threads(usize::from(n))
            .build()
            .map_err(|e| vec![Finding::error("no-threads", e.to_string())])?
            .install(|| pipeline::analyse(&study, &options, progress))?,
    };
    write_folder(&args.out, &analysed.outputs).map_err(|error| {
        vec![
            Finding::error("cannot-write", error.to_string())
                .at(Place::file(error.path.display().to_string())),
        ]
    })?;
    let findings: Vec<Finding> = all_findings(&analysed.analysis)
        .filter(|f| f.severity == Severity::Error)
        .cloned()
        .collect();
    let failed = args.strict
        && analysed
            .analysis
            .verdicts
            .iter()
            .any(|v| v.verdict == "fail");
    Ok(Ended {
        summary: summary(&study, &analysed.analysis, args),
        status: u8::from(!findings.is_empty() || failed),
        findings,
    })
}

/// Of a study that cannot be analysed only the reasons are told.
fn errors(mut findings: Vec<Finding>) -> Vec<Finding> {
    findings.retain(|finding| finding.severity == Severity::Error);
    findings
}

/// A study is a folder.
///
/// # Errors
///
/// Why the path is none.
pub(super) fn study_folder(study: &Path) -> Result<(), Vec<Finding>> {
    if study.is_dir() {
        return Ok(());
    }
    let shown = study.display();
    let fault =
        |message: String, help: String| Err(vec![Finding::error("no-study", message).help(help)]);
    if !study.exists() {
        return fault(
            format!("there is no folder {shown}"),
            "give the folder that holds study.toml".to_owned(),
        );
    }
    // A file of a study was named in place of the study: the nearest folder above it that holds one.
    let inside = study
        .ancestors()
        .skip(1)
        .find(|folder| folder.join("study.toml").is_file());
    let help = match inside {
        Some(folder) if folder.as_os_str().is_empty() => "give the folder: .".to_owned(),
        Some(folder) => format!("give the folder: {}", folder.display()),
        None => {
            "give the folder that holds study.toml; a single recording goes to `hooptrace inspect`"
                .to_owned()
        }
    };
    fault(format!("{shown} is a file, not a folder"), help)
}

/// Folders of a study that hold raw files.
const RAW: [&str; 3] = ["traces", "rigs", "images"];

/// Results written into the folders that hold the raw files would mix with them.
fn keep_out_of_study(args: &Analyse) -> Result<(), Vec<Finding>> {
    let fault = |code: &str, message: String| {
        Err(vec![
            Finding::error(code, message).help("give another folder with --out"),
        ])
    };
    if args.out.exists() && !args.out.is_dir() {
        let message = format!(
            "{} is a file, and results go into a folder",
            args.out.display()
        );
        return fault("out-is-file", message);
    }
    let (Some(out), Some(study)) = (real(&args.out), real(&args.study)) else {
        return Ok(());
    };
    // A link may stand for a folder of the study.
    let raw = RAW.iter().filter_map(|part| real(&args.study.join(part)));
    if out == study || raw.into_iter().any(|folder| out.starts_with(folder)) {
        return fault(
            "out-is-study",
            format!(
                "the output folder {} is the study folder, or lies in its traces, rigs or images; raw files and results are kept apart",
                args.out.display()
            ),
        );
    }
    Ok(())
}

/// A path with its links followed as far as it is there; what is not there yet is put behind.
fn real(path: &Path) -> Option<PathBuf> {
    let path = std::path::absolute(path).ok()?;
    let there = path
        .ancestors()
        .find_map(|part| Some((part, part.canonicalize().ok()?)));
    let (part, mut real) = there?;
    for name in path.strip_prefix(part).ok()?.components() {
        match name {
            Component::ParentDir => {
                real.pop();
            }
            name => real.push(name),
        }
    }
    Some(real)
}

fn all_findings(analysis: &Analysis) -> impl Iterator<Item = &Finding> {
    analysis
        .findings
        .iter()
        .chain(analysis.runs.iter().flat_map(|r| &r.findings))
}

/// The study on one screen: a line a run.
fn summary(study: &Study, analysis: &Analysis, args: &Analyse) -> String {
    let mut text = format!("{}\n", study.title());
    let width = analysis
        .runs
        .iter()
        .map(|r| r.run_id.chars().count())
        .max()
        .unwrap_or(3)
        .clamp(3, WIDEST_NAME);
    for run in &analysis.runs {
        let definition = study.series().definition;
        let said = run
            .fracture_pressure(definition)
            .map(|(pressure, _)| pressure);
        let pressure = run
            .first_fracture()
            .and_then(|e| Some((said?.value?, said?.u, e.t_s)))
            .map_or_else(
                || match (run.kind, run.highest_pressure.value) {
                    (RunKind::Frame, Some(p)) => {
                        format!("no fracture up to {:.2} atm ({p:.0} kPa)", p / KPA_PER_ATM)
                    }
                    _ => String::new(),
                },
                |(p, u, t)| {
                    let about = u.map_or("uncertainty not known".to_owned(), |u| {
                        format!("± {u:.0} kPa")
                    });
                    let when = t.map_or(String::new(), |t| format!(", {t:.2} s"));
                    let by = match definition {
                        PressureDefinition::Onset => String::new(),
                        other => format!(", by {}", other.word()),
                    };
                    format!(
                        "fracture at {:.2} atm ({p:.0} kPa, {about}){when}{by}",
                        p / KPA_PER_ATM
                    )
                },
            );
        let of = |severity| {
            run.findings
                .iter()
                .filter(|f| f.severity == severity)
                .count()
        };
        let doubts: Vec<String> = [
            counted(of(Severity::Error), "error"),
            counted(of(Severity::Doubt), "doubt"),
        ]
        .into_iter()
        .flatten()
        .collect();
        let doubts = if doubts.is_empty() {
            String::new()
        } else {
            format!("  [{}]", doubts.join(", "))
        };
        let line = format!(
            "  {:<width$}  {:<10} {pressure}{doubts}",
            super::inspect::clip(&run.run_id, WIDEST_NAME),
            run.outcome.word()
        );
        let _ = writeln!(text, "{}", line.trim_end());
    }
    let page = if args.no_plots {
        "results.json"
    } else {
        "report.html"
    };
    let _ = writeln!(
        text,
        "{}; see {}",
        counted(analysis.runs.len(), "run").unwrap_or_else(|| "no runs".to_owned()),
        args.out.join(page).display()
    );
    text
}
