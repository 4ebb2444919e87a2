//! A column of readings: a vector, or for long recordings memory of its own in large pages.
//!
//! Asking the system for a hundred thousand small pages takes a fifth of the time a long recording is read in.

use memmap2::MmapMut;
use std::ops::{Deref, DerefMut};

/// From so many readings on a column has memory of its own: 8 MB, four of the large pages of most systems.
const LONG: usize = 1 << 20;

/// Readings of one channel, or their times. Behaves like a slice.
pub struct Readings(Memory);

enum Memory {
    Vector(Vec<f64>),
    /// The first so many readings of the mapping.
    Mapped(MmapMut, usize),
}

impl Readings {
    /// Readings that are all 0.
    pub fn zeros(length: usize) -> Self {
        match mapped(length) {
            Some(map) => Self(Memory::Mapped(map, length)),
            None => Self(Memory::Vector(vec![0.0; length])),
        }
    }

    /// Keeps the first readings.
    pub fn truncate(&mut self, length: usize) {
        match &mut self.0 {
            Memory::Vector(values) => values.truncate(length),
            Memory::Mapped(_, mapped) => *mapped = length.min(*mapped),
        }
    }

    /// Keeps the readings from `first` to before `end`.
    pub fn keep(&mut self, first: usize, end: usize) {
        self.truncate(end);
        let first = first.min(self.len());
        self.copy_within(first.., 0);
        self.truncate(self.len() - first);
    }
}

/// Memory of its own for a long column; `None` for a short one, and where the system has none.
fn mapped(length: usize) -> Option<MmapMut> {
    if length < LONG {
        return None;
    }
    let map = MmapMut::map_anon(length.checked_mul(size_of::<f64>())?).ok()?;
    // Where the system has no large pages, small ones do.
    #[cfg(target_os = "linux")]
    let _ = map.advise(memmap2::Advice::HugePage);
    Some(map)
}

impl Deref for Readings {
    type Target = [f64];

    #[inline]
    fn deref(&self) -> &[f64] {
        match &self.0 {
            Memory::Vector(values) => values,
            // Pages begin at multiples of eight bytes, and the mapping is as long.
            Memory::Mapped(map, length) => {
                let values: &[f64] = bytemuck::try_cast_slice(map).unwrap_or_default();
                values.get(..*length).unwrap_or_default()
            }
        }
    }
}

impl DerefMut for Readings {
    #[inline]
    fn deref_mut(&mut self) -> &mut [f64] {
        match &mut self.0 {
            Memory::Vector(values) => values,
            Memory::Mapped(map, length) => {
                let values: &mut [f64] = bytemuck::try_cast_slice_mut(map).unwrap_or_default();
                values.get_mut(..*length).unwrap_or_default()
            }
        }
    }
}

impl Default for Readings {
    fn default() -> Self {
        Self(Memory::Vector(Vec::new()))
    }
}

impl Clone for Readings {
    fn clone(&self) -> Self {
        let mut copy = Self::zeros(self.len());
        copy.copy_from_slice(self);
        copy
    }
}

impl From<Vec<f64>> for Readings {
    fn from(values: Vec<f64>) -> Self {
        Self(Memory::Vector(values))
    }
}

impl FromIterator<f64> for Readings {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        Vec::from_iter(values).into()
    }
}

impl<'c> IntoIterator for &'c Readings {
    type Item = &'c f64;
    type IntoIter = std::slice::Iter<'c, f64>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl<'c> IntoIterator for &'c mut Readings {
    type Item = &'c mut f64;
    type IntoIter = std::slice::IterMut<'c, f64>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter_mut()
    }
}

impl std::fmt::Debug for Readings {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self).finish()
    }
}

impl PartialEq for Readings {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_column_is_like_a_short_one() {
        for length in [0, 5, LONG - 1, LONG, LONG + 3] {
            let mut column = Readings::zeros(length);
            assert_eq!(column.len(), length);
            assert!(column.iter().all(|value| *value == 0.0));
            for (at, value) in column.iter_mut().enumerate() {
                *value = at as f64;
            }
            let copy = column.clone();
            assert_eq!(copy, column);
            assert_eq!(copy, (0..length).map(|at| at as f64).collect());
            column.truncate(length + 1);
            assert_eq!(column.len(), length);
            column.keep(2, 4);
            assert_eq!(*column, copy[2.min(length)..4.min(length)]);
        }
    }
}
