//! A noisy outline as a smooth curve: r(θ) about its centroid as a short Fourier series.
//!
//! The raw polygon of a traced outline is too long (every side grows with the noise of its ends) and follows every speck. The
//! series averages the noise, leaves out specks and repeated stretches, bridges a short missing arc, and gives standard
//! uncertainties from its residuals. Order and outliers are chosen by stated rules, the same on every machine.

use super::fourier::{AROUND, Direction, Harmonics, Polar, STEPS, Series, value};
use super::outline::Outline;
use super::{GeometryError, area_diameter};
use nalgebra::DVector;
use std::f64::consts::{PI, TAU};

/// Highest order tried: 12 lobes around a ring of 20 mm are waves of 5 mm, shorter than a frame's cells.
pub const MAX_ORDER: usize = 12;
/// Order of the curve that outliers are judged against: enough for oval, three- and four-lobed rings and their overtones.
const OUTLIER_ORDER: usize = 8;
/// A point farther than so many robust standard deviations is a speck: a good one in 150 000 is lost (two-sided normal).
const OUTLIER_SIGMAS: f64 = 4.5;
/// Rounds in which the order and the correlation of the residuals are found; the second settles most outlines.
const ROUNDS_OF_ORDER: usize = 4;
/// Waves looked for whatever the order: frames with three posts distort in three lobes.
const WAVES: usize = 3;
/// Points needed for each coefficient; fewer would fit the noise.
const POINTS_PER_COEFFICIENT: usize = 3;
/// Times the centre is moved to the centroid of the curve; the first already lands within a hundredth of the offset.
const CENTERINGS: usize = 4;
/// The centre is found once it moves by less than this share of the radius: 10⁻⁵ mm of a ring of 20 mm, on which the curve hardly
/// depends.
const CENTERED: f64 = 1e-6;

/// A smooth closed curve through the points of an outline.
#[derive(Debug, Clone, PartialEq)]
pub struct SmoothOutline {
    /// Centroid of the enclosed area, mm.
    pub center_mm: (f64, f64),
    /// Order of the series: the Bayesian information criterion's choice up to [`MAX_ORDER`].
    pub order: usize,
    /// Standard deviation of the points about the curve, outliers left out, mm.
    pub residual_sd_mm: f64,
    /// Points used.
    pub used: usize,
    /// Points left out as specks.
    pub outliers: usize,
    /// Widest angle without points, degrees: a missing arc, or the gap of a broken ring.
    pub widest_gap_deg: f64,
    /// Angle at which that begins, rad, counter-clockwise from x.
    pub gap_from_rad: f64,
    /// Usual angle between neighbouring points, degrees (median).
    pub usual_step_deg: f64,
    /// Factor by which correlation between neighbouring residuals raised the uncertainties (1: none).
    pub correlation_factor: f64,
    series: Series,
    /// Which points lie on the curve.
    keep: Vec<bool>,
    /// A series of at least three waves, where that above needs fewer.
    waves: Option<Series>,
}

/// A value with its standard uncertainty from the scatter of the points alone.
pub type Measured = (f64, f64);

impl SmoothOutline {
    /// Fits the curve.
    ///
    /// # Errors
    /// [`GeometryError::TooFewPoints`] below nine points, [`GeometryError::NoFit`] where the outline is not seen once around from a
    /// point inside it.
    pub fn fit(outline: &Outline) -> Result<Self, GeometryError> {
        let points = outline.points();
        let needed = POINTS_PER_COEFFICIENT * 3;
        if points.len() < needed {
            return Err(GeometryError::TooFewPoints {
                found: points.len(),
                needed,
            });
        }
        let most = ((points.len() / POINTS_PER_COEFFICIENT - 1) / 2).min(MAX_ORDER);
        let mut center = middle(points);
        let mut fitted = Fitted::about(points, center, most, None)?;
        for _ in 0..CENTERINGS {
            let (dx, dy) = fitted.series.centroid();
            center = (center.0 + dx, center.1 + dy);
            fitted = Fitted::about(points, center, most, Some(fitted.keep))?;
            if dx.hypot(dy) < CENTERED * fitted.series.mean_radius() {
                break;
            }
        }
        Ok(Self {
            center_mm: center,
            order: fitted.series.order(),
            residual_sd_mm: fitted.sd,
            used: fitted.used,
            outliers: points.len() - fitted.used,
            widest_gap_deg: fitted.spacing.widest.to_degrees(),
            gap_from_rad: fitted.spacing.from,
            usual_step_deg: fitted.spacing.usual.to_degrees(),
            correlation_factor: fitted.correlation_factor,
            series: fitted.series,
            keep: fitted.keep,
            waves: fitted.waves,
        })
    }

    /// Radius at an angle (rad, counter-clockwise from x), mm.
    pub fn radius(&self, angle_rad: f64) -> f64 {
        self.series.value(angle_rad.sin_cos())
    }

    /// The points of its outline that lie on it, about its centre.
    pub(super) fn points_on(&self, outline: &Outline) -> Vec<Polar> {
        let about = |point| Polar::about(self.center_mm, point);
        self.kept(outline).map(about).collect()
    }

    /// The points of its outline that lie on it, mm, in their order: all but the specks.
    pub fn kept<'a>(&'a self, outline: &'a Outline) -> impl Iterator<Item = (f64, f64)> + 'a {
        let points = outline.points().iter().zip(&self.keep);
        points.filter(|(_, keep)| **keep).map(|(point, _)| *point)
    }

    /// Radius in a direction, mm.
    pub(super) fn radius_in(&self, direction: Direction) -> f64 {
        self.series.value(direction)
    }

    /// The same with another series about the same centre.
    pub(super) fn with(&self, series: Series) -> Self {
        Self {
            series,
            waves: None,
            keep: Vec::new(),
            ..*self
        }
    }

    /// Amplitude of the wave with `lobes` lobes, mm; 0 above the order.
    pub fn amplitude(&self, lobes: usize) -> f64 {
        self.series.amplitude(lobes)
    }

    /// Amplitude of the wave with `lobes` lobes (1 to 3, or up to the order) with its standard uncertainty, mm, also where the order leaves it
    /// out. Scatter alone makes it positive: below about two standard uncertainties it says nothing. `None` where the points are too few.
    pub fn wave(&self, lobes: usize) -> Option<Measured> {
        let series = [Some(&self.series), self.waves.as_ref()];
        let series = series.into_iter().flatten().find(|s| s.order() >= lobes)?;
        let at = lobes.checked_mul(2)?.checked_sub(1)?;
        let c = series.coefficients();
        let (a, b) = (*c.get(at)?, *c.get(at + 1)?);
        let amplitude = a.hypot(b);
        let mut gradient = DVector::zeros(c.len());
        // Without any wave every direction is alike.
        (gradient[at], gradient[at + 1]) = if amplitude > 0.0 {
            (a / amplitude, b / amplitude)
        } else {
            (1.0, 0.0)
        };
        Some((amplitude, series.spread(&gradient)))
    }

    /// Length of the curve between two angles (rad, counter-clockwise), mm, with the scatter's part of its uncertainty.
    pub fn arc(&self, from_rad: f64, to_rad: f64) -> Measured {
        let step = (to_rad - from_rad) / STEPS as f64;
        let mut gradient = DVector::zeros(self.series.coefficients().len());
        let mut length = 0.0;
        for i in 0..STEPS {
            let direction = (from_rad + (i as f64 + 0.5) * step).sin_cos();
            let (r, slope) = self.series.at(direction);
            let speed = super::length(r, slope);
            length += step * speed;
            self.series.basis(direction, |j, value, derivative| {
                gradient[j] += step * (r * value + slope * derivative) / speed;
            });
        }
        (length, self.series.spread(&gradient))
    }

    /// Enclosed area, mm².
    pub fn area(&self) -> Measured {
        let c = self.series.coefficients();
        let mut gradient = DVector::zeros(c.len());
        let mut area = 0.0;
        for (i, value) in c.iter().enumerate() {
            let weight = if i == 0 { PI } else { PI / 2.0 };
            area += weight * value * value;
            gradient[i] = 2.0 * weight * value;
        }
        (area, self.series.spread(&gradient))
    }

    /// Length of the curve, mm.
    pub fn perimeter(&self) -> Measured {
        let step = TAU / STEPS as f64;
        let mut gradient = DVector::zeros(self.series.coefficients().len());
        let mut length = 0.0;
        for direction in AROUND.iter() {
            let (r, slope) = self.series.at(*direction);
            let speed = super::length(r, slope);
            length += step * speed;
            self.series.basis(*direction, |j, value, derivative| {
                gradient[j] += step * (r * value + slope * derivative) / speed;
            });
        }
        (length, self.series.spread(&gradient))
    }

    /// Diameter of the circle of the same area, mm.
    pub fn area_diameter(&self) -> Measured {
        let (area, u) = self.area();
        let diameter = area_diameter(area);
        (diameter, diameter * u / (2.0 * area))
    }

    /// Two-point diameter through the centroid at an angle (rad), mm: what a caliper inside the bore reads there.
    pub fn two_point_diameter(&self, angle_rad: f64) -> f64 {
        self.radius(angle_rad) + self.radius(angle_rad + PI)
    }

    /// Mean two-point diameter over all orientations, mm.
    pub fn mean_two_point_diameter(&self) -> Measured {
        let mut gradient = DVector::zeros(self.series.coefficients().len());
        gradient[0] = 2.0;
        (
            2.0 * self.series.mean_radius(),
            self.series.spread(&gradient),
        )
    }

    /// Largest and smallest two-point diameter, mm, over steps of a 1024th of a turn.
    pub fn extreme_two_point_diameters(&self) -> (f64, f64) {
        let (half, opposite) = AROUND.split_at(STEPS / 2);
        let radius = |direction: &Direction| self.series.value(*direction);
        half.iter()
            .zip(opposite)
            .map(|(there, back)| radius(there) + radius(back))
            .fold((f64::NEG_INFINITY, f64::INFINITY), |(high, low), d| {
                (high.max(d), low.min(d))
            })
    }

    /// The curve as an outline of 1024 evenly spaced angles, for figures that need a polygon: its sides stay within 6 × 10⁻⁵ mm of a
    /// ring of 25 mm (sagitta r (1 − cos π/n)), so that a circle in it may be 1.2 × 10⁻⁴ mm narrower than in the curve: a hundredth of the
    /// finest step of a hand gauge.
    ///
    /// # Errors
    /// As [`Outline::new`].
    pub fn outline(&self) -> Result<Outline, GeometryError> {
        let ring: Vec<_> = AROUND
            .iter()
            .map(|&(sin, cos)| {
                let r = self.series.value((sin, cos));
                (self.center_mm.0 + r * cos, self.center_mm.1 + r * sin)
            })
            .collect();
        Outline::new(&ring)
    }
}

/// Middle of the points, robust against specks: medians of x and y.
fn middle(points: &[(f64, f64)]) -> (f64, f64) {
    let median = |pick: fn(&(f64, f64)) -> f64| super::fourier::median(points.iter().map(pick));
    (median(|p| p.0), median(|p| p.1))
}

/// The series about one centre.
struct Fitted {
    series: Series,
    sd: f64,
    used: usize,
    /// Which points lie on the curve.
    keep: Vec<bool>,
    spacing: Spacing,
    correlation_factor: f64,
    waves: Option<Series>,
}

impl Fitted {
    fn about(
        points: &[(f64, f64)],
        center: (f64, f64),
        most: usize,
        near: Option<Vec<bool>>,
    ) -> Result<Self, GeometryError> {
        const NOT_AROUND: GeometryError = GeometryError::NoFit {
            why: "the outline does not go once around a point inside it",
        };
        let polar: Vec<Polar> = points
            .iter()
            .map(|point| Polar::about(center, *point))
            .collect();
        let keep = inliers(&polar, most.min(OUTLIER_ORDER), near).ok_or(NOT_AROUND)?;
        let good: Vec<Polar> = polar
            .iter()
            .zip(&keep)
            .filter_map(|(point, keep)| keep.then_some(*point))
            .collect();
        let spacing = spacing(&good);
        // Beyond half a turn nothing ties the curve down.
        if spacing.widest > PI {
            return Err(NOT_AROUND);
        }
        let harmonics = Harmonics::sum(&good, &vec![1.0; good.len()], most);
        // Errors that neighbours share look like waves. Each round knows better what a point is worth, and takes fewer of them for shape.
        let mut worth = 1.0;
        let mut round = 0;
        let (mut series, sum, correlation_factor) = loop {
            let solved = harmonics.best(most, worth).ok_or(NOT_AROUND)?;
            let sum = solved.sum;
            let series = solved.series();
            if series.lowest() <= 0.0 {
                return Err(NOT_AROUND);
            }
            let residuals: Vec<f64> = good
                .iter()
                .map(|point| point.radius - series.value(point.direction))
                .collect();
            let factor = correlation_factor(&residuals);
            let next = factor.powi(-2).min(worth);
            round += 1;
            if next == worth || round == ROUNDS_OF_ORDER {
                break (series, sum, factor);
            }
            worth = next;
        };
        let dof = good.len().saturating_sub(series.coefficients().len());
        let sd = (sum / dof.max(1) as f64).sqrt();
        let taken = series.coefficients().len() as f64 / good.len() as f64;
        let correlation_factor = given_back(correlation_factor, taken);
        let variance = (sd * correlation_factor).powi(2);
        series.scale_covariance(variance);
        let waves = (series.order() < WAVES && most >= WAVES)
            .then(|| harmonics.solve(WAVES))
            .flatten()
            .map(|solved| {
                let mut waves = solved.series();
                waves.scale_covariance(variance);
                waves
            });
        Ok(Self {
            series,
            sd,
            used: good.len(),
            keep,
            spacing,
            correlation_factor,
            waves,
        })
    }
}

/// Which points lie on the curve: Huber's weights first, so that specks do not pull it, then a cut at [`OUTLIER_SIGMAS`] robust
/// standard deviations (1.4826 × median |residual|), repeated until it no longer changes. Where the points `near` the curve are known
/// from another centre, only the cut is left.
fn inliers(polar: &[Polar], order: usize, near: Option<Vec<bool>>) -> Option<Vec<bool>> {
    const HUBER: f64 = 1.345;
    const ROUNDS: usize = 8;
    let first = if near.is_some() { ROUNDS } else { 0 };
    let mut keep = near.unwrap_or_else(|| vec![true; polar.len()]);
    let mut weights: Vec<f64> = keep.iter().map(|keep| f64::from(u8::from(*keep))).collect();
    for round in first..2 * ROUNDS {
        let solved = Harmonics::sum(polar, &weights, order).solve(order)?;
        let coefficients = solved.coefficients.as_slice();
        let residuals: Vec<f64> = polar
            .iter()
            .map(|point| (point.radius - value(coefficients, point.direction)).abs())
            .collect();
        // Points exactly on a curve have no scatter: anything beyond rounding would then be a speck.
        let scale = (1.4826 * super::fourier::median(residuals.iter().copied()))
            .max(1e-9 * coefficients.first().copied().unwrap_or(0.0));
        let before = keep.clone();
        for ((weight, keep), residual) in weights.iter_mut().zip(&mut keep).zip(&residuals) {
            *keep = *residual <= OUTLIER_SIGMAS * scale;
            *weight = if round < ROUNDS {
                (HUBER * scale / residual.max(f64::MIN_POSITIVE)).min(1.0)
            } else {
                f64::from(u8::from(*keep))
            };
        }
        if round >= ROUNDS && keep == before {
            break;
        }
    }
    Some(keep)
}

/// Angles between neighbouring points, rad.
pub(super) struct Spacing {
    pub widest: f64,
    /// Where the widest begins.
    from: f64,
    /// The median.
    usual: f64,
}

pub(super) fn spacing(polar: &[Polar]) -> Spacing {
    let angle = |point: &Polar| point.direction.0.atan2(point.direction.1);
    let mut angles: Vec<f64> = polar.iter().map(angle).collect();
    angles.sort_by(f64::total_cmp);
    let next = angles.iter().skip(1).copied();
    let next = next.chain(angles.first().map(|first| first + TAU));
    let steps: Vec<(f64, f64)> = angles
        .iter()
        .zip(next)
        .map(|(from, to)| (to - from, *from))
        .collect();
    let (widest, from) = steps
        .iter()
        .copied()
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((TAU, 0.0));
    Spacing {
        widest,
        from,
        usual: super::fourier::median(steps.iter().map(|step| step.0)),
    }
}

/// The factor with what the fit hid of it: the curve takes up the slowest part of errors that neighbours share, a share of them as large as
/// that of its coefficients in what the points are worth.
fn given_back(factor: f64, taken: f64) -> f64 {
    /// More is not given back: the curve is then no longer a curve.
    const MOST: f64 = 0.5;
    let squared = factor * factor;
    (1.0 + (squared - 1.0) / (1.0 - (taken * squared).min(MOST))).sqrt()
}

/// √(1 + 2 Σ ρ_k) over the first lags whose autocorrelation stands above its noise 2/√n: neighbouring pixels of a traced edge
/// share errors, so they count for fewer than n points. What is left below the noise goes on as a first-order autoregression would, by the
/// ratio ρ_1.
fn correlation_factor(residuals: &[f64]) -> f64 {
    const LAGS: usize = 50;
    // Stronger, and the tail would be all guess.
    const STRONGEST: f64 = 0.9;
    let n = residuals.len();
    let power: f64 = residuals.iter().map(|r| r * r).sum();
    if power <= 0.0 {
        return 1.0;
    }
    let noise = 2.0 / (n as f64).sqrt();
    let mut sum = 1.0;
    let (mut first, mut last): (Option<f64>, f64) = (None, 0.0);
    for lag in 1..LAGS.min(n / 4) {
        let rho = residuals
            .iter()
            .zip(residuals.iter().skip(lag))
            .map(|(a, b)| a * b)
            .sum::<f64>()
            / power;
        if rho < noise {
            break;
        }
        sum += 2.0 * rho;
        first = first.or(Some(rho));
        last = rho;
    }
    let ratio = first.unwrap_or(0.0).min(STRONGEST);
    (sum + 2.0 * last * ratio / (1.0 - ratio)).sqrt()
}
