//! Plans drawn from scenarios: one study after another, each with a line, a balloon and a recorder of its own.

use super::Plan;
use super::frame::InnerValve;
use super::line::{Line, Ringing};
use super::operator::{Habit, Interlude};
use super::plan::{BalloonPlan, FramePlan, InspectionNote, RunPlan};
use super::pulse::{DP_GAIN_U, DP_ZERO_U_MMHG, FLOW_GAIN_U, FLOW_ZERO_U_ML_S, FlowMeters};
use super::recorder::{COUNTER_U_REL, Camera, Fault, Logger, Microphone};
use super::samples::parts;
use super::scenario::{FaultMix, FrameMix, Range, Scenario};
use super::solver::{Seat, WeakSpot};
use crate::uncertain::Draws;

/// Faults fall into this part of a recording, s: from the first strokes on.
const FAULTS_S: Range = [8.0, 40.0];
/// A second band breaks at this share of the strength of the first.
const SECOND_BAND: Range = [0.85, 1.0];
/// True inner diameters of the frames, mm.
const BORE_MM: Range = [20.2, 21.0];
/// Lengths of contact, mm.
const CONTACT_MM: Range = [4.0, 7.0];
/// Ambient pressures, kPa: weather and altitude of a lab.
const AMBIENT_KPA: Range = [97.0, 104.0];
/// Share of plans with a recorder that writes in the other dialect.
const OTHER_DIALECT: f64 = 0.3;
/// Least resistance against slipping, N, of a frame off the centre.
const WEAK_FIXTURE_N: Range = [2.0, 30.0];
/// Inner valves (chosen, no source): thickness of the wall, mm, ...
const INNER_WALL_MM: Range = [0.3, 0.6];
/// ... stiffness of the frame, N/mm, softer than a ring ...
const INNER_STIFFNESS_N_PER_MM: Range = [2.0, 6.0];
/// ... and the ring force at which it stretches for good, N.
const INNER_YIELD_N: Range = [4.0, 12.0];
/// Channels begin here, kPa: about a vacuum.
pub const LOWEST_KPA: f64 = -100.0;
/// What is left of a constant error once a run is zeroed, kPa.
const U_KPA: f64 = 0.5;
/// What a camera is off by in a run, standard deviation, mm (chosen, no source: scale and plane of a picture of 20 mm to a thousandth).
const CAMERA_SET_UP_MM: f64 = 0.02;
/// Shoulders between lobes and waist: from sharp edges to a slope of 45°.
const SHOULDER: Range = [0.0, 0.5];
/// The gauge of the fill must not be fooled by the flow: below half of where the fill ends.
const FILL_ML_S: Range = [2.0, 4.0];

fn between(draws: &mut Draws, range: Range) -> f64 {
    draws.between(range[0], range[1])
}

fn pick<T: Copy>(draws: &mut Draws, from: &[T]) -> Option<T> {
    let at = (draws.unit() * from.len() as f64) as usize;
    from.get(at.min(from.len().saturating_sub(1))).copied()
}

/// How many there are, where there are so many on average (Poisson: waiting times of an even pace).
fn how_many(draws: &mut Draws, average: f64) -> usize {
    let mut count = 0;
    let mut waited = 0.0;
    loop {
        waited -= (1.0 - draws.unit()).ln();
        if waited > average {
            return count;
        }
        count += 1;
    }
}
/// Standard deviation of what a chart is off by from lot to lot, relative: half a per cent at most, as a rectangle (common practice, no source).
const CHART_U: f64 = 0.002_89;
/// Half of the variance of a hand's bias stays from stage to stage (chosen, no source).
const HAND_STAYS: f64 = 0.5;
/// Who measures, in turn.
const OPERATORS: [&str; 3] = ["ada", "ben", "cleo"];
/// The run of a study whose flow is measured: the first frame that has one before.
const FLOW_RUN: u32 = 2;
/// Its effective orifice area before, cm².
const FLOW_EOA_CM2: f64 = 1.6;

impl Scenario {
    /// Study number `number` of this scenario under a seed: a blank run where the scenario has them, a free run, and the frame runs.
    pub fn plan(&self, seed: u64, number: usize) -> Plan {
        let study = format!("{}-{number:04}", self.name);
        let mut d = Draws::new(seed, &study);
        let line = self.draw_line(&mut d);
        let logger = self.draw_logger(&mut d);
        let blank = d.unit() < self.line.blank && logger.counter;
        // From a stream of their own, so that they move nothing else.
        let mut instruments = Draws::new(seed, &format!("{study}: instruments"));
        let logger = Logger {
            volume_gain_error: COUNTER_U_REL * instruments.normal(),
            ..logger
        };
        let mut probes = Draws::new(seed, &format!("{study}: zero of the flow"));
        let flow_meters = FlowMeters {
            flow_gain_error: FLOW_GAIN_U * instruments.normal(),
            flow_zero_ml_s: FLOW_ZERO_U_ML_S * probes.normal(),
            dp_gain_error: DP_GAIN_U * instruments.normal(),
            dp_zero_mmhg: DP_ZERO_U_MMHG * instruments.normal(),
        };
        let balloon = BalloonPlan {
            chart_error: CHART_U * instruments.normal(),
            ..parts::balloon("B-23", 23.0, 5.0, 16.0)
        };
        let mut runs = Vec::new();
        if blank {
            runs.push(parts::run("blank", 0, "ada", parts::blank_habit(1800.0)));
        }
        runs.push(RunPlan {
            balloon: Some(0),
            ..parts::run("free", 0, "ada", parts::habit(1550.0))
        });
        for n in 1..=self.runs_in_study {
            runs.push(self.draw_run(&format!("r{n:03}"), &mut d));
        }
        for (n, run) in (0_u32..).zip(runs.iter_mut()) {
            if run.frame.is_some() {
                run.seat.shoulder = between(&mut instruments, SHOULDER);
            }
            run.start_s = 8 * 3600 + n * 60;
            let hand = OPERATORS.get(n as usize % OPERATORS.len());
            hand.copied()
                .unwrap_or_default()
                .clone_into(&mut run.operator);
            // One frame of a study goes into the duplicator.
            run.flow_eoa_cm2 = (n == FLOW_RUN).then_some(FLOW_EOA_CM2);
        }
        Plan {
            title: format!("{}, study {number} of seed {seed}", self.title),
            name: study,
            seed: seed.wrapping_add(number as u64),
            day: (2025, 6, 3),
            line,
            hand_stays: HAND_STAYS,
            flow_meters,
            density_g_per_ml: 1.004,
            bath_degc: 37.0,
            loggers: vec![logger],
            balloons: vec![balloon],
            protocol: None,
            settings: Vec::new(),
            runs,
        }
    }

    fn draw_line(&self, d: &mut Draws) -> Line {
        let mix = &self.line;
        Line {
            compliance_ml_per_kpa: between(d, mix.compliance_ml_per_kpa),
            trapped_air_ml: between(d, mix.trapped_air_ml),
            ambient_kpa: between(d, AMBIENT_KPA),
            resistance_kpa_s_per_ml: between(d, mix.resistance_kpa_s_per_ml),
            ringing: (d.unit() < mix.ringing).then(|| Ringing {
                hz: between(d, mix.ringing_hz),
                damping: between(d, mix.ringing_damping),
            }),
        }
    }

    fn draw_logger(&self, d: &mut Draws) -> Logger {
        let mix = &self.recorder;
        let rate_hz = pick(d, &mix.rate_hz).unwrap_or(100.0);
        let like = if d.unit() < OTHER_DIALECT && rate_hz <= 1000.0 {
            parts::pier_logger()
        } else {
            parts::quay_logger(rate_hz)
        };
        let camera = parts::quay_logger(rate_hz).camera.map(|c| Camera {
            set_up_mm: CAMERA_SET_UP_MM,
            ..c
        });
        Logger {
            name: "drawn".to_owned(),
            rate_hz,
            white_kpa: between(d, mix.white_kpa),
            slow_kpa: between(d, mix.slow_kpa),
            hum_kpa: between(d, mix.hum_kpa),
            drift_kpa_per_min: between(d, mix.drift_kpa_per_min),
            gain_error: mix.gain_error * d.normal(),
            // The certificate tells the spread that the gain is drawn from; a constant error goes with the zero of each run.
            u_rel: mix.gain_error,
            u_kpa: U_KPA,
            left_kpa: U_KPA,
            bits: pick(d, &mix.bits).unwrap_or(16),
            // The rig file names it to a kilopascal.
            range_kpa: (LOWEST_KPA, between(d, mix.range_to_kpa).round()),
            counter: d.unit() < mix.counter,
            camera: camera.filter(|_| d.unit() < mix.camera),
            microphone: (d.unit() < mix.microphone).then_some(Microphone {
                room_v: 0.02,
                bang_v: 1.5,
            }),
            ..like
        }
    }

    fn draw_run(&self, id: &str, d: &mut Draws) -> RunPlan {
        let mix = &self.balloon;
        let construction = self.draw_construction(d);
        let bore = between(d, BORE_MM);
        let contact = between(d, CONTACT_MM);
        let off_centre = d.unit() < mix.off_centre;
        let inner = self.draw_inner(d);
        let frame = construction.map(|c| FramePlan {
            inner,
            ..parts::frame(&format!("F-{id}"), c, bore, contact - 0.6)
        });
        RunPlan {
            frame,
            balloon: Some(0),
            seat: Seat {
                off_centre: if off_centre { d.between(0.3, 1.0) } else { 0.0 },
                fixture_n: if off_centre {
                    between(d, WEAK_FIXTURE_N)
                } else {
                    40.0
                },
                slip_time_s: d.between(0.08, 0.3),
                ..parts::seat(contact)
            },
            burst_kpa: (d.unit() < mix.burst).then(|| between(d, mix.burst_kpa)),
            weak_spot: (d.unit() < mix.leak).then(|| WeakSpot {
                opens_at_kpa: between(d, mix.leak_kpa),
                diameter_um: between(d, mix.leak_um),
            }),
            inspection: if d.unit() < self.inspected {
                InspectionNote::AsSeen
            } else {
                InspectionNote::Missing
            },
            faults: self.faults.draw(d),
            faults_at_break: self.faults.draw_at_break(d),
            plugs: true,
            outlines: Some(0.0),
            ..parts::run(id, 0, "ada", self.draw_habit(d))
        }
    }

    fn draw_inner(&self, d: &mut Draws) -> Option<InnerValve> {
        let inner = InnerValve {
            wall_mm: between(d, INNER_WALL_MM),
            stiffness_n_per_mm: between(d, INNER_STIFFNESS_N_PER_MM),
            yield_n: between(d, INNER_YIELD_N),
            bore_mm: 0.0,
        };
        (d.unit() < self.inner_valve).then_some(inner)
    }

    fn draw_construction(&self, d: &mut Draws) -> Option<super::frame::Construction> {
        let whole: f64 = self.frames.iter().map(|f| f.share).sum();
        let mut at = d.unit() * whole;
        let mut drawn: Option<&FrameMix> = None;
        for frame in self.frames.iter().filter(|f| f.share > 0.0) {
            drawn = Some(frame);
            at -= frame.share;
            if at < 0.0 {
                break;
            }
        }
        let frame = drawn?;
        // Weibull: F(N) = 1 - exp(-(N/scale)^shape), turned round.
        let strength = frame.strength_n * (-(1.0 - d.unit()).ln()).powf(1.0 / frame.shape);
        let second = strength * between(d, SECOND_BAND);
        parts::construction(&frame.construction, strength, second)
    }

    fn draw_habit(&self, d: &mut Draws) -> Habit {
        let mix = &self.operator;
        let mut habit = Habit {
            stroke_ml: between(d, mix.stroke_ml),
            stroke_s: between(d, mix.stroke_s),
            hold_s: between(d, mix.hold_s),
            strokes_after_event: pick(d, &mix.strokes_after_event).unwrap_or(2),
            last_hold_s: d.between(1.5, 6.0),
            deflate_s: d.between(1.5, 4.0),
            fill_ml_s: between(d, FILL_ML_S),
            ..parts::habit(between(d, mix.target_kpa))
        };
        for _ in 0..how_many(d, mix.interludes) {
            let after = 1 + (d.unit() * 8.0) as usize;
            let what = match (d.unit() * 3.0) as u32 {
                0 => Interlude::Refill(d.between(0.5, 4.0)),
                1 => Interlude::Pause(d.between(2.0, 12.0)),
                _ => Interlude::PartialDeflation(d.between(0.2, 3.0)),
            };
            habit.interludes.push((after, what));
        }
        habit
    }
}

impl FaultMix {
    fn draw(&self, d: &mut Draws) -> Vec<Fault> {
        let mut faults = Vec::new();
        let mut draw = |average: f64, fault: &dyn Fn(f64, &mut Draws) -> Fault| {
            for _ in 0..how_many(d, average) {
                let from_s = between(d, FAULTS_S);
                faults.push(fault(from_s, d));
            }
        };
        draw(self.gaps, &|from_s, d| Fault::Gap {
            from_s,
            seconds: d.between(0.05, 1.5),
        });
        draw(self.dropouts, &|from_s, d| Fault::Dropout {
            from_s,
            rows: 1 + (d.unit() * 30.0) as usize,
        });
        draw(self.held, &|from_s, d| Fault::Held {
            from_s,
            rows: 2 + (d.unit() * 9.0) as usize,
        });
        draw(self.spikes, &|from_s, d| Fault::Spike {
            from_s,
            kpa: d.between(-300.0, 300.0),
        });
        draw(self.knocks, &|from_s, d| Fault::Knock {
            from_s,
            kpa: d.between(20.0, 80.0) * if d.unit() < 0.5 { -1.0 } else { 1.0 },
        });
        // Repeats last: they add rows.
        draw(self.repeats, &|from_s, d| Fault::Repeat {
            from_s,
            rows: 1 + (d.unit() * 5.0) as usize,
        });
        faults
    }

    fn draw_at_break(&self, d: &mut Draws) -> Vec<Fault> {
        let mut faults = Vec::new();
        if d.unit() < self.at_break {
            faults.push(match (d.unit() * 3.0) as u32 {
                0 => {
                    let seconds = d.between(0.05, 0.8);
                    Fault::Gap {
                        from_s: -d.unit() * seconds,
                        seconds,
                    }
                }
                1 => Fault::Dropout {
                    from_s: -d.between(0.0, 0.1),
                    rows: 1 + (d.unit() * 10.0) as usize,
                },
                _ => Fault::Spike {
                    from_s: d.between(-0.3, 0.3),
                    kpa: d.between(-200.0, 200.0),
                },
            });
        }
        if d.unit() < self.ends_at_break {
            faults.push(Fault::End {
                from_s: d.between(0.2, 1.0),
            });
        }
        faults
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_have_the_average_of_a_poisson_distribution() {
        let mut d = Draws::new(3, "counts");
        let n = 20_000;
        let counts: Vec<f64> = (0..n).map(|_| how_many(&mut d, 0.7) as f64).collect();
        let mean = counts.iter().sum::<f64>() / f64::from(n);
        let variance = counts.iter().map(|c| (c - mean).powi(2)).sum::<f64>() / f64::from(n);
        // Mean and variance of a Poisson distribution are equal; five standard errors.
        assert!((mean - 0.7).abs() < 5.0 * (0.7 / f64::from(n)).sqrt());
        assert!((variance - 0.7).abs() < 0.06);
    }

    #[test]
    fn a_plan_is_the_same_for_the_same_seed_and_another_for_another() {
        let scenario = Scenario::default();
        let text = |seed| format!("{:?}", scenario.plan(seed, 3));
        assert_eq!(text(1), text(1));
        assert_ne!(text(1), text(2));
    }
}
