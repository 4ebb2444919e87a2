//! Profiles of the likelihood of a location-scale family: one quantity held, the rest chosen best.

use super::super::root::root_between;
use super::{LocationScale, ROUNDS, local};

/// Highest point of a concave function of one variable by damped Newton steps from `start`: place and height. `line` gives height,
/// slope and curvature, and a height that is not finite where it does not exist.
pub(in super::super) fn summit(
    start: f64,
    line: impl Fn(f64) -> (f64, f64, f64),
) -> Option<(f64, f64)> {
    let mut place = start;
    let mut at = line(place);
    for _ in 0..ROUNDS {
        if !(at.0.is_finite() && at.2 < 0.0) {
            return None;
        }
        let step = -at.1 / at.2;
        let decrement = at.1 * step;
        let mut part = 1.0;
        let next = loop {
            let there = line(place + part * step);
            // Near the top the gain drowns in rounding; a full step is then right.
            if there.0 >= at.0 || (decrement < 1e-10 && there.0.is_finite()) {
                break Some((place + part * step, there));
            }
            part *= 0.5;
            if part < 1e-12 {
                break None;
            }
        };
        (place, at) = next?;
        if decrement <= 1e-16 {
            return Some((place, at.0));
        }
    }
    None
}

/// Goes out from `best` to the `side` (-1 or 1) until `miss`, negative at `best`, is no longer so, and finds the root. `None` where it
/// stays negative as far as 1.6^40 times `reach`, or up to where it is no number.
pub(in super::super) fn outward(
    best: f64,
    side: f64,
    mut reach: f64,
    miss: impl Fn(f64) -> f64,
) -> Option<f64> {
    let mut inner = best;
    for _ in 0..40 {
        let outer = best + side * reach;
        let m = miss(outer);
        if m.is_nan() {
            return before_the_edge(inner, outer, miss);
        }
        if m >= 0.0 {
            return root_between(miss, inner, outer);
        }
        inner = outer;
        reach *= 1.6;
    }
    None
}

/// The root between a place where `miss` is negative and one where it is no number, if it is reached before it stops to be one.
fn before_the_edge(mut inner: f64, mut outer: f64, miss: impl Fn(f64) -> f64) -> Option<f64> {
    /// So many leave nothing between two neighbouring numbers.
    const HALVINGS: usize = 60;
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(inner, outer);
        let m = miss(middle);
        if m.is_nan() {
            outer = middle;
        } else if m >= 0.0 {
            return root_between(miss, inner, middle);
        } else {
            inner = middle;
        }
    }
    None
}

impl LocationScale {
    /// Highest log-likelihood (standardised) with the quantile held at `y`: one concave problem in `δ`.
    fn profile(&self, y: f64, w: f64) -> Option<f64> {
        let y = (y - self.centre) / self.scale;
        let mut delta = self.delta;
        let line = |delta: f64| {
            if delta <= 0.0 {
                return (f64::NAN, 0.0, 0.0);
            }
            let at = local(self.family, &self.data, delta * y - w, delta);
            (
                at.value,
                at.d + y * at.g,
                at.dd + 2.0 * y * at.gd + y * y * at.gg,
            )
        };
        // Far from the maximum the held line may leave the reach of the arithmetic at the fitted spread; widen it.
        for _ in 0..60 {
            if line(delta).0.is_finite() {
                break;
            }
            delta *= 0.5;
        }
        summit(delta, line).map(|(_, height)| height)
    }

    /// The value below (`side = -1`) or above (`side = 1`) the quantile at which twice the fall of the profiled log-likelihood is
    /// `fall`. `None` if it does not fall that far.
    pub(in super::super) fn profile_limit(&self, w: f64, side: f64, fall: f64) -> Option<f64> {
        let miss = |y: f64| {
            self.profile(y, w)
                .map_or(f64::NAN, |l| 2.0 * (self.top - l) - fall)
        };
        let reach = self.u_quantile(w) * fall.sqrt();
        outward(self.quantile(w), side, reach, miss)
    }

    /// Signed root of the likelihood ratio of the quantile held at `y`, positive below the estimate. `None` if the held fit fails.
    pub(in super::super) fn signed_root(&self, w: f64, y: f64) -> Option<f64> {
        let fall = 2.0 * (self.top - self.profile(y, w)?);
        Some(fall.max(0.0).sqrt().copysign(self.quantile(w) - y))
    }

    /// As [`profile_limit`](Self::profile_limit) for the spread `σ`, searched in its logarithm. `None` also where the spread has no end on that side, as that of steps
    /// may have.
    pub(in super::super) fn spread_limit(&self, side: f64, fall: f64) -> Option<f64> {
        /// A spread e³⁰ times larger or smaller than the fitted one is no limit.
        const FAR: f64 = 30.0;
        let gamma = self.delta * (self.mu - self.centre) / self.scale;
        let miss = |ln_ratio: f64| {
            if ln_ratio.abs() > FAR {
                return f64::NAN;
            }
            let shrink = (-ln_ratio).exp();
            let delta = self.delta * shrink;
            let line = |gamma: f64| {
                let at = local(self.family, &self.data, gamma, delta);
                (at.value, at.g, at.gg)
            };
            summit(gamma * shrink, line)
                .map_or(f64::NAN, |(_, height)| 2.0 * (self.top - height) - fall)
        };
        let reach = self.var_ln_sigma.sqrt() * fall.sqrt();
        outward(0.0, side, reach, miss).map(|ln_ratio| self.sigma * ln_ratio.exp())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// x² reaches 3 at √3, and is no number beyond 2: the root is found before the edge; where it is not reached before, there is none.
    #[test]
    fn a_root_before_the_edge_is_found() {
        let miss = |edge: f64| move |x: f64| if x > edge { f64::NAN } else { x * x - 3.0 };
        let found = outward(0.0, 1.0, 5.0, miss(2.0)).unwrap_or(f64::NAN);
        assert!((found - 3.0_f64.sqrt()).abs() < 1e-9, "{found}");
        assert_eq!(outward(0.0, 1.0, 5.0, miss(1.5)), None);
    }
}
