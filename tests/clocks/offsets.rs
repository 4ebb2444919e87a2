//! Offsets and drifts found in made-up recordings, against the clocks they were made with.

use super::made_up::{Recorder, Run, signal};
use hooptrace::calibrate::sync::{Alignment, LARGEST_DRIFT, Search, correlate};
use hooptrace::uncertain::Draws;
use rayon::prelude::*;

/// Made-up pairs of recordings of each kind and place.
const CASES: u64 = 400;
/// One pair in twenty, of slow and noisy recorders, may be refused.
const FEW: usize = 20;
/// A normal interval of 95 %, standard uncertainties.
const K95: f64 = 1.96;
/// A pair put together wrongly is off by tens of standard uncertainties and more. Those that are not, reach 5: a standard uncertainty
/// from four stretches is itself known to a third only.
const WRONG: f64 = 8.0;
/// Shares may lie this many binomial standard deviations from 0.95: one honest count in 370 fails.
const SIGMAS: f64 = 3.0;

/// The further channel: the same pressure by another transducer, or the waist by a camera against the volume of the main recording.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Seen {
    Pressure,
    /// With little noise and a break between two samples, whose place in their step no recorder knows.
    Break,
    Waist,
}

/// When the further recorder was started, against the length of the main recording.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Started {
    /// From 10 s before to 8 s after.
    Near,
    /// Half to more than the whole length before.
    LongBefore,
    /// Half way through and later.
    Late,
}

/// What the further recorder looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
enum At {
    This,
    OtherRun,
    /// Something that wanders and has to do with no run.
    Wander,
}

struct Case {
    found: Result<Alignment, String>,
    main: Recorder,
    own: Recorder,
}

impl Case {
    /// Distance from the truth in standard uncertainties at a reading of the further clock.
    fn off(&self, line: &Alignment, own_s: f64) -> f64 {
        let truth = self.own.true_time(own_s) - self.main.start_s;
        (line.main_time(own_s) - truth) / line.u_at(own_s)
    }
}

/// Two recorders, of which the further one may look at something else.
fn case(number: u64, seen: Seen, started: Started, at: At) -> Case {
    let mut draws = Draws::new(number, &format!("clocks {started:?}"));
    let mut run = Run::draw(&mut draws);
    if seen == Seen::Break {
        run = run.broken(draws.between(150.0, 500.0), &mut draws);
    }
    let other = if at == At::This {
        run.clone()
    } else {
        Run::draw(&mut draws)
    };
    let (main_noise, own_noise) = match seen {
        Seen::Pressure => (draws.between(0.3, 3.0), draws.between(0.5, 10.0)),
        Seen::Break => (draws.between(0.5, 2.0), draws.between(1.0, 3.0)),
        Seen::Waist => (0.003, draws.between(0.005, 0.05)),
    };
    let main = Recorder {
        start_s: 0.0,
        end_s: run.length_s,
        drift: 0.0,
        rate_hz: [20.0, 100.0, 100.0, 500.0][draws.between(0.0, 4.0) as usize],
        noise: main_noise,
    };
    let steady = draws.unit() < 0.2;
    let drift = draws.between(-200e-6, 200e-6);
    let own = Recorder {
        start_s: match started {
            Started::Near => draws.between(-10.0, 8.0),
            Started::LongBefore => -run.length_s * draws.between(0.5, 1.2),
            Started::Late => run.length_s * draws.between(0.5, 0.6),
        },
        end_s: other.length_s + draws.between(-4.0, 10.0),
        drift: if steady { 0.0 } else { drift },
        rate_hz: draws.between(8.0, 60.0),
        noise: own_noise,
    };
    let (gain, zero) = (draws.between(0.9, 1.1), draws.between(-30.0, 30.0));
    let theirs = main.record(
        |t| match seen {
            Seen::Pressure | Seen::Break => run.pressure(t),
            Seen::Waist => run.volume(t),
        },
        &mut draws,
    );
    let waves: Vec<(f64, f64, f64)> = (0..25)
        .map(|_| {
            let rate = draws.between(0.02, 1.0);
            (rate, draws.between(0.0, 6.3), draws.normal() / rate)
        })
        .collect();
    let ours = own.record(
        |t| match (at, seen) {
            (At::Wander, _) => waves.iter().map(|(w, p, a)| a * (w * t + p).sin()).sum(),
            (_, Seen::Pressure | Seen::Break) => zero + gain * other.pressure(t),
            (_, Seen::Waist) => other.diameter(t),
        },
        &mut draws,
    );
    let search = Search {
        drift: true,
        curved: seen == Seen::Waist,
        ..Search::default()
    };
    Case {
        found: correlate(signal(&theirs), signal(&ours), search),
        main,
        own,
    }
}

fn cases(seen: Seen, started: Started, at: At) -> Vec<Case> {
    (0..CASES)
        .into_par_iter()
        .map(|number| case(number, seen, started, at))
        .collect()
}

/// Asserts that the intervals of 95 % held the truth in about 95 % of the cases, or (`at_least`) in no fewer.
fn covered(what: &str, off: &[f64], at_least: bool) {
    let n = off.len() as f64;
    let inside = off.iter().filter(|off| off.abs() <= K95).count() as f64 / n;
    let tolerance = SIGMAS * (0.95 * 0.05 / n).sqrt();
    let furthest = off.iter().map(|off| off.abs()).fold(0.0, f64::max);
    let words = format!(
        "{what}: {inside:.3} of {n} inside (tolerance {tolerance:.3}), furthest {furthest:.2}"
    );
    assert!(inside >= 0.95 - tolerance, "{words}");
    assert!(at_least || inside <= 0.95 + tolerance, "{words}");
    assert!(furthest < WRONG, "{words}");
}

/// At several noises, rates, offsets and drifts: few pairs are refused, and intervals of 95 % hold the true offset (where it is
/// independent of the drift), the true drift, and the true time 20 s away, in about 95 % of the pairs.
fn survey(seen: Seen, started: Started, refused_most: usize, usual_u_s: f64) {
    let found = cases(seen, started, At::This);
    let lines: Vec<(&Case, &Alignment)> = found
        .iter()
        .filter_map(|case| Some((case, case.found.as_ref().ok()?)))
        .collect();
    let off = |at: f64| -> Vec<f64> {
        let one = |(case, line): &(&Case, &Alignment)| case.off(line, line.centre_s + at);
        lines.iter().map(one).collect()
    };
    // As found, taken out or not.
    let drifts: Vec<f64> = lines
        .iter()
        .filter_map(|(case, line)| {
            let (drift, u) = line.drift_found?;
            Some((drift - case.own.drift) / u)
        })
        .collect();
    let applied = lines.iter().filter(|(_, line)| line.drift != 0.0).count();
    let mut u: Vec<f64> = lines.iter().map(|(_, line)| line.u_offset_s).collect();
    u.sort_by(f64::total_cmp);
    let refused = found.len() - lines.len();
    let words = format!(
        "{seen:?} {started:?}: {refused} refused, {applied} drifts taken out, u {:.4} s",
        u[u.len() / 2]
    );
    covered(&format!("{words}; offset"), &off(0.0), seen == Seen::Waist);
    covered(&format!("{words}; drift"), &drifts, false);
    // Where a drift is not known, what clocks do at most is charged, which is more than these clocks do.
    let away = off(20.0);
    let inside = away.iter().filter(|off| off.abs() <= K95).count() as f64 / away.len() as f64;
    assert!(
        inside > 0.95 - SIGMAS * (0.0475 / away.len() as f64).sqrt(),
        "{words}: {inside} at 20 s"
    );
    assert!(refused <= refused_most, "{words}");
    assert!(u[u.len() / 2] < usual_u_s, "{words}");
}

#[test]
fn pressures_of_two_transducers_place_the_clock() {
    survey(Seen::Pressure, Started::Near, FEW, 0.005);
}

#[test]
fn a_break_between_two_samples_does_not_make_the_clock_surer_than_it_is() {
    survey(Seen::Break, Started::Near, FEW, 0.005);
}

#[test]
fn a_recorder_that_ran_long_before_is_placed() {
    survey(Seen::Pressure, Started::LongBefore, FEW, 0.005);
}

/// Half of the run is enough for more than half of them; the others are refused, not misplaced.
#[test]
fn a_recorder_started_late_is_placed_or_refused() {
    survey(Seen::Pressure, Started::Late, 200, 0.005);
}

/// These waists move with the volume at once; that others need not is in the uncertainty, so more than 95 % of the offsets are held.
#[test]
fn a_waist_against_the_volume_places_the_clock() {
    survey(Seen::Waist, Started::Near, 160, 0.13);
}

/// What shares nothing with the run is refused, however well a fill and a deflation can be laid over those of this one. At most 3 of 800: with
/// a rate of 1 % so few would come in 4 % of all surveys (binomial), so the rate is lower.
#[test]
fn another_run_is_refused() {
    for seen in [Seen::Pressure, Seen::Waist] {
        for at in [At::OtherRun, At::Wander] {
            let mut locks = Vec::new();
            for started in [Started::Near, Started::LongBefore] {
                let found = cases(seen, started, at);
                locks.extend(found.into_iter().filter_map(|case| case.found.ok()));
            }
            assert!(
                locks.len() <= 3,
                "{seen:?} {at:?}: {} {locks:?}",
                locks.len()
            );
        }
    }
}

/// What cannot be placed, and the words for it.
#[test]
fn refusals_say_why() {
    let mut draws = Draws::new(7, "refusals");
    let run = Run::draw(&mut draws);
    let recorder = |end_s: f64, noise: f64| Recorder {
        start_s: 0.0,
        end_s,
        drift: 0.0,
        rate_hz: 50.0,
        noise,
    };
    let main = recorder(run.length_s, 1.0).record(|t| run.pressure(t), &mut draws);
    let refused = |own: &(Vec<f64>, Vec<f64>), search: Search, words: &str| {
        let reason = correlate(signal(&main), signal(own), search).unwrap_err();
        assert!(reason.contains(words), "{reason}");
    };
    let any = Search::default();
    let flat = recorder(run.length_s, 0.0).record(|_| 3.0, &mut draws);
    refused(&flat, any, "never changes");
    let noise = recorder(run.length_s, 2.0).record(|_| 3.0, &mut draws);
    refused(&noise, any, "noise");
    let short = recorder(0.2, 1.0).record(|t| run.pressure(t), &mut draws);
    refused(&short, any, "too short");
    let short = recorder(4.5, 0.1).record(|t| run.pressure(t), &mut draws);
    refused(&short, any, "noise");
    refused(&(Vec::new(), Vec::new()), any, "too few");
    let missing = (main.0.clone(), vec![f64::NAN; main.0.len()]);
    refused(&missing, any, "too few");
    // The same strokes again and again: nothing tells one from the next.
    let regular = |t: f64| {
        (t.rem_euclid(4.0) / 0.5).min(1.0) * 50.0
            - (t.rem_euclid(4.0) - 3.0).clamp(0.0, 0.5) * 100.0
    };
    let main = recorder(60.0, 0.3).record(regular, &mut draws);
    let own = recorder(60.0, 0.3).record(|t| regular(t + 1.3), &mut draws);
    let reason = correlate(signal(&main), signal(&own), any).unwrap_err();
    assert!(reason.contains("two offsets"), "{reason}");
    // Unless they were known to about a second.
    let near = Search {
        guess_s: 1.0,
        max_offset_s: Some(1.5),
        ..any
    };
    let line = correlate(signal(&main), signal(&own), near).unwrap();
    assert!(
        (line.main_time(20.0) - 21.3).abs() < 2.0 * line.u_at(20.0) + 1e-9,
        "{line:?}"
    );
}

/// The range searched is kept to, and an offset at its end is none.
#[test]
fn the_range_is_kept_to() {
    let mut draws = Draws::new(11, "range");
    let run = Run::draw(&mut draws);
    let main = Recorder {
        start_s: 0.0,
        end_s: run.length_s,
        drift: 0.0,
        rate_hz: 50.0,
        noise: 1.0,
    };
    let own = Recorder {
        start_s: 5.0,
        ..main
    };
    let theirs = main.record(|t| run.pressure(t), &mut draws);
    let ours = own.record(|t| run.pressure(t), &mut draws);
    let find = |guess_s: f64, most: f64| {
        let search = Search {
            guess_s,
            max_offset_s: Some(most),
            ..Search::default()
        };
        correlate(signal(&theirs), signal(&ours), search)
    };
    assert!((find(0.0, 8.0).unwrap().main_time(0.0) - 5.0).abs() < 0.02);
    assert!((find(4.0, 1.5).unwrap().main_time(0.0) - 5.0).abs() < 0.02);
    for (guess, most) in [(0.0, 3.0), (0.0, 4.8), (9.0, 2.0)] {
        assert!(find(guess, most).is_err(), "{guess} {most}");
    }
}

/// Weighted mean and line of three offsets by hand: weights 1, 1, 4 at t = 0, 1, 2 give a mean of t of 9/6 and of the offsets of 4/6.
#[test]
fn the_line_through_offsets_is_the_weighted_one() {
    let line =
        Alignment::through(&[(0.0, 0.0, 1.0), (1.0, 0.0, 1.0), (2.0, 1.0, 0.5)], true).unwrap();
    assert!((line.centre_s - 1.5).abs() < 1e-12);
    assert!((line.offset_s - 4.0 / 6.0).abs() < 1e-12);
    assert!((line.u_offset_s - 6.0_f64.powf(-0.5)).abs() < 1e-12);
    // Slope: sum of w (t - 1.5)(o - 2/3) over sum of w (t - 1.5)², (1 + 1/3 + 2/3) / (9/4 + 1/4 + 1).
    let (slope, u) = line.drift_found.unwrap();
    assert!((slope - 2.0 / 3.5).abs() < 1e-12 && (u - 3.5_f64.powf(-0.5)).abs() < 1e-12);
    // Such a drift is no clock's: it is not applied, and its uncertainty is what clocks do at most.
    assert_eq!(line.drift, 0.0);
    assert!((line.u_drift - LARGEST_DRIFT / 3.0_f64.sqrt()).abs() < 1e-15);
    assert!(Alignment::through(&[], true).is_none());
    let there_and_back = Alignment {
        drift: 2e-4,
        ..line
    };
    assert!((there_and_back.own_time(there_and_back.main_time(33.0)) - 33.0).abs() < 1e-12);
}
