//! The `hooptrace` program: parse, run, print, exit status.
#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "the one place that talks to the terminal"
)]

use clap::Parser;
use hooptrace::cli::{analyse, args, check, compare, inspect, messages, plan, prove, settings};
use hooptrace::read::SourceLines;
use hooptrace::recording::Finding;
use hooptrace::rig;
use indicatif::{ProgressBar, ProgressStyle};
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;
use std::time::{Duration, Instant};

/// Status where it could not be done.
const COULD_NOT: u8 = 2;
/// Nothing is shown before this has passed, so that quick work stays silent.
const SILENT: Duration = Duration::from_secs(1);

fn main() -> ExitCode {
    let (status, mut lines) = match args::Args::parse().command {
        args::Command::Analyse(args) => (run_analyse(&args), SourceLines::of_study(&args.study)),
        args::Command::Check { study, json } => {
            (run_check(&study, json), SourceLines::of_study(&study))
        }
        args::Command::Inspect { file, rig } => {
            (run_inspect(&file, rig.as_deref()), SourceLines::of_files())
        }
        args::Command::Simulate {
            scenario,
            seed,
            studies,
            out,
        } => {
            let done = prove::simulate(scenario.as_deref(), seed, studies, &out);
            (done.map(|()| 0), SourceLines::of_files())
        }
        args::Command::Prove(args) => (run_prove(&args), SourceLines::of_files()),
        args::Command::Compare(args) => {
            let done = compare::run(&args).map(|(report, status)| {
                print(&report);
                status
            });
            (done, SourceLines::of_files())
        }
        args::Command::Plan { what } => {
            let done = with_bar(true, |progress| plan::run(&what, progress));
            let done = done.map(|report| {
                print(&report);
                0
            });
            (done, SourceLines::of_files())
        }
        args::Command::Settings => {
            print(&settings::text());
            (Ok(0), SourceLines::of_files())
        }
    };
    ExitCode::from(status.unwrap_or_else(|findings| {
        let told = messages::in_words(&findings, &mut lines, "");
        eprint!("{}", messages::printable(&told));
        COULD_NOT
    }))
}

fn run_analyse(args: &args::Analyse) -> Result<u8, Vec<Finding>> {
    let ended = with_bar(!args.quiet, |progress| analyse::run(args, progress))?;
    let told = messages::in_words(
        &ended.findings,
        &mut SourceLines::of_study(&args.study),
        ": all of them are in results.json",
    );
    eprint!("{}", messages::printable(&told));
    if !args.quiet {
        print(&ended.summary);
    }
    Ok(ended.status)
}

fn run_check(study: &Path, json: bool) -> Result<u8, Vec<Finding>> {
    let (report, status) = with_bar(true, |progress| check::run(study, json, progress))?;
    print(&report);
    Ok(status)
}

/// Does the work with a bar of the runs done, shown once it has taken a while and where somebody looks.
fn with_bar<T>(wanted: bool, work: impl FnOnce(&(dyn Fn(usize, usize) + Sync)) -> T) -> T {
    let started = Instant::now();
    let show = wanted && std::io::stderr().is_terminal();
    let bar = ProgressBar::hidden();
    if let Ok(style) = ProgressStyle::with_template("{bar:40} {pos}/{len}") {
        bar.set_style(style);
    }
    let ended = work(&|done, all| {
        if show && started.elapsed() > SILENT {
            bar.set_length(all as u64);
            bar.set_position(done as u64);
            if bar.is_hidden() {
                bar.set_draw_target(indicatif::ProgressDrawTarget::stderr());
            }
        }
    });
    bar.finish_and_clear();
    ended
}

fn run_inspect(file: &Path, rig_file: Option<&Path>) -> Result<u8, Vec<Finding>> {
    let loaded = match rig_file {
        Some(path) => Some(rig::load_rig(path, &path.display().to_string())?.0),
        None => None,
    };
    let inspection = inspect(file, loaded.as_ref())?;
    print(&inspection.to_text());
    Ok(u8::from(matches!(inspection.with_rig, Some(Err(_)))))
}

fn run_prove(args: &args::Prove) -> Result<u8, Vec<Finding>> {
    let ended = with_bar(true, |progress| prove::run(args, progress))?;
    print(&ended.summary);
    Ok(ended.status)
}

/// A reader that closes the pipe early is no error of ours.
fn print(text: &str) {
    let _ = std::io::stdout().write_all(messages::printable(text).as_bytes());
}
