//! Fewer points for the same picture: per bucket the smallest and the largest, so that no peak and no edge is lost.

/// Most points a line of a figure has.
pub const MOST_POINTS: usize = 1200;

/// A step in time longer than so many usual steps is a gap, and the line is broken there.
pub const GAP_STEPS: f64 = 5.0;

/// The stretches of `x`, `y` without a gap: broken where `y` is missing or where `x` steps by more than `gap`. Each stretch is thinned
/// so that together they have at most about `most` points. `x` has to be increasing.
pub fn stretches(x: &[f64], y: &[f64], gap: f64, most: usize) -> Vec<Vec<(f64, f64)>> {
    let pairs: Vec<(f64, f64)> = x.iter().copied().zip(y.iter().copied()).collect();
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut open = false;
    let mut last = f64::NAN;
    for (x, y) in pairs {
        if !x.is_finite() || !y.is_finite() {
            open = false;
            continue;
        }
        if open && x - last > gap {
            open = false;
        }
        match parts.last_mut() {
            Some(part) if open => part.push((x, y)),
            _ => parts.push(vec![(x, y)]),
        }
        open = true;
        last = x;
    }
    // A recording torn into very many pieces is drawn as one: broken lines could not be told apart at this width anyway.
    if parts.len() > most / 4 {
        parts = vec![parts.into_iter().flatten().collect()];
    }
    let total: usize = parts.iter().map(Vec::len).sum();
    if total <= most {
        return parts;
    }
    parts
        .into_iter()
        .map(|part| {
            let share = (most as f64 * part.len() as f64 / total as f64).ceil() as usize;
            thin(&part, share.max(4))
        })
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
