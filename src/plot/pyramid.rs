//! Where the smallest and the largest value of any stretch of a long channel stand, without a look at every sample.

/// Samples of a block of the lowest level: 1/16 of a channel's memory for all levels together.
const BLOCK: usize = 64;
/// Blocks put together to one of the next level.
const STEP: usize = 8;

/// Places of the smallest and of the largest value.
type Extremes = Option<(usize, usize)>;

/// Smallest and largest values of blocks, of blocks of blocks, and so on.
pub(super) struct Pyramid<'v> {
    values: &'v [f64],
    /// Each level with the number of samples its blocks hold.
    levels: Vec<(usize, Vec<Extremes>)>,
}

impl<'v> Pyramid<'v> {
    pub fn of(values: &'v [f64]) -> Self {
        let mut pyramid = Self {
            values,
            levels: Vec::new(),
        };
        if values.len() <= BLOCK {
            return pyramid;
        }
        let lowest = (0..values.len().div_ceil(BLOCK))
            .map(|block| pyramid.look(block * BLOCK, ((block + 1) * BLOCK).min(values.len())))
            .collect();
        pyramid.levels.push((BLOCK, lowest));
        while let Some((size, below)) = pyramid.levels.last()
            && below.len() > STEP
        {
            let above = below
                .chunks(STEP)
                .map(|blocks| {
                    blocks
                        .iter()
                        .fold(None, |seen, next| pyramid.join(seen, *next))
                })
                .collect();
            let level = (size * STEP, above);
            pyramid.levels.push(level);
        }
        pyramid
    }

    /// Places of the smallest and the largest finite value among the samples `from..to`, the first of equals; `None` where there is none.
    pub fn extremes(&self, from: usize, to: usize) -> Extremes {
        let to = to.min(self.values.len());
        let mut at = from;
        let mut seen = None;
        while at < to {
            // The largest block that begins here and does not reach too far.
            let block = self.levels.iter().rev().find_map(|(size, blocks)| {
                let fits = at.is_multiple_of(*size) && at + size <= to;
                fits.then(|| blocks.get(at / size).map(|found| (*size, *found)))?
            });
            let (length, found) = block.unwrap_or_else(|| {
                let end = (at + BLOCK - at % BLOCK).min(to);
                (end - at, self.look(at, end))
            });
            seen = self.join(seen, found);
            at += length;
        }
        seen
    }

    fn look(&self, from: usize, to: usize) -> Extremes {
        let mut seen: Extremes = None;
        for (at, value) in self.values[from..to].iter().enumerate() {
            if value.is_finite() {
                seen = self.join(seen, Some((from + at, from + at)));
            }
        }
        seen
    }

    fn join(&self, before: Extremes, after: Extremes) -> Extremes {
        let (Some(a), Some(b)) = (before, after) else {
            return before.or(after);
        };
        let v = self.values;
        let low = if v[b.0] < v[a.0] { b.0 } else { a.0 };
        let high = if v[b.1] > v[a.1] { b.1 } else { a.1 };
        Some((low, high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_finds_what_a_look_at_every_sample_finds() {
        for length in [0, 1, 63, 64, 65, 1000, 40_000] {
            let values: Vec<f64> = (0..length)
                .map(|i| {
                    let value = ((i * 7919) % 1009) as f64;
                    if i % 17 == 3 || (500..800).contains(&i) {
                        f64::NAN
                    } else {
                        value
                    }
                })
                .collect();
            let pyramid = Pyramid::of(&values);
            for (from, to) in [
                (0, length),
                (3, 4),
                (510, 700),
                (length / 3, length / 2 + 7),
            ] {
                let finite = || (from..to.min(length)).filter(|i| values[*i].is_finite());
                let low = finite().min_by(|a, b| values[*a].total_cmp(&values[*b]));
                // The first of equals.
                let high = finite()
                    .rev()
                    .max_by(|a, b| values[*a].total_cmp(&values[*b]));
                assert_eq!(
                    pyramid.extremes(from, to),
                    low.zip(high),
                    "{length} {from} {to}"
                );
            }
        }
    }
}
