//! Where the diameter of the frame during the run comes from.

use super::optical::step_mm;
use super::seen::Seen;
use super::waist::{Moment, Opening, PRESSURE, UNFOLDED_KPA, Waist};
use super::{LoadInput, LoadPoint};
use crate::segment::Rest;

/// Fewest rests with an optical diameter, and more than half of all must have one.
const FEWEST_OPTICAL: usize = 3;

/// Camera or volume.
#[derive(Debug, Clone)]
pub(super) enum Source {
    /// Seen by a camera.
    Optical,
    /// From the volume that the waist keeps out.
    Volume(Box<Waist>),
}

impl Source {
    pub fn of(input: &LoadInput<'_>) -> Result<Self, String> {
        let seen = input
            .rests
            .iter()
            .filter(|r| r.diameter_mm.is_finite())
            .count();
        if seen * 2 > input.rests.len() && seen >= FEWEST_OPTICAL {
            return Ok(Self::Optical);
        }
        Waist::new(input).map(|waist| Self::Volume(Box::new(waist)))
    }

    pub fn wider_by(self, opened_mm: f64) -> Self {
        match self {
            Self::Optical => Self::Optical,
            Self::Volume(waist) => Self::Volume(Box::new(waist.wider_by(opened_mm))),
        }
    }

    pub fn opened_by(self, opening: Opening) -> Self {
        match self {
            Self::Optical => Self::Optical,
            Self::Volume(waist) => Self::Volume(Box::new(waist.opened_by(opening))),
        }
    }

    /// Diameter at a rest, with its uncertainty where that is asked for.
    #[allow(clippy::type_complexity)]
    pub fn solver<'s>(
        &'s self,
        input: &'s LoadInput<'s>,
        with_u: bool,
    ) -> Option<Box<dyn Fn(&Rest) -> Option<Seen> + 's>> {
        let Self::Volume(waist) = self else {
            let u = input.trace.u_diameter_mm;
            let u_free = input.free.diameter.as_ref()?.u_common_mm;
            // A median of readings on a grid stands on the grid too.
            let own = step_mm(input.trace) / 12.0_f64.sqrt();
            let u = u.hypot(own);
            // At next to no pressure the balloon does not press on the frame, or the transducer stands behind a shut stopcock.
            let seen = move |r: &Rest| {
                let seen = r.diameter_mm.is_finite() && r.pressure_kpa > UNFOLDED_KPA;
                seen.then(|| Seen::by_itself(r.diameter_mm, u, own, u_free))
            };
            return Some(Box::new(seen));
        };
        let shapes = waist.shapes(input, with_u)?;
        Some(Box::new(move |r: &Rest| {
            let u = waist.u_own(input, r);
            let unfolded = r.pressure_kpa > UNFOLDED_KPA;
            unfolded.then(|| Waist::diameter(input, &shapes, Moment::of(r), u))?
        }))
    }

    /// Length of the waist, mm, and how the diameter is had, in words.
    pub fn words(&self, input: &LoadInput<'_>) -> (Option<f64>, String) {
        match self {
            Self::Optical => (None, "optical waist diameter".to_owned()),
            Self::Volume(waist) => {
                let length = waist.length_mm(input).unwrap_or(f64::NAN);
                (Some(length), waist.words(length))
            }
        }
    }

    /// Points with every input that errs for all diameters alike moved up and down by its standard uncertainty, and their loads with them.
    pub fn moved(&self, input: &LoadInput<'_>, points: &[LoadPoint]) -> Moved {
        // The diameter of a point, and by how much the free balloon is wider, mm.
        let all = |moved: &dyn Fn(&LoadPoint) -> Option<(f64, f64)>| {
            let with = |p: &LoadPoint| {
                let (diameter_mm, wider) = moved(p)?;
                let apart = diameter_mm - p.diameter_mm - wider;
                Some(LoadPoint {
                    diameter_mm,
                    load_kpa: (p.load_kpa - p.free_kpa_per_mm * apart).max(0.0),
                    ..*p
                })
            };
            points.iter().map(with).collect::<Option<Vec<LoadPoint>>>()
        };
        let u = input.trace.u_diameter_mm;
        let sides = match self {
            Self::Optical => {
                let side = |sign: f64| all(&|p| Some((p.diameter_mm + sign * u, 0.0)));
                vec![(1.0, [side(1.0), side(-1.0)])]
            }
            Self::Volume(waist) => waist
                .moved_shapes(input)
                .into_iter()
                .map(|(name, pair)| {
                    let pair = pair.map(|shape| {
                        let shape = shape?;
                        all(&|p| Some((Waist::moved(input, p, shape)?, shape.wider)))
                    });
                    // Of this run and of the free one.
                    let times = if name == PRESSURE { 2.0 } else { 1.0 };
                    (times, pair)
                })
                .collect(),
        };
        Moved {
            points: points.to_vec(),
            sides,
        }
    }
}

/// Points, and for each input how often it counts and sets of them with it moved up and moved down; none where they could not be had so.
pub(super) struct Moved {
    points: Vec<LoadPoint>,
    sides: Vec<(f64, [Option<Vec<LoadPoint>>; 2])>,
}

impl Moved {
    /// Standard uncertainty that errors common to all diameters leave in a figure of the points: of each input the half of what the figure
    /// moves by over ± u (JCGM 100, 5.1.3 note 2); where one side has no such figure, what it moves by to the other. NaN where neither has.
    pub fn spread(&self, figure: &dyn Fn(&[LoadPoint]) -> Option<f64>) -> f64 {
        let Some(here) = figure(&self.points) else {
            return f64::NAN;
        };
        let side = |points: &Option<Vec<LoadPoint>>| figure(points.as_ref()?);
        let by = |[up, down]: &[Option<Vec<LoadPoint>>; 2]| match (side(up), side(down)) {
            (Some(up), Some(down)) => 0.5 * (up - down),
            (Some(one), None) | (None, Some(one)) => one - here,
            (None, None) => f64::NAN,
        };
        self.sides
            .iter()
            .map(|(times, sides)| times * by(sides).powi(2))
            .sum::<f64>()
            .sqrt()
    }
}
