//! When a fall began: how likely every moment is, from the samples before it and those on it.
//!
//! Until the onset `t0` the pressure follows what volume makes of it, with the noise of a sample. From then on it loses `D min(1, ((t - t0)/T)^q)`
//! of the whole fall `D`: at once (`q = 1`), or through a line and a port, which let it begin smoothly (`q = 2, 3`). How long it takes (`T`)
//! and how it begins (`q`) are not known: the likelihood of `t0` is the mean over them, every ratio of lengths being as likely. No fall has
//! just this shape, so the model is good to a share of what it says, and the onset to a share of the time the fall takes. Every moment
//! being as likely beforehand, the interval holds the middle 95 % of the likelihood, and the best time is its mean. Where the whole fall lies between two
//! samples every moment between them is as likely and the interval is nearly the step; where several samples lie on the fall it is
//! much shorter.

use crate::rig::settings;

/// A fall may begin with the powers from 1 to this one.
const POWERS: usize = 3;
/// Moments looked at in each step of the clock.
const IN_STEP: usize = 8;
/// ... and where many of them lie on the fall.
const IN_RESOLVED_STEP: usize = 2;
/// Lengths of a fall looked at ...
const LENGTHS: usize = 14;
/// ... each so many times as long as the one before.
const LONGER: f64 = 1.9;
/// Lengths looked at where many samples lie on the fall: each a quarter longer than the one before, less than twice the error of the shape.
const RESOLVED_LENGTHS: usize = 9;
/// A product this large is taken the logarithm of.
const LARGE: f64 = 1e200;
/// Moments from which twice the log-likelihood is so much lower end the search: before them it is lower still.
const FAR_BELOW: f64 = 25.0;

/// What tells an onset.
pub(super) struct Beginning<'l> {
    /// Times, s, and pressures lost, kPa: the samples of the level before, then those of the fall.
    pub lost: &'l [(f64, f64)],
    /// Number of the first sample that certainly belongs to the fall.
    pub first: usize,
    /// Standard deviation of a sample, kPa.
    pub sigma: f64,
    /// The whole fall, kPa.
    pub fall: f64,
    /// Time within which a snap loses nearly all of its pressure, s.
    pub snap_s: f64,
    /// Thresholds.
    pub settings: &'l settings::Onset,
}

impl Beginning<'_> {
    /// True where enough samples lie on the fall to tell how long it takes.
    fn is_resolved(&self) -> bool {
        (self.lost.len() - self.first) as f64 > self.settings.telling_samples
    }
}

/// Best time, earliest and latest time of an onset, s.
pub(super) fn onset(beginning: &Beginning<'_>) -> Option<(f64, f64, f64)> {
    let lost = beginning.lost;
    let (t_first, _) = *lost.get(beginning.first)?;
    // Moments from the last to the first, each with the length it stands for and twice its negative log-likelihood.
    let mut moments: Vec<(f64, f64, f64)> = Vec::new();
    let mut least = f64::INFINITY;
    let noise = beginning.sigma * beginning.sigma;
    let shape = beginning.settings.shape_share;
    // What each sample adds once the fall is over, and what all before it add.
    let over: Vec<f64> = lost
        .iter()
        .map(|(_, lost)| against(beginning.fall, *lost, noise, shape))
        .map(|(square, wider)| square + wider.ln())
        .collect();
    let mut before: f64 = lost[..beginning.first]
        .iter()
        .map(|(_, lost)| lost * lost / noise)
        .sum();
    let in_step = if beginning.is_resolved() {
        IN_RESOLVED_STEP
    } else {
        IN_STEP
    };
    for at in (0..beginning.first).rev() {
        let (&(left, _), &(right, _)) = (lost.get(at)?, lost.get(at + 1)?);
        let length = (right - left) / in_step as f64;
        let mut here = f64::INFINITY;
        for k in (0..in_step).rev() {
            let t = left + (k as f64 + 0.5) * length;
            let behind = misfit(
                beginning,
                Behind {
                    lost: lost.get(at + 1..)?,
                    over: over.get(at + 1..)?,
                },
                beginning.first - (at + 1),
                t,
                right - left,
            );
            let misfit = before + behind;
            here = here.min(misfit);
            moments.push((t, length, misfit));
        }
        if here > least + FAR_BELOW {
            break;
        }
        least = least.min(here);
        before -= lost.get(at)?.1.powi(2) / noise;
    }
    // From the first moment to the last, each with what it weighs.
    let weighed: Vec<(f64, f64, f64)> = moments
        .iter()
        .rev()
        .map(|(t, length, misfit)| (*t, *length, length * (-0.5 * (misfit - least)).exp()))
        .collect();
    let whole: f64 = weighed.iter().map(|(.., weight)| weight).sum();
    if !(whole > 0.0 && whole.is_finite()) {
        return None;
    }
    let mean = weighed.iter().map(|(t, _, weight)| t * weight).sum::<f64>() / whole;
    // Where a share of the weight lies before.
    let quantile = |share: f64| {
        let mut before = 0.0;
        for (t, length, weight) in &weighed {
            if before + weight >= share * whole && *weight > 0.0 {
                return t + length * ((share * whole - before) / weight - 0.5);
            }
            before += weight;
        }
        t_first
    };
    let outside = 0.5 * (1.0 - beginning.settings.inside_share);
    let (t_last, _) = *lost.last()?;
    // What lies between two samples takes no time that could be told.
    let resolved = if lost.len() > beginning.first + 1 {
        t_last - mean
    } else {
        0.0
    };
    let blur = beginning.settings.shape_time_share * resolved;
    let (low, high) = (quantile(outside) - blur, quantile(1.0 - outside) + blur);
    Some((mean, low, high.min(t_first).max(mean)))
}

/// What a sample lost beside what the whole fall would have made it lose, as it adds to twice the negative log-likelihood, kPa in squares of
/// the noise.
fn against(model: f64, lost: f64, noise: f64, shape: f64) -> (f64, f64) {
    let variance = noise + shape * shape * model * model;
    ((lost - model) * (lost - model) / variance, variance / noise)
}

/// Samples behind a moment: what each lost and when, and what it adds once the fall is over.
#[derive(Clone, Copy)]
struct Behind<'b> {
    lost: &'b [(f64, f64)],
    over: &'b [f64],
}

impl Behind<'_> {
    /// Twice the negative log-likelihood of a fall that begins at `t` and takes `length`, for each power.
    fn misfit(self, t: f64, length: f64, fall: f64, noise: f64, shape: f64) -> [f64; POWERS] {
        let mut sums = [0.0; POWERS];
        // Logarithms are added up as those of products.
        let mut spreads = [1.0; POWERS];
        for ((time, lost), over) in self.lost.iter().zip(self.over) {
            let done = (time - t) / length;
            if done >= 1.0 {
                for sum in &mut sums {
                    *sum += over;
                }
                continue;
            }
            let mut model = fall;
            for (sum, spread) in sums.iter_mut().zip(&mut spreads) {
                model *= done;
                let (square, wider) = against(model, *lost, noise, shape);
                *sum += square;
                *spread *= wider;
                if *spread > LARGE {
                    *sum += spread.ln();
                    *spread = 1.0;
                }
            }
        }
        for (sum, spread) in sums.iter_mut().zip(spreads) {
            *sum += spread.ln();
        }
        sums
    }
}

/// The lengths that a fall may have: the first (s), how many times as long each is as the one before, and how many there are.
fn lengths(beginning: &Beginning<'_>, step: f64) -> (f64, f64, usize) {
    let took = match (beginning.lost.last(), beginning.lost.get(beginning.first)) {
        (Some((last, _)), Some((first, _))) if beginning.is_resolved() => last - first,
        _ => {
            return (
                beginning.settings.shortest_step_share * step,
                LONGER,
                LENGTHS,
            );
        }
    };
    let (least, most) = (
        beginning.settings.resolved_least_ratio,
        beginning.settings.resolved_most_ratio,
    );
    let longer = (most / least).powf(1.0 / (RESOLVED_LENGTHS - 1) as f64);
    (least * took, longer, RESOLVED_LENGTHS)
}

/// Twice the negative log-likelihood of an onset at `t` from the samples behind it, over all lengths and powers. Those that certainly belong to
/// the fall are told apart from `sure` on; the clock steps by `step` there.
fn misfit(beginning: &Beginning<'_>, behind: Behind<'_>, sure: usize, t: f64, step: f64) -> f64 {
    let (fall, noise) = (beginning.fall, beginning.sigma * beginning.sigma);
    let (doubtful, certain) = (behind.lost.split_at(sure), behind.over.split_at(sure));
    let shape = beginning.settings.shape_share;
    let longest_s = beginning.settings.longest_snaps * beginning.snap_s;
    let part = |lost, over| Behind { lost, over };
    let (doubtful, certain) = (part(doubtful.0, certain.0), part(doubtful.1, certain.1));
    let weight = (beginning.settings.telling_samples / certain.lost.len() as f64).min(1.0);
    let (mut length, longer, count) = lengths(beginning, step);
    let mut sums = [f64::INFINITY; LENGTHS * POWERS];
    for (at, sums) in sums.chunks_exact_mut(POWERS).take(count).enumerate() {
        if at > 0 && length > longest_s {
            break;
        }
        let before = doubtful.misfit(t, length, fall, noise, shape);
        let on = certain.misfit(t, length, fall, noise, shape);
        for (sum, (before, on)) in sums.iter_mut().zip(before.iter().zip(on)) {
            *sum = before + weight * on;
        }
        length *= longer;
    }
    // The likelihoods are far too small to be added up as they are.
    let best = sums.iter().copied().fold(f64::INFINITY, f64::min);
    let told = sums.iter().filter(|sum| sum.is_finite());
    let mean = told
        .clone()
        .map(|sum| (-0.5 * (sum - best)).exp())
        .sum::<f64>()
        / told.count() as f64;
    best - 2.0 * mean.ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Settings;
    use crate::uncertain::Draws;

    /// A fall of a shape that begins at a random moment, in noise: how often the interval holds it, how long it is, and the mean error.
    fn cover(step: f64, fall: f64, shape: &dyn Fn(f64) -> f64) -> (f64, f64, f64) {
        let mut draws = Draws::new(4, "onsets");
        let settings = Settings::default();
        let (mut inside, mut width, mut error, runs) = (0, 0.0, 0.0, 600);
        for _ in 0..runs {
            let truth = 0.1 + step * draws.unit();
            let lost: Vec<(f64, f64)> = (0..(0.2 / step) as usize)
                .map(|i| {
                    let t = i as f64 * step;
                    (t, fall * shape((t - truth).max(0.0)) + draws.normal())
                })
                .collect();
            let first = lost
                .iter()
                .position(|(t, l)| *t > 0.1 && *l > (0.06 * fall).max(3.0))
                .unwrap_or(1);
            let fallen = lost
                .iter()
                .position(|(t, l)| *t > 0.1 && *l > 0.9 * fall)
                .unwrap_or(1);
            let beginning = Beginning {
                lost: &lost[..=fallen],
                first,
                sigma: 1.0,
                fall,
                snap_s: settings.falls.snap_s,
                settings: &settings.onset,
            };
            let (t, low, high) = onset(&beginning).unwrap_or_default();
            inside += i32::from(low <= truth && truth <= high);
            width += (high - low) / f64::from(runs);
            error += (t - truth).abs() / f64::from(runs);
        }
        (f64::from(inside) / f64::from(runs), width, error)
    }

    /// A published series: number and value.
    fn series(text: &str) -> Vec<f64> {
        let cells = text
            .lines()
            .skip(1)
            .filter_map(|line| line.rsplit(',').next());
        cells.filter_map(|cell| cell.trim().parse().ok()).collect()
    }

    /// The onset of a step in a series, told from its first and last values alone and everything up to `until`.
    fn step(values: &[f64], first: usize, until: usize, sign: f64) -> (f64, f64, f64) {
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let level = mean(&values[..first]);
        let after = mean(&values[values.len() / 2..]);
        let spread = values[..first].iter().map(|v| (v - level).powi(2));
        let sigma = (spread.sum::<f64>() / (first - 1) as f64).sqrt();
        let lost: Vec<(f64, f64)> = (0..=until)
            .map(|i| (i as f64, sign * (level - values[i])))
            .collect();
        let settings = Settings::default();
        let beginning = Beginning {
            lost: &lost,
            first: until,
            sigma,
            fall: sign * (level - after),
            snap_s: settings.falls.snap_s,
            settings: &settings.onset,
        };
        onset(&beginning).unwrap_or_default()
    }

    /// Published change points (sources in `tests/data/changepoint/SOURCE.md`): the Nile falls between the years number 27 (1898) and 28
    /// (1899), known to about three years either way; the second quality-control series steps at number 97.
    #[test]
    fn published_change_points_are_found() {
        let nile = series(include_str!("../../tests/data/changepoint/nile.csv"));
        assert_eq!((nile.len(), nile[27]), (100, 1100.0));
        let (t, low, high) = step(&nile, 20, 45, 1.0);
        assert!((27.0..28.0).contains(&t), "{t}");
        assert!(
            low < 27.5 && high > 27.5 && high - low < 6.0,
            "{low} to {high}"
        );
        let quality = series(include_str!(
            "../../tests/data/changepoint/quality_control_2.csv"
        ));
        let (t, low, high) = step(
            &quality,
            60,
            125,
            if quality[200] > quality[20] {
                -1.0
            } else {
                1.0
            },
        );
        assert!((94.0..99.0).contains(&t), "{t}");
        assert!(low <= 96.5 && high >= 96.5, "{low} to {high}");
        // A small trend before, other noise after: exact least squares with one break says 144, the maker of the series 146.
        let first = series(include_str!(
            "../../tests/data/changepoint/quality_control_1.csv"
        ));
        let sign = if first[200] > first[20] { -1.0 } else { 1.0 };
        let (t, low, high) = step(&first, 90, 190, sign);
        assert!((142.5..146.5).contains(&t), "{t}");
        assert!(low <= 145.5 && high >= 143.5, "{low} to {high}");
    }

    #[test]
    fn intervals_hold_the_onset_as_often_as_they_say() {
        let sharp = |t: f64| 1.0 - (-t / 0.003_f64).exp();
        let smooth = |t: f64| {
            let x = t / 0.004;
            1.0 - (1.0 + x) * (-x).exp()
        };
        for (step, fall) in [
            (0.001, 30.0),
            (0.001, 100.0),
            (0.01, 30.0),
            (0.005, 15.0),
            (0.02, 60.0),
        ] {
            for shape in [&sharp as &dyn Fn(f64) -> f64, &smooth] {
                let (inside, width, error) = cover(step, fall, shape);
                assert!(
                    inside > 0.9,
                    "{step} s, {fall} sigmas: {inside}, {width} s long"
                );
                // Never much longer than three steps and the smooth beginning, and the best time well inside.
                assert!(
                    width < 3.0 * step + 0.008,
                    "{step} s, {fall} sigmas: {width} s long"
                );
                assert!(
                    error < 0.5 * step + 0.002,
                    "{step} s, {fall} sigmas: off by {error} s"
                );
            }
        }
    }
}
