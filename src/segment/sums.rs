//! Sums over any stretch of a long series, and its missing values carried on, in a small part of the memory the series takes.

use rayon::prelude::*;

/// Blocks put together by one thread at a time.
const TOGETHER: usize = 256;

/// Values looked at by one thread at a time.
const SHARE: usize = 1 << 15;

/// Values of two series at one place, or sums of them.
pub(crate) type Pair = [f64; 2];

/// Running sums of two series that are looked at together, kept at the beginnings of blocks only.
pub(crate) struct BlockSums {
    /// A block has 2^shift values.
    shift: u32,
    /// Sums of all values before each block.
    before: Vec<Pair>,
}

/// Blocks kept of a series, unless they would become too long for what is told from them: a few megabytes for each sum.
const MOST_BLOCKS: usize = 1 << 20;
/// Fewest blocks in the shortest stretch that is summed, however long the series.
const FEWEST_IN_STRETCH: usize = 16;

/// Exponent of the blocks of a series of `length` values, of which stretches of `stretch` values and more are summed: `finest` blocks in such
/// a stretch, fewer in a series so long that these would take more memory than its columns.
pub(crate) fn shift_for(length: usize, stretch: usize, finest: usize) -> u32 {
    let longest = shift_within(stretch / FEWEST_IN_STRETCH);
    let needed = shift_within(length.div_ceil(MOST_BLOCKS).next_power_of_two());
    shift_within(stretch / finest).max(needed.min(longest))
}

/// Exponent of the largest power of two that is no larger than `length` (0 for lengths below 2).
fn shift_within(length: usize) -> u32 {
    length.max(1).ilog2()
}

impl BlockSums {
    /// Sums of series in blocks of one value each, with room for `length` values.
    pub fn in_ones(length: usize) -> Self {
        let mut before = Vec::with_capacity(length + 1);
        before.push([0.0; 2]);
        Self { shift: 0, before }
    }

    /// Adds the values that follow, in blocks of one value each.
    pub fn extend(&mut self, values: impl Iterator<Item = Pair>) {
        let mut total = self.before.last().copied().unwrap_or_default();
        self.before.extend(values.map(|value| {
            total = plus(total, value);
            total
        }));
    }

    /// Sums of series of `length` values in blocks of 2^shift; `sum` adds up the values from one place to before another.
    pub fn of(length: usize, shift: u32, sum: impl Fn(usize, usize) -> Pair + Sync) -> Self {
        let block = 1_usize << shift;
        let mut before = vec![[0.0; 2]; (length >> shift) + 1];
        // Each block by itself, side by side; then added up in their order, so that the number of threads changes nothing.
        before[1..]
            .par_chunks_mut(TOGETHER)
            .enumerate()
            .for_each(|(at, sums)| {
                let mut from = (at * TOGETHER) << shift;
                for of_block in sums {
                    *of_block = sum(from, from + block);
                    from += block;
                }
            });
        let mut total = [0.0; 2];
        for of_block in &mut before {
            total = plus(total, *of_block);
            *of_block = total;
        }
        Self { shift, before }
    }

    /// Sums of the values before a place of the series it was made of.
    #[inline]
    pub fn up_to(&self, at: usize, value: impl Fn(usize) -> Pair) -> Pair {
        let block = at >> self.shift;
        let rest = (block << self.shift..at).map(value);
        rest.fold(self.before[block], plus)
    }
}

/// Both together.
#[inline]
pub(crate) fn plus(a: Pair, b: Pair) -> Pair {
    [a[0] + b[0], a[1] + b[1]]
}

/// The first less the second.
#[inline]
pub(crate) fn less(a: Pair, b: Pair) -> Pair {
    [a[0] - b[0], a[1] - b[1]]
}

/// A series with missing values, each of which stands for the last one before (for the first one after, at the start).
pub(crate) struct Carried<'v> {
    values: &'v [f64],
    shift: u32,
    /// Value carried into each block; empty where no value is missing.
    into: Vec<f64>,
}

impl<'v> Carried<'v> {
    /// A series, carried on in blocks of 2^shift values.
    pub fn of(values: &'v [f64], shift: u32) -> Self {
        let complete = values
            .par_chunks(SHARE)
            // Without an early end several are asked at a time.
            .all(|part| part.iter().fold(true, |all, v| all & v.is_finite()));
        let into = if complete {
            Vec::new()
        } else {
            let mut last = values
                .iter()
                .copied()
                .find(|v| v.is_finite())
                .unwrap_or(0.0);
            values
                .chunks(1 << shift)
                .map(|block| {
                    let carried = last;
                    last = block
                        .iter()
                        .copied()
                        .rfind(|v| v.is_finite())
                        .unwrap_or(last);
                    carried
                })
                .collect()
        };
        Self {
            values,
            shift,
            into,
        }
    }

    /// The series itself, where no value is missing.
    pub fn complete(&self) -> Option<&'v [f64]> {
        self.into.is_empty().then_some(self.values)
    }

    /// Sum of the values from one place to before another.
    pub fn sum(&self, from: usize, to: usize) -> f64 {
        if self.into.is_empty() {
            self.values[from..to].iter().sum()
        } else {
            (from..to).map(|place| self.at(place)).sum()
        }
    }

    /// The value at a place, or what is carried there.
    #[inline]
    pub fn at(&self, place: usize) -> f64 {
        let value = self.values[place];
        if value.is_finite() {
            return value;
        }
        let block = place >> self.shift;
        self.values[block << self.shift..place]
            .iter()
            .copied()
            .rfind(|v| v.is_finite())
            .unwrap_or_else(|| self.into.get(block).copied().unwrap_or(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whole numbers, so that sums are exact whatever their order.
    fn series(length: usize) -> Vec<f64> {
        (0..length).map(|i| ((i * 7919) % 1001) as f64).collect()
    }

    #[test]
    fn block_sums_are_plain_sums() {
        for (length, shift) in [(0, 0), (1, 3), (100, 0), (1000, 3), (1024, 4), (70_001, 5)] {
            let values = series(length);
            let value = |i: usize| [values[i], 2.0 * values[i]];
            let plain = |from: usize, to: usize| -> Pair {
                let sum: f64 = values[from..to].iter().sum();
                [sum, 2.0 * sum]
            };
            let mut all = vec![BlockSums::of(length, shift, plain)];
            if shift == 0 {
                let mut sums = BlockSums::in_ones(length);
                sums.extend((0..length / 2).map(value));
                sums.extend((length / 2..length).map(value));
                all.push(sums);
            }
            for sums in all {
                for (from, to) in [(0, length), (length / 3, length / 2), (length / 7, length)] {
                    let sum = less(sums.up_to(to, value), sums.up_to(from, value));
                    assert_eq!(sum, plain(from, to));
                }
            }
        }
    }

    #[test]
    fn missing_values_are_carried_on() {
        for shift in [0, 2, 5] {
            let mut values = series(200);
            for gap in [0..3, 17..18, 40..110, 190..200] {
                values[gap].fill(f64::NAN);
            }
            let carried = Carried::of(&values, shift);
            let mut last = values[3];
            for (place, value) in values.iter().enumerate() {
                if value.is_finite() {
                    last = *value;
                }
                assert_eq!(carried.at(place), last, "shift {shift}, place {place}");
            }
        }
        assert_eq!(Carried::of(&[f64::NAN; 4], 1).at(3), 0.0);
    }

    #[test]
    fn a_shift_stays_within_the_length() {
        assert_eq!(
            [0, 1, 2, 3, 10, 1024].map(shift_within),
            [0, 0, 1, 1, 3, 10]
        );
        // A minute at 1 kHz, three hours at 1 kHz, eight minutes at 20 kHz, and a day at 10 Hz; levels of 0.1 s.
        let shifts = [
            (60_000, 100),
            (10_000_000, 100),
            (10_000_000, 2000),
            (864_000, 2),
        ];
        assert_eq!(
            shifts.map(|(length, level)| shift_for(length, level, 200)),
            [0, 2, 4, 0]
        );
    }
}
