//! A study looked through without analysing it: every fault and doubt of its files, its recordings and what ties them together.

use super::checks::{CHECKS, Facts, Recorded};
use super::{Attempt, Study, open_study, prepare};
use crate::read;
use crate::recording::{Finding, GroupBy, Severity};
use rayon::prelude::*;
use std::path::Path;

/// Folder of a study that holds nothing but recordings.
const TRACES: &str = "traces";

/// What a look through a study found.
#[derive(Debug, Clone, PartialEq)]
pub struct Checked {
    /// Title of the study; empty where it cannot be read.
    pub title: String,
    /// Runs listed, in the order of the table.
    pub runs: Vec<String>,
    /// Everything worth saying: first of the study and its files, then run by run.
    pub findings: Vec<Finding>,
    /// False where there is nothing to analyse: no study file, a faulty rig or protocol, no runs.
    pub readable: bool,
}

impl Checked {
    /// Number of findings of this severity.
    pub fn count(&self, severity: Severity) -> usize {
        let of = |finding: &&Finding| finding.severity == severity;
        self.findings.iter().filter(of).count()
    }
}

/// Looks through a study: its files, every recording read and calibrated, and the checks of [`CHECKS`]. Nothing is written.
/// `progress` is told after every recording: done, of how many.
pub fn check(folder: &Path, progress: &(dyn Fn(usize, usize) + Sync)) -> Checked {
    match open_study(folder) {
        Ok(study) => look_through(&study, progress),
        Err(findings) => Checked {
            title: String::new(),
            runs: Vec::new(),
            findings,
            readable: false,
        },
    }
}

fn look_through(study: &Study, progress: &(dyn Fn(usize, usize) + Sync)) -> Checked {
    let runs = &study.tables.runs;
    let done = std::sync::atomic::AtomicUsize::new(0);
    let looked: Vec<(Recorded, Vec<Finding>)> = runs
        .par_iter()
        .map(|run| {
            // The samples end here: a study of many recordings needs no more memory than one of few.
            let attempt = Attempt {
                prepared: None,
                ..prepare(study, run, None, false)
            };
            let (input, unreadable) = attempt.fingerprint();
            let before = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            progress(before + 1, runs.len());
            let of_run = |finding: Finding| finding.run(&run.run_id);
            let said = attempt.findings.into_iter().chain(unreadable);
            let recorded = Recorded {
                main: input,
                further: attempt
                    .further
                    .into_iter()
                    .map(|opened| (opened.column, opened.input))
                    .collect(),
            };
            (recorded, said.map(of_run).collect())
        })
        .collect();
    let (recordings, of_recordings): (Vec<Recorded>, Vec<Vec<Finding>>) =
        looked.into_iter().unzip();
    let mut findings = study.findings.clone();
    findings.extend(of_recordings.into_iter().flatten());
    let files = match read::files_below(&study.folder, TRACES) {
        Ok(files) => files,
        Err(finding) => {
            findings.push(finding);
            Vec::new()
        }
    };
    let facts = Facts {
        tables: &study.tables,
        rig: &study.rig,
        rigs: &study.rigs,
        inputs: &study.inputs,
        recordings: &recordings,
        files: &files,
        protocol: study.protocol.as_ref(),
        by_arm: study.file.series.group_by == GroupBy::default(),
    };
    findings.extend(CHECKS.iter().flat_map(|check| (check.look)(&facts)));
    if study.file.rig.is_none() {
        findings.push(crate::rig::no_rig());
    }
    let place = |finding: &Finding| {
        let run = finding.run_id.as_deref();
        run.and_then(|id| runs.iter().position(|run| run.run_id == id))
    };
    // Stable: within the study and within a run the order stays that of the way of the data.
    findings.sort_by_key(|finding| place(finding).map_or(0, |at| at + 1));
    let mut said = Vec::with_capacity(findings.len());
    for finding in findings {
        if said.last() != Some(&finding) {
            said.push(finding);
        }
    }
    Checked {
        title: study.title().to_owned(),
        runs: runs.iter().map(|run| run.run_id.clone()).collect(),
        findings: said,
        readable: true,
    }
}
