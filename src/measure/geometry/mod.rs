//! Geometry of a section: outlines, circles, ellipses, diameters. All lengths in mm, areas in mm².
//!
//! | question | function |
//! | --- | --- |
//! | area, perimeter, centroid of a polygon | [`Outline::area`], [`Outline::perimeter`], [`Outline::centroid`] |
//! | diameter by area or perimeter | [`area_diameter`], [`perimeter_diameter`] |
//! | width between jaws | [`Outline::feret`] |
//! | smallest circle around it | [`Outline::smallest_circumscribed_circle`] |
//! | largest plug that fits | [`Outline::largest_inscribed_circle`] |
//! | noisy outline as a smooth curve | [`SmoothOutline`] |
//! | scatter of its figures by resampling | [`resample()`] |
//! | circle or ellipse through points | [`fit_circle`], [`fit_circle_hyper`], [`fit_ellipse`] |

mod circle_fit;
mod circumscribed;
mod convex;
mod ellipse;
mod ellipse_fit;
mod feret;
mod fourier;
mod inscribed;
mod least_squares;
mod outline;
mod polygon;
mod resample;
mod side_tree;
mod simple;
mod smooth;

pub use circle_fit::{Circle, CircleFit, fit_circle, fit_circle_algebraic, fit_circle_hyper};
pub use ellipse::{Ellipse, eccentricity_index, ovality};
pub use ellipse_fit::{EllipseFit, fit_ellipse, fit_ellipse_algebraic};
pub use feret::Feret;
pub use inscribed::{InscribedCircle, PRECISION_MM};
pub use outline::{GeometryError, MAX_POINTS, MIN_POINTS, Outline};
pub use polygon::{area_diameter, circle_area, perimeter_diameter};
pub use resample::{Figures, RESAMPLINGS, resample};
pub use smooth::{MAX_ORDER, Measured, SmoothOutline};

/// Length of a vector, mm. Millimetres neither overflow nor vanish when squared, so the care of `hypot` is not needed.
fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}
