//! What differs within a group although it should not: told, never pooled in silence.

use super::sample::Sample;
use super::words::names;
use crate::recording::{Finding, Outcome, Place, PressureDefinition, RunResult};
use crate::rig::Series;
use std::collections::{BTreeMap, BTreeSet};

/// Highest over lowest mean rise of pressure from which a group is mixed: polymers break by some percent higher for each decade of rate
/// (common practice, no source), and hands differ by a factor of two from run to run.
const RISE_RATIO: f64 = 5.0;
/// Difference of temperatures, °C, from which a group is mixed: between a bench at room temperature and one in a bath lie 15 °C and more, while
/// rooms differ by a few (common practice, no source).
const TEMPERATURE_DEGC: f64 = 5.0;

/// Something that should be alike in a group.
struct Alike {
    /// What, in words.
    what: &'static str,
    /// Column of `group_by` that would keep it apart; empty where there is none.
    column: &'static str,
    /// What it does to the numbers.
    effect: &'static str,
    /// Column of the tables in which it differs; the runs themselves where none tells it.
    cell: &'static str,
    /// What differs, of a group in which it does.
    differ: for<'a> fn(&Sample<'a>) -> Option<Differ<'a>>,
}

/// What differs in a group.
struct Differ<'a> {
    /// In words, each once.
    words: Vec<String>,
    /// The first run that is unlike those before it.
    at: Option<&'a RunResult>,
}

/// Where a run has the cell of a column, or stands itself.
pub type PlaceOf<'p> = &'p dyn Fn(&RunResult, &str) -> Option<Place>;

/// Everything that should be alike. A newcomer is a line here.
const ALIKE: &[Alike] = &[
    Alike {
        what: "different balloon models",
        column: "balloon_model",
        effect: "the pressure at which a frame breaks goes with the diameter of the balloon: scatter and mean belong to no one balloon",
        cell: "balloon_id",
        differ: |sample| words(sample, |run| run.setup.balloon_model.clone()),
    },
    Alike {
        what: "balloons with different labels",
        column: "balloon",
        effect: "balloons of one size that are made for other pressures are not of one wall: what a frame sees at a pressure differs",
        cell: "balloon_id",
        differ: |sample| words(sample, |run| run.setup.balloon_label.clone()),
    },
    Alike {
        what: "different constructions",
        column: "construction",
        effect: "one distribution is fitted to several, and its quantiles hold for none",
        cell: "construction",
        differ: |sample| words(sample, |run| run.setup.construction.clone()),
    },
    Alike {
        what: "different label sizes of frames",
        column: "label_size",
        effect: "the pressure that a ring withstands goes down with its diameter: the scatter of pressures holds the difference of the sizes",
        cell: "label_size_mm",
        differ: |sample| {
            words(sample, |run| {
                Some(format!("{} mm", run.setup.label_size_mm?))
            })
        },
    },
    Alike {
        what: "frames with and without an inner valve",
        column: "inner_valve",
        effect: "an inner valve shares the load: strengths and diameters are those of two things",
        cell: "inner_valve",
        differ: |sample| {
            words(sample, |run| {
                let with = run.inner_valve.is_some();
                Some(if with { "with" } else { "without" }.to_owned())
            })
        },
    },
    Alike {
        what: "different rates of pressure rise",
        column: "",
        effect: "fast runs break higher: the scatter holds the difference of the rates",
        cell: "trace",
        differ: |sample| {
            let rise = |run: &RunResult| run.setup.rise_kpa_s.filter(|rise| *rise > 0.0);
            let Range { low, high, at } = range(sample, rise)?;
            (high > RISE_RATIO * low).then(|| Differ {
                words: vec![format!("{low:.0} to {high:.0} kPa/s")],
                at,
            })
        },
    },
    Alike {
        what: "different temperatures",
        column: "",
        effect: "polymers and balloons soften with temperature: the scatter holds the difference",
        cell: "trace",
        differ: |sample| {
            let Range { low, high, at } = range(sample, |run| run.setup.temperature_degc)?;
            (high - low > TEMPERATURE_DEGC).then(|| Differ {
                words: vec![format!("{low:.1} to {high:.1} °C")],
                at,
            })
        },
    },
    Alike {
        what: "frames used in more than one run",
        column: "",
        effect: "such runs are not independent, and all intervals are too narrow",
        cell: "frame_id",
        differ: |sample| {
            let again = sample.frames_again();
            let second = again.first().and_then(|(_, runs)| runs.get(1))?;
            let at = sample
                .runs
                .iter()
                .copied()
                .find(|run| run.run_id == *second);
            let words = again
                .iter()
                .map(|(frame, runs)| format!("{frame} ({})", names(runs.iter().copied())));
            Some(Differ {
                words: words.collect(),
                at,
            })
        },
    },
    Alike {
        what: "fracture pressures by another definition only",
        column: "",
        effect: "they are not pooled: these runs count as fractured and in nothing else",
        cell: "run_id",
        differ: other_definitions,
    },
];

/// The different words of the runs that have any; nothing where there are fewer than two.
fn words<'a>(sample: &Sample<'a>, of: impl Fn(&RunResult) -> Option<String>) -> Option<Differ<'a>> {
    let known: Vec<(&'a RunResult, String)> = sample
        .runs
        .iter()
        .filter_map(|run| Some((*run, of(run)?)))
        .collect();
    let (_, first) = known.first()?;
    let at = known.iter().find(|(_, word)| word != first)?.0;
    let all: BTreeSet<String> = known.iter().map(|(_, word)| word.clone()).collect();
    Some(Differ {
        words: all.into_iter().collect(),
        at: Some(at),
    })
}

/// Lowest and highest of a number, and the first run by which both have been seen.
struct Range<'a> {
    low: f64,
    high: f64,
    at: Option<&'a RunResult>,
}

fn range<'a>(sample: &Sample<'a>, of: impl Fn(&RunResult) -> Option<f64>) -> Option<Range<'a>> {
    let all: Vec<(f64, &'a RunResult)> = sample
        .runs
        .iter()
        .filter_map(|run| Some((of(run).filter(|v| v.is_finite())?, *run)))
        .collect();
    let numbers = || all.iter().map(|(v, _)| *v);
    let (low, high) = (numbers().reduce(f64::min)?, numbers().reduce(f64::max)?);
    let first = |end: f64| numbers().position(|v| v == end);
    let both_seen = first(low).max(first(high))?;
    let at = all.get(both_seen).map(|(_, run)| *run);
    Some(Range { low, high, at })
}

/// Fractured runs without a pressure by the definition of the study that have one by another.
fn other_definitions<'a>(sample: &Sample<'a>) -> Option<Differ<'a>> {
    let known = |run: &RunResult| -> Option<PressureDefinition> {
        let by = &run.first_fracture()?.pressures;
        let by = by.iter().find(|by| {
            by.definition != sample.definition && by.pressure.value.is_some_and(f64::is_finite)
        });
        by.map(|by| by.definition)
    };
    let others: Vec<(&'a RunResult, PressureDefinition)> = sample
        .fractures_without_pressure
        .iter()
        .filter(|run| run.outcome == Outcome::Fractured)
        .filter_map(|run| Some((*run, known(run)?)))
        .collect();
    let words = others
        .iter()
        .map(|(run, by)| format!("{} ({})", run.run_id, by.word()));
    Some(Differ {
        words: words.collect(),
        at: Some(others.first()?.0),
    })
}

/// A finding for frames that several groups hold: comparisons take groups for independent.
pub(super) fn shared_frames(samples: &[Sample<'_>]) -> Option<Finding> {
    let mut groups: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for sample in samples {
        for run in &sample.runs {
            if let Some(frame) = run.frame_id.as_deref() {
                groups.entry(frame).or_default().insert(&sample.name);
            }
        }
    }
    groups.retain(|_, names| names.len() > 1);
    let shared = groups.iter().map(|(frame, of)| {
        let of: Vec<&str> = of.iter().copied().collect();
        format!("{frame} ({})", of.join(", "))
    });
    let shared: Vec<String> = shared.collect();
    (!shared.is_empty()).then(|| {
        Finding::doubt(
            "shared-frames",
            format!(
                "several groups hold the same frames: {}",
                names(shared.iter().map(String::as_str))
            ),
        )
        .effect("tests between groups take them for independent: their p and intervals do not hold")
        .help("compare the states of a frame as pairs (`inner_valve`, before and after), or keep one run of each frame in the study")
    })
}

/// A finding for everything that differs within a group.
pub(super) fn look(sample: &Sample<'_>, series: &Series, place: PlaceOf<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for alike in ALIKE {
        if !alike.column.is_empty() && series.group_by.has(alike.column) {
            continue;
        }
        let Some(differ) = (alike.differ)(sample) else {
            continue;
        };
        let help = if alike.column.is_empty() {
            "judge such runs in groups of their own".to_owned()
        } else {
            format!("add \"{}\" to group_by in study.toml", alike.column)
        };
        let mut finding = Finding::doubt(
            "mixed-group",
            format!(
                "the group {} holds {}: {}",
                sample.name,
                alike.what,
                names(differ.words.iter().map(String::as_str))
            ),
        )
        .effect(alike.effect)
        .help(help);
        if let Some(at) = differ.at.and_then(|run| place(run, alike.cell)) {
            finding = finding.at(at);
        }
        findings.push(finding);
    }
    findings
}
