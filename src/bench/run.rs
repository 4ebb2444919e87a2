//! One run: the operator works the specimen, the recorder will look at the samples.

use super::operator::{Action, Operator, Seen, Valve};
use super::solver::{Happening, Specimen};
use crate::recording::PhaseKind;
use serde::Serialize;

/// Longest step of the solver, s.
const STEP_S: f64 = 1e-3;
/// What the frame carries is kept this often, s: loads at rest change over tenths of a second.
const LOAD_EVERY_S: f64 = 0.02;
/// Steps are so much finer while something springs.
const FINER: usize = 10;
/// How long they stay finer, s.
const FINE_FOR_S: f64 = 0.08;
/// Lag of transducer and its port, s.
const TRANSDUCER_LAG_S: f64 = 3e-3;
/// Resistance of the open port while venting, kPa s/mL.
const VENT_RESISTANCE: f64 = 2.0;
/// Longest run, s: nothing an operator plans comes near it.
const LONGEST_RUN_S: f64 = 600.0;

/// Time between two clicks of the screw's ratchet, s, and their loudness; a breaking frame is 1 (these are chosen, not measured).
const RATCHET_S: f64 = 0.15;
const RATCHET_LOUDNESS: f64 = 0.12;
/// Loudness of a stopcock turned.
const STOPCOCK_LOUDNESS: f64 = 0.5;
/// Loudness of a burst.
const BURST_LOUDNESS: f64 = 1.5;
/// Loudness of a slip.
const SLIP_LOUDNESS: f64 = 0.1;

/// One sample before the recorder adds its faults.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    /// Time, s.
    pub t: f64,
    /// Gauge pressure at the transducer, kPa.
    pub pressure: f64,
    /// Counter of the volume source, mL.
    pub counter: f64,
    /// Diameter a camera sees at the waist, mm; none while folds hide it or without balloon.
    pub diameter: Option<f64>,
}

/// Something that could be heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sound {
    /// When, s.
    pub t_s: f64,
    /// How loud, where a breaking frame is 1.
    pub loudness: f64,
}

/// What happened, as it was.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrueEvent {
    /// `fracture`, `burst`, `leak`, `slip` or `yield`.
    pub kind: &'static str,
    /// Onset, s from the first sample.
    pub t_s: f64,
    /// First data row of the recording at or after the onset, counted from 0.
    pub row: usize,
    /// What the operator was doing.
    pub phase: PhaseKind,
    /// Gauge pressure in the balloon just before, kPa.
    pub pressure_before_kpa: f64,
    /// Gauge pressure in the balloon when it was over, kPa.
    pub pressure_after_kpa: Option<f64>,
    /// Fall of pressure, kPa; none for leak and yield, which have no edge.
    pub drop_kpa: Option<f64>,
    /// Volume injected since the start, over syringe and inflator, mL.
    pub volume_injected_ml: f64,
    /// Reading of the counter, mL.
    pub counter_ml: f64,
    /// Diameter of the waist just before, mm.
    pub diameter_before_mm: f64,
    /// Diameter of the waist when it was over, mm.
    pub diameter_after_mm: Option<f64>,
    /// Ring force just before, N.
    pub ring_force_n: f64,
    /// Capacity of line, balloon and frame just before, mL/kPa.
    pub capacity_ml_per_kpa: f64,
}

/// A stretch of what the operator did.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TruePhase {
    /// What.
    pub kind: PhaseKind,
    /// Start, s.
    pub t_start_s: f64,
    /// End, s.
    pub t_end_s: f64,
}

/// What the frame carried at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrueLoad {
    /// Time, s from the first sample.
    pub t_s: f64,
    /// Pressure in the balloon, kPa.
    pub pressure_kpa: f64,
    /// Pressure in the balloon less what the free balloon needs at the waist, kPa.
    pub load_kpa: f64,
    /// Diameter of the waist, mm.
    pub waist_mm: f64,
}

/// A run as it was.
#[derive(Debug, Clone)]
pub struct Course {
    /// Samples at the recorder's rate.
    pub samples: Vec<Sample>,
    /// What could be heard.
    pub sounds: Vec<Sound>,
    /// Phases.
    pub phases: Vec<TruePhase>,
    /// Events.
    pub events: Vec<TrueEvent>,
    /// Waist at the end of the last hold, mm.
    pub loaded_mm: Option<f64>,
    /// What the frame carried, every so often; empty without one.
    pub loads: Vec<TrueLoad>,
    /// Highest pressure in the balloon, kPa.
    pub highest_kpa: f64,
    /// Largest volume the balance left open in any step, mL.
    pub largest_imbalance_ml: f64,
    /// The specimen at the end.
    pub specimen: Specimen,
}

struct Bench {
    specimen: Specimen,
    primed_ml: f64,
    counter_ml: f64,
    reading: f64,
    /// Pace of the reading, kPa/s, where the line rings.
    reading_pace: f64,
    sounds: Vec<Sound>,
    t: f64,
    fine_until: f64,
    happenings: usize,
    open: Vec<(usize, f64)>,
    course_events: Vec<TrueEvent>,
    highest_kpa: f64,
    largest_imbalance_ml: f64,
}

/// Simulate a run sampled at `rate_hz` (Hz).
pub fn simulate(specimen: Specimen, mut operator: Operator, rate_hz: f64) -> Course {
    let mut bench = Bench::new(specimen);
    let per_sample = (1.0 / (rate_hz * STEP_S)).ceil().max(1.0) as usize;
    let dt = 1.0 / (rate_hz * per_sample as f64);
    let mut samples = Vec::new();
    let mut loads: Vec<TrueLoad> = Vec::new();
    let mut phases: Vec<TruePhase> = Vec::new();
    let mut loaded_mm = None;
    let mut step = 0_usize;
    while let Some(action) = operator.next(&bench.seen()) {
        if action.phase == PhaseKind::Deflate {
            loaded_mm = bench.waist();
        }
        let began = step as f64 * dt;
        bench.clicks(&action);
        let mut into = 0.0;
        while into < action.seconds && bench.t < LONGEST_RUN_S {
            if step.is_multiple_of(per_sample) {
                samples.push(bench.sample((step / per_sample) as f64 / rate_hz));
                let due = loads.last().is_none_or(|l| bench.t - l.t_s >= LOAD_EVERY_S);
                loads.extend(bench.load().filter(|_| due));
            }
            bench.advance(&action, into, dt);
            into += dt;
            step += 1;
            bench.t = step as f64 * dt;
            if action.stop_above_kpa.is_some_and(|p| bench.reading >= p) {
                break;
            }
        }
        if action.zero_counter {
            bench.counter_ml = 0.0;
        }
        extend(&mut phases, action.phase, began, bench.t);
    }
    Course {
        samples,
        sounds: bench.sounds,
        phases,
        events: bench.course_events,
        loaded_mm,
        loads,
        highest_kpa: bench.highest_kpa,
        largest_imbalance_ml: bench.largest_imbalance_ml,
        specimen: bench.specimen,
    }
}

/// Append a phase, joined with the one before if it is of the same kind.
fn extend(phases: &mut Vec<TruePhase>, kind: PhaseKind, start: f64, end: f64) {
    match phases.last_mut() {
        Some(last) if last.kind == kind => last.t_end_s = end,
        _ => phases.push(TruePhase {
            kind,
            t_start_s: start,
            t_end_s: end,
        }),
    }
}

impl Bench {
    fn new(specimen: Specimen) -> Self {
        Self {
            primed_ml: specimen.injected_ml,
            specimen,
            counter_ml: 0.0,
            reading: 0.0,
            reading_pace: 0.0,
            sounds: Vec::new(),
            t: 0.0,
            fine_until: -1.0,
            happenings: 0,
            open: Vec::new(),
            course_events: Vec::new(),
            highest_kpa: 0.0,
            largest_imbalance_ml: 0.0,
        }
    }

    fn seen(&self) -> Seen {
        Seen {
            pressure_kpa: self.reading,
            counter_ml: self.counter_ml,
            happenings: self.happenings,
        }
    }

    fn waist(&self) -> Option<f64> {
        self.specimen
            .balloon
            .as_ref()
            .map(|_| self.specimen.state().waist)
    }

    fn load(&self) -> Option<TrueLoad> {
        self.specimen.ring.as_ref()?;
        let state = self.specimen.state();
        Some(TrueLoad {
            t_s: self.t,
            pressure_kpa: state.pressure,
            load_kpa: state.pressure - state.free_pressure,
            waist_mm: state.waist,
        })
    }

    fn sample(&self, t: f64) -> Sample {
        let state = self.specimen.state();
        let diameter = match (&self.specimen.balloon, &self.specimen.ring) {
            (Some(_), Some(_)) => Some(state.waist),
            // A free balloon shows a round edge once nine tenths of its section are filled.
            (Some(balloon), None) if balloon.unfolded_share(state.pressure) > 0.9 => {
                Some(state.waist)
            }
            _ => None,
        };
        Sample {
            t,
            pressure: self.reading,
            counter: self.counter_ml,
            diameter,
        }
    }

    /// One step of the recorder's grid, split finer while something springs.
    fn advance(&mut self, action: &Action, into: f64, dt: f64) {
        let parts = if self.t < self.fine_until { FINER } else { 1 };
        let part = dt / parts as f64;
        for n in 0..parts {
            let from = into + n as f64 * part;
            let moved = action.moved(from + part) - action.moved(from);
            self.part(action, moved, part);
            self.t += part;
            self.close_events();
        }
    }

    fn part(&mut self, action: &Action, moved: f64, dt: f64) {
        let pressure_before = self.specimen.state().pressure;
        let injected = match action.valve {
            Valve::Open => moved,
            Valve::Shut => 0.0,
            Valve::Vented => -pressure_before / VENT_RESISTANCE * dt,
        };
        if action.valve != Valve::Vented {
            self.counter_ml += moved;
        }
        let happening = self.specimen.step(injected, dt);
        let state = self.specimen.state();
        let target = match action.valve {
            Valve::Open => state.pressure + self.specimen.line.resistance_kpa_s_per_ml * moved / dt,
            Valve::Shut => action.inflator_kpa,
            Valve::Vented => 0.0,
        };
        self.follow(target, dt);
        self.highest_kpa = self.highest_kpa.max(state.pressure);
        self.largest_imbalance_ml = self
            .largest_imbalance_ml
            .max(self.specimen.imbalance().abs());
        if let Some(happening) = happening {
            self.note(happening, action.phase, dt);
        }
    }

    /// The transducer follows the pressure at its port: with a lag, or swinging about it.
    fn follow(&mut self, target: f64, dt: f64) {
        let Some(ringing) = self.specimen.line.ringing else {
            self.reading += (target - self.reading) * (1.0 - (-dt / TRANSDUCER_LAG_S).exp());
            return;
        };
        let omega = std::f64::consts::TAU * ringing.hz;
        // Pace first, then place: a step stays stable as long as it is short against the swing.
        self.reading_pace += (omega * omega * (target - self.reading)
            - 2.0 * ringing.damping * omega * self.reading_pace)
            * dt;
        self.reading += self.reading_pace * dt;
    }

    /// What an action sounds like: a stopcock turned, the ratchet of the screw.
    fn clicks(&mut self, action: &Action) {
        let (every, loudness) = match action.phase {
            PhaseKind::Stroke => (RATCHET_S, RATCHET_LOUDNESS),
            _ if action.valve == Valve::Shut => (f64::INFINITY, STOPCOCK_LOUDNESS),
            _ => return,
        };
        let mut at = 0.0;
        while at < action.seconds {
            self.sounds.push(Sound {
                t_s: self.t + at,
                loudness,
            });
            at += every;
        }
    }

    fn note(&mut self, happening: Happening, phase: PhaseKind, dt: f64) {
        // The time after which the pressure is compared: fifteen time constants of a snap, an emptied balloon, a finished slip.
        let (kind, over_after) = match happening {
            Happening::Fracture => ("fracture", Some(0.06)),
            Happening::Burst => ("burst", Some(0.1)),
            Happening::Slip => ("slip", Some(self.specimen.seat.slip_time_s)),
            Happening::Leak => ("leak", None),
            Happening::Yield => ("yield", None),
        };
        if let Some(seconds) = over_after {
            self.happenings += 1;
            self.fine_until = self.t + FINE_FOR_S;
            self.open.push((self.course_events.len(), self.t + seconds));
        }
        let state = self.specimen.state();
        let loudness = match happening {
            Happening::Fracture => 1.0,
            Happening::Burst => BURST_LOUDNESS,
            Happening::Slip => SLIP_LOUDNESS,
            Happening::Leak | Happening::Yield => 0.0,
        };
        if loudness > 0.0 {
            self.sounds.push(Sound {
                t_s: self.t + dt,
                loudness,
            });
        }
        self.course_events.push(TrueEvent {
            kind,
            t_s: self.t + dt,
            row: 0,
            phase,
            pressure_before_kpa: state.pressure,
            pressure_after_kpa: None,
            drop_kpa: None,
            volume_injected_ml: self.specimen.injected_ml - self.primed_ml,
            counter_ml: self.counter_ml,
            diameter_before_mm: state.waist,
            diameter_after_mm: None,
            ring_force_n: state.force,
            capacity_ml_per_kpa: self.specimen.capacity(),
        });
    }

    /// Complete the events that are over.
    fn close_events(&mut self) {
        let (state, t) = (self.specimen.state(), self.t);
        let events = &mut self.course_events;
        self.open.retain(|(index, over)| {
            if t < *over {
                return true;
            }
            if let Some(event) = events.get_mut(*index) {
                event.pressure_after_kpa = Some(state.pressure);
                event.drop_kpa = Some(event.pressure_before_kpa - state.pressure);
                event.diameter_after_mm = Some(state.waist);
            }
            false
        });
    }
}
