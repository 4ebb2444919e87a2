//! Rows in the order of time: restarts of the clock, rows out of order, repeats, gaps, jitter.

use super::noise::median;
use super::stretches::{anywhere, pieces};
use crate::recording::{Extent, Finding, Numbering, Place, RawRecording, Readings};
use rayon::prelude::*;

/// A step longer than this many usual steps is a gap.
const GAP_STEPS: f64 = 2.6;
/// Time going back further than this many usual steps (and a second) and staying back is a clock that began again.
const RESTART_STEPS: f64 = 20.0;
/// Rows looked at to see whether a clock that went back stays back.
const RESTART_LOOK: usize = 5;
/// A time further than this from the first stamp is a slip, s: 30,000 years, more than any two stamps are apart.
const FURTHEST: f64 = 1e12;
/// So many steps tell the usual one.
const MOST_STEPS: usize = 10_000;
/// Spread of the steps over the usual step from which jitter is worth a note.
const JITTER_SHARE: f64 = 0.03;

/// Rows of the file that make a strictly increasing clock.
pub(super) struct Order {
    /// Data rows, in time order.
    pub rows: Numbering,
    /// Time of each, s from the first.
    pub time_s: Readings,
    /// Usual step, s.
    pub step_s: f64,
}

/// Orders the rows of a recording by time and reports everything that was not in order. The time is taken out of the recording.
pub(super) fn order(raw: &mut RawRecording, findings: &mut Vec<Finding>) -> Order {
    let read = std::mem::take(&mut raw.time_s);
    let first = read.first().copied().unwrap_or(0.0);
    // NaN is not larger than anything either. Times are compared as they will stand: far from zero two of them may become one.
    let stays = |[before, after]: &[f64; 2]| {
        let step = (after - first) - (before - first);
        step.is_nan() | (step <= 0.0)
    };
    let rising = !anywhere(&read, stays)
        && [read.first(), read.last()]
            .iter()
            .all(|t| t.is_none_or(|t| is_time(*t)));
    let (rows, time, step) = if rising {
        let step = usual_step(&read);
        let mut time = read;
        count_from(&mut time, first);
        (Numbering::from_first(0, time.len()), time, step)
    } else {
        let (rows, time, step) = put_in_order(raw, &read, findings);
        (
            rows.iter().map(|row| *row as u64).collect(),
            time.into(),
            step,
        )
    };
    if time.len() < 3 {
        return Order {
            rows,
            time_s: time,
            step_s: f64::NAN,
        };
    }
    let step = gaps(raw, &rows, &time, step, findings);
    Order {
        rows,
        time_s: time,
        step_s: step,
    }
}

/// True for a time that a recording can have.
fn is_time(seconds: f64) -> bool {
    seconds.abs() <= FURTHEST
}

/// Counts times from the first one.
fn count_from(time: &mut [f64], first: f64) {
    if first != 0.0 {
        for t in time {
            *t -= first;
        }
    }
}

/// Rows, their times from the first and the usual step of a clock that does not simply rise.
fn put_in_order(
    raw: &RawRecording,
    read: &[f64],
    findings: &mut Vec<Finding>,
) -> (Vec<usize>, Vec<f64>, f64) {
    let (mut rows, mut time): (Vec<usize>, Vec<f64>) = read
        .iter()
        .copied()
        .enumerate()
        .filter(|(_, t)| is_time(*t))
        .unzip();
    let unreadable = read.len() - rows.len();
    if unreadable > 0 {
        let first = read.iter().position(|t| !is_time(*t)).unwrap_or(0);
        findings.push(
            Finding::doubt(
                "time-unreadable",
                format!("{unreadable} rows without a readable time are left out"),
            )
            .at(Place::line(&raw.file, raw.line.at(first)))
            .count(unreadable)
            .effect(format!("{unreadable} of {} rows left out", read.len())),
        );
    }
    if rows.len() < 3 {
        return (rows, time, f64::NAN);
    }
    let backwards = time.windows(2).filter(|w| w[1] < w[0]).count();
    if backwards * 2 > time.len() - 1 {
        findings.push(
            Finding::doubt(
                "clock-runs-backwards",
                "the clock runs backwards through the file; rows were put in time order",
            )
            .at(Place::line(&raw.file, raw.line.at(rows[0])))
            .help("check how the file was exported"),
        );
        rows.reverse();
        time.reverse();
    }
    let step = usual_step(&time);
    restarts(raw, &rows, &mut time, step, findings);
    out_of_order(raw, &mut rows, &mut time, findings);
    let first = time.first().copied().unwrap_or(0.0);
    count_from(&mut time, first);
    repeats(raw, &mut rows, &mut time, findings);
    (rows, time, step)
}

/// Median of the steps forward, or of those back where there are none forward; of a long recording, of a part of them spread evenly
/// over it. NaN where the time stands still.
fn usual_step(time: &[f64]) -> f64 {
    let stride = (time.len() / MOST_STEPS).max(1);
    let steps = |sign: f64| -> Vec<f64> {
        time.windows(2)
            .step_by(stride)
            .map(|w| sign * (w[1] - w[0]))
            .filter(|s| *s > 0.0)
            .collect()
    };
    let forward = steps(1.0);
    median(&if forward.is_empty() {
        steps(-1.0)
    } else {
        forward
    })
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
                .at(Place::line(&raw.file, raw.line.at(rows[k])))
                .count(1)
                .effect("pressures stand; times after it, and rates across it, are early by the pause")
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
        .at(Place::line(&raw.file, raw.line.at(rows[first])))
        .count(back.len())
        .effect("no reading is left out; each stands at its own time"),
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
    findings.push(
        finding
            .at(Place::line(&raw.file, raw.line.at(rows[first])))
            .count(again.len())
            .effect(format!(
                "{} of {} rows left out, {}",
                again.len(),
                time.len(),
                if differ == 0 {
                    "which hold nothing new"
                } else {
                    "some of them with readings of their own"
                }
            )),
    );
    let keep: Vec<bool> = (0..time.len())
        .map(|k| k == 0 || time[k] != time[k - 1])
        .collect();
    let mut flags = keep.iter();
    rows.retain(|_| flags.next().copied().unwrap_or(true));
    let mut flags = keep.iter();
    time.retain(|_| flags.next().copied().unwrap_or(true));
}

/// Reports gaps and jitter, and gives the mean of the steps that are no gaps: a rounded clock has steps of two lengths, whose median
/// is neither.
fn gaps(
    raw: &RawRecording,
    rows: &Numbering,
    time: &[f64],
    usual: f64,
    findings: &mut Vec<Finding>,
) -> f64 {
    // Pieces side by side, put together in their order.
    let parts: Vec<Steps> = pieces(time.len(), 1)
        .into_par_iter()
        .map(|piece| Steps::of(&time[piece.clone()], piece.start, usual))
        .collect();
    let all = parts.into_iter().fold(Steps::default(), Steps::and);
    let (gaps, total, longest) = (all.gaps, all.missing, all.longest);
    if gaps > 0 {
        findings.push(
            Finding::doubt(
                "gaps",
                format!(
                    "{gaps} gaps, {total:.3} s missing in all, the longest {longest:.3} s; what happened inside is only known to lie inside"
                ),
            )
            .at(Place::line(
                &raw.file,
                rows.get(all.first_gap + 1)
                    .map_or(0, |row| raw.line.at(row as usize)),
            ))
            .over_times(gaps, gap_times(time, usual, gaps))
            .effect("nothing is filled in; an event inside a gap has the gap as its interval"),
        );
    }
    if all.count == 0 {
        return usual;
    }
    let off = all.off / all.count as f64;
    let spread = (all.squares / all.count as f64 - off * off).max(0.0).sqrt();
    if spread > JITTER_SHARE * usual {
        findings.push(
            Finding::note(
                "clock-jitter",
                format!(
                    "the step between rows varies by {:.1} % (standard deviation) around {usual:.6} s",
                    100.0 * spread / usual
                ),
            )
            .at(Place::file(&raw.file))
            .count(all.count)
            .effect("every reading stands at its own time; intervals of events are as wide as the steps they lie in"),
        );
    }
    usual + off
}

/// Times before and after each gap, s.
fn gap_times(time: &[f64], usual: f64, gaps: usize) -> Vec<(f64, f64)> {
    let mut times = Vec::with_capacity(gaps.min(Extent::MOST));
    for w in time.windows(2) {
        if w[1] - w[0] > GAP_STEPS * usual && times.len() <= Extent::MOST {
            times.push((w[0], w[1]));
        }
    }
    times
}

/// Steps of a clock: those that are gaps, and how far the others are off the usual one.
#[derive(Debug, Clone, Copy, Default)]
struct Steps {
    gaps: usize,
    /// Row before the first gap.
    first_gap: usize,
    /// Time missing in all gaps, s.
    missing: f64,
    longest: f64,
    /// Steps that are no gaps.
    count: usize,
    /// Sum of their deviations from the usual step, s, and of the squares: these keep the squares exact.
    off: f64,
    squares: f64,
}

impl Steps {
    /// Steps between times of which the first stands in row `first_row`.
    fn of(time: &[f64], first_row: usize, usual: f64) -> Self {
        let mut all = Self::default();
        for (row, w) in time.windows(2).enumerate() {
            let step = w[1] - w[0];
            if step <= GAP_STEPS * usual {
                let off = step - usual;
                all.count += 1;
                all.off += off;
                all.squares += off * off;
            } else if step > GAP_STEPS * usual {
                if all.gaps == 0 {
                    all.first_gap = first_row + row;
                }
                all.gaps += 1;
                all.missing += step - usual;
                all.longest = all.longest.max(step);
            }
        }
        all
    }

    /// These steps, then those that follow.
    fn and(self, next: Self) -> Self {
        Self {
            gaps: self.gaps + next.gaps,
            first_gap: if self.gaps == 0 {
                next.first_gap
            } else {
                self.first_gap
            },
            missing: self.missing + next.missing,
            longest: self.longest.max(next.longest),
            count: self.count + next.count,
            off: self.off + next.off,
            squares: self.squares + next.squares,
        }
    }
}
