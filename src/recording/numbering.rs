//! Numbers that mostly rise by one, such as the line of each row, kept as the places where they do not.

use std::ops::Range;

/// A list of whole numbers in little memory: only where a number is not its forerunner plus one is anything stored.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Numbering {
    /// Position and number at which each unbroken stretch begins; positions rise.
    starts: Vec<(usize, u64)>,
    length: usize,
}

impl Numbering {
    /// The numbers `first`, `first` + 1, ..., `length` of them.
    pub fn from_first(first: u64, length: usize) -> Self {
        let mut numbers = Self::default();
        numbers.extend_by(first, length);
        numbers
    }

    /// How many numbers there are.
    pub fn len(&self) -> usize {
        self.length
    }

    /// True without numbers.
    pub fn is_empty(&self) -> bool {
        self.length == 0
    }

    /// The number at a position.
    pub fn get(&self, at: usize) -> Option<u64> {
        if at >= self.length {
            return None;
        }
        let stretch = self.starts.partition_point(|(start, _)| *start <= at);
        let (start, number) = self.starts.get(stretch.checked_sub(1)?)?;
        Some(number + (at - start) as u64)
    }

    /// How many numbers are below one, in a list that rises.
    pub fn rank(&self, number: u64) -> usize {
        let stretch = self.starts.partition_point(|(_, first)| *first < number);
        let Some((start, first)) = stretch.checked_sub(1).and_then(|at| self.starts.get(at)) else {
            return 0;
        };
        let end = self.starts.get(stretch).map_or(self.length, |next| next.0);
        (start + (number - first) as usize).min(end)
    }

    /// The number at a position, 0 beyond the end: for messages, where 0 stands for "unknown".
    pub fn at(&self, at: usize) -> u64 {
        self.get(at).unwrap_or(0)
    }

    /// The last number.
    pub fn last(&self) -> Option<u64> {
        let (start, number) = self.starts.last()?;
        Some(number + (self.length.checked_sub(1)? - start) as u64)
    }

    /// Appends a number.
    pub fn push(&mut self, number: u64) {
        self.extend_by(number, 1);
    }

    /// Appends `first`, `first` + 1, ..., `length` of them.
    pub fn extend_by(&mut self, first: u64, length: usize) {
        if length == 0 {
            return;
        }
        if self.last().is_none_or(|last| last + 1 != first) {
            self.starts.push((self.length, first));
        }
        self.length += length;
    }

    /// Appends all numbers of another list.
    pub fn append(&mut self, other: &Self) {
        for (at, (start, number)) in other.starts.iter().enumerate() {
            let end = other.starts.get(at + 1).map_or(other.length, |next| next.0);
            self.extend_by(*number, end - start);
        }
    }

    /// Keeps the numbers at positions from `first` to before `end`.
    pub fn keep(&mut self, first: usize, end: usize) {
        let end = end.min(self.length);
        let mut kept = Self::default();
        for (at, (start, number)) in self.starts.iter().enumerate() {
            let stop = self.starts.get(at + 1).map_or(self.length, |next| next.0);
            let (from, to) = ((*start).max(first), stop.min(end));
            if from < to {
                kept.extend_by(number + (from - start) as u64, to - from);
            }
        }
        *self = kept;
    }

    /// Takes the last number away.
    pub fn pop(&mut self) {
        let Some(length) = self.length.checked_sub(1) else {
            return;
        };
        self.length = length;
        if self
            .starts
            .last()
            .is_some_and(|(start, _)| *start == length)
        {
            self.starts.pop();
        }
    }

    /// Stretches of numbers that rise by one.
    pub fn stretches(&self) -> impl Iterator<Item = Range<u64>> + '_ {
        self.starts.iter().enumerate().map(|(at, (start, number))| {
            let end = self.starts.get(at + 1).map_or(self.length, |next| next.0);
            *number..*number + (end - start) as u64
        })
    }

    /// The numbers in order.
    pub fn iter(&self) -> impl Iterator<Item = u64> + '_ {
        self.stretches().flatten()
    }

    /// The numbers of this list at the positions another list holds; positions beyond the end are left out.
    #[must_use]
    pub fn through(&self, positions: &Self) -> Self {
        // Stretch by stretch, so that a recording in order costs nothing.
        let mut numbers = Self::default();
        for (at, (start, first)) in positions.starts.iter().enumerate() {
            let end = positions
                .starts
                .get(at + 1)
                .map_or(positions.length, |next| next.0);
            let (mut from, to) = (
                *first as usize,
                (*first as usize + (end - start)).min(self.length),
            );
            while from < to {
                let stretch = self.starts.partition_point(|(start, _)| *start <= from);
                let until = self.starts.get(stretch).map_or(to, |next| next.0.min(to));
                numbers.extend_by(self.at(from), until - from);
                from = until;
            }
        }
        numbers
    }
}

impl FromIterator<u64> for Numbering {
    fn from_iter<T: IntoIterator<Item = u64>>(all: T) -> Self {
        let mut numbers = Self::default();
        for number in all {
            numbers.push(number);
        }
        numbers
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_holds_what_a_plain_list_holds() {
        for list in [
            vec![],
            vec![5],
            vec![3, 4, 5, 9, 10, 2, 1, 0, 7, 8],
            vec![2, 2, 2, 3],
        ] {
            let numbers: Numbering = list.iter().copied().collect();
            assert_eq!(numbers.iter().collect::<Vec<_>>(), list);
            assert_eq!(numbers.len(), list.len());
            for at in 0..=list.len() {
                assert_eq!(numbers.get(at), list.get(at).copied());
            }
            let mut twice = numbers.clone();
            twice.append(&numbers);
            assert_eq!(
                twice.iter().collect::<Vec<_>>(),
                [list.clone(), list.clone()].concat()
            );
            for first in 0..=list.len() {
                for end in 0..=list.len() + 1 {
                    let mut part = numbers.clone();
                    part.keep(first, end);
                    let expected: Vec<u64> = list.iter().copied().take(end).skip(first).collect();
                    assert_eq!(part, expected.iter().copied().collect());
                    assert_eq!(
                        (part.len(), part.last()),
                        (expected.len(), expected.last().copied())
                    );
                }
            }
            twice.pop();
            assert_eq!(twice.len(), (2 * list.len()).saturating_sub(1));
        }
    }

    #[test]
    fn it_counts_what_is_below() {
        let list = [3_u64, 4, 8, 9, 10, 20];
        let numbers: Numbering = list.into_iter().collect();
        for number in 0..25 {
            let below = list.iter().filter(|n| **n < number).count();
            assert_eq!(numbers.rank(number), below, "{number}");
        }
        assert_eq!(Numbering::default().rank(7), 0);
    }

    #[test]
    fn positions_lead_through_to_numbers() {
        let lines: Numbering = [3, 4, 8, 9, 10, 20].into_iter().collect();
        let rows: Numbering = [0, 1, 2, 5, 3, 2, 99].into_iter().collect();
        assert_eq!(
            lines.through(&rows).iter().collect::<Vec<_>>(),
            [3, 4, 8, 20, 9, 8]
        );
    }
}
