//! Stretches of samples that share something.

use rayon::prelude::*;
use std::ops::Range;

/// Samples looked at by one thread at a time.
const SHARE: usize = 1 << 16;

/// A column in pieces, each for one thread: as many as begin in it, and so many of those that follow.
pub(super) fn pieces(length: usize, beyond: usize) -> Vec<Range<usize>> {
    (0..length)
        .step_by(SHARE)
        .map(|from| from..(from + SHARE + beyond).min(length))
        .collect()
}

/// Stretches of values of which something is true: first, and one past the last.
pub(super) fn stretches(values: &[f64], is: impl Fn(f64) -> bool + Sync) -> Vec<(usize, usize)> {
    let of_parts: Vec<Vec<(usize, usize)>> = values
        .par_chunks(SHARE)
        .enumerate()
        .map(|(part, values)| {
            let mut found = Vec::new();
            for (at, value) in values.iter().enumerate() {
                if is(*value) {
                    add(&mut found, (part * SHARE + at, part * SHARE + at + 1));
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
}
