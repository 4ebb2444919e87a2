//! Several recordings of one run, each on its own clock, put on one.
//!
//! What both recordings saw ([`correlate()`]), pulses given to both ([`match_pulses`]) or a declared offset places the clock of a further
//! recording on that of the main one, with an uncertainty. Where that cannot be had nothing is guessed: the recording is left out,
//! and a finding says why.

mod apply;
mod attach;
mod correlate;
mod grid;
mod marker;
mod window;
mod words;

pub use apply::{envelope, onto};
pub use attach::{Attached, Further, attach};
pub use correlate::correlate;
pub use marker::{match_pulses, rising_edges};

/// Clocks of recorders differ by less than this share (common practice, no source: quartz is good for 100 ppm, a bad sound card
/// or camera for a few hundred).
pub const LARGEST_DRIFT: f64 = 1e-3;
/// A step longer than so many usual steps is a gap (as in the rows of one file).
const GAP_STEPS: f64 = 2.6;
/// A drift that was not asked for is a doubt from so many standard uncertainties.
const DRIFT_SIGMAS: f64 = 2.0;
/// A drift is impossible if it lies beyond the largest by so many of its standard uncertainties.
const BEYOND_SIGMAS: f64 = 3.0;
/// A drift is applied if it is known to this share of [`LARGEST_DRIFT`]: a few places near each other would give any drift.
const SURE_SHARE: f64 = 0.25;

/// One channel over the time of its own file, s, increasing; values may be NaN.
#[derive(Debug, Clone, Copy)]
pub struct Signal<'a> {
    /// Time, s.
    pub time_s: &'a [f64],
    /// Values, as many.
    pub values: &'a [f64],
}

/// Where an offset is looked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Search {
    /// Offset expected, s (0 where nothing is known).
    pub guess_s: f64,
    /// Farthest from it, s; `None` for all that overlap.
    pub max_offset_s: Option<f64>,
    /// Whether a drift may be applied.
    pub drift: bool,
    /// Whether the two channels measure different quantities, which move together but not in proportion.
    pub curved: bool,
}

/// The clock of a further recording on that of the main one: `t_main = t + offset + drift (t - centre)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Alignment {
    /// Main clock less further clock at the centre, s.
    pub offset_s: f64,
    /// Its standard uncertainty there, s.
    pub u_offset_s: f64,
    /// Rate of the main clock over that of the further one less one, as applied (0 where not asked for or not known).
    pub drift: f64,
    /// Its standard uncertainty; where no drift is applied, how much may be there.
    pub u_drift: f64,
    /// Drift found, its standard uncertainty; `None` from fewer than three places.
    pub drift_found: Option<(f64, f64)>,
    /// Time of the further clock at which offset and drift are independent, s.
    pub centre_s: f64,
    /// Windows or pulses the offset was found in.
    pub places: usize,
    /// Correlation at the best offset, if found by correlation.
    pub correlation: Option<f64>,
}

impl Alignment {
    /// Time of the main clock (s) at a time of the further one (s).
    pub fn main_time(&self, t_s: f64) -> f64 {
        t_s + self.offset_s + self.drift * (t_s - self.centre_s)
    }

    /// Time of the further clock (s) at a time of the main one (s).
    pub fn own_time(&self, main_s: f64) -> f64 {
        self.centre_s + (main_s - self.offset_s - self.centre_s) / (1.0 + self.drift)
    }

    /// Standard uncertainty of [`Self::main_time`], s.
    pub fn u_at(&self, t_s: f64) -> f64 {
        self.u_offset_s.hypot(self.u_drift * (t_s - self.centre_s))
    }

    /// An offset at every time, s, with its standard uncertainty, s.
    pub fn constant(offset_s: f64, u_offset_s: f64) -> Self {
        Self {
            offset_s,
            u_offset_s,
            drift: 0.0,
            u_drift: 0.0,
            drift_found: None,
            centre_s: 0.0,
            places: 0,
            correlation: None,
        }
    }

    /// Offsets found at several times of the further clock: `(t, offset, u)`, all in s. Weighted mean, and from three places on a
    /// weighted straight line (weights 1/u²). Scatter larger than the uncertainties explain widens them by the ratio of Birge
    /// (√(χ²/degrees of freedom), Phys. Rev. 40 (1932) 207, as in the averages of the Particle Data Group). The drift is applied
    /// if asked for and well known, however small: to apply only what is significant would leave its uncertainty too small near that
    /// limit. Otherwise its size counts as uncertainty, up to what clocks do at all.
    pub fn through(places: &[(f64, f64, f64)], drift: bool) -> Option<Self> {
        let weight: f64 = places.iter().map(|p| p.2.powi(-2)).sum();
        if !weight.is_finite() || weight <= 0.0 {
            return None;
        }
        let mean = |pick: fn(&(f64, f64, f64)) -> f64| {
            places.iter().map(|p| pick(p) * p.2.powi(-2)).sum::<f64>() / weight
        };
        let (centre_s, offset_s) = (mean(|p| p.0), mean(|p| p.1));
        let moment: f64 = places
            .iter()
            .map(|p| (p.0 - centre_s).powi(2) * p.2.powi(-2))
            .sum();
        let mut line = Self {
            centre_s,
            places: places.len(),
            ..Self::constant(offset_s, weight.powf(-0.5))
        };
        // Whatever the places say, clocks do not differ by more: a rectangle.
        let most = LARGEST_DRIFT / 3.0_f64.sqrt();
        if places.len() < 3 || moment <= 0.0 {
            line.u_offset_s *= birge(places, offset_s, 0.0, centre_s, 1);
            line.u_drift = most;
            return Some(line);
        }
        let slope = places
            .iter()
            .map(|p| (p.0 - centre_s) * (p.1 - offset_s) * p.2.powi(-2))
            .sum::<f64>()
            / moment;
        let wider = birge(places, offset_s, slope, centre_s, 2);
        let u_slope = wider * moment.powf(-0.5);
        line.drift_found = Some((slope, u_slope));
        line.u_offset_s *= wider;
        let sure = u_slope < SURE_SHARE * LARGEST_DRIFT && slope.abs() <= LARGEST_DRIFT;
        if drift && sure {
            (line.drift, line.u_drift) = (slope, u_slope);
        } else {
            line.u_drift = u_slope.max(slope.abs()).min(most);
        }
        Some(line)
    }

    /// The same, if no clock would have to run impossibly fast for it.
    ///
    /// # Errors
    /// The drift that was found, in words.
    fn plausible(self) -> Result<Self, String> {
        match self.drift_found {
            Some((slope, u)) if slope.abs() - BEYOND_SIGMAS * u > LARGEST_DRIFT => Err(format!(
                "the clocks would have to drift by {:+.0} ppm, which clocks do not",
                1e6 * slope
            )),
            _ => Ok(self),
        }
    }
}

/// √(χ²/degrees of freedom) of offsets about a line, at least 1.
fn birge(places: &[(f64, f64, f64)], offset: f64, slope: f64, centre: f64, fitted: usize) -> f64 {
    let free = places.len().saturating_sub(fitted);
    if free == 0 {
        return 1.0;
    }
    let chi: f64 = places
        .iter()
        .map(|p| ((p.1 - offset - slope * (p.0 - centre)) / p.2).powi(2))
        .sum();
    (chi / free as f64).sqrt().max(1.0)
}
