//! Ranges of samples in which something holds.

/// Ranges of samples: first and one past the last of each, in order and apart from each other.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Ranges(Vec<(usize, usize)>);

impl Ranges {
    /// The samples below `length` for which something holds.
    pub fn of(length: usize, holds: impl Fn(usize) -> bool) -> Self {
        (0..length)
            .filter(|i| holds(*i))
            .map(|i| (i, i + 1))
            .collect()
    }

    /// The samples that are in both.
    pub fn both(&self, other: &Self) -> Self {
        let (mut mine, mut theirs) = (self.0.iter().peekable(), other.0.iter().peekable());
        let mut out = Self::default();
        while let (Some(a), Some(b)) = (mine.peek(), theirs.peek()) {
            out.push(a.0.max(b.0), a.1.min(b.1));
            if a.1 < b.1 {
                mine.next();
            } else {
                theirs.next();
            }
        }
        out
    }

    /// True where any sample of `from..to` is among them.
    #[inline]
    pub fn touch(&self, from: usize, to: usize) -> bool {
        if self.0.is_empty() {
            return false;
        }
        let next = self.0.partition_point(|range| range.1 <= from);
        self.0.get(next).is_some_and(|range| range.0 < to)
    }

    /// True where a sample is among them.
    #[inline]
    pub fn contain(&self, i: usize) -> bool {
        self.touch(i, i + 1)
    }

    /// How many samples they are.
    pub fn samples(&self) -> usize {
        self.0.iter().map(|(from, to)| to - from).sum()
    }

    /// A look at samples that never go back.
    pub fn walk(&self) -> Walk<'_> {
        Walk(&self.0)
    }

    fn push(&mut self, from: usize, to: usize) {
        match self.0.last_mut() {
            _ if from >= to => {}
            Some(last) if last.1 == from => last.1 = to,
            _ => self.0.push((from, to)),
        }
    }
}

/// Ranges in order; one that touches the one before it makes it longer.
impl FromIterator<(usize, usize)> for Ranges {
    fn from_iter<I: IntoIterator<Item = (usize, usize)>>(ranges: I) -> Self {
        let mut out = Self::default();
        for (from, to) in ranges {
            out.push(from, to);
        }
        out
    }
}

/// The ranges that do not lie behind the sample looked at last: samples are looked at in order, so that none is searched for.
pub(super) struct Walk<'r>(&'r [(usize, usize)]);

impl Walk<'_> {
    /// True where a sample, not before the one asked for last, is in a range.
    #[inline]
    pub fn contain(&mut self, i: usize) -> bool {
        while let Some((range, rest)) = self.0.split_first() {
            if i < range.1 {
                return range.0 <= i;
            }
            self.0 = rest;
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_hold_what_was_put_in() {
        let even_tens = Ranges::of(100, |i| (i / 10) % 2 == 0);
        let thirds = Ranges::of(100, |i| i % 3 == 0);
        let both = even_tens.both(&thirds);
        let (mut walk, mut walk_both) = (even_tens.walk(), both.walk());
        for i in 0..110 {
            let even = i < 100 && (i / 10) % 2 == 0;
            assert_eq!(even_tens.contain(i), even);
            assert_eq!(walk.contain(i), even);
            assert_eq!(both.contain(i), even && i % 3 == 0, "{i}");
            assert_eq!(walk_both.contain(i), both.contain(i));
        }
        assert!(even_tens.touch(15, 21) && !even_tens.touch(10, 20));
        assert_eq!(
            Ranges::from_iter([(0, 2), (2, 5), (5, 5), (7, 8)]),
            Ranges(vec![(0, 5), (7, 8)])
        );
    }
}
