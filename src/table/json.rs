//! `results.json`.

use crate::recording::Analysis;

/// The analysis as JSON with two blanks of indent and a line end: the same bytes for the same results.
///
/// # Errors
///
/// The serialiser's error; none is expected, as every field is plain data.
pub fn results_json(analysis: &Analysis) -> Result<Vec<u8>, serde_json::Error> {
    let mut bytes = serde_json::to_vec_pretty(analysis)?;
    bytes.push(b'\n');
    Ok(bytes)
}
