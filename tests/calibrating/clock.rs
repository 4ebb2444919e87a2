//! Gaps, repeats, jitter and restarts of the clock, and the counter that begins again at the hand-over.

use crate::staircase::{Staircase, Trap, When};
use crate::support::{in_a_hold, named, none, only, runs, see};
use hooptrace::recording::Readings;
use hooptrace::uncertain::Draws;

const CLOCK: &[&str] = &[
    "gaps",
    "rows-repeated",
    "rows-out-of-order",
    "clock-jitter",
    "clock-restart",
];

#[test]
fn a_gap_is_told_with_its_times() {
    for run in runs() {
        let run = Staircase {
            traps: vec![(When::Hold(3, 0.5), Trap::Gap(0.9))],
            ..run
        };
        let (_, findings) = see(&run.make().raw);
        let found = only(&findings, "gaps", &named(&run));
        let length = found.t_to_s.unwrap() - found.t_from_s.unwrap();
        assert!(
            (length - 0.9).abs() < 2.1 / run.rate_hz,
            "{}: {length}",
            named(&run)
        );
        assert_eq!((found.count, found.stretches_s.len()), (Some(1), 1));
        none(
            &findings,
            &["rows-repeated", "clock-jitter", "clock-restart"],
            &named(&run),
        );
    }
}

#[test]
fn rows_written_twice_are_told_with_their_number() {
    for run in runs() {
        let mut raw = run.make().raw;
        let at = in_a_hold(&run);
        let n = raw.time_s.len();
        // Row k is written again after itself, five times over.
        let order: Vec<usize> = (0..n)
            .flat_map(|row| {
                if (at..at + 5).contains(&row) {
                    vec![row, row]
                } else {
                    vec![row]
                }
            })
            .collect();
        let doubled =
            |values: &[f64]| -> Readings { order.iter().map(|row| values[*row]).collect() };
        raw.time_s = doubled(&raw.time_s);
        raw.line = (0..order.len() as u64).map(|row| row + 2).collect();
        for channel in &mut raw.channels {
            channel.values = doubled(&channel.values);
        }
        let (trace, findings) = see(&raw);
        let found = only(&findings, "rows-repeated", &named(&run));
        assert_eq!((found.count, found.line), (Some(5), Some(at as u64 + 3)));
        assert_eq!(trace.len(), n);
    }
}

#[test]
fn jitter_is_told_where_it_is_and_not_where_it_is_not() {
    for run in runs() {
        for (share, told) in [(0.12, true), (0.005, false)] {
            let mut raw = run.make().raw;
            let mut draws = Draws::new(run.seed, "jitter");
            for t in &mut raw.time_s {
                *t += share / run.rate_hz * draws.between(-1.0, 1.0);
            }
            let (_, findings) = see(&raw);
            let found = findings.iter().any(|f| f.code == "clock-jitter");
            assert_eq!(found, told, "{share} of {}: {findings:?}", named(&run));
            none(
                &findings,
                &["gaps", "rows-repeated", "rows-out-of-order"],
                &named(&run),
            );
        }
    }
}

#[test]
fn a_clock_that_begins_again_is_told_with_its_row() {
    for run in runs() {
        let mut raw = run.make().raw;
        let at = in_a_hold(&run);
        let start = raw.time_s[at];
        for t in &mut raw.time_s[at..] {
            *t -= start;
        }
        let (trace, findings) = see(&raw);
        let found = only(&findings, "clock-restart", &named(&run));
        assert_eq!((found.count, found.line), (Some(1), Some(at as u64 + 2)));
        assert!(trace.time_s.windows(2).all(|w| w[1] > w[0]));
    }
}

/// A jump between readings that stand still is known better than by one of them on either side, and within its uncertainty. 12 mL are in
/// before and after it.
#[test]
fn the_size_of_a_jump_is_told_by_all_readings_that_stand_still() {
    let (mut all, mut far) = (0, 0);
    for run in runs() {
        let (trace, _) = see(&run.make().raw);
        let u = trace.u_handover_ml;
        // Two single readings would leave √2 of the noise; at 20 Hz few stand still.
        let most = if run.rate_hz < 100.0 { 2.0 } else { 0.5 };
        assert!(
            u > 0.0 && u < most * std::f64::consts::SQRT_2 * trace.noise_ml,
            "{}: {u} of {}",
            named(&run),
            trace.noise_ml
        );
        let volume = trace.volume_ml.unwrap();
        let readings = |seconds: std::ops::Range<f64>| -> Vec<f64> {
            let within = trace.time_s.iter().zip(&volume);
            let within = within.filter(|(t, _)| seconds.contains(*t));
            within.map(|(_, v)| *v).collect()
        };
        let (before, after) = (readings(6.6..7.1), readings(7.4..7.9));
        let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
        let scatter = trace.noise_ml / (before.len() as f64).sqrt();
        all += 1;
        far += usize::from((mean(&after) - mean(&before)).abs() > 3.0 * u.hypot(2.0 * scatter));
    }
    assert!(all == 27 && far <= 1, "{far} of {all}");
}

/// The jump of the counter is found within two samples and taken out to the noise of the counter.
#[test]
fn a_counter_that_begins_again_is_joined() {
    for run in runs() {
        let (trace, findings) = see(&run.make().raw);
        let found = only(&findings, "counter-handover", &named(&run));
        assert!(
            (found.t_from_s.unwrap() - 7.25).abs() < 2.1 / run.rate_hz,
            "{found:?}"
        );
        let top = trace.volume_ml.unwrap().iter().copied().fold(0.0, f64::max);
        assert!((top - 14.4).abs() < 0.03, "{}: {top}", named(&run));
        none(&findings, CLOCK, &named(&run));
    }
}
