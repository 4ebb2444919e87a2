//! The load from inputs moved together, without an uncertainty of its own: what trials of the whole chain need of every draw.

use super::elastic::elastic_line;
use super::energy::{stored_elastically, work_to_last};
use super::source::Source;
use super::waist::{Moment, Waist};
use super::yielding::{OffsetYield, crossing, up_to_highest_load};
use super::{FrameLoad, LoadInput, LoadPoint, all_points, loaded, opening, rising};
use crate::fit::broken_line;
use crate::segment::Rest;

/// Rounds in which the opening follows the compliance of a draw: it starts from that of the run, so that fewer do.
const ROUNDS: usize = 2;

/// The load of a draw at every rest, and where its diameters come from.
pub struct DrawnLoad<'i> {
    input: &'i LoadInput<'i>,
    how: Source,
    points: Vec<LoadPoint>,
    rising: Vec<LoadPoint>,
    elastic_end: f64,
}

impl<'i> DrawnLoad<'i> {
    /// Fits the waist anew to the inputs, with `load` found from what was measured. How much wider the frame was at its first rest than
    /// unloaded follows from the compliance of the draw; `secant` is the standard normal number for one that is a secant. `None` where the
    /// diameter cannot be had from these inputs.
    pub fn of(input: &'i LoadInput<'i>, load: &FrameLoad, secant: f64) -> Option<Self> {
        let mut how = Source::of(input).ok()?.wider_by(load.opened_mm);
        let mut points = all_points(input, &how, false);
        for _ in 0..ROUNDS {
            let Some(found) = opening(input, &how, &points) else {
                break;
            };
            let by = if found.by_secant {
                secant * found.u_mm
            } else {
                0.0
            };
            how = how.wider_by(found.mm + by);
            points = all_points(input, &how, false);
        }
        Some(Self {
            input,
            how,
            rising: rising(&points, input.until_s),
            points,
            elastic_end: load.elastic_end,
        })
    }

    /// The load at one of the rests.
    pub fn at(&self, rest: &Rest) -> Option<&LoadPoint> {
        self.points.iter().find(|p| p.t_s == rest.t_s)
    }

    /// The load at a time (s), a pressure (kPa) and an injected volume (mL), by the volume or else by the diameter a camera saw (mm).
    pub fn at_moment(
        &self,
        t_s: f64,
        pressure: f64,
        volume: f64,
        seen_mm: Option<f64>,
    ) -> Option<LoadPoint> {
        let at = Moment {
            t_s,
            pressure,
            volume,
        };
        let seen = match &self.how {
            Source::Optical => super::Seen::by_itself(seen_mm?, 0.0, 0.0, 0.0),
            Source::Volume(waist) => {
                let shapes = waist.shapes(self.input, false)?;
                Waist::diameter(self.input, &shapes, at, 0.0)?
            }
        };
        loaded(self.input, seen, at, 0.0)
    }

    /// Diametral compliance, mm/kPa.
    pub fn compliance(&self) -> Option<f64> {
        Some(elastic_line(&self.rising, self.elastic_end).ok()?.slope)
    }

    /// Load (kPa) and diameter (mm) at the break of the two lines, whether or not it stands out; rise of the load after it (kPa/mm), and that over
    /// the rise before it.
    pub fn yielding(&self) -> Option<[f64; 4]> {
        let points = up_to_highest_load(&self.rising).iter();
        let (x, y): (Vec<f64>, Vec<f64>) = points.map(|p| (p.load_kpa, p.diameter_mm)).unzip();
        let b = broken_line(&x, &y).ok()?;
        let (left, right) = (b.slope_left, b.slope_right);
        Some([b.x_break, b.y_break, 1.0 / right, left / right])
    }

    /// Yield by offset.
    pub fn offset(&self) -> Option<OffsetYield> {
        let offset_mm = self.input.yield_offset_share * self.input.before?.0;
        crossing(&self.rising, self.elastic_end, offset_mm)
    }

    /// Work done on the ring, and what of it the ring stores, mJ.
    pub fn energies(&self) -> Option<(f64, f64)> {
        let band = self.input.band_height_mm?;
        let work = work_to_last(&self.rising, self.elastic_end, band)?;
        Some((
            work,
            stored_elastically(&self.rising, self.elastic_end, band)?,
        ))
    }
}
