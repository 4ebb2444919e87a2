//! Seeded random numbers: one stream for each purpose, so that adding a run leaves every other run as it was.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{RngCore, SeedableRng};

/// A stream of uniform and normal numbers.
#[derive(Debug, Clone)]
pub struct Draws {
    generator: ChaCha8Rng,
    spare: Option<f64>,
}

impl Draws {
    /// The stream named `label` under a plan's `seed`.
    ///
    /// The label is hashed by FNV-1a (64 bit: offset 14695981039346656037, prime 1099511628211) and mixed with the seed.
    pub fn new(seed: u64, label: &str) -> Self {
        let hash = label
            .bytes()
            .fold(14_695_981_039_346_656_037_u64, |state, byte| {
                (state ^ u64::from(byte)).wrapping_mul(1_099_511_628_211)
            });
        Self {
            generator: ChaCha8Rng::seed_from_u64(hash ^ seed.wrapping_mul(0x9E37_79B9_7F4A_7C15)),
            spare: None,
        }
    }

    /// A number in [0, 1): the upper 53 bits of a word over 2^53.
    pub fn unit(&mut self) -> f64 {
        (self.generator.next_u64() >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// A number in [low, high).
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A standard normal number (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        let (sine, cosine) = (std::f64::consts::TAU * self.unit()).sin_cos();
        self.spare = Some(radius * sine);
        radius * cosine
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of the standard normal: mean 0, variance 1, fourth moment 3; each within five of its standard errors
    /// (sqrt(1/n), sqrt(2/n), sqrt(96/n)).
    #[test]
    fn normals_have_the_moments_of_the_standard_normal() {
        let n = 40_000;
        let mut draws = Draws::new(7, "moments");
        let sample: Vec<f64> = (0..n).map(|_| draws.normal()).collect();
        let moment = |power: i32| sample.iter().map(|x| x.powi(power)).sum::<f64>() / f64::from(n);
        let error = |variance: f64| 5.0 * (variance / f64::from(n)).sqrt();
        assert!(moment(1).abs() < error(1.0));
        assert!((moment(2) - 1.0).abs() < error(2.0));
        assert!((moment(4) - 3.0).abs() < error(96.0));
    }

    #[test]
    fn streams_are_repeatable_and_apart() {
        let first: Vec<f64> = {
            let mut draws = Draws::new(1, "a");
            (0..4).map(|_| draws.unit()).collect()
        };
        let mut again = Draws::new(1, "a");
        let mut other = Draws::new(1, "b");
        assert!(first.iter().all(|x| *x == again.unit()));
        assert!(first.iter().any(|x| *x != other.unit()));
    }
}
