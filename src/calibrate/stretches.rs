//! Stretches of samples that share something.

use rayon::prelude::*;
use std::ops::Range;

/// Samples looked at by one thread at a time.
pub(super) const SHARE: usize = 1 << 16;
/// Windows looked at before it is asked whether one of them is of interest.
const BLOCK: usize = 512;
/// Values compared side by side.
const LANES: usize = 8;

/// A column in pieces, each for one thread: as many as begin in it, and so many of those that follow.
pub(super) fn pieces(length: usize, beyond: usize) -> Vec<Range<usize>> {
    (0..length)
        .step_by(SHARE)
        .map(|from| from..(from + SHARE + beyond).min(length))
        .collect()
}

/// Blocks of a piece with room for all windows of so many values that begin in them.
pub(super) fn blocks(piece: Range<usize>, window: usize) -> impl Iterator<Item = Range<usize>> {
    let last = piece.end.saturating_sub(window - 1);
    (piece.start..last)
        .step_by(BLOCK)
        .map(move |from| from..piece.end.min(from + BLOCK + window - 1))
}

/// True if something rare is true of one of the windows of a block. The question is put to all of them, several at a time where it is a
/// plain comparison without early ends (`&` and `|` instead of `&&` and `||`).
pub(super) fn holds<const N: usize>(block: &[f64], is: impl Fn(&[f64; N]) -> bool) -> bool {
    block
        .array_windows()
        .fold(false, |any, window| any | is(window))
}

/// True if something rare is true of some window of `N` values.
pub(super) fn anywhere<const N: usize>(
    values: &[f64],
    is: impl Fn(&[f64; N]) -> bool + Sync,
) -> bool {
    pieces(values.len(), N - 1)
        .into_par_iter()
        .any(|piece| blocks(piece, N).any(|block| holds(&values[block], &is)))
}

/// Where the windows of `N` values begin of which it is true.
pub(super) fn places<const N: usize>(
    values: &[f64],
    is: impl Fn(&[f64; N]) -> bool + Sync,
) -> Vec<usize> {
    let of_piece = |piece| {
        let mut found = Vec::new();
        for block in blocks(piece, N) {
            let (from, block) = (block.start, &values[block]);
            if holds(block, &is) {
                let here = block.array_windows().enumerate();
                found.extend(here.filter(|(_, w)| is(w)).map(|(at, _)| from + at));
            }
        }
        found
    };
    pieces(values.len(), N - 1)
        .into_par_iter()
        .flat_map_iter(of_piece)
        .collect()
}

/// Lowest and highest of the finite values; infinities the wrong way round where there are none.
pub(super) fn extremes(values: &[f64]) -> (f64, f64) {
    let wider = |a: (f64, f64), b: (f64, f64)| {
        (
            if b.0 < a.0 { b.0 } else { a.0 },
            if b.1 > a.1 { b.1 } else { a.1 },
        )
    };
    let none = || (f64::INFINITY, f64::NEG_INFINITY);
    let of_part = |part: &[f64]| {
        // Several at a time; what is not finite is no wider than anything.
        let (mut lanes, rest) = ([none(); LANES], part.chunks_exact(LANES));
        let tail = rest.remainder();
        for values in rest.map(|values| values.iter()).chain([tail.iter()]) {
            for (lane, value) in lanes.iter_mut().zip(values) {
                let value = if value.is_finite() { *value } else { f64::NAN };
                *lane = wider(*lane, (value, value));
            }
        }
        lanes.into_iter().fold(none(), wider)
    };
    values.par_chunks(SHARE).map(of_part).reduce(none, wider)
}

/// Stretches of values of which something is true: first, and one past the last.
pub(super) fn stretches(values: &[f64], is: impl Fn(f64) -> bool + Sync) -> Vec<(usize, usize)> {
    let of_parts: Vec<Vec<(usize, usize)>> = values
        .par_chunks(SHARE)
        .enumerate()
        .map(|(part, values)| {
            let mut found = Vec::new();
            for block in blocks(0..values.len(), 1) {
                let from = part * SHARE + block.start;
                let values = &values[block];
                if holds(values, |&[value]| is(value)) {
                    let here = (from..).zip(values).filter(|(_, value)| is(**value));
                    here.for_each(|(at, _)| add(&mut found, (at, at + 1)));
                }
            }
            found
        })
        .collect();
    let mut found = Vec::new();
    for stretch in of_parts.into_iter().flatten() {
        add(&mut found, stretch);
    }
    found
}

/// Appends a stretch, or lengthens the last one where it goes on.
fn add(found: &mut Vec<(usize, usize)>, stretch: (usize, usize)) {
    match found.last_mut() {
        Some(last) if last.1 == stretch.0 => last.1 = stretch.1,
        _ => found.push(stretch),
    }
}

/// How many samples they hold.
pub(super) fn samples(stretches: &[(usize, usize)]) -> usize {
    stretches.iter().map(|(start, end)| end - start).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_go_on_over_the_ends_of_parts() {
        let mut values = vec![0.0; 3 * SHARE];
        values[2..5].fill(1.0);
        values[SHARE - 1..=2 * SHARE].fill(1.0);
        values[3 * SHARE - 1] = 1.0;
        let found = stretches(&values, |v| v == 1.0);
        let expected = [
            (2, 5),
            (SHARE - 1, 2 * SHARE + 1),
            (3 * SHARE - 1, 3 * SHARE),
        ];
        assert_eq!(found, expected);
        assert_eq!(samples(&found), 3 + SHARE + 2 + 1);
        assert!(stretches(&[], |_| true).is_empty());
    }

    #[test]
    fn rare_places_and_extremes_are_found_wherever_they_are() {
        let mut values: Vec<f64> = (0..2 * SHARE + 100).map(|i| (i % 7) as f64).collect();
        let at = [0, BLOCK - 1, BLOCK, SHARE - 1, SHARE, 2 * SHARE + 97];
        for place in at {
            values[place] = 50.0 + place as f64;
        }
        values[5] = f64::NAN;
        values[6] = f64::INFINITY;
        assert_eq!(
            places(&values, |[v]| *v > 10.0),
            [&at[..1], &[6], &at[1..]].concat()
        );
        let pairs = places(&values, |[a, b]| (*a > 10.0) & (*b > 10.0));
        assert_eq!(pairs, [BLOCK - 1, SHARE - 1]);
        assert_eq!(
            places(&values, |[a, _, c]| (*a < 0.0)
                | (*c > 1e5 && c.is_finite())),
            [2 * SHARE + 95]
        );
        assert_eq!(extremes(&values), (0.0, 50.0 + (2 * SHARE + 97) as f64));
        assert_eq!(extremes(&[f64::NAN]), (f64::INFINITY, f64::NEG_INFINITY));
        assert!(places(&[1.0, 2.0], |[_, _, _]| true).is_empty());
        assert!(anywhere(&values, |[a, b]| (*a > 10.0) & (*b > 10.0)));
        assert!(!anywhere(&values, |[a, b]| (*a < 0.0) & (*b < 0.0)));
    }
}
