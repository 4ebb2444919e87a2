//! What looks like a defect and is none: nothing may be said of it, and nothing left out.

use crate::staircase::{Staircase, Trap, What, When};
use crate::support::{named, none, pressure, rig_with, runs, see_with, volume};
use hooptrace::calibrate::QUALITY;

/// Every code of the checks of quality but these.
fn codes_but(but: &[&str]) -> Vec<&'static str> {
    QUALITY
        .iter()
        .flat_map(|quality| quality.codes)
        .copied()
        .filter(|code| !but.contains(code))
        .collect()
}

/// A digital gauge without noise stands still through every hold without relaxation, and through the vents: not held, not clipped.
#[test]
fn a_digital_gauge_may_stand_still() {
    for rate_hz in [10.0, 100.0, 1000.0] {
        for step in [1.0, 10.0] {
            for with_volume in [true, false] {
                for relaxation in [0.0, 0.03] {
                    let run = Staircase {
                        rate_hz,
                        noise_kpa: 0.0,
                        relaxation,
                        volume: with_volume,
                        ..Staircase::default()
                    };
                    let mut raw = run.make().raw;
                    for p in pressure(&mut raw) {
                        *p = (*p / step).round() * step;
                    }
                    let rig = rig_with(&format!("unit = \"kPa\"\nresolution_kpa = {step:.1}"));
                    let about =
                        format!("{}, steps of {step} kPa, volume {with_volume}", named(&run));
                    let (trace, findings) = see_with(&raw, &rig);
                    none(&findings, &codes_but(&[]), &about);
                    assert!(trace.pressure_kpa.iter().all(|p| p.is_finite()), "{about}");
                    assert!(!trace.clipped.contains(&true), "{about}");
                }
            }
        }
    }
}

/// Whatever happens to frame and balloon is an event, not a fault of the channel.
#[test]
fn events_are_no_faults_of_the_channel() {
    let happenings: [&[(When, What)]; 7] = [
        &[(When::Stroke(5, 0.5), What::Snap(250.0))],
        &[(When::Hold(6, 0.3), What::Snap(500.0))],
        &[
            (When::Stroke(3, 0.5), What::Snap(60.0)),
            (When::Stroke(6, 0.4), What::Snap(300.0)),
        ],
        &[(When::Stroke(4, 0.5), What::Burst)],
        &[(When::Hold(2, 0.5), What::Burst)],
        &[(When::Stroke(4, 0.2), What::Leak(0.1))],
        &[(When::Stroke(5, 0.3), What::Slip(200.0, 0.3))],
    ];
    for run in runs() {
        for happening in happenings {
            let run = Staircase {
                happenings: happening.to_vec(),
                ..run.clone()
            };
            let about = format!("{happening:?}, {}", named(&run));
            none(
                &see_with(&run.make().raw, &rig_with("unit = \"kPa\"")).1,
                &codes_but(&[]),
                &about,
            );
        }
    }
}

/// What the operator does: the stopcock shut, volume withdrawn and put back, a counter that is not joined, a knock on the line.
#[test]
fn the_operator_is_no_fault_of_the_channel() {
    for run in runs() {
        for (refill, trap, handover) in [
            (Some((3, 0.5)), None, true),
            (None, Some((When::Hold(4, 0.2), Trap::Shut(1.2))), true),
            (None, Some((When::Hold(4, 0.2), Trap::Knock(80.0))), false),
        ] {
            let run = Staircase {
                refill,
                traps: trap.into_iter().collect(),
                handover,
                ..run.clone()
            };
            let about = format!("{refill:?}, {:?}, {}", run.traps, named(&run));
            // A knock of 40 Hz at 20 samples a second may leave one sample standing alone.
            let but: &[&str] = if run.rate_hz < 100.0 {
                &["spikes"]
            } else {
                &[]
            };
            none(
                &see_with(&run.make().raw, &rig_with("unit = \"kPa\"")).1,
                &codes_but(but),
                &about,
            );
        }
    }
}

/// A fill in which the pressure sinks, in a recording that ends before the deflation: most of the volume goes in against the pressure.
#[test]
fn a_fill_that_sucks_does_not_turn_the_volume() {
    for run in runs() {
        let mut raw = run.make().raw;
        let end = (28.0 * run.rate_hz) as usize;
        for (row, p) in pressure(&mut raw).iter_mut().enumerate() {
            let filled = (row as f64 / run.rate_hz - 2.5) / 4.0;
            if (0.0..1.0).contains(&filled) {
                *p -= 120.0 * filled;
            }
        }
        raw.time_s.truncate(end);
        raw.line = (0..end as u64).map(|row| row + 2).collect();
        for channel in &mut raw.channels {
            channel.values.truncate(end);
        }
        let (_, findings) = see_with(&raw, &rig_with("unit = \"kPa\""));
        none(&findings, &["sign-flip", "channel-swap"], &named(&run));
    }
}

/// A specimen that snaps through again and again: the pressure sinks in most of each stroke while volume goes in. Neither turned round nor
/// hum, although the teeth of the saw have a period.
#[test]
fn a_saw_of_snaps_is_neither_turned_volume_nor_hum() {
    for mut run in runs() {
        run.handover = false;
        let mut raw = run.make().raw;
        let rate = run.rate_hz;
        for (row, v) in volume(&mut raw).iter_mut().enumerate() {
            *v = (row as f64 / rate - 2.0).clamp(0.0, 30.0) * 0.5;
        }
        let noise: Vec<f64> = pressure(&mut raw).iter().map(|p| p.fract()).collect();
        for (row, p) in pressure(&mut raw).iter_mut().enumerate() {
            let t = (row as f64 / rate - 2.0).clamp(0.0, 30.0);
            let tooth = (t / 2.7).fract();
            let shape = if tooth < 0.3 {
                tooth / 0.3
            } else {
                (1.0 - tooth) / 0.7
            };
            *p = 900.0 * shape + run.noise_kpa * noise[row];
        }
        let (_, findings) = see_with(&raw, &rig_with("unit = \"kPa\""));
        none(
            &findings,
            &["sign-flip", "channel-swap", "hum"],
            &named(&run),
        );
    }
}

/// A run that was stopped early, at two atmospheres, on a transducer of forty: the pressure is small, not its unit wrong. And a run that is
/// stopped before the balloon holds anything, on a transducer for that.
#[test]
fn a_run_stopped_early_is_not_doubted_for_its_unit() {
    for run in runs() {
        for (stroke_ml, range) in [
            (0.45, "range_kpa = [-100.0, 4000.0]"),
            (0.45, ""),
            (0.15, "range_kpa = [-100.0, 600.0]"),
        ] {
            let run = Staircase {
                strokes: 1,
                stroke_ml,
                ..run.clone()
            };
            let rig = rig_with(&format!("unit = \"kPa\"\n{range}"));
            none(
                &see_with(&run.make().raw, &rig).1,
                &["implausible-unit"],
                &named(&run),
            );
        }
    }
}

/// Only what goes into the inflator is counted, from the hand-over on: pressure before volume, but no swap; and a counter that was left
/// off shows nothing at all.
#[test]
fn volume_counted_in_part_is_no_swap() {
    for run in runs() {
        for share in [1.0, 0.0] {
            let mut raw = run.make().raw;
            let handover = (7.25 * run.rate_hz) as usize;
            volume(&mut raw)[..handover].fill(0.0);
            for v in volume(&mut raw) {
                *v *= share;
            }
            let about = format!("share {share}, {}", named(&run));
            let (_, findings) = see_with(&raw, &rig_with("unit = \"kPa\""));
            none(&findings, &["channel-swap", "sign-flip"], &about);
        }
    }
}
