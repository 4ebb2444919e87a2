//! Workbooks of the old kind (XLS): how many cells their sheets ask for, before memory is asked for.
//!
//! Records after MS-XLS, Excel Binary File Format (.xls) Structure, section 2.3; each has a type, a length and so many bytes.

use super::compound::Compound;

/// Beginning of a part of the workbook, and its end.
const BOF: u16 = 0x0809;
const EOF: u16 = 0x000a;
/// Where a sheet begins.
const BOUND_SHEET: u16 = 0x0085;
/// First and last row and column of a sheet.
const DIMENSIONS: u16 = 0x0200;
/// Several numbers side by side; the last column stands at the end.
const MUL_RK: u16 = 0x00bd;
/// Records of one cell: formula, number, label, rich string, truth or error, packed number, shared string.
const CELLS: &[u16] = &[0x0006, 0x0203, 0x0204, 0x00d6, 0x0205, 0x027e, 0x00fd];

/// Cells of the areas that the sheets of a workbook span, all together, or the records of cells if there are more of them.
/// `None` for a file whose parts do not hang together.
pub(super) fn cells(bytes: &[u8]) -> Option<u64> {
    let file = Compound::new(bytes)?;
    let mut sum = 0_u64;
    for stream in file.streams(bytes, &["Workbook", "Book"])? {
        for sheet in records(&stream)
            .take_while(|(kind, _)| *kind != EOF)
            .filter(|(kind, _)| *kind == BOUND_SHEET)
        {
            let at = sheet.1.get(..4)?.try_into().ok().map(u32::from_le_bytes)?;
            sum = sum.saturating_add(sheet_cells(stream.get(at as usize..)?));
        }
    }
    Some(sum)
}

/// Records: type and bytes.
fn records(stream: &[u8]) -> impl Iterator<Item = (u16, &[u8])> {
    let mut rest = stream;
    std::iter::from_fn(move || {
        let kind = short(rest, 0)?;
        let length = usize::from(short(rest, 2)?);
        let data = rest.get(4..4 + length)?;
        rest = &rest[4 + length..];
        Some((kind, data))
    })
}

fn short(bytes: &[u8], at: usize) -> Option<u16> {
    let field = bytes.get(at..at + 2)?;
    field.try_into().ok().map(u16::from_le_bytes)
}

fn sheet_cells(sheet: &[u8]) -> u64 {
    let (mut low, mut high) = ((u64::MAX, u64::MAX), (0, 0));
    let (mut count, mut stated, mut depth) = (0_u64, 0_u64, 0_u32);
    for (kind, data) in records(sheet) {
        match kind {
            BOF => depth += 1,
            EOF if depth <= 1 => break,
            EOF => depth -= 1,
            DIMENSIONS => stated = stated.saturating_add(dimensions(data)),
            kind if kind == MUL_RK || CELLS.contains(&kind) => {
                let (Some(row), Some(column)) = (short(data, 0), short(data, 2)) else {
                    continue;
                };
                let last = match kind {
                    MUL_RK => short(data, data.len().saturating_sub(2)).unwrap_or(column),
                    _ => column,
                };
                count += 1 + u64::from(last.saturating_sub(column));
                low = (low.0.min(row.into()), low.1.min(column.into()));
                high = (high.0.max(row.into()), high.1.max(column.max(last).into()));
            }
            _ => {}
        }
    }
    let span = |low: u64, high: u64| (high + 1).saturating_sub(low);
    count
        .max(span(low.0, high.0).saturating_mul(span(low.1, high.1)))
        .max(stated)
}

/// Cells of the area a sheet says it has: rows as two or four bytes each. Nonsense counts as too many.
fn dimensions(data: &[u8]) -> u64 {
    let long = |at: usize| {
        let field = data.get(at..at + 4)?;
        field.try_into().ok().map(u32::from_le_bytes).map(u64::from)
    };
    let short = |at: usize| short(data, at).map(u64::from);
    let (rows, columns) = if data.len() == 10 {
        (short(0).zip(short(2)), short(4).zip(short(6)))
    } else {
        (long(0).zip(long(4)), short(8).zip(short(10)))
    };
    match (rows, columns) {
        (Some((_, 0)), _) | (_, Some((_, 0))) => 1,
        (Some((first, end)), Some((_, columns))) if first < end => (end - first) * columns,
        (Some(_), Some(_)) => u64::MAX,
        // Too short to be read at all.
        _ => 0,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::super::compound::tests::compound;
    use super::*;

    fn record(kind: u16, data: &[u8]) -> Vec<u8> {
        let length = u16::try_from(data.len()).unwrap();
        [&kind.to_le_bytes(), &length.to_le_bytes(), data].concat()
    }

    /// A workbook of one sheet with these records.
    fn book(records: &[Vec<u8>]) -> Vec<u8> {
        let globals = record(BOF, &[0; 16]);
        let at = globals.len() as u32 + 12 + 4 + 4;
        let sheet = record(
            BOUND_SHEET,
            &[&at.to_le_bytes()[..], &[0, 0, 4, 0, b'r', b'u', b'n', b's']].concat(),
        );
        let end = record(EOF, &[]);
        let body = records.concat();
        compound(
            &[
                globals,
                sheet,
                end.clone(),
                record(BOF, &[0; 16]),
                body,
                end,
            ]
            .concat(),
        )
    }

    fn cell(row: u16, column: u16) -> Vec<u8> {
        let place = [row.to_le_bytes(), column.to_le_bytes()].concat();
        record(0x0203, &[place, vec![0; 10]].concat())
    }

    #[test]
    fn the_area_is_known_before_it_is_asked_for() {
        assert_eq!(cells(&book(&[])), Some(0));
        assert_eq!(cells(&book(&[cell(0, 0), cell(9, 3)])), Some(40));
        assert_eq!(
            cells(&book(&[cell(0, 0), cell(65_535, 65_535)])),
            Some(1 << 32)
        );
        // The same cell again and again spans little, but every one is kept.
        assert_eq!(cells(&book(&vec![cell(3, 3); 30])), Some(30));
    }

    #[test]
    fn what_a_sheet_says_of_itself_counts() {
        let stated = |rows: (u32, u32), columns: (u16, u16)| {
            let mut data = [rows.0.to_le_bytes(), rows.1.to_le_bytes()].concat();
            data.extend([columns.0.to_le_bytes(), columns.1.to_le_bytes()].concat());
            data.extend([0, 0]);
            cells(&book(&[record(DIMENSIONS, &data), cell(0, 0)]))
        };
        assert_eq!(stated((0, 100), (0, 4)), Some(400));
        assert_eq!(stated((0, 0), (0, 0)), Some(1));
        assert_eq!(
            stated((0, u32::MAX), (0, 256)),
            Some(u64::from(u32::MAX) * 256)
        );
        assert_eq!(stated((9, 3), (0, 4)), Some(u64::MAX));
    }
}
