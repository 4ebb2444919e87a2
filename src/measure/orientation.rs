//! How well a few orientations stand for the mean two-point diameter of a ring that is not round.
//!
//! A two-point diameter repeats after 180°, so over the angle φ it is D(φ) = D̄ + Σ Aⱼ cos(2jφ + ψⱼ), j = 1 being the oval. A
//! weighted mean of a few orientations has the error Σ Aⱼ Re(Wⱼ e^{iψⱼ}) with Wⱼ = Σ wᵢ e^{2ijφᵢ}: M evenly spaced orientations
//! average the oval and everything else out except j = M, 2M, ... The plain sd/√M would call an evenly sampled oval uncertain.

use std::f64::consts::PI;

/// Orientations whose spacing differs by no more than this from even ones count as even, degrees: the care of a hand with a
/// protractor.
const EVEN_WITHIN_DEG: f64 = 5.0;
/// Fewest orientations for taking the oval out by a fit: three coefficients and one to spare.
const FIT_FROM: usize = 4;
/// The fit may weigh noise by no more than this against the plain mean; beyond, the orientations are bunched and it guesses.
const MOST_NOISE: f64 = 1.5;
/// Waves counted; the assumed amplitudes fall as 1/j², so the rest is below a hundredth of the oval.
const WAVES: usize = 12;
/// Amplitude of the oval, as a share of the diameter, where one orientation cannot show it: (Dmax − Dmin)/2 of 0.5 %, a ring of
/// 1 % ovality (common practice, no source).
pub(super) const ASSUMED_OVAL_SHARE: f64 = 0.005;

/// A mean over orientations.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct OrientationMean {
    /// Mean, mm.
    pub mean: f64,
    /// Σ wᵢ²: the noise of one orientation's value enters by its root.
    pub noise_factor: f64,
    /// Standard uncertainty of the mean from waves the orientations do not average out, mm.
    pub u_sampling: f64,
    /// How the weights were chosen.
    pub method: &'static str,
    /// Amplitude of the oval, mm: fitted from three orientations on, else from the spread.
    pub oval_amplitude: f64,
    /// Whether the amplitude had to be assumed.
    pub assumed: bool,
}

/// Amplitude of wave j relative to the oval in a ring bent with the same energy in every mode: a mode of n = 2j lobes stores
/// energy as (n² − 1)² per amplitude², so amplitudes fall as 1/(n² − 1) (thin-ring bending, Timoshenko).
fn relative_amplitude(wave: usize) -> f64 {
    let lobes = 2.0 * wave as f64;
    3.0 / (lobes * lobes - 1.0)
}

/// |Wⱼ| of weights at angles.
fn response(angles: &[f64], weights: &[f64], wave: usize) -> f64 {
    let (mut re, mut im) = (0.0, 0.0);
    for (angle, weight) in angles.iter().zip(weights) {
        let (sin, cos) = (2.0 * wave as f64 * angle).sin_cos();
        re += weight * cos;
        im += weight * sin;
    }
    f64::hypot(re, im)
}

/// Largest difference of a spacing from even ones over half a turn, rad.
fn unevenness(angles: &[f64]) -> f64 {
    let mut folded: Vec<f64> = angles.iter().map(|a| a.rem_euclid(PI)).collect();
    folded.sort_by(f64::total_cmp);
    let even = PI / folded.len() as f64;
    let wrap = match (folded.first(), folded.last()) {
        (Some(first), Some(last)) => first + PI - last,
        _ => even,
    };
    folded
        .windows(2)
        .filter_map(|pair| Some(pair.last()? - pair.first()?))
        .chain([wrap])
        .map(|gap| (gap - even).abs())
        .fold(0.0, f64::max)
}

/// Weights of the mean (first) and of the oval's cosine and sine when D̄, cosine and sine are fitted together.
fn fitted_weights(angles: &[f64]) -> Option<[Vec<f64>; 3]> {
    let rows: Vec<nalgebra::Vector3<f64>> = angles
        .iter()
        .map(|a| {
            let (sin, cos) = (2.0 * a).sin_cos();
            nalgebra::Vector3::new(1.0, cos, sin)
        })
        .collect();
    let normal: nalgebra::Matrix3<f64> = rows.iter().map(|row| row * row.transpose()).sum();
    let inverse = normal.try_inverse()?;
    let weights = |k: usize| {
        rows.iter()
            .map(|row| (inverse * row)[k])
            .collect::<Vec<_>>()
    };
    Some([weights(0), weights(1), weights(2)])
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Mean of values (mm) at angles (rad); `noise` is the standard uncertainty of one value from reading scatter, mm, which is
/// taken out of the spread before it is read as out-of-roundness. Both lists are of the same length, at least 1.
pub(super) fn mean_over(angles: &[f64], values: &[f64], noise: f64) -> OrientationMean {
    let count = values.len();
    let n = count.max(1) as f64;
    let plain = vec![1.0 / n; count];
    let mean = dot(&plain, values);
    let even = count >= 2 && unevenness(angles) <= EVEN_WITHIN_DEG.to_radians();
    let fitted = (count >= 3).then(|| fitted_weights(angles)).flatten();

    let mut weights = plain;
    let mut method = if even {
        "mean of evenly spaced orientations"
    } else {
        "mean of orientations"
    };
    if let Some([centre, _, _]) = &fitted
        && !even
        && count >= FIT_FROM
        && dot(centre, centre) * n <= MOST_NOISE
    {
        weights.clone_from(centre);
        method = "mean of orientations with the oval fitted out";
    }
    let mean_used = dot(&weights, values);

    let (oval, rest, assumed) = amplitudes(angles, values, noise, fitted.as_ref());
    let assumed_oval = ASSUMED_OVAL_SHARE * mean.abs();
    let oval_used = if assumed { assumed_oval } else { oval };
    let mut variance = (response(angles, &weights, 1) * oval_used).powi(2) / 2.0;
    for wave in 2..=WAVES {
        // Whichever is larger: waves in a bent ring's proportion to the oval, or the second wave as seen, falling as 1/(n² − 1).
        let scaled = oval_used.max(rest * relative_amplitude(1) / relative_amplitude(2))
            * relative_amplitude(wave);
        // Random phase (1/2); anything up to the scaled amplitude is as likely (1/3).
        variance += (response(angles, &weights, wave) * scaled).powi(2) / 6.0;
    }
    OrientationMean {
        mean: mean_used,
        noise_factor: dot(&weights, &weights),
        u_sampling: variance.sqrt(),
        method,
        oval_amplitude: oval_used,
        assumed,
    }
}

/// Amplitude of the oval and of what a fitted oval leaves, mm, without the reading noise; and whether nothing could be seen.
fn amplitudes(
    angles: &[f64],
    values: &[f64],
    noise: f64,
    fitted: Option<&[Vec<f64>; 3]>,
) -> (f64, f64, bool) {
    let count = values.len();
    if count < 2 {
        return (0.0, 0.0, true);
    }
    let mean = values.iter().sum::<f64>() / count as f64;
    let about: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let spread2 = dot(&about, &about) / (count - 1) as f64;
    let from_spread = (2.0 * (spread2 - noise * noise).max(0.0)).sqrt();
    let Some([centre, cosine, sine]) = fitted else {
        return (from_spread, 0.0, false);
    };
    let (c0, c, s) = (dot(centre, &about), dot(cosine, &about), dot(sine, &about));
    if count == 3 {
        return (c.hypot(s), 0.0, false);
    }
    let residual2: f64 = angles
        .iter()
        .zip(&about)
        .map(|(angle, v)| {
            let (sin, cos) = (2.0 * angle).sin_cos();
            (v - c0 - c * cos - s * sin).powi(2)
        })
        .sum();
    let rest2 = (residual2 / (count - 3) as f64 - noise * noise).max(0.0);
    (c.hypot(s), (2.0 * rest2).sqrt(), false)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample(angles_deg: &[f64], d: impl Fn(f64) -> f64) -> OrientationMean {
        let angles: Vec<f64> = angles_deg.iter().map(|a| a.to_radians()).collect();
        let values: Vec<f64> = angles.iter().map(|a| d(*a)).collect();
        mean_over(&angles, &values, 0.0)
    }

    /// An oval is averaged exactly by two or more even orientations, and the uncertainty stays far below sd/√n.
    #[test]
    fn even_orientations_average_an_oval() {
        for angles in [
            &[20.0, 110.0][..],
            &[7.0, 67.0, 127.0],
            &[5.0, 50.0, 95.0, 140.0],
        ] {
            let got = sample(angles, |a| 22.0 + 0.4 * (2.0 * a + 0.3).cos());
            assert!((got.mean - 22.0).abs() < 1e-12, "{got:?}");
            assert!(got.u_sampling > 0.0);
        }
        let four = sample(&[5.0, 50.0, 95.0, 140.0], |a| 22.0 + 0.4 * (2.0 * a).cos());
        assert!(four.u_sampling < 0.01, "{four:?}");
        assert!((four.oval_amplitude - 0.4).abs() < 1e-12);
    }

    /// Bunched orientations of an oval ring: the error is covered.
    #[test]
    fn bunched_orientations_are_uncertain() {
        let got = sample(&[0.0, 20.0, 40.0], |a| 22.0 + 0.4 * (2.0 * a).cos());
        assert!((got.mean - 22.0).abs() < 2.0 * got.u_sampling, "{got:?}");
        assert!(got.u_sampling > 0.1);
    }

    /// Uneven but spread: the oval is fitted out.
    #[test]
    fn uneven_orientations_are_fitted() {
        let got = sample(&[0.0, 30.0, 80.0, 110.0, 150.0], |a| {
            22.0 + 0.4 * (2.0 * a + 1.0).cos()
        });
        assert!((got.mean - 22.0).abs() < 1e-9, "{got:?}");
        assert_eq!(got.method, "mean of orientations with the oval fitted out");
    }

    #[test]
    fn one_orientation_assumes_an_oval() {
        let got = sample(&[33.0], |_| 20.0);
        assert!(got.assumed);
        let least = ASSUMED_OVAL_SHARE * 20.0 / 2.0_f64.sqrt();
        assert!(got.u_sampling >= least && got.u_sampling < 1.1 * least);
    }
}
