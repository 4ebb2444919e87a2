//! Recordings with a declared dialect: the reader must agree with the slow clear judge to the last bit.
//!
//! The first four bytes choose dialect, columns, way and length; the rest is the text itself, or each byte stands for a piece of a table.
#![no_main]

#[path = "../../reading/judge.rs"]
mod judge;
#[path = "../../reading/verdict.rs"]
mod verdict;

use hooptrace::rig::{Rig, rig_from_text};
use judge::Dialect;
use libfuzzer_sys::fuzz_target;
use verdict::compare;

/// Pieces of tables; `{}` stands for the delimiter and the point for the decimal mark.
const PIECES: &[&str] = &[
    "{}",
    "{}",
    "{}",
    "{}",
    "\n",
    "\n",
    "\n",
    "\r\n",
    "\r",
    "0",
    "1",
    "2",
    "5",
    "9",
    "12",
    "99",
    "007",
    "1234567890",
    "1700000000.5",
    "9007199254740993",
    "123456789012345678901",
    ".",
    ".",
    ".",
    "-",
    "+",
    "e",
    "E",
    "e-5",
    "e400",
    " ",
    " ",
    "\t",
    "\u{a0}",
    "\u{2212}",
    "\"",
    "\"",
    "\"\"",
    "#",
    "//",
    "NaN",
    "OVL",
    "-inf",
    "no data",
    "---",
    "#NUM!",
    "text",
    "time{}p{}v\n",
    "s{}kPa{}mL\n",
    "0.01{}0.5{}0.25\n",
    "0.02{}-1.5{}0.5{}7\n",
    "1.25{}3.125\n",
    "\n1.5{}2.5{}",
    "# remark\n",
    "1.000.000",
    "0.1",
    "0.30000000000000004",
    "2.2250738585072011e-308",
    "\"1.5\"",
    "5e-324",
    ".5",
    "5.",
    "x",
    "\u{e9}",
];
/// Bytes up to which a text is repeated now and then, so that it is longer than the stretch a reader takes at once (1 MiB).
const LONG: usize = 9 << 17;

fn dialect(about: [u8; 3]) -> Dialect {
    let [marks, layout, columns] = about;
    let decimal = if marks & 4 == 0 { '.' } else { ',' };
    let delimiter = [',', ';', '\t', '|'][usize::from(marks & 3)];
    Dialect {
        delimiter: if delimiter == decimal { ';' } else { delimiter },
        decimal,
        comment: [None, Some("#"), Some("//"), None][usize::from(marks >> 3 & 3)],
        skip_lines: usize::from(layout & 3),
        header_rows: usize::from(layout >> 2 & 3).min(2),
        time_column: [Some(0), Some(0), Some(1), None][usize::from(layout >> 4 & 3)],
        channels: match columns & 3 {
            0 => vec![1],
            1 => vec![1, 2],
            2 => vec![2, 1, 3],
            _ => (0..=usize::from(columns >> 2 & 3)).rev().collect(),
        },
    }
}

fuzz_target!(|data: &[u8]| {
    let Some(([marks, layout, columns, way], text)) = data.split_first_chunk::<4>() else {
        return;
    };
    let dialect = dialect([*marks, *layout, *columns]);
    let mut bytes = if way & 1 == 0 {
        text.to_vec()
    } else {
        let pieces: String = text
            .iter()
            .map(|byte| PIECES[usize::from(*byte) % PIECES.len()])
            .collect();
        pieces
            .replace('.', &dialect.decimal.to_string())
            .replace("{}", &dialect.delimiter.to_string())
            .into_bytes()
    };
    if *way >= 0xfe && !bytes.is_empty() {
        bytes = bytes.repeat(LONG / bytes.len() + 1);
    }
    let rig: Rig = match rig_from_text(&dialect.rig(), "rig.toml") {
        Ok((rig, _)) => rig,
        Err(findings) => panic!("{findings:?}"),
    };
    compare(&dialect, &rig, &bytes);
});
