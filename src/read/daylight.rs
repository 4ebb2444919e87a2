//! A local clock set forward or back by one hour in the middle of a recording.

use crate::recording::{Finding, Place, RawRecording};
use crate::rig::ClockSpec;

/// The hour of daylight saving time, s.
const HOUR_S: f64 = 3600.0;
/// The jump and a usual step may differ by this share of a step.
const EXACT: f64 = 0.5;
/// More jumps than this are pauses of an hour between bursts.
const MOST_JUMPS: usize = 2;
/// Recordings with steps longer than this do not tell an hour from a pause, s.
const LONGEST_STEP_S: f64 = 60.0;

/// Steps between readable times.
fn steps(time_s: &[f64]) -> impl Iterator<Item = f64> + '_ {
    let mut finite = time_s.iter().copied().filter(|time| time.is_finite());
    let mut last = finite.next().unwrap_or(f64::NAN);
    finite.map(move |now| {
        let step = now - last;
        last = now;
        step
    })
}

/// Takes the jumps of exactly one hour out of a local clock and says so. Clocks with an offset from UTC do not jump.
pub(crate) fn straighten(recording: &mut RawRecording) {
    let utc = recording
        .started_at
        .as_deref()
        .is_some_and(|stamp| stamp.ends_with('Z'));
    let local = match recording.clock {
        ClockSpec::Local { .. } | ClockSpec::TimeOfDay { .. } | ClockSpec::Serial { .. } => true,
        ClockSpec::Iso { .. } => !utc,
        _ => false,
    };
    if !local {
        return;
    }
    // Nearly every recording is done here, before anything is copied or sorted.
    let about_an_hour = |step: f64| (step.abs() - HOUR_S).abs() <= (1.0 + EXACT) * LONGEST_STEP_S;
    if !steps(&recording.time_s).any(about_an_hour) {
        return;
    }
    let mut all: Vec<f64> = steps(&recording.time_s).collect();
    let middle = all.len() / 2;
    let usual = *all.select_nth_unstable_by(middle, f64::total_cmp).1;
    if !(usual > 0.0 && usual <= LONGEST_STEP_S) {
        return;
    }
    let jumps = |step: f64| {
        [HOUR_S, -HOUR_S]
            .into_iter()
            .find(|hour| (step - hour - usual).abs() <= EXACT * usual)
    };
    let (mut last, mut found) = (None, Vec::new());
    for (row, now) in recording.time_s.iter().copied().enumerate() {
        if !now.is_finite() {
            continue;
        }
        if let Some(last) = last
            && let Some(hour) = jumps(now - last)
        {
            found.push((row, hour));
        }
        last = Some(now);
    }
    if found.len() > MOST_JUMPS {
        return;
    }
    for (row, hour) in &found {
        for time in recording.time_s.iter_mut().skip(*row) {
            *time -= hour;
        }
    }
    for (row, hour) in found {
        let way = if hour > 0.0 { "forward" } else { "back" };
        let line = recording.line.at(row);
        let file = recording.file.clone();
        recording.findings.push(
            Finding::doubt(
                "clock-hour-jump",
                format!(
                    "the local clock jumps {way} by exactly one hour here, as it does when summer time begins or ends; the time was continued without the jump"
                ),
            )
            .at(Place::line(&file, line))
            .help("record in UTC; if the recording really paused for an hour, cut the file in two"),
        );
    }
}
