//! The recorder: what transducer, converter, cable and logger make of the truth.

use super::dialect::Dialect;
use super::run::{Sample, Sound};
use crate::uncertain::Draws;

/// A camera that measures the waist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Standard deviation of one reading, mm.
    pub noise_mm: f64,
    /// Smallest step, mm.
    pub resolution_mm: f64,
    /// How late its readings arrive, s.
    pub delay_s: f64,
    /// Standard deviation of what it is off by in a run: its scale and plane are set up anew for each, mm.
    pub set_up_mm: f64,
    /// What it is off by in this run, mm.
    pub off_mm: f64,
}

/// A microphone whose level is logged beside the pressure: the loudest moment since the row before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Microphone {
    /// Level of the room, standard deviation, V.
    pub room_v: f64,
    /// Level of a breaking frame, V.
    pub bang_v: f64,
}

/// Time constant of a sound dying away in the room, s.
const SOUND_DECAY_S: f64 = 0.004;
/// A sound below this share of itself is over.
const SOUND_OVER: f64 = 1e-3;

/// A transducer with its logger.
#[derive(Debug, Clone, PartialEq)]
pub struct Logger {
    /// Name of the rig, and of its file in `rigs/`.
    pub name: String,
    /// How it writes.
    pub dialect: Dialect,
    /// Samples a second, Hz.
    pub rate_hz: f64,
    /// White noise, standard deviation, kPa.
    pub white_kpa: f64,
    /// Slow noise, standard deviation, kPa.
    pub slow_kpa: f64,
    /// Correlation time of the slow noise, s.
    pub slow_time_s: f64,
    /// Mains hum, amplitude, kPa.
    pub hum_kpa: f64,
    /// Mains frequency, Hz.
    pub hum_hz: f64,
    /// Zero offset, standard deviation from run to run, kPa.
    pub zero_kpa: f64,
    /// What a zeroed transducer is off by under pressure (its hysteresis, and where it sits), from run to run, kPa.
    pub left_kpa: f64,
    /// Gain error: reading = (1 + error) × pressure.
    pub gain_error: f64,
    /// Drift of zero, kPa/min.
    pub drift_kpa_per_min: f64,
    /// Range, kPa; readings clip at its ends.
    pub range_kpa: (f64, f64),
    /// Bits over the range.
    pub bits: i32,
    /// Smallest step of the volume counter, mL.
    pub volume_resolution_ml: f64,
    /// Noise of the volume counter, standard deviation, mL.
    pub volume_noise_ml: f64,
    /// Gain error of the volume counter, relative.
    pub volume_gain_error: f64,
    /// Whether the volume counter is logged.
    pub counter: bool,
    /// Camera.
    pub camera: Option<Camera>,
    /// Microphone.
    pub microphone: Option<Microphone>,
    /// Whether the bath's temperature is logged.
    pub thermometer: bool,
    /// Declared standard uncertainty of pressure, constant part, kPa.
    pub u_kpa: f64,
    /// Declared standard uncertainty of pressure, relative part.
    pub u_rel: f64,
    /// Date of calibration, ISO.
    pub calibrated_on: String,
    /// Date the next is due, ISO.
    pub due_on: String,
}

/// Something that went wrong while recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// Nothing logged from this time for so long, s.
    Gap {
        /// Start, s.
        from_s: f64,
        /// Length, s.
        seconds: f64,
    },
    /// So many rows without pressure.
    Dropout {
        /// Start, s.
        from_s: f64,
        /// Rows.
        rows: usize,
    },
    /// So many rows written twice.
    Repeat {
        /// Start, s.
        from_s: f64,
        /// Rows.
        rows: usize,
    },
    /// So many rows repeat the pressure before them: the converter held its value.
    Held {
        /// Start, s.
        from_s: f64,
        /// Rows.
        rows: usize,
    },
    /// One row off by so much.
    Spike {
        /// Time, s.
        from_s: f64,
        /// Height, kPa.
        kpa: f64,
    },
    /// The recording ends.
    End {
        /// Time, s.
        from_s: f64,
    },
    /// A knock on the line: the pressure swings and comes back.
    Knock {
        /// Time, s.
        from_s: f64,
        /// First height, kPa.
        kpa: f64,
    },
}

/// A zeroed transducer is off by what is left from about this pressure on, kPa.
const LEFT_FROM_KPA: f64 = 20.0;

/// Frequency and time constant of a knock, Hz and s.
const KNOCK: (f64, f64) = (40.0, 0.025);

impl Fault {
    /// The same, so much later.
    #[must_use]
    pub fn later(mut self, seconds: f64) -> Self {
        match &mut self {
            Self::Gap { from_s, .. }
            | Self::Dropout { from_s, .. }
            | Self::Repeat { from_s, .. }
            | Self::Held { from_s, .. }
            | Self::Spike { from_s, .. }
            | Self::End { from_s }
            | Self::Knock { from_s, .. } => *from_s += seconds,
        }
        self
    }

    /// In words, for the truth file.
    pub fn words(&self) -> String {
        match self {
            Self::Gap { from_s, seconds } => format!("gap of {seconds} s at {from_s} s"),
            Self::Dropout { from_s, rows } => format!("{rows} rows without pressure at {from_s} s"),
            Self::Repeat { from_s, rows } => format!("{rows} rows written twice at {from_s} s"),
            Self::Held { from_s, rows } => format!("{rows} rows held at {from_s} s"),
            Self::Spike { from_s, kpa } => format!("spike of {kpa} kPa at {from_s} s"),
            Self::End { from_s } => format!("the recording ends at {from_s} s"),
            Self::Knock { from_s, kpa } => format!("knock of {kpa} kPa at {from_s} s"),
        }
    }
}

/// One row of a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row {
    /// Time from the first row, s.
    pub t: f64,
    /// Gauge pressure, kPa.
    pub pressure: Option<f64>,
    /// Volume counter, mL.
    pub volume: f64,
    /// Diameter, mm.
    pub diameter: Option<f64>,
    /// Temperature, °C.
    pub temperature: Option<f64>,
    /// Sound, V.
    pub sound: Option<f64>,
}

/// Relative standard uncertainty that a rig states of its volume counter.
pub const COUNTER_U_REL: f64 = 0.002;

/// Round to the nearest multiple of a step.
fn to_step(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

impl Logger {
    /// The logger as it is in one run: what differs from run to run is drawn.
    #[must_use]
    pub fn set_up(&self, draws: &mut Draws) -> Self {
        let (camera, left) = (draws.normal(), draws.normal());
        Self {
            left_kpa: self.left_kpa * left,
            camera: self.camera.map(|c| Camera {
                off_mm: c.set_up_mm * camera,
                ..c
            }),
            ..self.clone()
        }
    }

    /// One count of the converter, kPa.
    pub fn pressure_step(&self) -> f64 {
        (self.range_kpa.1 - self.range_kpa.0) / 2_f64.powi(self.bits)
    }

    /// Record a run. `bath` is the temperature of the bath, °C.
    pub fn record(
        &self,
        samples: &[Sample],
        sounds: &[Sound],
        faults: &[Fault],
        bath: f64,
        draws: &mut Draws,
    ) -> Vec<Row> {
        let zero = self.zero_kpa * draws.normal();
        let hum_phase = draws.between(0.0, std::f64::consts::TAU);
        let keep = (-1.0 / (self.rate_hz * self.slow_time_s)).exp();
        let mut slow = draws.normal();
        let step = self.pressure_step();
        let late = self
            .camera
            .map_or(0, |camera| (camera.delay_s * self.rate_hz).round() as usize);
        let mut rows = Vec::with_capacity(samples.len());
        for (n, sample) in samples.iter().enumerate() {
            slow = keep * slow + (1.0 - keep * keep).sqrt() * draws.normal();
            let analogue = (1.0 + self.gain_error) * sample.pressure
                + zero
                + self.left_kpa * (1.0 - (-sample.pressure.max(0.0) / LEFT_FROM_KPA).exp())
                + self.drift_kpa_per_min * sample.t / 60.0
                + self.white_kpa * draws.normal()
                + self.slow_kpa * slow
                + self.hum_kpa * (std::f64::consts::TAU * self.hum_hz * sample.t + hum_phase).sin();
            let volume = (1.0 + self.volume_gain_error) * sample.counter
                + self.volume_noise_ml * draws.normal();
            let camera_noise = draws.normal();
            let seen = samples.get(n.saturating_sub(late)).and_then(|s| s.diameter);
            let diameter = self.camera.zip(seen).map(|(camera, d)| {
                let seen = d + camera.off_mm + camera.noise_mm * camera_noise;
                to_step(seen, camera.resolution_mm)
            });
            let warmth = bath + 0.02 * draws.normal();
            rows.push(Row {
                t: sample.t,
                pressure: Some(to_step(analogue, step).clamp(self.range_kpa.0, self.range_kpa.1)),
                volume: to_step(volume, self.volume_resolution_ml),
                diameter,
                temperature: self.thermometer.then_some(warmth),
                sound: None,
            });
        }
        if let Some(microphone) = self.microphone {
            microphone.listen(&mut rows, sounds, draws);
        }
        for fault in faults {
            spoil(&mut rows, fault, self.range_kpa);
        }
        rows
    }

    /// The standard deviation of one pressure sample, kPa: white and slow noise, hum, and the steps of the converter.
    pub fn noise_kpa(&self) -> f64 {
        (self.white_kpa.powi(2)
            + self.slow_kpa.powi(2)
            + self.hum_kpa.powi(2) / 2.0
            + self.pressure_step().powi(2) / 12.0)
            .sqrt()
    }
}

impl Microphone {
    /// The loudest moment since the row before: the room, and every sound while it lasts.
    fn listen(self, rows: &mut [Row], sounds: &[Sound], draws: &mut Draws) {
        let mut before = f64::NEG_INFINITY;
        for row in rows {
            let mut level = self.room_v * draws.normal().abs();
            for sound in sounds {
                // The loudest moment is the beginning, or the row before where it began earlier.
                let since = before.max(sound.t_s) - sound.t_s;
                if sound.t_s <= row.t && (-since / SOUND_DECAY_S).exp() > SOUND_OVER {
                    level =
                        level.max(self.bang_v * sound.loudness * (-since / SOUND_DECAY_S).exp());
                }
            }
            row.sound = Some(level);
            before = row.t;
        }
    }
}

/// Let a fault happen to the rows.
fn spoil(rows: &mut Vec<Row>, fault: &Fault, range_kpa: (f64, f64)) {
    match *fault {
        Fault::Gap { from_s, seconds } => {
            rows.retain(|row| row.t < from_s || row.t >= from_s + seconds);
        }
        Fault::Dropout {
            from_s,
            rows: count,
        } => {
            for row in rows.iter_mut().filter(|row| row.t >= from_s).take(count) {
                row.pressure = None;
            }
        }
        Fault::Repeat {
            from_s,
            rows: count,
        } => {
            let start = rows.partition_point(|row| row.t < from_s);
            let twice: Vec<Row> = rows.iter().skip(start).take(count).copied().collect();
            let mut at = start;
            for row in twice {
                rows.insert((at + 1).min(rows.len()), row);
                at += 2;
            }
        }
        Fault::Held {
            from_s,
            rows: count,
        } => {
            let start = rows.partition_point(|row| row.t < from_s);
            let held = rows.get(start).and_then(|row| row.pressure);
            for row in rows.iter_mut().skip(start).take(count) {
                row.pressure = held;
            }
        }
        Fault::End { from_s } => rows.retain(|row| row.t < from_s),
        Fault::Spike { from_s, kpa } => {
            if let Some(p) = rows
                .iter_mut()
                .find(|row| row.t >= from_s)
                .and_then(|row| row.pressure.as_mut())
            {
                *p = (*p + kpa).clamp(range_kpa.0, range_kpa.1);
            }
        }
        Fault::Knock { from_s, kpa } => {
            for row in rows.iter_mut().filter(|row| row.t >= from_s) {
                let since = row.t - from_s;
                let swing =
                    (-since / KNOCK.1).exp() * (std::f64::consts::TAU * KNOCK.0 * since).cos();
                if let Some(p) = row.pressure.as_mut() {
                    *p = (*p + kpa * swing).clamp(range_kpa.0, range_kpa.1);
                }
            }
        }
    }
}
