//! Rows read side by side: each thread claims the next stretch of a file together with the room for its lines, so that every byte is
//! fetched once and every row is written where it stays.

use super::body::{Body, Stretch};
use super::rows::{Columns, Part, Rules};
use rayon::prelude::*;
use std::sync::{Mutex, PoisonError};

/// Why a body was not read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stop {
    /// The disk failed.
    Unreadable,
    /// There are more lines than was room for.
    NoRoom,
    /// Bytes that are not ASCII, or zeros, where there should be none.
    NotPlain,
}

/// What a stretch held, and how many lines that was.
pub(super) type Held = (Part, usize);

/// What is not claimed yet.
struct Rest<'m> {
    stretch: usize,
    /// Number of the next line.
    number: u64,
    columns: Columns<'m>,
}

impl<'m> Rest<'m> {
    /// The room for so many lines, and the number of the first of them.
    fn claim(&mut self, lines: usize) -> Result<(u64, Columns<'m>), Stop> {
        let time_s = self.columns.time_s.split_off_mut(..lines);
        let values = self.columns.values.iter_mut();
        let values: Option<Vec<_>> = values.map(|column| column.split_off_mut(..lines)).collect();
        let (time_s, values) = time_s.zip(values).ok_or(Stop::NoRoom)?;
        let number = self.number;
        self.number += lines as u64;
        Ok((number, Columns { time_s, values }))
    }
}

/// Reads all stretches into columns with room for `columns.time_s.len()` lines; `first_line` is the number of the first. What they held
/// comes in the order of the file. With `ascii` only plain bytes are read.
pub(super) fn read(
    body: &Body<'_>,
    rules: &Rules<'_>,
    first_line: u64,
    columns: Columns<'_>,
    ascii: bool,
) -> Result<Vec<Held>, Stop> {
    let count = body.stretches();
    let rest = Mutex::new(Rest {
        stretch: 0,
        number: first_line,
        columns,
    });
    let worker = |_| {
        let (mut buffer, mut held) = (Vec::new(), Vec::new());
        loop {
            // How many lines went before is known once the stretches before are loaded: one after the other.
            let mut rest = rest.lock().unwrap_or_else(PoisonError::into_inner);
            let at = rest.stretch;
            if at >= count {
                return Ok(held);
            }
            // Nobody goes on after a failure.
            rest.stretch = count;
            let stretch = load(body, at, rules.end, &mut buffer, ascii)?;
            let (number, mut columns) = rest.claim(stretch.lines)?;
            rest.stretch = at + 1;
            drop(rest);
            let part = rules.read(stretch.bytes, number, &mut columns);
            held.push((at, (part, stretch.lines)));
        }
    };
    let workers = rayon::current_num_threads().min(count);
    let held: Result<Vec<Vec<(usize, Held)>>, Stop> = (0..workers)
        .into_par_iter()
        .with_max_len(1)
        .map(worker)
        .collect();
    let mut held: Vec<(usize, Held)> = held?.into_iter().flatten().collect();
    held.sort_by_key(|(at, _)| *at);
    Ok(held.into_iter().map(|(_, held)| held).collect())
}

fn load<'s>(
    body: &'s Body<'_>,
    at: usize,
    end: u8,
    buffer: &'s mut Vec<u8>,
    ascii: bool,
) -> Result<Stretch<'s>, Stop> {
    let stretch = body.stretch(at, end, buffer);
    let stretch = stretch.map_err(|_| Stop::Unreadable)?;
    if ascii && !stretch.is_plain() {
        return Err(Stop::NotPlain);
    }
    Ok(stretch)
}
