//! Reading files of any dialect: recordings, and the tables of a study.
//!
//! A file is opened by one of [`FORMATS`] as text with cells, its layout is taken from the rig or sniffed, its columns are found,
//! and its rows become numbers. Every number can be traced to its line.

// A finding is large, and an error is rare: a box around each would only blur the code.
#![allow(clippy::result_large_err)]

mod assemble;
mod biff;
mod blocks;
mod body;
mod bytes;
mod claims;
mod clock;
mod clock_sniff;
mod columns;
mod columns_seen;
mod compound;
mod daylight;
mod encoding;
mod format;
mod gaps;
mod guard;
mod gzip;
mod header;
mod header_blocks;
mod json;
mod json_rows;
mod json_scan;
mod json_tree;
mod large;
mod layout;
mod listing;
mod number;
mod original;
mod part;
mod picture;
mod plain;
mod results;
mod rows;
mod sections;
mod sheet;
mod sheet_parts;
mod source_line;
mod split;
mod stamp;
mod stamp_sniff;
mod survey;
mod tables;
mod ticker;
mod trace;
mod zip;

pub use bytes::{MAX_BYTES, fingerprint, read_bytes, sha256};
pub use format::{DelimitedText, FORMATS, Format, Opened, Sniffed, format_of};
pub use header_blocks::HeaderBlocks;
pub use json::Json;
pub use listing::files_below;
pub use original::Original;
pub use part::file_of;
pub use picture::{MAX_PIXELS, picture_from_bytes, read_picture};
pub use results::{MAX_RESULTS_BYTES, read_results, results_from_bytes};
pub use sheet::Sheet;
pub use source_line::{SourceLine, SourceLines};
pub use stamp::StampFormat;
pub use survey::{ColumnSurvey, Survey, TimeSurvey, survey, survey_from_bytes};
pub use tables::{TablesRead, read_tables, tables_from_bytes};
pub use trace::{read_original, read_trace, trace_from_bytes};
