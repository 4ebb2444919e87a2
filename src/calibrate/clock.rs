//! Rows in the order of time: restarts of the clock, rows out of order, repeats, gaps, jitter.

use super::noise::median;
use crate::recording::{Finding, Place, RawRecording};

/// A step longer than this many usual steps is a gap.
const GAP_STEPS: f64 = 2.6;
/// Time going back further than this many usual steps (and a second) and staying back is a clock that began again.
const RESTART_STEPS: f64 = 20.0;
/// Rows looked at to see whether a clock that went back stays back.
const RESTART_LOOK: usize = 5;
/// Spread of the steps over the usual step from which jitter is worth a note.
const JITTER_SHARE: f64 = 0.03;

/// Rows of the file that make a strictly increasing clock.
pub(super) struct Order {
    /// Data rows, in time order.
    pub rows: Vec<usize>,
    /// Time of each, s from the first.
    pub time_s: Vec<f64>,
    /// Usual step, s.
    pub step_s: f64,
}

/// Orders the rows of a recording by time and reports everything that was not in order.
pub(super) fn order(raw: &RawRecording, findings: &mut Vec<Finding>) -> Order {
    let line = |row: usize| raw.line.get(row).copied().unwrap_or(0);
    let (mut rows, mut time): (Vec<usize>, Vec<f64>) = raw
        .time_s
        .iter()
        .copied()
        .enumerate()
        .filter(|(_, t)| t.is_finite())
        .unzip();
    let unreadable = raw.time_s.len() - rows.len();
    if unreadable > 0 {
        let first = raw.time_s.iter().position(|t| !t.is_finite()).unwrap_or(0);
        findings.push(
            Finding::doubt(
                "time-unreadable",
                format!("{unreadable} rows without a readable time are left out"),
            )
            .at(Place::line(&raw.file, line(first))),
        );
    }
    if rows.len() < 3 {
        return Order {
            rows,
            time_s: time,
            step_s: f64::NAN,
        };
    }
    let steps: Vec<f64> = time.windows(2).map(|w| w[1] - w[0]).collect();
    let backwards = steps.iter().filter(|s| **s < 0.0).count();
    if backwards * 2 > steps.len() {
        findings.push(
            Finding::doubt(
                "clock-runs-backwards",
                "the clock runs backwards through the file; rows were put in time order",
            )
            .at(Place::line(&raw.file, line(rows[0])))
            .help("check how the file was exported"),
        );
        rows.reverse();
        time.reverse();
    }
    let forward: Vec<f64> = time
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(|s| *s > 0.0)
        .collect();
    let step = if forward.is_empty() {
        f64::NAN
    } else {
        median(&forward)
    };
    restarts(raw, &rows, &mut time, step, findings);
    out_of_order(raw, &mut rows, &mut time, findings);
    repeats(raw, &mut rows, &mut time, findings);
    gaps(raw, &rows, &time, step, findings);
    let step = regular_step(&time, step);
    let first = time.first().copied().unwrap_or(0.0);
    for t in &mut time {
        *t -= first;
    }
    Order {
        rows,
        time_s: time,
        step_s: step,
    }
}

/// A clock that began again is continued one usual step after its last reading: how long the pause was, the file does not say.
fn restarts(
    raw: &RawRecording,
    rows: &[usize],
    time: &mut [f64],
    step: f64,
    findings: &mut Vec<Finding>,
) {
    let mut offset = 0.0;
    for k in 1..time.len() {
        let back = time[k - 1] - (time[k] + offset);
        let stays = time[k..]
            .iter()
            .take(RESTART_LOOK)
            .all(|t| t + offset < time[k - 1]);
        if back > (RESTART_STEPS * step).max(1.0) && stays {
            offset += back + step;
            findings.push(
                Finding::doubt(
                    "clock-restart",
                    format!(
                        "the clock goes back by {back:.3} s; it is continued as if no time had passed, so later times are early by the length of the pause"
                    ),
                )
                .at(Place::line(&raw.file, raw.line.get(rows[k]).copied().unwrap_or(0)))
                .help("an absolute clock column would keep the pause"),
            );
        }
        time[k] += offset;
    }
}

fn out_of_order(
    raw: &RawRecording,
    rows: &mut Vec<usize>,
    time: &mut Vec<f64>,
    findings: &mut Vec<Finding>,
) {
    let back: Vec<usize> = (1..time.len()).filter(|&k| time[k] < time[k - 1]).collect();
    let Some(&first) = back.first() else { return };
    findings.push(
        Finding::doubt(
            "rows-out-of-order",
            format!("{} rows come earlier in time than the row before them; rows were put in time order", back.len()),
        )
        .at(Place::line(&raw.file, raw.line.get(rows[first]).copied().unwrap_or(0))),
    );
    let mut index: Vec<usize> = (0..time.len()).collect();
    index.sort_by(|&a, &b| time[a].total_cmp(&time[b]).then(a.cmp(&b)));
    *rows = index.iter().map(|&k| rows[k]).collect();
    *time = index.iter().map(|&k| time[k]).collect();
}

/// Of rows with one time stamp the first is kept.
fn repeats(
    raw: &RawRecording,
    rows: &mut Vec<usize>,
    time: &mut Vec<f64>,
    findings: &mut Vec<Finding>,
) {
    let again: Vec<usize> = (1..time.len())
        .filter(|&k| time[k] == time[k - 1])
        .collect();
    let Some(&first) = again.first() else { return };
    let same = |a: usize, b: usize| {
        raw.channels
            .iter()
            .all(|c| match (c.values.get(a), c.values.get(b)) {
                (Some(x), Some(y)) => x.to_bits() == y.to_bits(),
                _ => true,
            })
    };
    let differ = again
        .iter()
        .filter(|&&k| !same(rows[k], rows[k - 1]))
        .count();
    let severity_note = differ == 0;
    let message = format!(
        "{} rows repeat the time of the row before ({} of them with other values); the first of each was kept",
        again.len(),
        differ
    );
    let finding = if severity_note {
        Finding::note("rows-repeated", message)
    } else {
        Finding::doubt("rows-repeated", message)
    };
    findings.push(finding.at(Place::line(
        &raw.file,
        raw.line.get(rows[first]).copied().unwrap_or(0),
    )));
    let keep: Vec<bool> = (0..time.len())
        .map(|k| k == 0 || time[k] != time[k - 1])
        .collect();
    let mut flags = keep.iter();
    rows.retain(|_| flags.next().copied().unwrap_or(true));
    let mut flags = keep.iter();
    time.retain(|_| flags.next().copied().unwrap_or(true));
}

fn gaps(raw: &RawRecording, rows: &[usize], time: &[f64], step: f64, findings: &mut Vec<Finding>) {
    let steps: Vec<f64> = time.windows(2).map(|w| w[1] - w[0]).collect();
    let long: Vec<usize> = (0..steps.len())
        .filter(|&k| steps[k] > GAP_STEPS * step)
        .collect();
    if let Some(&first) = long.first() {
        let total: f64 = long.iter().map(|&k| steps[k] - step).sum();
        let longest = long.iter().map(|&k| steps[k]).fold(0.0, f64::max);
        findings.push(
            Finding::doubt(
                "gaps",
                format!(
                    "{} gaps, {total:.3} s missing in all, the longest {longest:.3} s; what happened inside is only known to lie inside",
                    long.len()
                ),
            )
            .at(Place::line(&raw.file, raw.line.get(rows[first + 1]).copied().unwrap_or(0))),
        );
    }
    let regular: Vec<f64> = steps
        .iter()
        .copied()
        .filter(|s| *s <= GAP_STEPS * step)
        .collect();
    let mean = regular.iter().sum::<f64>() / regular.len().max(1) as f64;
    let spread = (regular.iter().map(|s| (s - mean).powi(2)).sum::<f64>()
        / regular.len().max(1) as f64)
        .sqrt();
    if spread > JITTER_SHARE * step {
        findings.push(Finding::note(
            "clock-jitter",
            format!("the step between rows varies by {:.1} % (standard deviation) around {step:.6} s", 100.0 * spread / step),
        ).at(Place::file(&raw.file)));
    }
}

/// Mean of the steps that are no gaps: a rounded clock has steps of two lengths, whose median is neither.
fn regular_step(time: &[f64], usual: f64) -> f64 {
    let (sum, count) = time
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(|s| *s <= GAP_STEPS * usual)
        .fold((0.0, 0.0), |(sum, count), s| (sum + s, count + 1.0));
    if count > 0.0 { sum / count } else { usual }
}
