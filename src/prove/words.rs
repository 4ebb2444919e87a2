//! The proof as a table to read.

use super::Proof;
use super::bars::bars;
use super::compare::{Break, Proven};
use super::quantities::coverage;
use super::rates::{CLEAR, Rates, Share};
use crate::recording::Outcome;
use std::fmt::Write as _;

/// A class of runs or breaks: what divides them, and the class a run or a break is in.
struct Division {
    name: &'static str,
    class: fn(&Proven) -> Option<String>,
    of_break: fn(&Break) -> Option<String>,
}

/// Everything that may make a difference. A new one is one line here.
const DIVISIONS: &[Division] = &[
    Division {
        name: "scenario",
        class: |run| Some(run.scenario.clone()),
        of_break: |_| None,
    },
    Division {
        name: "rate (Hz)",
        class: |run| Some(format!("{:>6}", run.rate_hz)),
        of_break: |_| None,
    },
    Division {
        name: "noise of a sample (kPa)",
        class: |run| Some(class(run.noise_kpa, &[0.5, 1.0, 2.0, 4.0])),
        of_break: |_| None,
    },
    Division {
        name: "volume counter",
        class: |run| Some(if run.counter { "logged" } else { "none" }.to_owned()),
        of_break: |_| None,
    },
    Division {
        name: "capacity (uL/kPa)",
        class: |_| None,
        of_break: |b| Some(class(1e3 * b.capacity_ml_per_kpa, &[0.7, 1.0, 1.5, 2.5])),
    },
    Division {
        name: "fall over noise",
        class: |_| None,
        of_break: |b| Some(class(b.over_noise, &[3.0, 6.0, 12.0, 25.0, 50.0, 100.0])),
    },
];

/// Between which of the bounds a value lies, in words that sort by size.
fn class(value: f64, bounds: &[f64]) -> String {
    let at = bounds.partition_point(|bound| *bound <= value);
    match (
        at.checked_sub(1).and_then(|k| bounds.get(k)),
        bounds.get(at),
    ) {
        (None, Some(to)) => format!("{:>6} to {to}", 0),
        (Some(from), Some(to)) => format!("{from:>6} to {to}"),
        (Some(from), None) => format!("{from:>6} up"),
        (None, None) => String::new(),
    }
}

/// Every class of every division with its rates.
pub(super) fn classes(runs: &[Proven]) -> Vec<(&'static str, String, Rates)> {
    let mut all = Vec::new();
    for division in DIVISIONS {
        let mut names: Vec<String> = runs.iter().filter_map(division.class).collect();
        let by_run = !names.is_empty();
        names.extend(
            runs.iter()
                .flat_map(|run| &run.breaks)
                .filter_map(division.of_break),
        );
        names.sort();
        names.dedup();
        for name in names {
            let rates = if by_run {
                let here = runs
                    .iter()
                    .filter(|run| (division.class)(run).as_ref() == Some(&name));
                Rates::of(here, |_| true)
            } else {
                let rates = Rates::of(runs, |b| (division.of_break)(b).as_ref() == Some(&name));
                // Runs, false alarms and outcomes do not belong to a class of breaks.
                Rates {
                    runs: 0,
                    precision: Share::default(),
                    false_alarms: 0,
                    false_runs: Share::default(),
                    outcome: Share::default(),
                    overconfident: None,
                    ..rates
                }
            };
            all.push((division.name, name, rates));
        }
    }
    all
}

fn percent(share: Share) -> String {
    share
        .value()
        .map_or_else(|| "-".to_owned(), |value| format!("{:.1}", 100.0 * value))
}

fn counted(share: Share) -> String {
    match share.value() {
        Some(_) => format!("{} ({})", percent(share), share.all),
        None => "-".to_owned(),
    }
}

fn two(pair: Option<(f64, f64)>) -> String {
    pair.map_or_else(|| "-".to_owned(), |(a, b)| format!("{a:.2} / {b:.2}"))
}

/// The whole proof in words: demands, rates by class, and what was taken for what.
pub fn summary(proof: &Proof, settings: &[(String, String)]) -> String {
    let runs = &proof.runs;
    let mut text = String::new();
    // Writing into a String cannot fail (here and below).
    let _ = writeln!(text, "{} simulated frame runs", runs.len());
    for (name, value) in settings {
        let _ = writeln!(text, "with {name} = {value}");
    }
    text.push('\n');
    demands(&mut text, proof);
    table(&mut text, runs);
    confusion(&mut text, runs);
    quantities(&mut text, proof);
    let _ = writeln!(
        text,
        "\nA clear break is a fall of at least {CLEAR} times the standard deviation of one sample with no fault of the recording within half a\n\
         second. In brackets behind a share: its exact 95 % limits. Found breaks in % (of how many). Onset: distance from the truth, median / 95 %, in samples. Interval: onsets whose interval holds\n\
         the truth, %. Pressure: within twice its standard uncertainty, %.\n\
         rms z: root mean square of errors over their standard uncertainties, 1 where these are right. Simulated runs prove the program on this bench, not a dilation protocol."
    );
    text
}

/// How often measured quantities hold their truth.
fn quantities(text: &mut String, proof: &Proof) {
    let _ = writeln!(
        text,
        "\n{:<16} {:<28} {:>7} {:>10} {:>18} {:>7}",
        "family", "quantity", "values", "in 2 u, %", "95 % limits", "rms z"
    );
    for row in coverage(&proof.quantities) {
        let limits = row
            .held
            .limits()
            .map_or_else(String::new, |(lower, upper)| {
                format!("({:.1} to {:.1})", 100.0 * lower, 100.0 * upper)
            });
        let name = if row.name.is_empty() {
            "all"
        } else {
            &row.name
        };
        let _ = writeln!(
            text,
            "{:<16} {name:<28} {:>7} {:>10} {limits:>18} {:>7.2}",
            row.family.word(),
            row.held.all,
            percent(row.held),
            row.rms_z
        );
    }
}

fn demands(text: &mut String, proof: &Proof) {
    for bar in bars(proof) {
        let reached = bar
            .reached
            .map_or_else(|| "no run tells".to_owned(), |value| format!("{value:.4}"));
        let limits = bar.limits.map_or_else(String::new, |(lower, upper)| {
            format!("({lower:.4} to {upper:.4})")
        });
        let asked = if bar.least != 0.0 && bar.most < 1.0 {
            format!("{} to {}", bar.least, bar.most)
        } else if bar.least > 0.0 {
            format!("at least {}", bar.least)
        } else {
            format!("at most {}", bar.most)
        };
        let verdict = if bar.is_met() { "met" } else { "NOT MET" };
        let _ = writeln!(
            text,
            "{:<56} {reached:>12}  {limits:<18} {asked:<18} {verdict}",
            bar.name
        );
    }
}

fn table(text: &mut String, runs: &[Proven]) {
    let mut last = "";
    for (division, name, rates) in classes(runs) {
        if division != last {
            let _ = writeln!(
                text,
                "\n{division:<24} {:>6} {:>14} {:>14} {:>14} {:>10} {:>9} {:>8} {:>14} {:>9} {:>9}",
                "runs",
                "clear found",
                "beside fault",
                "small found",
                "precision",
                "false/100",
                "outcome",
                "onset",
                "interval",
                "pressure"
            );
            last = division;
        }
        let runs_here = if rates.runs > 0 {
            rates.runs.to_string()
        } else {
            "-".to_owned()
        };
        let per_100 = if rates.runs > 0 {
            format!(
                "{:.2}",
                100.0 * rates.false_alarms as f64 / rates.runs as f64
            )
        } else {
            "-".to_owned()
        };
        let _ = writeln!(
            text,
            "{name:<24} {runs_here:>6} {:>14} {:>14} {:>14} {:>10} {per_100:>9} {:>8} {:>14} {:>9} {:>9}",
            counted(rates.recall),
            counted(rates.recall_beside),
            counted(rates.recall_small),
            percent(rates.precision),
            percent(rates.outcome),
            two(rates.error_samples),
            percent(rates.inside),
            percent(rates.pressure)
        );
    }
}

/// True against said outcomes, and other events found.
fn confusion(text: &mut String, runs: &[Proven]) {
    let frame_runs = || {
        let all = Outcome::ALL.iter();
        all.filter(|outcome| **outcome != Outcome::Reference)
    };
    let _ = write!(text, "\n{:<24}", "true \\ said");
    for said in frame_runs() {
        let _ = write!(text, " {:>9}", said.word());
    }
    text.push('\n');
    for truth in frame_runs().filter(|o| **o != Outcome::Invalid) {
        let _ = write!(text, "{:<24}", truth.word());
        for said in frame_runs() {
            let count = runs
                .iter()
                .filter(|r| r.truth == *truth && r.said == *said)
                .count();
            let _ = write!(text, " {count:>9}");
        }
        text.push('\n');
    }
    for kind in ["burst", "leak", "slip"] {
        let all = runs
            .iter()
            .flat_map(|run| &run.others)
            .filter(|(k, _)| *k == kind);
        let share = Share::of(all, |(_, said)| *said);
        let _ = writeln!(text, "{kind} found: {}", counted(share));
    }
}
