//! Fewer points for the same picture: per bucket the smallest and the largest, so that no peak and no edge is lost.

use super::pyramid::Pyramid;

/// Most points a line of a figure has.
pub const MOST_POINTS: usize = 1200;

/// A step in time longer than so many usual steps is a gap, and the line is broken there.
pub const GAP_STEPS: f64 = 5.0;

/// The stretches of `x`, `y` without a gap: broken where `y` is missing or where `x` steps by more than `gap`. Each stretch is thinned
/// so that together they have at most about `most` points. `x` has to be increasing. Nothing is copied but the points drawn.
pub fn stretches(x: &[f64], y: &[f64], gap: f64, most: usize) -> Vec<Vec<(f64, f64)>> {
    let length = x.len().min(y.len());
    let mut parts: Vec<(usize, usize)> = Vec::new();
    let (mut open, mut total) = (false, 0_usize);
    let (mut last, mut torn) = (f64::NAN, false);
    let mut all = None;
    for i in 0..length {
        if !x[i].is_finite() || !y[i].is_finite() {
            open = false;
            continue;
        }
        total += 1;
        all = Some((all.map_or(i, |(first, _)| first), i + 1));
        if open && x[i] - last > gap {
            open = false;
        }
        last = x[i];
        let full = parts.len() > most / 4;
        match parts.last_mut() {
            Some(part) if open => part.1 = i + 1,
            _ if full => torn = true,
            _ => parts.push((i, i + 1)),
        }
        open = true;
    }
    // A recording torn into very many pieces is drawn as one: broken lines could not be told apart at this width anyway.
    if torn {
        parts = all.into_iter().collect();
    }
    let finite = |i: &usize| x[*i].is_finite() && y[*i].is_finite();
    let point = |i: usize| (x[i], y[i]);
    if total <= most {
        return parts
            .into_iter()
            .map(|(from, to)| (from..to).filter(finite).map(point).collect())
            .collect();
    }
    let pyramid = Pyramid::of(y);
    let samples: usize = parts.iter().map(|(from, to)| to - from).sum();
    parts
        .into_iter()
        .map(|(from, to)| {
            let share = (most as f64 * (to - from) as f64 / samples as f64).ceil() as usize;
            thin_samples(&pyramid, from, to, share.max(4))
                .into_iter()
                .filter(finite)
                .map(point)
                .collect()
        })
        .collect()
}

/// At most about `most` of the samples `from..to`: smallest and largest of each bucket, in their order, and both ends.
fn thin_samples(pyramid: &Pyramid<'_>, from: usize, to: usize, most: usize) -> Vec<usize> {
    if to - from <= most.max(4) {
        return (from..to).collect();
    }
    let buckets = (most.max(4) - 2) / 2;
    let size = (to - from).div_ceil(buckets);
    let mut kept = vec![from];
    for bucket in (from..to).step_by(size) {
        if let Some((low, high)) = pyramid.extremes(bucket, (bucket + size).min(to)) {
            kept.extend([low.min(high), low.max(high)]);
        }
    }
    kept.push(to - 1);
    kept.dedup();
    kept
}

/// At most about `most` points of the curve that two channels draw together: smallest and largest `y` of each bucket of samples.
pub fn thin_channels(x: &[f64], y: &[f64], most: usize) -> Vec<(f64, f64)> {
    let length = x.len().min(y.len());
    if length == 0 {
        return Vec::new();
    }
    thin_samples(&Pyramid::of(&y[..length]), 0, length, most)
        .into_iter()
        .map(|i| (x[i], y[i]))
        .filter(|(x, y)| x.is_finite() && y.is_finite())
        .collect()
}

/// At most about `most` points of a line: smallest and largest `y` of each bucket, in their order, and both ends.
pub fn thin(points: &[(f64, f64)], most: usize) -> Vec<(f64, f64)> {
    if points.len() <= most.max(4) {
        return points.to_vec();
    }
    let buckets = (most.max(4) - 2) / 2;
    let size = points.len().div_ceil(buckets);
    let mut kept = Vec::with_capacity(2 * buckets + 2);
    kept.extend(points.first());
    for bucket in points.chunks(size) {
        let (mut low, mut high) = (0, 0);
        for (i, (_, y)) in bucket.iter().enumerate() {
            if *y < bucket[low].1 {
                low = i;
            }
            if *y > bucket[high].1 {
                high = i;
            }
        }
        kept.push(bucket[low.min(high)]);
        if low != high {
            kept.push(bucket[low.max(high)]);
        }
    }
    kept.extend(points.last());
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_single_spike_survives() {
        let x: Vec<f64> = (0..100_000).map(|i| f64::from(i) * 1e-3).collect();
        let mut y = vec![1.0; x.len()];
        y[54_321] = 9.0;
        y[54_400] = -9.0;
        let parts = stretches(&x, &y, 0.005, MOST_POINTS);
        assert_eq!(parts.len(), 1);
        assert!(parts[0].len() <= MOST_POINTS + 2);
        assert!(parts[0].contains(&(x[54_321], 9.0)));
        assert!(parts[0].contains(&(x[54_400], -9.0)));
        assert!(parts[0].windows(2).all(|w| w[0].0 <= w[1].0));
    }

    #[test]
    fn gaps_and_missing_samples_break_the_line() {
        let x = [0.0, 0.1, 0.2, 5.0, 5.1, 5.2, 5.3];
        let y = [1.0, 1.0, 1.0, 2.0, f64::NAN, 2.0, 2.0];
        let parts = stretches(&x, &y, 0.5, 100);
        assert_eq!(parts.iter().map(Vec::len).collect::<Vec<_>>(), [3, 1, 2]);
    }

    #[test]
    fn a_torn_recording_stays_small() {
        let x: Vec<f64> = (0..200_000).map(f64::from).collect();
        let y: Vec<f64> = (0..200_000)
            .map(|i| if i % 2 == 0 { 1.0 } else { f64::NAN })
            .collect();
        let points: usize = stretches(&x, &y, 1.5, MOST_POINTS)
            .iter()
            .map(Vec::len)
            .sum();
        assert!(points <= MOST_POINTS + 2, "{points}");
    }
}
