//! What the fuzz targets share: rigs, and what must hold whatever the bytes were.

mod checks;
mod rigs;
mod workbook;

pub use checks::{check_findings, check_inside, check_recording, check_trace};
pub use rigs::rigs;
pub use workbook::wrapped;

use hooptrace::read::tables_from_bytes;
use hooptrace::recording::RunRow;

/// How messages name the file under test.
pub const FILE: &str = "traces/x.csv";

/// A run with nothing but a name.
///
/// # Panics
/// Where a sound table is not read.
pub fn run() -> RunRow {
    let table = b"run_id,kind,trace\nx,frame,traces/x.csv\n".to_vec();
    let (tables, ..) = tables_from_bytes(&[("runs.csv".to_owned(), table)], None).unwrap();
    tables.runs.into_iter().next().unwrap()
}
