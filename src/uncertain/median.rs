//! How uncertain a median of readings is.

use std::f64::consts::FRAC_PI_2;

/// Standard uncertainty of the median of so many independent normal readings of standard deviation `sd`, in the unit of `sd`: by √(π/2) more
/// than that of their mean, sd/√n, in the limit of many (asymptotic variance of a sample median, 1/(4 n f²); Kendall and Stuart, The
/// Advanced Theory of Statistics, vol. 1, from memory). For few it is a little too large: of one reading it is 1.25 sd.
pub fn u_of_median(sd: f64, readings: f64) -> f64 {
    sd * (FRAC_PI_2 / readings).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertain::Draws;

    /// Medians of 101 made-up normal readings scatter so.
    #[test]
    fn medians_scatter_so() {
        const READINGS: usize = 101;
        const MEDIANS: usize = 4000;
        let mut draws = Draws::new(7, "medians");
        let mut squares = 0.0;
        for _ in 0..MEDIANS {
            let mut readings: Vec<f64> = (0..READINGS).map(|_| 0.4 * draws.normal()).collect();
            readings.sort_by(f64::total_cmp);
            squares += readings[READINGS / 2].powi(2);
        }
        let scatter = (squares / MEDIANS as f64).sqrt();
        // Of 4000 medians the scatter is known to 1.1 %.
        let ratio = scatter / u_of_median(0.4, READINGS as f64);
        assert!((ratio - 1.0).abs() < 0.035, "{ratio}");
    }
}
