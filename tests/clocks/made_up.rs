//! A made-up run as a function of true time, looked at by two recorders whose clocks are known.

use hooptrace::calibrate::sync::Signal;
use hooptrace::uncertain::Draws;

/// A recorded channel as a signal.
pub fn signal(recorded: &(Vec<f64>, Vec<f64>)) -> Signal<'_> {
    Signal {
        time_s: &recorded.0,
        values: &recorded.1,
    }
}

/// Pressure (kPa), volume (mL) and diameter (mm) of a run at any time, so that no recorder's grid is in the truth.
#[derive(Clone)]
pub struct Run {
    /// Start, end, and change of volume of each stroke, s and mL.
    strokes: Vec<(f64, f64, f64)>,
    /// Sudden fall of pressure and opening of the waist: when (s), kPa, mm.
    snap: Option<(f64, f64, f64)>,
    /// Length, s.
    pub length_s: f64,
}

impl Run {
    /// A vent, a fill, strokes with holds, a deflation, a vent; every time and size drawn.
    pub fn draw(draws: &mut Draws) -> Self {
        let mut t = draws.between(1.5, 3.0);
        let fill = draws.between(8.0, 13.0);
        let mut strokes = vec![(t, t + draws.between(3.0, 6.0), fill)];
        let count = draws.between(6.0, 14.0) as usize;
        let mut moved = fill;
        for _ in 0..count {
            t = strokes[strokes.len() - 1].1 + draws.between(0.8, 4.0);
            let volume = draws.between(0.15, 0.4);
            strokes.push((t, t + draws.between(0.3, 0.9), volume));
            moved += volume;
        }
        let snap = (draws.between(0.0, 1.0) < 0.5)
            .then(|| (t + 1.2, draws.between(60.0, 200.0), draws.between(0.3, 1.0)));
        let out = strokes[strokes.len() - 1].1 + draws.between(2.0, 6.0);
        strokes.push((out, out + draws.between(1.5, 4.0), -moved));
        Self {
            length_s: strokes[strokes.len() - 1].1 + draws.between(1.5, 3.0),
            strokes,
            snap,
        }
    }

    /// The same run with a break that drops the pressure by so much, kPa, from one moment to the next.
    #[must_use]
    pub fn broken(mut self, drop_kpa: f64, draws: &mut Draws) -> Self {
        let last = self.strokes[self.strokes.len() - 2].0;
        self.snap = Some((last + draws.between(0.1, 1.0), drop_kpa, 3.0));
        self
    }

    /// Injected volume, mL.
    pub fn volume(&self, t: f64) -> f64 {
        let moved =
            |(from, to, ml): &(f64, f64, f64)| ml * ((t - from) / (to - from)).clamp(0.0, 1.0);
        self.strokes.iter().map(moved).sum()
    }

    /// Pressure, kPa: a fill that stiffens, then straight, and a little less while it rests.
    pub fn pressure(&self, t: f64) -> f64 {
        let fill = self.strokes[0].2;
        let over = self.volume(t) - fill;
        let base = 40.0 * (over.min(0.0) / 1.5).exp() + 400.0 * over.max(0.0);
        let creep: f64 = self
            .strokes
            .iter()
            .filter(|s| t > s.1 && s.2 > 0.0)
            .map(|s| 8.0 * (1.0 - (-(t - s.1) / 1.5).exp()))
            .sum();
        let fell = self.snap.filter(|s| t > s.0).map_or(0.0, |s| s.1);
        (base - (creep + fell).min(0.5 * base)).max(0.0)
    }

    /// Waist diameter, mm: grows with the volume, faster the more is in, and jumps at the snap.
    pub fn diameter(&self, t: f64) -> f64 {
        let v = self.volume(t).max(0.0);
        let fill = self.strokes[0].2;
        let opened = self
            .snap
            .filter(|s| t > s.0 && v > fill)
            .map_or(0.0, |s| s.2);
        let over = (v - fill).max(0.0);
        16.0 + 0.3 * v + 0.5 * over + 0.12 * over * over + opened
    }
}

/// A recorder: the time its clock shows at true time t is `(t - start_s) / (1 + drift)`.
#[derive(Debug, Clone, Copy)]
pub struct Recorder {
    /// True time of its first sample, s.
    pub start_s: f64,
    /// True time it stops, s.
    pub end_s: f64,
    /// Seconds of true time in one of its own less one.
    pub drift: f64,
    /// Rate, Hz.
    pub rate_hz: f64,
    /// Standard deviation of one value.
    pub noise: f64,
}

impl Recorder {
    /// True time at a reading of its clock, s.
    pub fn true_time(&self, own_s: f64) -> f64 {
        self.start_s + own_s * (1.0 + self.drift)
    }

    /// Its clock and what it records of a channel, at even times of its own clock.
    pub fn record(&self, channel: impl Fn(f64) -> f64, draws: &mut Draws) -> (Vec<f64>, Vec<f64>) {
        let mut time_s = Vec::new();
        let mut values = Vec::new();
        let mut k = 0.0;
        while self.true_time(k / self.rate_hz) < self.end_s {
            let t = k / self.rate_hz;
            time_s.push(t);
            values.push(channel(self.true_time(t)) + self.noise * draws.normal());
            k += 1.0;
        }
        (time_s, values)
    }
}
