//! The rows of a file as bytes, handed out in stretches of whole lines: from memory, or from a file too large to be held.

use super::split::LONGEST_LINE;
use std::fs::File;

/// Bytes of a stretch: small enough to stay near the processor, large enough that starting one costs nothing.
pub(super) const STRETCH: u64 = 1 << 18;

/// About so many stretches tell how long lines are.
const LOOKED_AT: usize = 8;
/// So much more room is taken than they tell.
const ROOM: f64 = 1.02;
/// Where lines stand so much closer in one of them than in all, they are counted.
const UNEVEN: f64 = 2.0;

/// Where the rows are.
pub(super) enum Body<'b> {
    /// In memory.
    Memory(&'b [u8]),
    /// In a file, from a byte up to another.
    Disk { file: &'b File, from: u64, to: u64 },
}

/// The lines that begin in a stretch, whole.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stretch<'s> {
    pub bytes: &'s [u8],
    /// How many they are.
    pub lines: usize,
}

impl<'s> Stretch<'s> {
    fn of(bytes: &'s [u8], end: u8) -> Self {
        let open = bytes.last().is_some_and(|last| *last != end);
        Self {
            bytes,
            lines: memchr::memchr_iter(end, bytes).count() + usize::from(open),
        }
    }

    /// True where all bytes are ASCII and none is zero.
    pub fn is_plain(&self) -> bool {
        self.bytes.is_ascii() && memchr::memchr(0, self.bytes).is_none()
    }
}

impl Body<'_> {
    fn len(&self) -> u64 {
        match self {
            Self::Memory(bytes) => bytes.len() as u64,
            Self::Disk { from, to, .. } => to.saturating_sub(*from),
        }
    }

    /// The same body, ending at a byte of the file.
    pub fn up_to(self, end: u64) -> Self {
        match self {
            Self::Disk { file, from, to } => Self::Disk {
                file,
                from,
                to: to.min(end),
            },
            memory @ Self::Memory(_) => memory,
        }
    }

    /// Lines of the whole body; `None` where it cannot be read.
    pub fn lines_in_all(&self, end: u8) -> Option<u64> {
        let mut buffer = Vec::new();
        (0..self.stretches())
            .map(|at| Some(self.stretch(at, end, &mut buffer).ok()?.lines as u64))
            .sum()
    }

    /// A number of lines that the body hardly exceeds, from a few of its stretches; `None` where it cannot be read.
    pub fn lines_at_most(&self, end: u8) -> Option<u64> {
        let (mut buffer, mut most) = (Vec::new(), 0.0_f64);
        let (mut lines, mut bytes) = (0.0, 0.0);
        let count = self.stretches();
        for at in (0..count).step_by((count / LOOKED_AT).max(1)) {
            let stretch = self.stretch(at, end, &mut buffer).ok()?;
            if !stretch.bytes.is_empty() {
                let (here, size) = (stretch.lines as f64, stretch.bytes.len() as f64);
                most = most.max(here / size);
                lines += here;
                bytes += size;
            }
        }
        if most * bytes > UNEVEN * lines {
            return self.lines_in_all(end);
        }
        Some((ROOM * most * self.len() as f64) as u64 + 1)
    }

    /// Number of stretches.
    pub fn stretches(&self) -> usize {
        self.len().div_ceil(STRETCH) as usize
    }

    /// Puts bytes `from..to` of a file into a buffer, as far as there are so many.
    fn load(&self, from: u64, to: u64, buffer: &mut Vec<u8>) -> std::io::Result<()> {
        let Self::Disk {
            file, from: base, ..
        } = self
        else {
            return Ok(());
        };
        buffer.resize(to.min(self.len()).saturating_sub(from) as usize, 0);
        read_exact_at(file, buffer, base + from)
    }

    /// The same bytes, in memory or in the buffer.
    fn loaded<'s>(&'s self, from: u64, to: u64, buffer: &'s [u8]) -> &'s [u8] {
        match self {
            Self::Memory(bytes) => {
                let to = to.min(self.len()) as usize;
                bytes.get(from as usize..to).unwrap_or_default()
            }
            Self::Disk { .. } => buffer,
        }
    }

    /// The lines that begin in a stretch; none where no line begins in it. A line of a file that is too long for a table
    /// is handed out cut.
    ///
    /// # Errors
    /// That of the disk.
    pub fn stretch<'s>(
        &'s self,
        stretch: usize,
        end: u8,
        buffer: &'s mut Vec<u8>,
    ) -> std::io::Result<Stretch<'s>> {
        let start = stretch as u64 * STRETCH;
        let before = start.saturating_sub(1);
        // The last line may reach into what follows.
        let mut reach = match self {
            Self::Memory(_) => self.len(),
            Self::Disk { .. } => start + STRETCH + SHORT_LINE,
        };
        self.load(before, reach, buffer)?;
        let own = |bytes: &[u8]| (start + STRETCH - before).min(bytes.len() as u64) as usize;
        let short = self.loaded(before, reach, buffer);
        let first = if stretch == 0 {
            Some(0)
        } else {
            memchr::memchr(end, &short[..own(short).saturating_sub(1)]).map(|at| at + 1)
        };
        // Asked first, so that the rest of a long line is not looked through again and again.
        let Some(first) = first else {
            return Ok(Stretch::default());
        };
        if last_end(short, own(short), end).is_none() && reach < self.len() {
            reach = start + STRETCH + LONGEST_LINE as u64 + 1;
            self.load(before, reach, buffer)?;
        }
        let bytes = self.loaded(before, reach, buffer);
        let stop = last_end(bytes, own(bytes), end).map_or(bytes.len(), |at| at + 1);
        Ok(Stretch::of(bytes.get(first..stop).unwrap_or_default(), end))
    }
}

/// Lines are rarely longer than this, bytes: so much is read beyond a stretch to end its last line.
const SHORT_LINE: u64 = 4096;

/// The end of the line that the last byte of the first `own` bytes belongs to.
fn last_end(bytes: &[u8], own: usize, end: u8) -> Option<usize> {
    let last = own.checked_sub(1)?;
    memchr::memchr(end, bytes.get(last..)?).map(|at| last + at)
}

/// A file read from its start, whatever else reads in it.
pub(super) struct FromStart<'f> {
    file: &'f File,
    at: u64,
    size: u64,
}

impl<'f> FromStart<'f> {
    /// The first `size` bytes of a file.
    pub fn of(file: &'f File, size: u64) -> Self {
        Self { file, at: 0, size }
    }
}

impl std::io::Read for FromStart<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let left = usize::try_from(self.size - self.at).unwrap_or(usize::MAX);
        let length = buffer.len().min(left);
        read_exact_at(self.file, &mut buffer[..length], self.at)?;
        self.at += length as u64;
        Ok(length)
    }
}

/// Fills a buffer from a place of a file, without moving anybody else's place in it.
#[cfg(unix)]
fn read_exact_at(file: &File, buffer: &mut [u8], at: u64) -> std::io::Result<()> {
    std::os::unix::fs::FileExt::read_exact_at(file, buffer, at)
}

/// Fills a buffer from a place of a file.
#[cfg(windows)]
fn read_exact_at(file: &File, mut buffer: &mut [u8], mut at: u64) -> std::io::Result<()> {
    while !buffer.is_empty() {
        let read = std::os::windows::fs::FileExt::seek_read(file, buffer, at)?;
        if read == 0 {
            return Err(std::io::ErrorKind::UnexpectedEof.into());
        }
        buffer = &mut std::mem::take(&mut buffer)[read..];
        at += read as u64;
    }
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use super::*;
    use std::io::Write;

    /// Lines of a body, stretch by stretch, with the counts of each.
    fn stretches(body: &Body<'_>) -> (Vec<usize>, Vec<u8>) {
        let mut buffer = Vec::new();
        let (mut counts, mut all) = (Vec::new(), Vec::new());
        for at in 0..body.stretches() {
            let stretch = body.stretch(at, b'\n', &mut buffer).unwrap();
            counts.push(stretch.lines);
            all.extend(stretch.bytes);
        }
        assert_eq!(
            body.lines_in_all(b'\n'),
            Some(counts.iter().sum::<usize>() as u64)
        );
        (counts, all)
    }

    #[test]
    fn stretches_hold_every_line_once() {
        let size = STRETCH as usize;
        for (text, count) in [
            (b"a\nbb\nccc".to_vec(), 3),
            (b"x\n".repeat(size), size),
            (b"abc\n".repeat(size), size),
            // A line end on the last byte of a stretch, and on the first of the next.
            ([vec![b'a'; size - 1], b"\nb\n".to_vec()].concat(), 2),
            ([vec![b'a'; size], b"\nb".to_vec()].concat(), 2),
            (
                [b"1\n".to_vec(), vec![b'a'; 2 * size], b"\n2\n".to_vec()].concat(),
                3,
            ),
        ] {
            let (counts, all) = stretches(&Body::Memory(&text));
            assert_eq!(counts.iter().sum::<usize>(), count);
            let mut file = tempfile::tempfile().unwrap();
            file.write_all(b"head").unwrap();
            file.write_all(&text).unwrap();
            let disk = Body::Disk {
                file: &file,
                from: 4,
                to: 4 + text.len() as u64,
            };
            assert_eq!(stretches(&disk).0, counts);
            // A line longer than any table has is handed out cut.
            if text
                .split(|b| *b == b'\n')
                .all(|line| line.len() <= LONGEST_LINE)
            {
                assert!(all == text && stretches(&disk).1 == text);
            }
        }
    }
}
