//! Where the uncertainty of an opening comes from.

use super::edge::Edge;
use crate::uncertain::{Budget, Component};
use std::f64::consts::PI;

/// Standard deviation of the place of an outline over a pixel's length from where the edge lies between pixels, px, were the blur 0: linear
/// interpolation is off by up to 0.083 px where a pixel of a sharp edge is covered by three quarters. Of 60 made-up openings without
/// noise the area scattered by 0.08, 0.05 and 0.03 px times the root of the outline's length where the blur was 0.5 (the least there is:
/// pixel and interpolation), 0.8 and 0.95 px.
const GRID_PX: f64 = 0.113;
/// Blur at which that has fallen to 1/e, px: from then on the samples show the whole edge.
const GRID_BLUR_PX: f64 = 0.85;
/// The blur moves the outline of a curved edge; what is corrected is uncertain by this share: were the blur an even disc of radius
/// ρ, as of a lens out of focus, ρ²/3 would have to be corrected, and the 0.29 ρ² of its width are an eighth less.
const BLUR_SHARE: f64 = 0.15;
/// Levels are whole numbers: half the height of an edge without noise is known to 1/√12 on each side, over √2.
const U_WHOLE_LEVEL: f64 = 0.204;

/// Standard uncertainty of a mean level from rounding, levels. Noise of standard deviation s makes the mean of rounded levels right but for
/// exp(−2π² s²) of that (the characteristic function of the normal distribution).
fn u_rounding(noise: f64) -> f64 {
    U_WHOLE_LEVEL * (-2.0 * PI.powi(2) * noise.powi(2)).exp()
}

/// What the budget is made from.
pub struct Parts<'e> {
    /// The edge.
    pub edge: &'e Edge,
    /// Area within the outline, px².
    pub area: f64,
    /// Length of the outline, px.
    pub perimeter: f64,
    /// Change of the area with the level, px² a level.
    pub area_by_level: f64,
    /// Width of one grey level of the file where it lies, in the levels of `edge`.
    pub level_step: f64,
    /// Half the light less half the height of the levels, where the tone curve is not declared.
    pub tone_shift: Option<f64>,
    /// Half the height less the level, where somebody chose the level.
    pub off_half: Option<f64>,
    /// Relative standard uncertainty of the scale; `None` in pixels.
    pub u_scale_rel: Option<f64>,
}

/// What the blur takes from the area of an opening, px²: an edge blurred by σ moves by σ² κ/2 towards its centre of curvature, and the
/// curvature κ of a closed outline adds up to 2π whatever its shape.
pub fn lost_to_blur(edge: &Edge) -> f64 {
    PI * edge.blur_px.powi(2)
}

impl Parts<'_> {
    /// Diameter of the circle of the area, px, with the blur made good.
    pub fn diameter(&self) -> f64 {
        2.0 * ((self.area + lost_to_blur(self.edge)) / PI).sqrt()
    }

    /// The budget of the area diameter, in the unit of `diameter` times `scale`.
    pub fn budget(&self, scale: f64) -> Budget {
        let edge = self.edge;
        // Of a change of the area.
        let by_area = scale * 2.0 / (PI * self.diameter());
        let by_level = by_area * self.area_by_level;
        let mut budget = Budget::new();
        if let Some(u) = self.u_scale_rel {
            let whole = scale * self.diameter();
            budget.push(Component::normal("scale of the image", u).sensitivity(whole));
        }
        // What uneven light does to the whole outline goes with its square; most of it is taken out with the weights of the pieces.
        let uneven = edge.uneven.powi(2) / (2.0 * (edge.bright - edge.dark));
        let u_level = edge
            .u_half
            .hypot(uneven)
            .hypot(self.level_step * u_rounding(edge.noise / self.level_step));
        budget.push(Component::normal("level of the outline", u_level).sensitivity(by_level));
        if let Some(off) = self.off_half {
            let name = "chosen threshold off half the height";
            budget.push(Component::normal(name, off.abs()).sensitivity(by_level));
        }
        if let Some(shift) = self.tone_shift {
            let name = "tone curve not declared";
            budget.push(Component::rectangular(name, shift.abs()).sensitivity(by_level));
        }
        let noise = edge.u_sum / edge.slope;
        budget.push(Component::normal("grey noise at the edge", noise).sensitivity(by_area));
        let grid = self.grid_px() * self.perimeter.sqrt();
        budget.push(Component::normal("pixel grid", grid).sensitivity(by_area));
        let blur = BLUR_SHARE * lost_to_blur(edge);
        budget.push(Component::normal("blur of a curved edge", blur).sensitivity(by_area));
        budget
    }

    /// Standard deviation of one place of the outline from the grid, px.
    fn grid_px(&self) -> f64 {
        GRID_PX * (-(self.edge.blur_px / GRID_BLUR_PX).powi(2)).exp()
    }

    /// Standard deviation of one place of the outline from grid and noise, px.
    pub fn local_px(&self) -> f64 {
        self.edge.local_px.hypot(self.grid_px())
    }
}
