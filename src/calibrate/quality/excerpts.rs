//! Excerpts of a column spread evenly over it: enough to tell its steps and its extremes, whatever its length.

/// Excerpts of a column.
const EXCERPTS: usize = 64;
/// Samples of each.
const LENGTH: usize = 256;
/// Samples from one to the next where neighbours tell nothing.
const APART: usize = 4;
/// Least share of equal neighbours that tells steps: where noise is as large as a step, one neighbour in four is equal.
const EQUAL_LEAST: f64 = 0.25;
/// Of the gaps between the values met, the step is the one with a share of one in so many below: wider gaps were passed over in a
/// stroke, and a few narrower ones are numbers rounded twice.
const GAP_RANK: usize = 100;
/// Two numbers closer than this share of the largest are one number written twice.
const SAME: f64 = 1e-12;

/// Excerpts of a column: as many as there are, of neighbours.
pub(super) fn excerpts(values: &[f64]) -> impl Iterator<Item = &[f64]> {
    let whole = values.len() <= EXCERPTS * LENGTH;
    let (count, length) = if whole {
        (1, values.len())
    } else {
        (EXCERPTS, LENGTH)
    };
    let room = values.len() - length;
    (0..count).filter_map(move |k| {
        let start = room * k / (count - 1).max(1);
        values.get(start..start + length)
    })
}

/// The finite values of the excerpts, one of each `apart` neighbours.
fn finite(values: &[f64], apart: usize) -> Vec<f64> {
    excerpts(values)
        .flat_map(|part| part.iter().step_by(apart))
        .copied()
        .filter(|v| v.is_finite())
        .collect()
}

/// All finite values of the excerpts, rising.
pub(super) fn sorted(values: &[f64]) -> Vec<f64> {
    let mut finite = finite(values, 1);
    finite.sort_unstable_by(f64::total_cmp);
    finite
}

/// Values of the excerpts with these shares of them below, the shares rising; `None` where none is finite. Of many values one in
/// [`APART`] tells as much, as neighbours are alike.
pub(super) fn quantiles<const N: usize>(values: &[f64], shares: [f64; N]) -> Option<[f64; N]> {
    let many = values.len() > EXCERPTS * LENGTH;
    let mut finite = finite(values, if many { APART } else { 1 });
    let last = finite.len().checked_sub(1)?;
    let mut rest = finite.as_mut_slice();
    let mut passed = 0;
    let mut found = [f64::NAN; N];
    for (quantile, share) in found.iter_mut().zip(shares) {
        let at = ((share * last as f64).round() as usize).max(passed) - passed;
        if at >= rest.len() {
            return None;
        }
        // What lies below one quantile need not be looked at for the next.
        let (_, value, _) = rest.select_nth_unstable_by(at, f64::total_cmp);
        *quantile = *value;
        rest = rest.get_mut(at..)?;
        passed += at;
    }
    Some(found)
}

/// Share of neighbours that are equal.
pub(super) fn equal_share(values: &[f64]) -> f64 {
    let (mut equal, mut pairs) = (0_usize, 0_usize);
    for part in excerpts(values) {
        for w in part.windows(2) {
            pairs += usize::from(w[0].is_finite() && w[1].is_finite());
            equal += usize::from(w[0] == w[1]);
        }
    }
    equal as f64 / pairs.max(1) as f64
}

/// The step in which a column moves, where it moves in steps that can be seen.
pub(super) fn grain(values: &[f64]) -> Option<f64> {
    if equal_share(values) < EQUAL_LEAST {
        return None;
    }
    let sorted = sorted(values);
    let largest = sorted.first()?.abs().max(sorted.last()?.abs());
    let mut gaps: Vec<f64> = sorted
        .windows(2)
        .map(|w| w[1] - w[0])
        .filter(|gap| *gap > SAME * largest)
        .collect();
    if gaps.is_empty() {
        return None;
    }
    let rank = gaps.len() / GAP_RANK;
    Some(*gaps.select_nth_unstable_by(rank, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_step_of_a_staircase_is_found_and_none_in_numbers_that_never_repeat() {
        let steps: Vec<f64> = (0..200_000)
            .map(|i| (f64::from(i) / 700.0).floor() * 0.7568)
            .collect();
        let step = grain(&steps).unwrap_or(f64::NAN);
        assert!((step - 0.7568).abs() < 1e-9, "{step}");
        let smooth: Vec<f64> = (0..200_000).map(|i| f64::from(i).sqrt()).collect();
        assert_eq!(grain(&smooth), None);
        assert_eq!(grain(&[]), None);
        assert_eq!(grain(&[3.0; 50]), None);
    }

    #[test]
    fn excerpts_reach_both_ends() {
        let values: Vec<f64> = (0..1_000_000).map(f64::from).collect();
        let seen = sorted(&values);
        assert_eq!((seen.first(), seen.last()), (Some(&0.0), Some(&999_999.0)));
        assert_eq!(seen.len(), EXCERPTS * LENGTH);
        let shuffled: Vec<f64> = (0..101).map(|i| f64::from(i * 37 % 101)).collect();
        let shares = [0.0, 0.25, 0.25, 0.5, 1.0];
        assert_eq!(
            quantiles(&shuffled, shares),
            Some([0.0, 25.0, 25.0, 50.0, 100.0])
        );
        assert_eq!(quantiles(&[f64::NAN, 7.0], [0.0, 1.0]), Some([7.0, 7.0]));
        assert_eq!(quantiles(&[], [0.5]), None);
    }
}
