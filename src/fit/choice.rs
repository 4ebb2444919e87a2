//! Which of several models: ranking by Akaike's corrected criterion.

use super::covariance::NoUncertainty;
use super::curve_fit::CurveFit;

/// A model that was tried on the points.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate<'a> {
    /// Name of the model.
    pub name: &'a str,
    /// Its fit, or the reason why there is none that could be used.
    pub fit: Result<&'a CurveFit, String>,
}

/// A model in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// Index among the candidates.
    pub index: usize,
    /// Name of the model.
    pub name: String,
    /// Corrected criterion above that of the best; 0 for the best, infinite beside an exact fit. `None` where it could not be ranked.
    pub delta_aicc: Option<f64>,
    /// Akaike weight: the probability of being the best of those ranked (Burnham & Anderson 2002, 2.9). `None` where not ranked.
    pub weight: Option<f64>,
    /// Why it was not ranked.
    pub reason: Option<String>,
}

/// Ranks models fitted to the same points with the same weights: the best first, those without a usable fit last, equals in the order
/// given.
///
/// `AICc = AIC + 2k(k+1)/(n-k-1)` (Hurvich & Tsai 1989); weight `exp(-Δ/2) / Σ exp(-Δ/2)`. A fit that did not converge is not ranked, nor
/// one to another number of points than the first. Where there are too few points for the criterion of a model it is not ranked either; if
/// that holds for all, they stand in the order given.
pub fn rank_models(candidates: &[Candidate<'_>]) -> Vec<Ranked> {
    let points = |fit: &CurveFit| {
        let held = |m: &&Option<NoUncertainty>| **m == Some(NoUncertainty::AtBound);
        fit.dof + fit.missing.len() - fit.missing.iter().filter(held).count()
    };
    let first = candidates
        .iter()
        .find_map(|c| c.fit.as_ref().ok().map(|f| points(f)));
    let criterion = |candidate: &Candidate<'_>| -> Result<f64, String> {
        let fit = candidate.fit.as_ref().map_err(Clone::clone)?;
        if !fit.stop.converged() {
            return Err(fit.stop.to_string());
        }
        if Some(points(fit)) != first {
            return Err("fitted to another number of points".to_owned());
        }
        match fit.aic_corrected() {
            a if a.is_nan() => Err("the criterion is not a number".to_owned()),
            f64::INFINITY => Err("too few points for the corrected criterion".to_owned()),
            a => Ok(a),
        }
    };
    let criteria: Vec<Result<f64, String>> = candidates.iter().map(criterion).collect();
    let best = criteria
        .iter()
        .flatten()
        .copied()
        .fold(f64::INFINITY, f64::min);
    let delta = |a: f64| if a == best { 0.0 } else { a - best };
    let total: f64 = criteria
        .iter()
        .flatten()
        .map(|&a| (-0.5 * delta(a)).exp())
        .sum();
    let mut ranked: Vec<Ranked> = candidates
        .iter()
        .zip(criteria)
        .enumerate()
        .map(|(index, (candidate, criterion))| Ranked {
            index,
            name: candidate.name.to_owned(),
            delta_aicc: criterion.as_ref().ok().map(|&a| delta(a)),
            weight: criterion
                .as_ref()
                .ok()
                .map(|&a| (-0.5 * delta(a)).exp() / total),
            reason: criterion.err(),
        })
        .collect();
    // Stable, so that equals stay in their order.
    ranked.sort_by(|a, b| {
        let key = |r: &Ranked| r.delta_aicc.unwrap_or(f64::NAN);
        key(a).total_cmp(&key(b))
    });
    ranked
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::{Model, fit_curve};
    use super::*;

    /// A polynomial of so many terms.
    struct Terms(usize);
    impl Model for Terms {
        fn names(&self) -> &[&str] {
            &["a", "b", "c", "d", "e", "f"][..self.0]
        }
        fn value(&self, p: &[f64], x: f64) -> f64 {
            p.iter().rev().fold(0.0, |sum, b| sum * x + b)
        }
    }

    #[test]
    fn the_right_model_stands_first_and_the_weights_are_those_of_the_formula() {
        let x: Vec<f64> = (0..12).map(f64::from).collect();
        let y: Vec<f64> = x
            .iter()
            .map(|x| 1.0 + 0.3 * x - 0.05 * x * x + 0.02 * (5.0 * x).sin())
            .collect();
        let fits: Vec<CurveFit> = (1..=4)
            .map(|k| fit_curve(&Terms(k), &x, &y, None, &vec![0.1; k], None).unwrap())
            .collect();
        let names = ["constant", "straight", "square", "cubic"];
        let mut candidates: Vec<Candidate> = names
            .iter()
            .zip(&fits)
            .map(|(name, fit)| Candidate { name, fit: Ok(fit) })
            .collect();
        candidates.insert(
            1,
            Candidate {
                name: "none",
                fit: Err("no guess".to_owned()),
            },
        );
        let ranked = rank_models(&candidates);
        let order: Vec<&str> = ranked.iter().map(|r| r.name.as_str()).collect();
        assert_eq!(order, ["square", "cubic", "straight", "constant", "none"]);
        assert_eq!(ranked[4].reason.as_deref(), Some("no guess"));
        assert_eq!((ranked[4].weight, ranked[4].index), (None, 1));
        // By hand from the sums of squares: 12 ln(SS/12) + 2k + 2k(k+1)/(11-k), k counting the variance.
        let by_hand = |terms: usize| {
            let k = terms as f64 + 1.0;
            12.0 * (fits[terms - 1].sum_of_squares / 12.0).ln()
                + 2.0 * k
                + 2.0 * k * (k + 1.0) / (11.0 - k)
        };
        let delta = by_hand(4) - by_hand(3);
        assert!((ranked[1].delta_aicc.unwrap() - delta).abs() < 1e-9);
        let ratio = ranked[1].weight.unwrap() / ranked[0].weight.unwrap();
        assert!((ratio - (-0.5 * delta).exp()).abs() < 1e-12);
        let sum: f64 = ranked.iter().filter_map(|r| r.weight).sum();
        assert!((sum - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_compared_says_so() {
        let x = [0.0, 1.0, 2.0, 3.0];
        let y = [0.1, 1.2, 1.9, 3.1];
        let few = fit_curve(&Terms(2), &x, &y, None, &[0.0, 1.0], None).unwrap();
        let other = fit_curve(&Terms(1), &x[..3], &y[..3], None, &[0.0], None).unwrap();
        let ranked = rank_models(&[
            Candidate {
                name: "few",
                fit: Ok(&few),
            },
            Candidate {
                name: "other",
                fit: Ok(&other),
            },
        ]);
        assert!(
            ranked
                .iter()
                .all(|r| r.weight.is_none() && r.reason.is_some()),
            "{ranked:?}"
        );
        assert_eq!(ranked[0].name, "few");
    }
}
