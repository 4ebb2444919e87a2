//! Circles and ellipses of least squares through the points of an outline: what a round or an oval ring would be, and how far the points stand
//! off it. None of them is the diameter of the frame; beside each other they show how much the kind of fit decides.

use super::geometry::{
    Circle, Ellipse, GeometryError, Outline, SmoothOutline, fit_circle, fit_circle_algebraic,
    fit_circle_hyper, fit_ellipse, fit_ellipse_algebraic,
};
use crate::recording::OutlineFit;
use crate::uncertain::Quantity;
use std::collections::BTreeMap;

/// Points fitted at most; of more, every second, third, ... is taken. So many leave a radius no scatter of its own worth telling, and a geometric
/// fit of them takes well under a second.
const MOST_POINTS: usize = 10_000;

/// How sure a fitted length is by the scatter of the points, or why that is not told.
type Scatter = Result<f64, &'static str>;

/// Every fit through the points of an outline (mm) that lie on its smooth curve; `scale` is the relative standard uncertainty of the lengths.
///
/// The form of a ring that is no circle leaves residuals too, but they do not scatter: a length is as uncertain as the points about the *smooth
/// curve* make it (with the correlation of neighbours), and the root mean square residual says how far off the form is.
pub(super) fn outline_fits(
    outline: &Outline,
    smooth: &SmoothOutline,
    scale: f64,
) -> BTreeMap<String, OutlineFit> {
    let every = smooth.used.div_ceil(MOST_POINTS).max(1);
    let points: Vec<(f64, f64)> = smooth.kept(outline).step_by(every).collect();
    let through = Through {
        points: &points,
        noise: smooth.residual_sd_mm * smooth.correlation_factor,
        scale,
    };
    let circle = fit_circle(&points);
    // Every fit of a circle has the same variance to the first order (Al-Sharadqah and Chernov 2009).
    let u_circle = match &circle {
        Ok(fit) => Ok(through.scatter(fit.u_radius_mm, fit.rms_mm, fit.degrees_of_freedom)),
        Err(_) => Err("no circle of least distance tells the scatter"),
    };
    let ellipse = fit_ellipse(&points);
    let u_axes = |fit: &super::geometry::EllipseFit| {
        let (a, b) = fit.u_semi_axes_mm;
        let of = |u| Ok(through.scatter(u, fit.rms_mm, fit.degrees_of_freedom));
        [of(a), of(b)]
    };
    let untold = Err("an algebraic fit; the geometric one beside it tells the scatter");
    let fits = [
        (
            "circle_algebraic",
            through.circle(
                fit_circle_algebraic(&points),
                u_circle,
                "circle, algebraic (Taubin 1991)",
            ),
        ),
        (
            "circle_hyper",
            through.circle(
                fit_circle_hyper(&points),
                u_circle,
                "circle, hyper-accurate algebraic (Al-Sharadqah and Chernov 2009)",
            ),
        ),
        (
            "circle_geometric",
            through.circle(
                circle.map(|fit| fit.circle),
                u_circle,
                "circle, geometric: least squared distances",
            ),
        ),
        (
            "ellipse_direct",
            through.ellipse(
                fit_ellipse_algebraic(&points).map(|ellipse| (ellipse, [untold; 2])),
                "ellipse, direct (Fitzgibbon, Pilu and Fisher 1999; Halíř and Flusser 1998)",
            ),
        ),
        (
            "ellipse_geometric",
            through.ellipse(
                ellipse.map(|fit| {
                    let u = u_axes(&fit);
                    (fit.ellipse, u)
                }),
                "ellipse, geometric: least squared distances",
            ),
        ),
    ];
    fits.into_iter()
        .map(|(name, fit)| (name.to_owned(), fit))
        .collect()
}

/// What is fitted.
struct Through<'a> {
    points: &'a [(f64, f64)],
    /// Standard deviation of a point about the smooth curve, raised by the correlation of neighbours, mm.
    noise: f64,
    /// Relative standard uncertainty of the lengths.
    scale: f64,
}

impl Through<'_> {
    /// Standard uncertainty of a length by the scatter about the smooth curve, mm, from that by the residuals of the fit.
    fn scatter(&self, u_mm: f64, rms_mm: f64, dof: usize) -> f64 {
        let residual = rms_mm * (self.points.len() as f64 / dof as f64).sqrt();
        if residual > 0.0 {
            u_mm * self.noise / residual
        } else {
            0.0
        }
    }

    /// Twice a radius or half-axis.
    fn length(&self, half_mm: f64, scatter: Scatter, method: &str) -> Quantity {
        let value = 2.0 * half_mm;
        match scatter {
            Ok(u) => {
                let u = (2.0 * u).hypot(self.scale * value);
                Quantity::known(value, u, "mm", method)
            }
            Err(why) => Quantity::without_u(value, "mm", method, why),
        }
    }

    fn residual(&self, rms_mm: f64) -> Quantity {
        Quantity::without_u(
            rms_mm,
            "mm",
            format!("√(Σd²/n) of {} points", self.points.len()),
            "form and scatter together, given without an uncertainty of its own",
        )
    }

    fn circle(
        &self,
        fit: Result<Circle, GeometryError>,
        scatter: Scatter,
        method: &str,
    ) -> OutlineFit {
        match fit {
            Ok(circle) => OutlineFit {
                largest_diameter: self.length(circle.radius_mm, scatter, method),
                smallest_diameter: None,
                rms_residual: self.residual(circle.rms_mm(self.points)),
            },
            Err(error) => OutlineFit {
                smallest_diameter: None,
                ..none(method, &error)
            },
        }
    }

    fn ellipse(
        &self,
        fit: Result<(Ellipse, [Scatter; 2]), GeometryError>,
        method: &str,
    ) -> OutlineFit {
        match fit {
            Ok((ellipse, [u_a, u_b])) => OutlineFit {
                largest_diameter: self.length(ellipse.semi_major_mm, u_a, method),
                smallest_diameter: Some(self.length(ellipse.semi_minor_mm, u_b, method)),
                rms_residual: self.residual(ellipse.rms_mm(self.points)),
            },
            Err(error) => none(method, &error),
        }
    }
}

/// A fit that was not found.
fn none(method: &str, error: &GeometryError) -> OutlineFit {
    let missing = || Quantity::missing("mm", format!("{method}: {error}"));
    OutlineFit {
        largest_diameter: missing(),
        smallest_diameter: Some(missing()),
        rms_residual: missing(),
    }
}
