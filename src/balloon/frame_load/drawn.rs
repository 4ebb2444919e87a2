//! The load from inputs moved together, without an uncertainty of its own: what trials of the whole chain need of every draw.

use super::waist::{Moment, Waist};
use super::{LoadInput, LoadPoint, point};
use crate::balloon::frame_load::source::Source;
use crate::segment::Rest;

/// Where the diameter of a draw comes from.
pub struct DrawnLoad<'i> {
    input: &'i LoadInput<'i>,
    how: Source,
}

impl<'i> DrawnLoad<'i> {
    /// Fits the waist anew to the inputs; `opened_mm` is how much wider the frame was at its first rest than unloaded. `None` where the
    /// diameter cannot be had from these inputs.
    pub fn of(input: &'i LoadInput<'i>, opened_mm: f64) -> Option<Self> {
        let how = Source::of(input).ok()?.wider_by(opened_mm);
        Some(Self { input, how })
    }

    /// The load at one of the rests.
    pub fn at(&self, rest: &Rest) -> Option<LoadPoint> {
        let solver = self.how.solver(self.input, false)?;
        point(self.input, solver(rest)?, rest)
    }

    /// Diameter, mm, at a time (s), a pressure (kPa) and an injected volume (mL); `None` where a camera told it.
    pub fn diameter(&self, t_s: f64, pressure_kpa: f64, volume_ml: f64) -> Option<f64> {
        let Source::Volume(waist) = &self.how else {
            return None;
        };
        let shapes = waist.shapes(self.input, false)?;
        let moment = Moment {
            t_s,
            pressure: pressure_kpa,
            volume: volume_ml,
        };
        Some(Waist::diameter(self.input, &shapes, moment, 0.0)?.diameter_mm)
    }
}
