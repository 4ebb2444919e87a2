//! The samples of a trace that a finding is about.

use super::Trace;

/// Samples of a trace: how many, on which lines, when.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Extent {
    /// Number of samples.
    pub count: usize,
    /// First and last line of the file.
    pub lines: Option<(u64, u64)>,
    /// Time of the first and of the last, s from the first sample.
    pub whole_s: Option<(f64, f64)>,
    /// Times from and to of each stretch, s; empty where there are none or too many.
    pub stretches_s: Vec<(f64, f64)>,
}

impl Extent {
    /// So many stretches are kept one by one; more are all over the recording, and only their ends are told.
    pub const MOST: usize = 1000;

    /// Stretches of samples: first, and one past the last.
    pub fn of(trace: &Trace, stretches: &[(usize, usize)]) -> Self {
        let times = |&(start, end): &(usize, usize)| {
            let from = trace.time_s.get(start)?;
            let to = trace.time_s.get(end.checked_sub(1)?)?;
            Some((*from, *to))
        };
        let first = stretches.first();
        let last = stretches.last();
        Self {
            count: stretches.iter().map(|(start, end)| end - start).sum(),
            lines: first.zip(last).map(|(first, last)| {
                let (a, b) = (trace.line.at(first.0), trace.line.at(last.1 - 1));
                // Rows put in time order may have come from anywhere.
                (a, b.max(a))
            }),
            whole_s: first
                .and_then(times)
                .zip(last.and_then(times))
                .map(|(first, last)| (first.0, last.1)),
            stretches_s: if stretches.len() <= Self::MOST {
                stretches.iter().filter_map(times).collect()
            } else {
                Vec::new()
            },
        }
    }
}
