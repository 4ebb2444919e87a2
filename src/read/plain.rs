//! Plain numbers straight from bytes: the inner loop of reading.
//!
//! One comparison of 64 bytes tells where the digits of a row end; a cell of digits with at most one decimal mark and a minus sign is
//! then turned into a whole number and a count of decimals eight digits at a time. A whole number below 2^53 divided by an exact power
//! of ten rounds once, so the result is the nearest double (W. D. Clinger, How to read floating point numbers accurately, 1990).
//! Whatever else a cell holds is left to [`super::number`].

// The loop over cells is only as fast as these few steps are together in it.
#![allow(clippy::inline_always)]

use wide::i8x16;

/// Digits of which every whole number fits 64 bits with room to spare; more are left alone.
const MOST_DIGITS: usize = 16;
/// Powers of ten as whole numbers.
const TENS: [u64; MOST_DIGITS] = {
    let mut tens = [1; MOST_DIGITS];
    let mut exponent = 1;
    while exponent < MOST_DIGITS {
        tens[exponent] = tens[exponent - 1] * 10;
        exponent += 1;
    }
    tens
};
/// The same with both signs; all are exact in binary floating point.
const DIVISORS: [[f64; 2]; MOST_DIGITS] = {
    let mut divisors = [[0.0; 2]; MOST_DIGITS];
    let mut decimals = 0;
    while decimals < MOST_DIGITS {
        divisors[decimals] = [TENS[decimals] as f64, -(TENS[decimals] as f64)];
        decimals += 1;
    }
    divisors
};
/// Bytes looked at together.
const BLOCK: usize = 64;
/// Bytes compared at once.
const LANES: usize = 16;
/// Digits turned into a number at once.
const WORD: usize = 8;
/// A whole number up to here is exact in binary floating point.
const EXACT: u64 = 1 << 53;
/// The last so many bytes of a word.
const LAST: [u64; WORD + 1] = {
    let mut masks = [0; WORD + 1];
    let mut count = 1;
    while count <= WORD {
        masks[count] = u64::MAX << (8 * (WORD - count));
        count += 1;
    }
    masks
};
/// The bytes of a word that stand before the decimal mark, if so many decimals follow it.
const BEFORE: [u64; WORD] = {
    let mut masks = [0; WORD];
    let mut decimals = 0;
    while decimals < WORD - 1 {
        masks[decimals] = u64::MAX >> (8 * (decimals + 1));
        decimals += 1;
    }
    masks
};

/// A number as written: `whole` / 10^`decimals`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Plain {
    /// All digits as one whole number, at most 2^53.
    pub whole: u64,
    /// Digits behind the decimal mark, at most 15.
    pub decimals: usize,
    /// True with a minus sign.
    pub negative: bool,
}

impl Plain {
    /// The nearest double.
    #[inline]
    pub fn value(self) -> f64 {
        // As a signed number the processor converts in one step; it is at most 2^53. Signs of noise are as good as random, and a branch
        // would often be guessed wrongly: the divisor has the sign.
        self.whole.cast_signed() as f64
            / DIVISORS[self.decimals % MOST_DIGITS][usize::from(self.negative)]
    }

    /// The part before the decimal mark and the fraction behind it, each with the sign.
    pub fn parts(self) -> (i64, f64) {
        let ten = TENS[self.decimals % MOST_DIGITS];
        let (whole, rest) = (self.whole / ten, self.whole % ten);
        let (whole, fraction) = (whole.cast_signed(), rest as f64 / ten as f64);
        if self.negative {
            (-whole, -fraction)
        } else {
            (whole, fraction)
        }
    }
}

/// Finds and reads cells of one dialect.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PlainCells {
    delimiter: u8,
    decimal: u8,
}

/// The bytes of a row that end digits, being neither digit nor minus sign, as far as they are not passed yet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ends {
    /// First byte of the block.
    base: usize,
    /// A bit for each byte of the block.
    bits: u64,
}

impl Ends {
    /// The ends from a byte on; `None` where the bytes end too soon after it.
    #[inline(always)]
    pub fn from(bytes: &[u8], base: usize) -> Option<Self> {
        let block = bytes.get(base..base + BLOCK)?;
        let mut bits = 0;
        for (at, lanes) in block.chunks_exact(LANES).enumerate() {
            let lanes: [u8; LANES] = lanes.try_into().ok()?;
            let lanes = i8x16::from(lanes.map(u8::cast_signed));
            // Moved up so that the digits, and they alone, are the ten largest signed numbers.
            let moved = lanes + i8x16::splat(i8::MAX - b'9'.cast_signed());
            let number = moved.simd_gt(i8x16::splat(i8::MAX - 10))
                | lanes.simd_eq(i8x16::splat(b'-'.cast_signed()));
            bits |= u64::from(number.to_bitmask() & 0xffff) << (at * LANES);
        }
        Some(Self { base, bits: !bits })
    }

    /// The next end.
    #[inline(always)]
    fn next(&mut self, bytes: &[u8]) -> Option<usize> {
        while self.bits == 0 {
            *self = Self::from(bytes, self.base + BLOCK)?;
        }
        let at = self.base + self.bits.trailing_zeros() as usize;
        self.bits &= self.bits - 1;
        Some(at)
    }
}

impl PlainCells {
    /// Cells parted by `delimiter`, with this decimal mark; `None` where one is not a single byte or is part of a number.
    pub fn new(delimiter: char, decimal: char) -> Option<Self> {
        let plain = |mark: char| u8::try_from(mark).ok().filter(u8::is_ascii);
        let (delimiter, decimal) = (plain(delimiter)?, plain(decimal)?);
        let clash =
            |mark: u8| mark.is_ascii_digit() || matches!(mark, b'-' | b'\n' | b'\r' | b'"' | b' ');
        if clash(delimiter) || clash(decimal) || delimiter == decimal {
            return None;
        }
        Some(Self { delimiter, decimal })
    }

    /// The delimiter.
    pub fn delimiter(self) -> u8 {
        self.delimiter
    }

    /// Reads the cell that begins at `at`, the first of `ends` not being before it, and says where it ends, which may be at any byte that
    /// is no digit. `None` where it is no plain number of at most [`MOST_DIGITS`] digits, or too near to either end of the bytes.
    #[inline(always)]
    pub fn read(self, bytes: &[u8], ends: &mut Ends, mut at: usize) -> Option<(Plain, usize)> {
        let mut end = ends.next(bytes)?;
        while end == at && *bytes.get(at)? == b' ' {
            at += 1;
            end = ends.next(bytes)?;
        }
        let negative = *bytes.get(at)? == b'-';
        at += usize::from(negative);
        let (whole, decimals) = if *bytes.get(end)? == self.decimal {
            let mark = std::mem::replace(&mut end, ends.next(bytes)?);
            let decimals = end - mark - 1;
            let count = end.checked_sub(at + 2)? + 2;
            let whole = if count <= WORD {
                let word = word(bytes, end, count)?;
                // The digits before the mark move up over it.
                let before = word & BEFORE.get(decimals)?;
                eight(word & LAST.get(decimals)? | before << 8)?
            } else if count <= MOST_DIGITS + 1 {
                let before = digits(bytes, mark, mark.checked_sub(at)?)? * TENS.get(decimals)?;
                exact(before + digits(bytes, end, decimals)?)?
            } else {
                return None;
            };
            (whole, decimals)
        } else {
            let count = end.checked_sub(at + 1)? + 1;
            (exact(digits(bytes, end, count)?)?, 0)
        };
        let plain = Plain {
            whole,
            decimals,
            negative,
        };
        Some((plain, end))
    }
}

/// A whole number that is exact in binary floating point.
#[inline(always)]
fn exact(whole: u64) -> Option<u64> {
    (whole <= EXACT).then_some(whole)
}

/// At most [`MOST_DIGITS`] digits up to `end` as a number.
#[inline(always)]
fn digits(bytes: &[u8], end: usize, count: usize) -> Option<u64> {
    if count <= WORD {
        return eight(word(bytes, end, count)?);
    }
    let front = word(bytes, end - WORD, count - WORD)?;
    Some(eight(front)? * TENS[WORD] + eight(word(bytes, end, WORD)?)?)
}

/// The last `count` of the eight bytes before `end`, less the code of zero; the others are zero.
#[inline(always)]
fn word(bytes: &[u8], end: usize, count: usize) -> Option<u64> {
    let bytes: [u8; WORD] = bytes.get(end.checked_sub(WORD)?..end)?.try_into().ok()?;
    Some((u64::from_le_bytes(bytes) ^ every(b'0')) & LAST.get(count)?)
}

/// A byte in all eight places.
const fn every(byte: u8) -> u64 {
    byte as u64 * 0x0101_0101_0101_0101
}

/// Eight decimal digits, the first in the lowest byte, as a number: pairs, then fours, then all. `None` where one of them is a sign.
#[inline(always)]
fn eight(digits: u64) -> Option<u64> {
    if digits & every(0xf0) != 0 {
        return None;
    }
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8) & 0x00ff_00ff_00ff_00ff;
    let fours = pairs.wrapping_mul(100).wrapping_add(pairs >> 16) & 0x0000_ffff_0000_ffff;
    Some(fours.wrapping_mul(10_000).wrapping_add(fours >> 32) & 0xffff_ffff)
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use super::*;

    /// Bytes before the cells of these tests.
    const START: usize = 16;

    /// Cells with so much before and behind them that they can be read.
    fn among(cells: &str) -> Vec<u8> {
        format!("{}{cells}{}", "7".repeat(START), "x".repeat(3 * BLOCK)).into_bytes()
    }

    fn read(cell: &str) -> Option<f64> {
        let cells = PlainCells::new(',', '.').unwrap();
        let bytes = among(&format!("{cell},"));
        let (plain, end) = cells.read(&bytes, &mut Ends::from(&bytes, START)?, START)?;
        assert_eq!(end, START + cell.len());
        Some(plain.value())
    }

    #[test]
    fn it_reads_what_the_standard_library_reads() {
        let mut state = 11_u64;
        let mut seen = 0;
        for _ in 0..200_000 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let size = state >> (8 + state % 56);
            let text = format!("{size:0width$}", width = (state >> 40) as usize % 6 + 1);
            let mark = (state >> 33) as usize % (text.len() + 2);
            let (before, behind) = text.split_at(mark.min(text.len()));
            let text = if mark > text.len() {
                text.clone()
            } else {
                format!("{before}.{behind}")
            };
            let text = if state & 1 == 0 {
                text
            } else {
                format!("-{text}")
            };
            if behind.len() >= MOST_DIGITS || size > EXACT || text == "." || text == "-." {
                continue;
            }
            seen += 1;
            let number = read(&text).unwrap_or_else(|| panic!("{text}"));
            assert_eq!(
                number.to_bits(),
                text.parse::<f64>().unwrap().to_bits(),
                "{text}"
            );
        }
        assert!(seen > 50_000);
        assert_eq!(read("  1.5"), Some(1.5));
    }

    #[test]
    fn it_leaves_everything_else_alone() {
        for cell in [
            "",
            "-",
            ".",
            "-.",
            "1..2",
            "1.2.3",
            "+5",
            "1e3",
            "abc",
            "12:30",
            "1 2",
            "--1",
            "\"1\"",
            "1,",
            "9007199254740993",
            "123456789.12345678",
            "1-2",
            "12-3.5",
            "1.5-2",
            "-123456-8.5",
            "1234567890-1",
        ] {
            let cells = PlainCells::new(';', '.').unwrap();
            let bytes = among(&format!("{cell};"));
            let mut ends = Ends::from(&bytes, START).unwrap();
            let read = cells.read(&bytes, &mut ends, START);
            assert!(read.is_none_or(|(_, end)| bytes[end] != b';'), "{cell}");
        }
        assert!(PlainCells::new('\u{1f}', '.').is_some());
        assert!(PlainCells::new(',', ',').is_none());
        assert!(PlainCells::new('µ', '.').is_none());
    }

    #[test]
    fn large_numbers_come_apart_exactly() {
        let cells = PlainCells::new(';', ',').unwrap();
        let bytes = among("-170000000,0625;");
        let mut ends = Ends::from(&bytes, START).unwrap();
        let (plain, end) = cells.read(&bytes, &mut ends, START).unwrap();
        assert_eq!((plain.parts(), end), ((-170_000_000, -0.0625), START + 15));
    }
}
