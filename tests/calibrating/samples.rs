//! Single samples and stretches that are no measurement: spikes, codes, cells without a reading, a held channel.

use crate::support::{in_a_hold, named, only, pressure, rig_with, runs, see, see_with};
use hooptrace::recording::{Finding, Place};

/// Data begin in line 2 of the made-up recordings.
fn line(row: usize) -> u64 {
    row as u64 + 2
}

#[test]
fn spikes_of_one_sample_are_found_with_their_rows() {
    for run in runs() {
        let mut raw = run.make().raw;
        let at = in_a_hold(&run);
        let rows = [at / 4, at, at + 9];
        for row in rows {
            pressure(&mut raw)[row] += 60.0 * run.noise_kpa.max(1.0);
        }
        let (trace, findings) = see(&raw);
        let found = only(&findings, "spikes", &named(&run));
        assert_eq!(found.count, Some(3), "{}", named(&run));
        assert_eq!(
            (found.line, found.line_to),
            (Some(line(rows[0])), Some(line(rows[2])))
        );
        for row in rows {
            assert!(trace.pressure_kpa[row].is_nan());
        }
        assert!((found.t_to_s.unwrap() - rows[2] as f64 / run.rate_hz).abs() < 1e-9);
        let effect = found.effect.as_deref().unwrap();
        assert!(effect.contains("3 samples of"), "{effect}");
    }
}

/// 9999 and -999 in kPa are no pressures of a balloon; 999 is one, and is a code only where it stands off.
#[test]
fn codes_are_left_out_whether_or_not_they_could_be_readings() {
    for run in runs() {
        for code in [-999.0, 9999.0, 999.0] {
            let mut raw = run.make().raw;
            let at = in_a_hold(&run);
            pressure(&mut raw)[at..at + 7].fill(code);
            let (trace, findings) = see(&raw);
            let about = format!("{code} in {}", named(&run));
            let found = only(&findings, "missing-code", &about);
            assert_eq!(
                (found.count, found.line),
                (Some(7), Some(line(at))),
                "{about}"
            );
            assert!(trace.pressure_kpa[at..at + 7].iter().all(|p| p.is_nan()));
            assert!(
                trace.pressure_kpa[at - 1].is_finite() && trace.pressure_kpa[at + 7].is_finite()
            );
        }
    }
}

/// Cells that the reader found empty get times and effect when the trace is made.
#[test]
fn cells_without_a_reading_get_their_times() {
    for run in runs() {
        let mut raw = run.make().raw;
        let at = in_a_hold(&run);
        pressure(&mut raw)[at..at + 12].fill(f64::NAN);
        raw.findings.push(
            Finding::note("readings-missing", "12 cells hold no reading")
                .at(Place::cell("traces/made.csv", at as u64 + 2, "pressure"))
                .count(12),
        );
        let (_, findings) = see(&raw);
        let found = only(&findings, "readings-missing", &named(&run));
        assert_eq!(
            (found.count, found.line_to),
            (Some(12), Some(line(at + 11)))
        );
        assert!((found.t_from_s.unwrap() - at as f64 / run.rate_hz).abs() < 1e-9);
        let effect = found.effect.as_deref().unwrap();
        assert!(effect.contains("12 of"), "{effect}");
    }
}

/// A channel that repeats its last reading, for half a second or more, in a stroke or in a hold.
#[test]
fn a_held_channel_is_left_out_but_for_its_first_sample() {
    for run in runs() {
        for shift in [0.0, 1.2] {
            let mut raw = run.make().raw;
            let start = in_a_hold(&run) + (shift * run.rate_hz) as usize;
            let length = (1.5 * run.rate_hz) as usize;
            let value = pressure(&mut raw)[start];
            pressure(&mut raw)[start..start + length].fill(value);
            let (trace, findings) = see(&raw);
            let found = only(&findings, "pressure-held", &named(&run));
            // A neighbour may happen to read the same.
            let count = found.count.unwrap();
            assert!(
                (length - 1..length + 3).contains(&count),
                "{}: {count}",
                named(&run)
            );
            assert!(found.line.unwrap().abs_diff(start as u64 + 3) <= 2);
            assert!(trace.pressure_kpa[start + 2].is_nan());
            assert!(trace.pressure_kpa[start - 5].is_finite());
        }
    }
}

/// What the sensor cannot read is left out, with its rows.
#[test]
fn readings_beyond_the_declared_range_are_left_out() {
    let rig = rig_with("unit = \"kPa\"\nrange_kpa = [-100.0, 3500.0]");
    for run in runs() {
        let mut raw = run.make().raw;
        let at = in_a_hold(&run);
        pressure(&mut raw)[at] = 3600.0;
        pressure(&mut raw)[at + 20] = -140.0;
        let (trace, findings) = see_with(&raw, &rig);
        let found = only(&findings, "out-of-range", &named(&run));
        assert_eq!(
            (found.count, found.line, found.line_to),
            (Some(2), Some(line(at)), Some(line(at + 20)))
        );
        assert!(trace.pressure_kpa[at].is_nan() && trace.pressure_kpa[at + 20].is_nan());
    }
}
