//! Pulses on a marker channel of both recordings.

use super::made_up::{Recorder, signal};
use hooptrace::calibrate::sync::{Search, match_pulses, rising_edges};
use hooptrace::uncertain::Draws;

/// 1 for 60 ms after every pulse.
fn marker(pulses: &[f64], t: f64) -> f64 {
    f64::from(u8::from(pulses.iter().any(|p| (*p..p + 0.06).contains(&t))))
}

/// Pulses at uneven times; each recorder misses some and has some of its own.
#[test]
fn missing_and_extra_pulses_do_not_matter() {
    let mut inside = 0;
    let mut count = 0;
    for number in 0..200 {
        let mut draws = Draws::new(number, "markers");
        let mut pulses = vec![draws.between(2.0, 6.0)];
        while pulses[pulses.len() - 1] < 60.0 {
            pulses.push(pulses[pulses.len() - 1] + draws.between(1.5, 12.0));
        }
        let main = Recorder {
            start_s: 0.0,
            end_s: 80.0,
            drift: 0.0,
            rate_hz: 100.0,
            noise: 0.03,
        };
        let own = Recorder {
            start_s: draws.between(-12.0, 1.9),
            end_s: 80.0,
            drift: draws.between(-300e-6, 300e-6),
            rate_hz: draws.between(25.0, 60.0),
            noise: 0.03,
        };
        let some = |draws: &mut Draws| -> Vec<f64> {
            let mut kept: Vec<f64> = pulses
                .iter()
                .copied()
                .filter(|_| draws.unit() > 0.12)
                .collect();
            kept.push(draws.between(5.0, 70.0));
            kept
        };
        let (theirs, ours) = (some(&mut draws), some(&mut draws));
        let theirs = main.record(|t| marker(&theirs, t), &mut draws);
        let ours = own.record(|t| marker(&ours, t), &mut draws);
        let search = Search {
            drift: true,
            ..Search::default()
        };
        let Ok(line) = match_pulses(signal(&theirs), signal(&ours), search) else {
            continue;
        };
        for at in [-20.0, 0.0, 20.0] {
            let at = line.centre_s + at;
            count += 1;
            let off = (line.main_time(at) - own.true_time(at)) / line.u_at(at);
            assert!(off.abs() < 4.5, "{number}: {off} {line:?} {own:?}");
            inside += i32::from(off.abs() <= 2.0);
        }
    }
    let share = f64::from(inside) / f64::from(count);
    // Hardly any is refused: by chance too few pulses are common.
    assert!(count > 3 * 180, "{count}");
    assert!((0.90..=0.995).contains(&share), "{share}");
}

#[test]
fn pulses_at_even_distances_and_no_pulses_are_refused() {
    let mut draws = Draws::new(1, "even");
    let clock = Recorder {
        start_s: 0.0,
        end_s: 50.0,
        drift: 0.0,
        rate_hz: 100.0,
        noise: 0.0,
    };
    let every: Vec<f64> = (1..10).map(|k| 5.0 * f64::from(k)).collect();
    let theirs = clock.record(|t| marker(&every, t), &mut draws);
    let ours = clock.record(|t| marker(&every[1..], t), &mut draws);
    let any = Search::default();
    let reason = match_pulses(signal(&theirs), signal(&ours), any).unwrap_err();
    assert!(reason.contains("alike"), "{reason}");
    let near = Search {
        max_offset_s: Some(2.0),
        ..any
    };
    let line = match_pulses(signal(&theirs), signal(&ours), near).unwrap();
    assert_eq!(line.places, 8);
    assert!(line.main_time(0.0).abs() < 2.0 * line.u_at(0.0));
    let none = clock.record(|_| 0.0, &mut draws);
    for (a, b) in [(&theirs, &none), (&none, &theirs)] {
        let reason = match_pulses(signal(a), signal(b), any).unwrap_err();
        assert!(reason.contains("no pulse"), "{reason}");
    }
    // One pulse in each is enough for the offset and says nothing of the drift.
    let one = clock.record(|t| marker(&[20.0], t), &mut draws);
    let other = clock.record(|t| marker(&[17.0], t), &mut draws);
    let line = match_pulses(signal(&one), signal(&other), any).unwrap();
    assert!((line.main_time(0.0) - 3.0).abs() < 0.01);
    assert_eq!((line.places, line.drift_found), (1, None));
}

/// Edges lie half way up, noise makes no second one, and a gap hides one rather than inventing it.
#[test]
fn edges_are_where_the_marker_rises() {
    let time: Vec<f64> = (0..10).map(f64::from).collect();
    let mut values = vec![0.1, 0.0, 5.0, 2.4, 2.6, 5.0, 0.0, 0.0, 4.0, 0.0];
    let (edges, u) = rising_edges(signal(&(time.clone(), values.clone())));
    // From 0 to 5 in a step, then from 0 to 4: half of 5 is reached at 1.5 and at 7.625.
    assert_eq!(edges, [1.5, 7.625]);
    assert!((u - 1.0 / 12.0_f64.sqrt()).abs() < 1e-12);
    values[7] = f64::NAN;
    assert_eq!(rising_edges(signal(&(time, values))).0, [1.5]);
}
