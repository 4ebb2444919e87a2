//! Plain numbers straight from bytes, eight digits at a time: the inner loop of reading.
//!
//! A cell of digits with at most one decimal mark and a minus sign is turned into a whole number and a count of decimals without
//! a loop over its characters; a whole number below 2^53 divided by an exact power of ten rounds once, so the result is the nearest
//! double (W. D. Clinger, How to read floating point numbers accurately, 1990). Whatever else a cell holds is left to
//! [`super::number`].

// The loop over cells is only as fast as these few steps are together in it.
#![allow(clippy::inline_always)]

/// Powers of ten that are exact in binary floating point and that 16 digits can need.
const POWERS: [f64; 17] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
];
/// Bytes looked at at once: the longest cell with its end.
const WINDOW: usize = 16;
/// A whole number up to here is exact in binary floating point.
const EXACT: u64 = 1 << 53;

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
        // As a signed number the processor converts in one step; it is at most 2^53.
        let size = self.whole.cast_signed() as f64 / POWERS[self.decimals & 15];
        if self.negative { -size } else { size }
    }

    /// The part before the decimal mark and the fraction behind it, each with the sign.
    pub fn parts(self) -> (i64, f64) {
        let ten = POWERS[self.decimals & 15];
        let (whole, rest) = (self.whole / ten as u64, self.whole % ten as u64);
        let (whole, fraction) = (whole.cast_signed(), rest as f64 / ten);
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
    delimiter: u64,
    decimal: u64,
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
        Some(Self {
            delimiter: every(delimiter),
            // Digits are compared after the code of zero is taken off.
            decimal: every(decimal ^ b'0'),
        })
    }

    /// The delimiter.
    pub fn delimiter(self) -> u8 {
        self.delimiter as u8
    }

    /// Reads the cell that begins at `at` and says where it ends: at a delimiter or a line end. `None` where it is no plain number of at
    /// most 15 characters, or too near to the end of the bytes.
    #[inline(always)]
    pub fn read(self, bytes: &[u8], mut at: usize) -> Option<(Plain, usize)> {
        let mut window = load(bytes, at)?;
        while window as u8 == b' ' {
            at += 1;
            window = load(bytes, at)?;
        }
        let length = self.length(window)?;
        let negative = window as u8 == b'-';
        let sign = usize::from(negative);
        let digits = length.checked_sub(sign + 1)? + 1;
        let (whole, decimals) = if digits <= 8 {
            self.short((window >> (8 * sign)) as u64, digits)?
        } else {
            self.long(window >> (8 * sign), digits)?
        };
        let plain = Plain {
            whole,
            decimals,
            negative,
        };
        Some((plain, at + length))
    }

    /// Characters before the first delimiter or line end.
    #[inline(always)]
    fn length(self, window: u128) -> Option<usize> {
        let ends = |part: u64| {
            zeros(part ^ self.delimiter) | zeros(part ^ every(b'\n')) | zeros(part ^ every(b'\r'))
        };
        let low = ends(window as u64);
        if low != 0 {
            return Some(low.trailing_zeros() as usize / 8);
        }
        let high = ends((window >> 64) as u64);
        (high != 0).then(|| 8 + high.trailing_zeros() as usize / 8)
    }

    /// One to eight characters: the whole number and its decimals.
    #[inline(always)]
    fn short(self, characters: u64, count: usize) -> Option<(u64, usize)> {
        // Right-aligned, so that what is left of the number counts as zeros.
        let digits = (characters ^ every(b'0')) << (8 * (8 - count));
        let mark = zeros(digits ^ self.decimal);
        if mark == 0 {
            return all_digits(digits).then(|| (eight(digits), 0));
        }
        let place = mark.trailing_zeros() as usize / 8;
        let digits = closed(digits, place);
        (count > 1 && all_digits(digits)).then(|| (eight(digits), 7 - place))
    }

    /// Nine to sixteen characters.
    #[inline(always)]
    fn long(self, characters: u128, count: usize) -> Option<(u64, usize)> {
        let zero = u128::from(every(b'0'));
        let digits = (characters ^ (zero << 64 | zero)) << (8 * (16 - count));
        let (mut front, mut back) = (digits as u64, (digits >> 64) as u64);
        let (in_front, in_back) = (zeros(front ^ self.decimal), zeros(back ^ self.decimal));
        let mut decimals = 0;
        if in_front != 0 {
            let place = in_front.trailing_zeros() as usize / 8;
            front = closed(front, place);
            decimals = 15 - place;
        } else if in_back != 0 {
            let place = in_back.trailing_zeros() as usize / 8;
            back = closed(back, place) | front >> 56;
            front <<= 8;
            decimals = 7 - place;
        }
        if !all_digits(front) || !all_digits(back) {
            return None;
        }
        let whole = eight(front) * 100_000_000 + eight(back);
        (whole <= EXACT).then_some((whole, decimals))
    }
}

/// Sixteen bytes, the first in the lowest place.
#[inline(always)]
fn load(bytes: &[u8], at: usize) -> Option<u128> {
    let window: [u8; WINDOW] = bytes.get(at..at + WINDOW)?.try_into().ok()?;
    Some(u128::from_le_bytes(window))
}

/// A byte in all eight places.
const fn every(byte: u8) -> u64 {
    byte as u64 * 0x0101_0101_0101_0101
}

/// The top bit of the lowest byte that is zero; bits above it mean nothing.
#[inline(always)]
fn zeros(bytes: u64) -> u64 {
    bytes.wrapping_sub(every(1)) & !bytes & every(0x80)
}

/// True if every byte is 0 to 9.
#[inline(always)]
fn all_digits(digits: u64) -> bool {
    (digits.wrapping_add(every(0x76)) | digits) & every(0x80) == 0
}

/// The bytes before a place moved up by one, over that place.
#[inline(always)]
fn closed(digits: u64, place: usize) -> u64 {
    let from = u64::MAX << (8 * place);
    digits & (from << 8) | (digits & !from) << 8
}

/// Eight decimal digits, the first in the lowest byte, as a number: pairs, then fours, then all.
#[inline(always)]
fn eight(digits: u64) -> u64 {
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8) & 0x00ff_00ff_00ff_00ff;
    let fours = pairs.wrapping_mul(100).wrapping_add(pairs >> 16) & 0x0000_ffff_0000_ffff;
    fours.wrapping_mul(10_000).wrapping_add(fours >> 32) & 0xffff_ffff
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic)]
mod tests {
    use super::*;

    fn read(cell: &str) -> Option<f64> {
        let cells = PlainCells::new(',', '.').unwrap();
        let bytes = format!("{cell},{}", "x".repeat(20));
        let (plain, end) = cells.read(bytes.as_bytes(), 0)?;
        assert_eq!(end, cell.len());
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
            if text.len() > 15 || text == "." || text == "-." {
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
            "123456789.1234567",
        ] {
            let cells = PlainCells::new(';', '.').unwrap();
            let bytes = format!("{cell};{}", "x".repeat(20));
            assert_eq!(cells.read(bytes.as_bytes(), 0), None, "{cell}");
        }
        assert!(PlainCells::new('\u{1f}', '.').is_some());
        assert!(PlainCells::new(',', ',').is_none());
        assert!(PlainCells::new('µ', '.').is_none());
    }

    #[test]
    fn large_numbers_come_apart_exactly() {
        let cells = PlainCells::new(';', ',').unwrap();
        let (plain, end) = cells.read(b"-170000000,0625;................", 0).unwrap();
        assert_eq!((plain.parts(), end), ((-170_000_000, -0.0625), 15));
    }
}
