//! Offsets and drifts found in made-up recordings, against the clocks they were made with.

use super::made_up::{Recorder, Run, signal};
use hooptrace::bench::draw::Draws;
use hooptrace::calibrate::sync::{Alignment, LARGEST_DRIFT, Search, correlate};

/// Made-up pairs of recordings of each kind.
const CASES: u64 = 220;
/// Share of the truths inside two standard uncertainties.
const INSIDE: std::ops::RangeInclusive<f64> = 0.90..=0.99;

/// The further channel: the same pressure by another transducer, or the waist by a camera against the volume of the main recording.
#[derive(Clone, Copy, PartialEq)]
enum Seen {
    Pressure,
    Waist,
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

/// Two recorders at a run, or (`other`) the further one at another run.
fn case(number: u64, seen: Seen, other: bool) -> Case {
    let mut draws = Draws::new(number, "clocks");
    let run = Run::draw(&mut draws);
    let seen_by_other = if other {
        Run::draw(&mut draws)
    } else {
        run.clone()
    };
    let (main_noise, own_noise) = match seen {
        Seen::Pressure => (draws.between(0.3, 3.0), draws.between(0.5, 10.0)),
        Seen::Waist => (0.003, draws.between(0.005, 0.05)),
    };
    let main = Recorder {
        start_s: 0.0,
        end_s: run.length_s,
        drift: 0.0,
        rate_hz: [20.0, 100.0, 100.0, 500.0][draws.between(0.0, 4.0) as usize],
        noise: main_noise,
    };
    let steady = draws.unit() < 0.3;
    let drift = draws.between(-300e-6, 300e-6);
    let own = Recorder {
        start_s: draws.between(-10.0, 8.0),
        end_s: seen_by_other.length_s + draws.between(-4.0, 10.0),
        drift: if steady { 0.0 } else { drift },
        rate_hz: draws.between(8.0, 60.0),
        noise: own_noise,
    };
    let (gain, zero) = (draws.between(0.9, 1.1), draws.between(-30.0, 30.0));
    let theirs = main.record(
        |t| match seen {
            Seen::Pressure => run.pressure(t),
            Seen::Waist => run.volume(t),
        },
        &mut draws,
    );
    let ours = own.record(
        |t| match seen {
            Seen::Pressure => zero + gain * seen_by_other.pressure(t),
            Seen::Waist => seen_by_other.diameter(t),
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

/// At several noises, rates, offsets and drifts: hardly a pair is refused, and twice the standard uncertainty holds the true time where it
/// is best known and 20 s to each side, about as often as it should.
fn survey(seen: Seen, usual_u_s: f64) {
    let (mut refused, mut drifts) = (0, 0);
    let mut off = Vec::new();
    let mut u = Vec::new();
    for number in 0..CASES {
        let case = case(number, seen, false);
        let Ok(line) = &case.found else {
            refused += 1;
            continue;
        };
        for at in [-20.0, 0.0, 20.0] {
            off.push(case.off(line, line.centre_s + at));
        }
        if line.drift != 0.0 {
            drifts += 1;
            assert!((line.drift - case.own.drift).abs() < LARGEST_DRIFT);
        }
        u.push(line.u_offset_s);
    }
    u.sort_by(f64::total_cmp);
    let inside = off.iter().filter(|off| off.abs() <= 2.0).count() as f64 / off.len() as f64;
    let furthest = off.iter().map(|off| off.abs()).fold(0.0, f64::max);
    let words = format!(
        "{inside:.3} inside, furthest {furthest:.2}, {refused} refused, {drifts} drifts, u {:?}",
        u[u.len() / 2]
    );
    println!("{words}");
    assert!(INSIDE.contains(&inside), "{words}");
    assert!(furthest < 5.0, "{words}");
    assert!(refused <= 4, "{words}");
    assert!(drifts > 10, "{words}");
    assert!(u[u.len() / 2] < usual_u_s, "{words}");
}

#[test]
fn pressures_of_two_transducers_place_the_clock() {
    survey(Seen::Pressure, 0.002);
}

#[test]
fn a_waist_against_the_volume_places_the_clock() {
    survey(Seen::Waist, 0.01);
}

/// A file of another run is refused, however well its fill and deflation can be laid over those of this one.
#[test]
fn another_run_is_refused() {
    for seen in [Seen::Pressure, Seen::Waist] {
        for number in 0..CASES / 2 {
            let case = case(number, seen, true);
            if case.found.is_ok() {
                eprintln!("OTHER {number}: {:?} {:?}", case.found, case.own);
            }
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
    let mut refused = |own: &(Vec<f64>, Vec<f64>), search: Search, words: &str| {
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
    refused(&short, any, "too short");
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
