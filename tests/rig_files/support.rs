//! A full rig, a table of runs, and folders made of texts.

use hooptrace::read::read_tables;
use hooptrace::recording::{Finding, StudyTables};
use hooptrace::rig::{Rig, rig_from_text};

/// A rig file that says all there is to say.
pub const FULL: &str = r#"name = "bench-x"
[ambient]
pressure_kpa = 100.66
[transducer]
side = "balloon"
[dialect]
mode = "given"
delimiter = "tab"
decimal = ","
thousands = ""
encoding = "latin-1"
skip_lines = 12
header_rows = 2
comment = "%"
[clock]
kind = "local"
column = "Zeit"
format = "dd.mm.yyyy hh:mm:ss,fff"
[[channel]]
quantity = "pressure"
column = "Druck [bar]"
aliases = ["p1"]
unit = "bar"
reference = "absolute"
range_bar = [-1, 30.0]
resolution_psi = 0.1
u_kpa = 2.0
u_rel = 0.002
calibrated_on = "2025-01-10"
due_on = 2026-01-10
delay_s = 0.11
[channel.calibration]
kind = "table"
raw = [0.0, 40000.0, 1000000.0]
value = [-100.0, 12.0, 2900.0]
[[channel]]
quantity = "turns"
column = 2
unit = "turns"
u_ml = 0.004
resolution_turns = 0.01
[line]
blank_runs = ["bl1", "bl2"]
ml_per_turn = 0.4
[geometry]
mm_per_px = 0.032
u_mm_per_px_rel = 0.001
caliper_resolution_mm = 0.01
caliper_u_mm = 0.0277
[fluid]
density_g_per_ml = 1.06
"#;

/// A rig file that must be sound.
pub fn load(text: &str) -> Rig {
    match rig_from_text(text, "rigs/x.toml") {
        Ok((rig, _)) => rig,
        Err(findings) => panic!("{findings:?}"),
    }
}

/// A folder with files of these names and texts.
pub fn study(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

/// A table of a blank run and a frame run.
pub const RUNS: &str = "run_id,kind,frame_id,balloon_id,arm,trace,operator,started_at,inspection,note\n\
r1,blank,,,,traces/r1.csv,op-a,2025-03-04T08:00:00Z,,\n\
r2,Frame,F1,B1,A,traces/r2.csv,op-a,,Fractured,\"long, with a\nbreak\"\n";

/// Tables of a study that must be read, and what is said of them.
pub fn tables(files: &[(&str, &str)]) -> (StudyTables, Vec<Finding>) {
    let folder = study(files);
    let (tables, findings, inputs) =
        read_tables(folder.path(), None).unwrap_or_else(|f| panic!("{f:?}"));
    assert_eq!(inputs.len(), files.len());
    assert!(inputs.iter().all(|input| input.sha256.len() == 64));
    (tables, findings)
}
