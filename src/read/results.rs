//! `results.json` of an earlier analysis, read back.

use super::bytes::{open, unreadable};
use crate::recording::{Finding, Place, SCHEMA};
use serde_json::Value;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Results larger than this are refused, bytes: a thousand runs have some 40 MB, and parsed they take several times as much memory.
pub const MAX_RESULTS_BYTES: u64 = 128 << 20;
/// Name of the file in an output folder.
const FILE: &str = "results.json";

/// The results in an output folder (or the file itself), as this version writes them.
///
/// # Errors
/// An error finding that names the file: missing, unreadable, larger than [`MAX_RESULTS_BYTES`], no JSON, or of another schema.
pub fn read_results(out: &Path) -> Result<Value, Finding> {
    let path: PathBuf = if out.is_file() {
        out.to_path_buf()
    } else {
        out.join(FILE)
    };
    let shown = path.display().to_string();
    let help =
        "name the folder that was given to `hooptrace analyse STUDY --out`; it holds results.json";
    let mut bytes = Vec::new();
    // One byte more than is taken tells that there is more.
    open(&path, &shown)
        .map_err(|finding| finding.help(help))?
        .take(MAX_RESULTS_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| unreadable(&shown, &error))?;
    if bytes.len() as u64 > MAX_RESULTS_BYTES {
        return Err(Finding::error(
            "results-too-large",
            format!("more than {MAX_RESULTS_BYTES} bytes; results of at most so many are read"),
        )
        .at(Place::file(&shown))
        .help("analyse the study in parts (--only)"));
    }
    results_from_bytes(&bytes, &shown).map_err(|finding| finding.help(help))
}

/// The same of bytes already read; `shown_as` is how messages name the file.
///
/// # Errors
/// As [`read_results`].
pub fn results_from_bytes(bytes: &[u8], shown_as: &str) -> Result<Value, Finding> {
    let value: Value = serde_json::from_slice(bytes).map_err(|error| {
        Finding::error(
            "results-no-json",
            format!("found no JSON ({error}); expected results of the schema \"{SCHEMA}\""),
        )
        .at(Place::cell(
            shown_as,
            error.line() as u64,
            error.column().to_string(),
        ))
    })?;
    let found = match value.get("schema") {
        Some(Value::String(schema)) if schema == SCHEMA => return Ok(value),
        Some(schema) => format!("found the schema {schema}"),
        None => "found JSON without a schema".to_owned(),
    };
    Err(
        Finding::error("results-schema", format!("{found}; expected \"{SCHEMA}\""))
            .at(Place::file(shown_as)),
    )
}
