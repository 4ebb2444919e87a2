//! A made-up run with its truth: volume goes in stroke by stroke, the pressure follows a simple law, holds relax, and what is asked
//! for happens. No part of the crate's own bench is used, so that both can be wrong only apart.
#![allow(dead_code)]

use hooptrace::balloon::LineModel;
use hooptrace::calibrate::calibrate;
use hooptrace::detect::detect;
use hooptrace::recording::{
    Event, Finding, Phase, PhaseKind, RawChannel, RawRecording, RunKind, RunRow, Trace,
};
use hooptrace::rig::{ChannelQuantity, Rig, Settings, rig_from_text};
use hooptrace::segment::{Motion, segment};
use hooptrace::uncertain::Draws;
use hooptrace::units;

/// Stiffness above the fill, kPa/mL: a balloon in a stiff frame on a stiff line.
pub const STIFFNESS: f64 = 400.0;
/// Volume and pressure at the end of the fill.
const FILL_ML: f64 = 12.0;
const FILL_KPA: f64 = 40.0;
/// Volume over which the pressure of the fill builds up, mL.
const FILL_SCALE_ML: f64 = 1.5;
/// Step of the integration, s.
const STEP_S: f64 = 2.5e-4;
/// Lag of the transducer, s.
const LAG_S: f64 = 2e-3;

/// When something happens.
#[derive(Debug, Clone, Copy)]
pub enum When {
    /// In stroke k (from 0), at this share of its volume.
    Stroke(usize, f64),
    /// In the hold after stroke k (from 0), at this share of its time.
    Hold(usize, f64),
}

/// What happens to the specimen.
#[derive(Debug, Clone, Copy)]
pub enum What {
    /// A fall of so many kPa with a time constant of 3 ms.
    Snap(f64),
    /// A smooth fall of so many kPa over so many seconds.
    Slip(f64, f64),
    /// Pressure to nothing, for good.
    Burst,
    /// Outflow through a hole: this share of the pressure a second at the pressure it opens at.
    Leak(f64),
}

/// What deceives.
#[derive(Debug, Clone, Copy)]
pub enum Trap {
    /// A ring on the line of this first height (kPa, signed) that dies out within 100 ms.
    Knock(f64),
    /// A single sample off by so many kPa.
    Spike(f64),
    /// Rows missing from half of this before to half of it after, s.
    Gap(f64),
    /// Pressure cells empty from half of this before to half of it after, s.
    Dropout(f64),
    /// The stopcock shut for so many seconds: the transducer sees no pressure.
    Shut(f64),
}

/// A run.
#[derive(Debug, Clone)]
pub struct Staircase {
    pub rate_hz: f64,
    pub noise_kpa: f64,
    pub hum_kpa: f64,
    pub volume: bool,
    pub seed: u64,
    /// Share of the pressure that relaxes in a hold, with 1.5 s.
    pub relaxation: f64,
    pub strokes: usize,
    pub stroke_ml: f64,
    pub stroke_s: f64,
    pub hold_s: f64,
    /// After stroke k: so many mL withdrawn and put back.
    pub refill: Option<(usize, f64)>,
    /// Counter begins again at the hand-over.
    pub handover: bool,
    /// Highest reading of the channel, kPa.
    pub limit_kpa: f64,
    pub happenings: Vec<(When, What)>,
    pub traps: Vec<(When, Trap)>,
    /// Added to the clock, s: where between two samples everything falls.
    pub phase_s: f64,
}

impl Default for Staircase {
    fn default() -> Self {
        Self {
            rate_hz: 100.0,
            noise_kpa: 0.3,
            hum_kpa: 0.0,
            volume: true,
            seed: 1,
            relaxation: 0.03,
            strokes: 8,
            stroke_ml: 0.3,
            stroke_s: 0.9,
            hold_s: 1.8,
            refill: None,
            handover: true,
            limit_kpa: 1e5,
            happenings: Vec::new(),
            traps: Vec::new(),
            phase_s: 0.0,
        }
    }
}

/// Truth of one happening.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub what: What,
    pub t_s: f64,
    pub pressure_kpa: f64,
    pub drop_kpa: f64,
}

/// A run as recorded, and as it was.
#[derive(Debug, Clone)]
pub struct Made {
    pub raw: RawRecording,
    pub truths: Vec<Truth>,
    pub phases: Vec<(PhaseKind, f64, f64)>,
}

/// A run as analysed.
pub struct Seen {
    pub trace: Trace,
    pub findings: Vec<Finding>,
    pub phases: Vec<Phase>,
    pub events: Vec<Event>,
    pub smallest_kpa: f64,
}

/// One movement of the operator.
#[derive(Debug, Clone, Copy)]
struct Move {
    kind: PhaseKind,
    from_s: f64,
    to_s: f64,
    ml: f64,
}

/// Pressure the balloon and line have at an injected volume, before anything relaxes.
fn law(ml: f64) -> f64 {
    if ml < FILL_ML {
        FILL_KPA * ((ml - FILL_ML) / FILL_SCALE_ML).exp()
            - FILL_KPA * (-FILL_ML / FILL_SCALE_ML).exp()
    } else {
        FILL_KPA + STIFFNESS * (ml - FILL_ML)
    }
}

impl Staircase {
    fn moves(&self) -> Vec<Move> {
        let mut moves: Vec<Move> = Vec::new();
        let mut add = |kind, seconds: f64, ml| {
            let from_s = moves.last().map_or(0.0, |m| m.to_s);
            moves.push(Move {
                kind,
                from_s,
                to_s: from_s + seconds,
                ml,
            });
        };
        add(PhaseKind::Vent, 2.5, 0.0);
        add(PhaseKind::Fill, 4.0, FILL_ML);
        add(PhaseKind::Switch, 1.5, 0.0);
        let mut injected = FILL_ML;
        for k in 0..self.strokes {
            add(PhaseKind::Stroke, self.stroke_s, self.stroke_ml);
            add(PhaseKind::Hold, self.hold_s, 0.0);
            injected += self.stroke_ml;
            if let Some((after, ml)) = self.refill
                && after == k
            {
                add(PhaseKind::Refill, 1.4, -ml);
                add(PhaseKind::Refill, 1.2, 0.0);
                add(PhaseKind::Refill, 1.6, ml);
                add(PhaseKind::Hold, self.hold_s, 0.0);
            }
        }
        add(PhaseKind::Hold, 2.0, 0.0);
        add(PhaseKind::Deflate, 2.2, -injected);
        add(PhaseKind::Vent, 2.5, 0.0);
        moves
    }

    fn time_of(&self, moves: &[Move], when: When) -> f64 {
        let (kind, k) = match when {
            When::Stroke(k, _) => (PhaseKind::Stroke, k),
            When::Hold(k, _) => (PhaseKind::Hold, k),
        };
        let m = moves.iter().filter(|m| m.kind == kind).nth(k).unwrap();
        let share = match when {
            // Half a cosine moves the volume.
            When::Stroke(_, share) => (1.0 - 2.0 * share).acos() / std::f64::consts::PI,
            When::Hold(_, share) => share,
        };
        m.from_s + share * (m.to_s - m.from_s)
    }

    /// Simulates and records.
    pub fn make(&self) -> Made {
        let moves = self.moves();
        let mut due: Vec<(f64, What)> = self
            .happenings
            .iter()
            .map(|(when, what)| (self.time_of(&moves, *when), *what))
            .collect();
        due.sort_by(|a, b| a.0.total_cmp(&b.0));
        let end = moves.last().map_or(0.0, |m| m.to_s);
        let (mut lost, mut crept, mut reading, mut hole, mut burst_at) =
            (0.0, 0.0, 0.0, 0.0, None::<f64>);
        let mut going: Vec<(f64, What, f64)> = Vec::new();
        let mut truths = Vec::new();
        let (mut time, mut pressure, mut volume) = (Vec::new(), Vec::new(), Vec::new());
        let mut next_sample = self.phase_s;
        let handover_s = moves
            .iter()
            .find(|m| m.kind == PhaseKind::Switch)
            .map_or(0.0, |m| 0.5 * (m.from_s + m.to_s));
        let mut p = 0.0_f64;
        let mut n = 0_u32;
        loop {
            let t = f64::from(n) * STEP_S;
            n += 1;
            if t > end {
                break;
            }
            while due.first().is_some_and(|(at, _)| *at <= t) {
                let (at, what) = due.remove(0);
                let drop_kpa = match what {
                    What::Snap(drop) | What::Slip(drop, _) => drop,
                    What::Burst => p,
                    What::Leak(_) => f64::NAN,
                };
                truths.push(Truth {
                    what,
                    t_s: at,
                    pressure_kpa: p,
                    drop_kpa,
                });
                match what {
                    What::Burst => burst_at = Some(at),
                    What::Leak(share) => hole = share * p.sqrt() / STIFFNESS,
                    _ => going.push((at, what, 0.0)),
                }
            }
            for (at, what, done) in &mut going {
                let (size, share) = match *what {
                    What::Snap(drop) => (drop, 1.0 - (-(t - *at) / 3e-3).exp()),
                    What::Slip(drop, seconds) => {
                        let x = ((t - *at) / seconds).clamp(0.0, 1.0);
                        (drop, x * x * (3.0 - 2.0 * x))
                    }
                    _ => (0.0, 0.0),
                };
                lost += (share - *done) * size / STIFFNESS;
                *done = share;
            }
            lost += hole * p.max(0.0).sqrt() * STEP_S;
            let injected: f64 = moves
                .iter()
                .take_while(|m| m.from_s <= t)
                .map(|m| {
                    let x = ((t - m.from_s) / (m.to_s - m.from_s)).clamp(0.0, 1.0);
                    let done = if m.kind == PhaseKind::Fill {
                        x
                    } else {
                        0.5 * (1.0 - (std::f64::consts::PI * x).cos())
                    };
                    m.ml * done
                })
                .sum();
            let elastic = law((injected - lost).max(0.0));
            crept += (self.relaxation * elastic - crept) * (STEP_S / 1.5);
            p = elastic - crept;
            if let Some(at) = burst_at {
                p *= (-(t - at) / 0.015).exp();
            }
            let shut = self.traps.iter().any(|(when, trap)| {
                let at = self.time_of(&moves, *when);
                matches!(trap, Trap::Shut(seconds) if t >= at && t < at + seconds)
            });
            let target = if shut { 0.0 } else { p };
            reading += (target - reading) * (1.0 - (-STEP_S / LAG_S).exp());
            if t >= next_sample {
                time.push(next_sample);
                pressure.push(reading);
                let counted = if self.handover && t >= handover_s {
                    injected - FILL_ML
                } else {
                    injected
                };
                volume.push(counted);
                next_sample += 1.0 / self.rate_hz;
            }
        }
        let raw = self.record(&moves, &time, pressure, volume);
        let mut phases: Vec<(PhaseKind, f64, f64)> = Vec::new();
        for m in &moves {
            match phases.last_mut() {
                Some(last) if last.0 == m.kind => last.2 = m.to_s,
                _ => phases.push((m.kind, m.from_s, m.to_s)),
            }
        }
        // The clock of the trace begins with its first sample.
        for truth in &mut truths {
            truth.t_s -= self.phase_s;
        }
        for phase in &mut phases {
            phase.1 -= self.phase_s;
            phase.2 -= self.phase_s;
        }
        Made {
            raw,
            truths,
            phases,
        }
    }

    fn record(
        &self,
        moves: &[Move],
        time: &[f64],
        mut pressure: Vec<f64>,
        volume: Vec<f64>,
    ) -> RawRecording {
        let mut draws = Draws::new(self.seed, "staircase");
        let hum_phase = draws.between(0.0, std::f64::consts::TAU);
        for (p, t) in pressure.iter_mut().zip(time) {
            *p += self.noise_kpa * draws.normal()
                + self.hum_kpa * (std::f64::consts::TAU * 50.0 * t + hum_phase).sin();
        }
        let mut volume: Vec<f64> = volume
            .iter()
            .map(|v| ((v + 0.002 * draws.normal()) / 0.002).round() * 0.002)
            .collect();
        let mut time = time.to_vec();
        for (when, trap) in &self.traps {
            let at = self.time_of(moves, *when);
            match *trap {
                Trap::Knock(height) => {
                    for (p, t) in pressure.iter_mut().zip(&time) {
                        let since = t - at;
                        if since >= 0.0 {
                            // 40 Hz, down to 2 % after 100 ms.
                            *p += height
                                * (-since / 0.025).exp()
                                * (std::f64::consts::TAU * 40.0 * since).cos();
                        }
                    }
                }
                Trap::Spike(height) => {
                    let i = time.partition_point(|t| *t < at);
                    pressure[i] += height;
                }
                Trap::Dropout(seconds) => {
                    for (p, t) in pressure.iter_mut().zip(&time) {
                        if (t - at).abs() < seconds / 2.0 {
                            *p = f64::NAN;
                        }
                    }
                }
                Trap::Gap(seconds) => {
                    let keep: Vec<bool> = time
                        .iter()
                        .map(|t| (t - at).abs() >= seconds / 2.0)
                        .collect();
                    let kept = |values: &[f64]| -> Vec<f64> {
                        values
                            .iter()
                            .zip(&keep)
                            .filter(|(_, k)| **k)
                            .map(|(v, _)| *v)
                            .collect()
                    };
                    (pressure, volume, time) = (kept(&pressure), kept(&volume), kept(&time));
                }
                Trap::Shut(_) => {}
            }
        }
        // A converter of 0.05 kPa with a limit.
        for p in &mut pressure {
            *p = ((*p / 0.05).round() * 0.05).min(self.limit_kpa);
        }
        let mut channels = vec![(ChannelQuantity::Pressure, pressure)];
        if self.volume {
            channels.push((ChannelQuantity::Volume, volume));
        }
        raw_recording(&time, channels)
    }

    /// Makes and analyses.
    pub fn see(&self) -> (Made, Seen) {
        let made = self.make();
        let seen = analyse(&made.raw);
        (made, seen)
    }
}

/// A recording from clock and channels in bench units; data begin in line 2.
pub fn raw_recording(time: &[f64], channels: Vec<(ChannelQuantity, Vec<f64>)>) -> RawRecording {
    RawRecording {
        file: "traces/made.csv".to_owned(),
        time_s: time.to_vec().into(),
        line: (0..time.len() as u64).map(|i| i + 2).collect(),
        channels: channels
            .into_iter()
            .enumerate()
            .map(|(channel, (quantity, values))| RawChannel {
                channel,
                quantity,
                column: quantity.word().to_owned(),
                unit: units::find(match quantity {
                    ChannelQuantity::Volume => "mL",
                    ChannelQuantity::Diameter => "mm",
                    _ => "kPa",
                })
                .unwrap(),
                values: values.into(),
            })
            .collect(),
        ..RawRecording::default()
    }
}

/// The rig of made-up recordings.
pub fn rig() -> Rig {
    rig_from_text(
        "name = \"made\"\n[ambient]\npressure_kpa = 101.325\n\
         [[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\nu_kpa = 1.0\nu_rel = 0.001\n\
         [[channel]]\nquantity = \"volume\"\nunit = \"mL\"\nu_ml = 0.02\n",
        "rigs/made.toml",
    )
    .unwrap()
    .0
}

/// A row of the runs table.
pub fn run_row() -> RunRow {
    RunRow {
        run_id: "m1".to_owned(),
        kind: RunKind::Frame,
        frame_id: None,
        balloon_id: None,
        arm: None,
        trace: Some("traces/made.csv".to_owned()),
        rig: None,
        further: std::collections::BTreeMap::new(),
        operator: None,
        started_at: Some("2025-05-05T10:00:00".to_owned()),
        inspection: None,
        inner_valve: None,
        inner_valve_told: false,
        note: None,
        file: "runs.csv".to_owned(),
        line: 2,
    }
}

/// The way of a recording up to its events.
pub fn analyse(raw: &RawRecording) -> Seen {
    analyse_with(raw, None).unwrap()
}

/// The same where blank runs told the line; the findings where the recording cannot be used.
pub fn analyse_with(raw: &RawRecording, line: Option<&LineModel>) -> Result<Seen, Vec<Finding>> {
    let settings = Settings::default();
    let (trace, findings) = calibrate(raw.clone(), &rig(), &run_row(), &settings, None)?;
    let (phases, events, smallest_kpa) = judge(&trace, line);
    Ok(Seen {
        trace,
        findings,
        phases,
        events,
        smallest_kpa,
    })
}

/// Phases and events of a trace, and the smallest fall that would have been seen (kPa).
pub fn judge(trace: &Trace, line: Option<&LineModel>) -> (Vec<Phase>, Vec<Event>, f64) {
    judge_by(trace, line, &Settings::default())
}

/// The same by other thresholds.
pub fn judge_by(
    trace: &Trace,
    line: Option<&LineModel>,
    settings: &Settings,
) -> (Vec<Phase>, Vec<Event>, f64) {
    let motion = Motion::of(trace, &settings.motion);
    let phases = segment(trace, &motion, &settings.phases);
    let (events, smallest) = detect(trace, &phases, &motion, line, settings);
    (phases, events, smallest)
}
