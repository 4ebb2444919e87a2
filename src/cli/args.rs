//! What may be typed.

use super::plan_args::Plan;
use crate::rig::settings;
use crate::uncertain::{LEAST_TRIALS, MOST_TRIALS};
use clap::{Parser, Subcommand};
use std::path::PathBuf;

/// Turns recordings of a valve-frame dilation bench into numbers with uncertainty and evidence.
#[derive(Debug, Parser)]
#[command(name = "hooptrace", version, max_term_width = 100, after_help = AFTER)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

const AFTER: &str = "Exit status: 0 done; 1 done, but some run carries an error finding; 2 could not be done.\n\
A bench result concerns the items tested; it is no advice for a patient.";

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Analyse a study folder: results, tables, plots and a report page.
    #[command(after_help = "Example:\n  hooptrace analyse sample-runs/harbour-ring --out out")]
    Analyse(Analyse),
    /// Look through a study folder without analysing it: every fault and doubt, with its place and how to mend it.
    #[command(after_help = "Example:\n  hooptrace check sample-runs/harbour-ring")]
    Check {
        /// The study folder (holds study.toml). Nothing is written.
        study: PathBuf,
        /// Print the findings as a JSON array, each once for every run.
        #[arg(long)]
        json: bool,
    },
    /// Say what a recording holds and propose a rig file that would read it.
    #[command(after_help = "Example:\n  hooptrace inspect traces/run1.csv > rigs/mine.toml")]
    Inspect {
        /// The recording.
        file: PathBuf,
        /// Read it with this rig file instead of sniffing.
        #[arg(long, value_name = "RIG")]
        rig: Option<PathBuf>,
    },
    /// Write studies of the simulated bench, with their truth beside them: those of a scenario, or the samples.
    #[command(after_help = "Example:\n  hooptrace simulate noisy --seed 7 --out simulated")]
    Simulate {
        /// A scenario of the program by name, or a scenario file; without one the sample studies are written.
        scenario: Option<String>,
        /// Seed of everything random.
        #[arg(long, value_name = "N", default_value_t = 1)]
        seed: u64,
        /// How many studies of the scenario.
        #[arg(long, value_name = "N", default_value_t = 1)]
        studies: usize,
        /// Folder to write into; one folder a study is made in it.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
    /// Prove the detector: simulate runs of known truth, analyse them, and print how often it is right.
    #[command(
        after_help = "Examples:\n  hooptrace prove --runs 400\n  hooptrace prove --scenario my-bench.toml --set false_alarms_per_run=1e-6 --out proof\n  hooptrace prove --runs 400 --set onset.shape_share=0.3\n\n\
        Exit status: 0 every demand is met; 1 one is not; 2 could not be done."
    )]
    Prove(Prove),
    /// Say what changed between two analyses: outcomes, events, quantities, groups, verdicts, settings, files.
    #[command(
        after_help = "Example:\n  hooptrace compare out-before out-after --least 1\n\n\
        Exit status: 0 no change; 1 something changed; 2 could not be done."
    )]
    Compare(Compare),
    /// Plan before the runs: how many, how often a protocol will be met, which pressures to step through.
    #[command(after_help = "Exit status: 0 done; 2 could not be done.")]
    Plan {
        /// What to plan.
        #[command(subcommand)]
        what: Plan,
    },
    /// Print every threshold with its default and its reason, as it may stand in study.toml.
    #[command(after_help = "Example:\n  hooptrace settings > all-settings.toml")]
    Settings,
}

/// Options of `prove`.
#[derive(Debug, clap::Args)]
pub struct Prove {
    /// A scenario of the program by name, or a scenario file; may be repeated or listed with commas. All scenarios
    /// of the program if none is named.
    #[arg(
        long = "scenario",
        alias = "scenarios",
        value_name = "SCENARIO",
        value_delimiter = ','
    )]
    pub scenario: Vec<String>,
    /// Frame runs to simulate, shared out over the scenarios.
    #[arg(long, value_name = "N", default_value_t = 2000, value_parser = runs)]
    pub runs: usize,
    /// Seed of everything random.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Prove again with this threshold set otherwise, and print both; may be repeated.
    #[arg(long, value_name = "NAME=VALUE", value_parser = setting)]
    pub set: Vec<(String, String)>,
    /// Record every scenario as this rig does: its rate, range, steps, channels and gain uncertainty.
    #[arg(long, value_name = "RIG")]
    pub rig: Option<PathBuf>,
    /// Standard deviation of a pressure sample at rest on your bench, kPa.
    #[arg(long, value_name = "KPA", allow_negative_numbers = true, value_parser = positive)]
    pub noise_kpa: Option<f64>,
    /// Samples a second on your bench, Hz.
    #[arg(long, value_name = "HZ", allow_negative_numbers = true, value_parser = positive)]
    pub rate_hz: Option<f64>,
    /// Folder for the tables and the plot.
    #[arg(long, value_name = "OUT")]
    pub out: Option<PathBuf>,
}

/// Options of `compare`.
#[derive(Debug, clap::Args)]
pub struct Compare {
    /// Output folder of the first analysis (holds results.json).
    #[arg(value_name = "OUT1")]
    pub first: PathBuf,
    /// Output folder of the second analysis.
    #[arg(value_name = "OUT2")]
    pub second: PathBuf,
    /// List only quantities that changed by at least so many combined standard uncertainties, and count the others.
    #[arg(long, value_name = "Z", default_value_t = 0.0, value_parser = not_negative)]
    pub least: f64,
    /// Print everything as JSON.
    #[arg(long)]
    pub json: bool,
}

/// A number of runs.
pub(super) fn runs(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(runs) if runs > 0 => Ok(runs),
        _ => Err("expected a whole number of runs, at least 1".to_owned()),
    }
}

/// A number of trials.
fn trials(text: &str) -> Result<u32, String> {
    match text.replace('_', "").parse() {
        Ok(trials) if (LEAST_TRIALS..=MOST_TRIALS).contains(&(trials as usize)) => Ok(trials),
        _ => Err(format!(
            "expected a number of trials from {LEAST_TRIALS} to {MOST_TRIALS}"
        )),
    }
}

/// A number from 0 on.
fn not_negative(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() && number >= 0.0 => Ok(number),
        _ => Err("expected a number from 0 on".to_owned()),
    }
}

/// A positive number.
pub(super) fn positive(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() && number > 0.0 => Ok(number),
        _ => Err("expected a number above 0".to_owned()),
    }
}

/// A threshold and its value.
fn setting(text: &str) -> Result<(String, String), String> {
    let (name, value) = text
        .split_once('=')
        .ok_or_else(|| format!("\"{text}\" is no NAME=VALUE"))?;
    let (name, value) = (name.trim(), value.trim());
    // As it will stand in the study, so that a fault is told here and not of a file nobody wrote.
    settings::read_text(&format!("{name} = {value}\n")).map_err(|faults| in_words(&faults))?;
    Ok((name.to_owned(), value.to_owned()))
}

/// What is wrong with settings, in a line.
pub(super) fn in_words(faults: &[settings::Fault]) -> String {
    let words = faults.iter().map(|fault| {
        let help = fault.help.iter().map(|help| format!("; {help}"));
        let words = fault.message.replace('\n', " ");
        help.fold(words, |words, help| words + &help)
    });
    words.collect::<Vec<_>>().join("; ")
}

/// Options of `analyse`.
#[derive(Debug, clap::Args)]
pub struct Analyse {
    /// The study folder (holds study.toml).
    pub study: PathBuf,
    /// Folder for results; made if need be, replaced file by file if it holds an earlier result.
    #[arg(long, value_name = "OUT")]
    pub out: PathBuf,
    /// Analyse only this run (with the blank and free runs it rests on); may be repeated.
    #[arg(long, value_name = "RUN")]
    pub only: Vec<String>,
    /// Threads to use; all cores if not given. The results do not depend on it.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..))]
    pub threads: Option<u16>,
    /// No plots and no report page: results.json and the tables only.
    #[arg(long)]
    pub no_plots: bool,
    /// Put quantities and their uncertainties to the proof by at most so many trials each (JCGM 101); fewer where the result settles.
    #[arg(long, value_name = "N", value_parser = trials)]
    pub monte_carlo: Option<u32>,
    /// Seed of the trials.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Print nothing but errors.
    #[arg(long, short)]
    pub quiet: bool,
    /// Exit with status 1 if a criterion of the protocol failed.
    #[arg(long)]
    pub strict: bool,
}
