//! The line, the free balloon and the load on the frame.
//!
//! Every relation is between quasi-static points. The load on the frame is taken at equal diameter: `p_frame(D) = p(D) - p_free(D)`,
//! where the free balloon needs nothing below its unfolded size. [`MODELS`] lists the curves a free balloon's diameter may
//! follow; a new one is one file and one line there.

mod chart;
mod creep;
mod diameter;
mod frame_load;
mod free;
mod growth;
mod hyperbolic;
mod line;
mod line_air;
mod line_fit;
mod loop_work;
mod relaxation;
mod saturating;
mod straight;
mod trials;
mod unfolding;
mod way_down;

pub use chart::MonotoneChart;
pub use creep::{Creep, Crept};
pub use diameter::{BalloonModel, DiameterCurve, MODELS, fit_chart, fit_diameter};
pub use frame_load::{
    BAND_U, CREEP_SHARE_HALF, DrawnLoad, FrameLoad, LISTED_U_MM, LineEnergy, LoadErrors, LoadInput,
    LoadPoint, OffsetYield, SHOULDER_HALF, elastic_line, frame_load, line_energy, offset_yield,
    optical_before, optical_budget, ring_work, up_to_highest_load, yield_break,
};
pub use free::{FreeBalloon, fit_free, report as report_free};
pub use line::LineModel;
pub use line_fit::{fit_line, pool_lines};
pub use loop_work::{LoopWork, end_at, loop_work};
pub use relaxation::{RELAXATION_MODELS, RelaxationModel, relaxations};
pub use unfolding::{Unfolding, free_pressure};
