//! The rows of a file as bytes, handed out in stretches of whole lines: from memory, or from a file too large to be held.

use super::split::LONGEST_LINE;
use std::fs::File;

/// Bytes of a stretch: small enough to stay near the processor, large enough that starting one costs nothing.
pub(super) const STRETCH: u64 = 1 << 20;

/// Where the rows are.
pub(super) enum Body<'b> {
    /// In memory.
    Memory(&'b [u8]),
    /// In a file, from a byte up to another.
    Disk { file: &'b File, from: u64, to: u64 },
}

/// What a first look at a stretch tells.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Look {
    /// Lines that begin in it.
    pub lines: usize,
    /// True where all bytes are ASCII and none is zero.
    pub plain: bool,
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
            .map(|at| Some(self.look(at, end, &mut buffer).ok()?.lines as u64))
            .sum()
    }

    /// Number of stretches.
    pub fn stretches(&self) -> usize {
        self.len().div_ceil(STRETCH) as usize
    }

    /// Bytes `from..to` of the body, as far as there are so many; `buffer` holds them where they come from a file.
    fn bytes<'s>(
        &'s self,
        from: u64,
        to: u64,
        buffer: &'s mut Vec<u8>,
    ) -> std::io::Result<&'s [u8]> {
        let to = to.min(self.len());
        let from = from.min(to);
        match self {
            Self::Memory(bytes) => Ok(bytes.get(from as usize..to as usize).unwrap_or_default()),
            Self::Disk {
                file, from: base, ..
            } => {
                buffer.resize((to - from) as usize, 0);
                read_exact_at(file, buffer, base + from)?;
                Ok(buffer)
            }
        }
    }

    /// A first look at a stretch.
    ///
    /// # Errors
    /// That of the disk.
    pub fn look(&self, stretch: usize, end: u8, buffer: &mut Vec<u8>) -> std::io::Result<Look> {
        let start = stretch as u64 * STRETCH;
        // A line begins behind every line end but the last of the file, and at the very start.
        let bytes = self.bytes(start.saturating_sub(1), start + STRETCH, buffer)?;
        let before_last = &bytes[..bytes.len().saturating_sub(1)];
        Ok(Look {
            lines: memchr::memchr_iter(end, before_last).count() + usize::from(stretch == 0),
            plain: bytes.is_ascii() && memchr::memchr(0, bytes).is_none(),
        })
    }

    /// Gives the lines that begin in a stretch, whole, to `then`; none where no line begins in it. `Err` holds the length of a line that is
    /// too long for a table.
    ///
    /// # Errors
    /// That of the disk.
    pub fn lines<T>(
        &self,
        stretch: usize,
        end: u8,
        buffer: &mut Vec<u8>,
        then: impl FnOnce(&[u8]) -> T,
    ) -> std::io::Result<Option<T>> {
        let start = stretch as u64 * STRETCH;
        let before = start.saturating_sub(1);
        // The last line may reach into what follows.
        let reach = match self {
            Self::Memory(_) => self.len(),
            Self::Disk { .. } => start + STRETCH + SHORT_LINE,
        };
        let mut bytes = self.bytes(before, reach, buffer)?;
        let own = (start + STRETCH - before).min(bytes.len() as u64) as usize;
        let mut last = last_end(bytes, own, end);
        if last.is_none() && before + (bytes.len() as u64) < self.len() {
            bytes = self.bytes(before, start + STRETCH + LONGEST_LINE as u64 + 1, buffer)?;
            last = last_end(bytes, own, end);
        }
        let first = if stretch == 0 {
            Some(0)
        } else {
            memchr::memchr(end, &bytes[..own.saturating_sub(1).min(bytes.len())]).map(|at| at + 1)
        };
        let Some(first) = first else {
            return Ok(None);
        };
        let stop = last.map_or(bytes.len(), |at| at + 1);
        Ok(bytes
            .get(first..stop)
            .filter(|lines| !lines.is_empty())
            .map(then))
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

    /// Lines of a body, stretch by stretch, with the counts of the first look.
    fn stretches(body: &Body<'_>) -> (Vec<usize>, Vec<u8>) {
        let mut buffer = Vec::new();
        let (mut counts, mut all) = (Vec::new(), Vec::new());
        for stretch in 0..body.stretches() {
            let look = body.look(stretch, b'\n', &mut buffer).unwrap();
            let lines = body
                .lines(stretch, b'\n', &mut buffer, <[u8]>::to_vec)
                .unwrap()
                .unwrap_or_default();
            let ends = memchr::memchr_iter(b'\n', &lines).count();
            let open = usize::from(lines.last().is_some_and(|b| *b != b'\n'));
            assert_eq!(ends + open, look.lines, "stretch {stretch}");
            counts.push(look.lines);
            all.extend(lines);
        }
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
