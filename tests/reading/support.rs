//! Rigs and readings that every file here needs.

use hooptrace::read::trace_from_bytes;
use hooptrace::recording::RawRecording;
use hooptrace::rig::{Rig, rig_from_text};

/// A rig that says nothing but which quantities there are.
pub fn auto() -> Rig {
    rig(
        "[dialect]\nmode = \"auto\"\n[clock]\nkind = \"auto\"\n[line]\nml_per_turn = 0.5\n\
         [[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n[[channel]]\nquantity = \"volume\"\nunit = \"auto\"\n",
    )
}

/// A rig file that must be sound.
pub fn rig(text: &str) -> Rig {
    match rig_from_text(text, "rig.toml") {
        Ok((rig, _)) => rig,
        Err(findings) => panic!("{findings:?}"),
    }
}

/// A recording that must be read.
pub fn read(text: &str, rig: &Rig) -> RawRecording {
    trace_from_bytes(text.as_bytes().to_vec(), "t.csv", rig)
        .unwrap_or_else(|findings| panic!("{findings:?}"))
}

/// Codes of the findings of a recording.
pub fn codes(recording: &RawRecording) -> Vec<&str> {
    recording
        .findings
        .iter()
        .map(|finding| finding.code.as_str())
        .collect()
}

/// Bytes packed with gzip.
pub fn gzip(bytes: &[u8]) -> Vec<u8> {
    use std::io::Write;
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::default());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}
