//! Rig files, study files and study tables: every fault with file, line and column, and the numbers in bench units.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::read::read_tables;
use hooptrace::recording::{
    Finding, GaugeMethod, Inspection, RunKind, Severity, Stage, StudyTables,
};
use hooptrace::rig::{
    Calibration, ChannelQuantity, ClockSpec, ColumnRef, Reference, Rig, Settings, Side, inside,
    load_rig, load_study, rig_from_text,
};
use std::path::Path;

const FULL: &str = r#"name = "bench-x"
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

fn load(text: &str) -> Rig {
    match rig_from_text(text, "rigs/x.toml") {
        Ok((rig, _)) => rig,
        Err(findings) => panic!("{findings:?}"),
    }
}

fn faults(text: &str) -> Vec<Finding> {
    rig_from_text(text, "rigs/x.toml").expect_err(text)
}

#[test]
fn a_full_rig_is_read_in_bench_units() {
    let rig = load(FULL);
    assert_eq!(rig.name, "bench-x");
    assert_eq!(rig.ambient_kpa, Some(100.66));
    assert_eq!(rig.side, Some(Side::Balloon));
    assert_eq!(rig.dialect.delimiter, Some('\t'));
    assert_eq!(rig.dialect.decimal, Some(','));
    assert_eq!(rig.dialect.thousands, Some(None));
    assert_eq!(rig.dialect.skip_lines, Some(12));
    assert_eq!(rig.dialect.comment, Some(Some("%".into())));
    assert!(
        matches!(&rig.clock, ClockSpec::Local { column: ColumnRef::Name(name), .. } if name == "Zeit")
    );
    let pressure = &rig.channels[0];
    assert_eq!(pressure.line, 19);
    assert_eq!(pressure.reference, Reference::Absolute);
    assert_eq!(pressure.unit.unwrap().symbol, "bar");
    assert_eq!(pressure.range, Some((-100.0, 3000.0)));
    // 1 psi = 6.894757293168 kPa.
    assert!((pressure.resolution.unwrap() - 0.689_475_729_316_8).abs() < 1e-12);
    assert_eq!((pressure.u, pressure.u_rel), (Some(2.0), Some(0.002)));
    assert_eq!(pressure.due_on.unwrap().to_string(), "2026-01-10");
    assert!(matches!(&pressure.calibration, Calibration::Table { raw, .. } if raw.len() == 3));
    let turns = &rig.channels[1];
    assert_eq!(
        (turns.quantity, &turns.column),
        (ChannelQuantity::Turns, &Some(ColumnRef::Index(2)))
    );
    assert_eq!(turns.u, Some(0.004));
    assert!((turns.resolution.unwrap() - 0.004).abs() < 1e-15);
    assert_eq!(rig.blank_runs, ["bl1", "bl2"]);
    assert_eq!(
        (rig.mm_per_px, rig.density_g_per_ml),
        (Some(0.032), Some(1.06))
    );
}

#[test]
fn a_rig_that_says_nothing_is_a_rig() {
    for text in [
        "",
        "name = \"x\"\n",
        "[dialect]\nmode = \"auto\"\n[clock]\nkind = \"auto\"\n",
    ] {
        let rig = load(text);
        assert_eq!(rig.clock, ClockSpec::Auto);
        assert_eq!(rig.dialect, hooptrace::rig::DialectSpec::default());
        assert!(
            rig.channels
                .iter()
                .any(|channel| channel.quantity == ChannelQuantity::Pressure)
        );
        assert!((rig.ambient() - 101.325).abs() < 1e-12);
    }
    let rig = load("[[channel]]\nquantity = \"pressure\"\ncolumn = \"auto\"\nunit = \"auto\"\n");
    assert_eq!(
        (rig.channels[0].column.as_ref(), rig.channels[0].unit),
        (None, None)
    );
}

#[test]
fn every_clock_kind_is_read() {
    for (text, word) in [
        (
            "kind = \"relative\"\ncolumn = \"t\"\nunit = \"ms\"",
            "Relative",
        ),
        ("kind = \"iso\"\ncolumn = 0", "Iso"),
        (
            "kind = \"local\"\ncolumn = \"t\"\nformat = \"mm/dd/yyyy hh:mm:ss AM/PM\"",
            "Local",
        ),
        (
            "kind = \"time_of_day\"\ncolumn = \"t\"\nformat = \"hh:mm:ss.fff\"",
            "TimeOfDay",
        ),
        ("kind = \"epoch\"\ncolumn = \"t\"\nunit = \"s\"", "Epoch"),
        ("kind = \"index\"\ncolumn = \"n\"\nrate_hz = 100", "Index"),
        ("kind = \"rate\"\nrate_hz = 12.5", "Rate"),
        ("kind = \"auto\"", "Auto"),
    ] {
        let rig = load(&format!("[clock]\n{text}\n"));
        assert!(format!("{:?}", rig.clock).starts_with(word), "{text}");
    }
}

#[test]
fn every_fault_has_its_place_and_its_help() {
    for (text, code, line, column, mention) in [
        (
            "[clock]\nkind = \"relativ\"\n",
            "toml-word",
            2,
            8,
            "relative",
        ),
        ("nmae = \"x\"\n", "toml-unknown-key", 1, 1, "name"),
        (
            "[[channel]]\nquantity = \"turns\"\nunit = \"Q\"\nml_per_turn = 0.5\n",
            "unknown-unit",
            3,
            8,
            "units of turns: turns",
        ),
        (
            "[ambient]\n  presure_kpa = 101\n",
            "toml-unknown-key",
            2,
            3,
            "pressure_kpa",
        ),
        (
            "[ambient]\npressure_kpa = 1013\n",
            "rig-ambient",
            2,
            16,
            "kPa",
        ),
        ("[dialect]\ndelimiter = \":\"\n", "toml-word", 2, 13, ";"),
        (
            "[dialect]\nencoding = \"latin-9x\"\n",
            "toml-word",
            2,
            12,
            "latin-1",
        ),
        (
            "[dialect]\nskip_lines = -1\n",
            "toml-value",
            2,
            14,
            "whole number",
        ),
        (
            "[clock]\nkind = \"rate\"\n",
            "toml-missing-key",
            1,
            2,
            "rate_hz",
        ),
        (
            "[clock]\nkind = \"local\"\ncolumn = \"t\"\nformat = \"hh:mm\"\n",
            "clock-format",
            4,
            10,
            "day",
        ),
        (
            "[[channel]]\nquantity = \"pressure\"\nunit = \"kpaa\"\n",
            "unknown-unit",
            3,
            8,
            "kPa",
        ),
        (
            "[[channel]]\nquantity = \"pressure\"\nunit = \"mm\"\n",
            "unit-dimension",
            3,
            8,
            "pressure",
        ),
        (
            "[[channel]]\nquantity = \"pressure\"\nu_florp = 2\n",
            "unknown-unit",
            3,
            1,
            "florp",
        ),
        (
            "[[channel]]\nquantity = \"pressure\"\nrange_kpa = [5, 1]\n",
            "toml-value",
            3,
            13,
            "lower",
        ),
        (
            "[[channel]]\nquantity = \"presure\"\n",
            "toml-word",
            2,
            12,
            "pressure",
        ),
        (
            "[[channel]]\nquantity = \"volume\"\nunit = \"mL\"\n",
            "rig-no-pressure",
            0,
            0,
            "pressure",
        ),
        (
            "[[channel]]\nquantity = \"turns\"\n[[channel]]\nquantity = \"pressure\"\n",
            "rig-turns",
            1,
            1,
            "ml_per_turn",
        ),
        (
            "[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\n[channel.calibration]\nkind = \"table\"\nraw = [1, 0]\nvalue = [1, 2]\n",
            "calibration-table",
            6,
            7,
            "increase",
        ),
        (
            "[[channel]]\nquantity = \"pressure\"\ncalibrated_on = \"10.01.2025\"\n",
            "toml-value",
            3,
            17,
            "2025-01-31",
        ),
        ("name = \"Prüfstand\", x\n", "toml-syntax", 1, 19, "TOML"),
        ("[line]\nml_per_turn = 0\n", "toml-value", 2, 15, "above 0"),
    ] {
        let findings = faults(text);
        let finding = findings
            .iter()
            .find(|f| f.code == code)
            .unwrap_or_else(|| panic!("{text}: {findings:?}"));
        assert_eq!(finding.severity, Severity::Error);
        assert_eq!(finding.file.as_deref(), Some("rigs/x.toml"), "{text}");
        if line > 0 {
            assert_eq!(finding.line, Some(line), "{text}: {finding}");
            assert_eq!(
                finding.column.as_deref(),
                Some(column.to_string().as_str()),
                "{text}: {finding}"
            );
        }
        assert!(finding.to_string().contains(mention), "{text}: {finding}");
    }
}

#[test]
fn all_faults_are_told_at_once_in_the_order_of_the_file() {
    let findings = faults(
        "name = 7\n[ambient]\npressure_kpa = \"low\"\n[[channel]]\nquantity = \"pressure\"\nunit = \"florp\"\nu_kpa = -1\ncolour = 1\n",
    );
    let lines: Vec<_> = findings
        .iter()
        .map(|finding| finding.line.unwrap())
        .collect();
    assert_eq!(lines, [1, 3, 6, 7, 8], "{findings:?}");
}

#[test]
fn a_rig_cut_at_any_byte_is_read_or_refused() {
    for cut in 0..FULL.len() {
        if FULL.is_char_boundary(cut) {
            let _ = rig_from_text(&FULL[..cut], "x.toml");
        }
    }
}

fn study(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

#[test]
fn a_study_file_names_its_rig_inside_the_folder() {
    let folder = study(&[
        ("study.toml", "title = \"T\"\nrig = \"rigs/x.toml\"\n"),
        ("rigs/x.toml", FULL),
    ]);
    let (file, findings) = load_study(folder.path()).unwrap();
    assert!(findings.is_empty());
    assert_eq!(
        (file.title.as_str(), file.rig.as_deref()),
        ("T", Some("rigs/x.toml"))
    );
    assert_eq!(file.settings, Settings::default());
    assert!(load_rig(&folder.path().join("rigs/x.toml"), "rigs/x.toml").is_ok());
    assert_eq!(
        load_rig(&folder.path().join("rigs/y.toml"), "rigs/y.toml").unwrap_err()[0].code,
        "file-unreadable"
    );
    for (text, code, line, mention) in [
        (
            "title = \"T\"\nrig = \"rigs/x.toml\n",
            "toml-syntax",
            2,
            "TOML",
        ),
        ("rig = \"../x.toml\"\n", "path-outside", 1, "leaves"),
        ("rig = \"/etc/hosts\"\n", "path-outside", 1, "absolute"),
        ("tilte = \"T\"\n", "toml-unknown-key", 1, "title"),
    ] {
        let folder = study(&[("study.toml", text)]);
        let findings = load_study(folder.path()).expect_err(text);
        assert_eq!(findings.len(), 1, "{text}: {findings:?}");
        let finding = &findings[0];
        assert_eq!(
            (finding.code.as_str(), finding.line),
            (code, Some(line)),
            "{text}: {finding}"
        );
        assert_eq!(finding.file.as_deref(), Some("study.toml"));
        assert!(finding.to_string().contains(mention), "{text}: {finding}");
    }
    let bare = tempfile::tempdir().unwrap();
    assert!(
        load_study(bare.path()).unwrap_err()[0]
            .message
            .contains("study.toml")
    );
}

#[test]
fn paths_of_a_study_stay_inside() {
    let folder = study(&[("traces/a.csv", "x")]);
    assert_eq!(
        inside(folder.path(), "traces\\a.csv").unwrap(),
        "traces/a.csv"
    );
    assert_eq!(
        inside(folder.path(), "traces/../traces/a.csv").unwrap(),
        "traces/../traces/a.csv"
    );
    for path in [
        "",
        "../a.csv",
        "traces/../../a.csv",
        "/etc/hosts",
        "C:\\a.csv",
        "a\0b",
    ] {
        assert!(inside(folder.path(), path).is_err(), "{path}");
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("/etc/hosts", folder.path().join("traces/link.csv")).unwrap();
        assert!(
            inside(folder.path(), "traces/link.csv")
                .unwrap_err()
                .contains("link")
        );
    }
}

const RUNS: &str = "run_id,kind,frame_id,balloon_id,arm,trace,operator,started_at,inspection,note\n\
r1,blank,,,,traces/r1.csv,op-a,2025-03-04T08:00:00Z,,\n\
r2,Frame,F1,B1,A,traces/r2.csv,op-a,,Fractured,\"long, with a\nbreak\"\n";

fn tables(files: &[(&str, &str)]) -> (StudyTables, Vec<Finding>) {
    let folder = study(files);
    let (tables, findings, inputs) =
        read_tables(folder.path(), None).unwrap_or_else(|f| panic!("{f:?}"));
    assert_eq!(inputs.len(), files.len());
    assert!(inputs.iter().all(|input| input.sha256.len() == 64));
    (tables, findings)
}

#[test]
fn tables_of_any_dialect_come_in_bench_units() {
    let plain = [
        ("runs.csv", RUNS),
        (
            "frames.csv",
            "frame_id,construction,true_id_in\nF1,band,0.9\n",
        ),
        (
            "balloons.csv",
            "balloon_id,nominal_diameter_mm,nominal_pressure_atm,rated_burst_pressure_psi\nB1,24,8,300\n",
        ),
        (
            "charts.csv",
            "balloon_id,pressure_bar,diameter_mm\nB1,2,23.5\n",
        ),
        (
            "calipers.csv",
            "run_id,stage,method,orientation_deg,repeat,operator,value,unit\nr2,before,caliper,20,1,op-b,0.9,in\nr2,after,plug,,,,21500,um\n",
        ),
        (
            "contours.csv",
            "run_id,stage,x,y,unit,scale_mm_per_px\nr2,before,0,0,px,0.05\nr2,before,100,0,px,0.05\nr2,before,0,200,px,0.05\n",
        ),
        (
            "flow.csv",
            "run_id,stage,time_ms,flow_l_min,dp_kpa\nr2,after,0,6,1\nr2,after,4,12,2\n",
        ),
        (
            "observations.csv",
            "run_id,stage,what,value,unit,observer\nr2,after,gap,1.6,mm,op-a\n",
        ),
    ];
    let local: Vec<(String, String)> = plain
        .iter()
        .map(|(name, text)| {
            (
                (*name).to_owned(),
                text.replace("long, with", "long with")
                    .replace(',', ";")
                    .replace('.', ","),
            )
        })
        .map(|(name, text)| {
            (
                name,
                text.replace("traces/r1,csv", "traces/r1.csv")
                    .replace('\n', "\r\n")
                    .replace("a\r\nbreak", "a\nbreak"),
            )
        })
        .collect();
    let local: Vec<(&str, &str)> = local
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()))
        .collect();
    for files in [plain.as_slice(), local.as_slice()] {
        let (tables, findings) = tables(files);
        assert!(findings.is_empty(), "{findings:?}");
        assert_eq!(tables.runs.len(), 2);
        assert_eq!(
            (tables.runs[1].kind, tables.runs[1].inspection),
            (RunKind::Frame, Some(Inspection::Fractured))
        );
        assert_eq!(
            (tables.runs[0].trace.as_deref(), tables.runs[1].line),
            (Some("traces/r1.csv"), 3)
        );
        // 1 in = 25.4 mm, 1 atm = 101.325 kPa, 300 psi = 2068.427 kPa, 1 L/min = 1000/60 mL/s, 1 kPa = 7.50062 mmHg.
        assert!((tables.frames[0].true_id_mm.unwrap() - 22.86).abs() < 1e-9);
        assert!((tables.balloons[0].nominal_pressure_kpa.unwrap() - 810.6).abs() < 1e-9);
        assert!(
            (tables.balloons[0].rated_burst_pressure_kpa.unwrap() - 2_068.427_187_950_4).abs()
                < 1e-6
        );
        assert!((tables.charts[0].pressure_kpa - 200.0).abs() < 1e-9);
        assert!((tables.calipers[0].value_mm - 22.86).abs() < 1e-9);
        assert_eq!(
            (tables.calipers[1].method, tables.calipers[1].stage),
            (GaugeMethod::Plug, Stage::After)
        );
        assert!((tables.calipers[1].value_mm - 21.5).abs() < 1e-9);
        assert_eq!(tables.contours[0].mm_per_px, Some(0.05));
        assert!((tables.contours[0].points_mm[2].1 - 10.0).abs() < 1e-12);
        assert!((tables.flows[0].flow_ml_s[0] - 100.0).abs() < 1e-9);
        assert!((tables.flows[0].dp_mmhg[1] - 15.001_23).abs() < 1e-4);
        assert!((tables.flows[0].time_s[1] - 0.004).abs() < 1e-15);
        assert_eq!(tables.observations.len(), 1);
    }
}

#[test]
fn tables_may_be_sheets_of_one_workbook() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(
        "tests/data/read/study.xlsx",
        folder.path().join("study.xlsx"),
    )
    .unwrap();
    let (tables, findings, inputs) = read_tables(folder.path(), None).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(inputs.len(), 1);
    assert_eq!(tables.runs[1].inspection, Some(Inspection::Fractured));
    assert_eq!(tables.frames[0].true_id_mm, Some(21.5));
    assert_eq!(tables.balloons[0].nominal_pressure_kpa, Some(600.0));
    // "21,50" is text in the sheet, 0.9 in a number.
    assert_eq!(tables.calipers[0].value_mm, 21.5);
    assert!((tables.calipers[1].value_mm - 22.86).abs() < 1e-9);
}

#[test]
fn a_bad_row_is_a_finding_with_its_line_and_the_others_stay() {
    let calipers = "run_id,stage,method,value,unit\nr2,before,caliper,21.5,mm\n";
    for (name, text, code, line, mention) in [
        (
            "calipers.csv",
            format!("{calipers}r2,befor,caliper,21.6,mm\n"),
            "unknown-word",
            3,
            "before",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,wide,mm\n"),
            "not-a-number",
            3,
            "wide",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,calliper,21.6,mm\n"),
            "unknown-word",
            3,
            "caliper",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,21.6,mmm\n"),
            "unknown-unit",
            3,
            "mm",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,-3,mm\n"),
            "value-out-of-range",
            3,
            "above 0",
        ),
        (
            "calipers.csv",
            format!("{calipers}r9,after,caliper,21.6,mm\n"),
            "run-not-listed",
            3,
            "r9",
        ),
        (
            "calipers.csv",
            format!("{calipers}r2,after,caliper,21,6,mm\n"),
            "row-too-long",
            3,
            "quotes",
        ),
        (
            "runs.csv",
            format!("{RUNS}r2,frame,F1,B1,A,traces/r3.csv,,,,\n"),
            "run-twice",
            5,
            "line 3",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frame,F1,B1,A,../out.csv,,,,\n"),
            "path-outside",
            5,
            "leaves",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frme,F1,B1,A,traces/r3.csv,,,,\n"),
            "unknown-word",
            5,
            "frame",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frame,F7,B1,A,traces/r3.csv,,,,\n"),
            "frame-not-listed",
            5,
            "F7",
        ),
        (
            "runs.csv",
            format!("{RUNS}r3,frame,F1,B1,A,traces/r3.csv,,,fracture,\n"),
            "unknown-word",
            5,
            "fractured",
        ),
        (
            "contours.csv",
            "run_id,stage,x,y,unit\nr2,before,0,0,px\nr2,before,9,0,px\nr2,before,0,9,px\n"
                .to_owned(),
            "contour-no-scale",
            2,
            "mm_per_px",
        ),
        (
            "flow.csv",
            "run_id,stage,time_s,flow_ml_s\nr2,after,0,1\n".to_owned(),
            "flow-column-missing",
            1,
            "dp_",
        ),
        (
            "flow.csv",
            "run_id,stage,time_s,flow_ml_s,dp_mmhg\nr2,after,0,1,0\nr2,after,1,2,0.0\n".to_owned(),
            "flow-no-gradient",
            2,
            "gradient",
        ),
        (
            "frames.csv",
            "frame,true_id_mm\nF1,21\n".to_owned(),
            "table-column-missing",
            1,
            "frame_id",
        ),
    ] {
        let mut files = vec![
            ("runs.csv", RUNS),
            ("frames.csv", "frame_id\nF1\n"),
            ("balloons.csv", "balloon_id\nB1\n"),
        ];
        files.retain(|(other, _)| *other != name);
        files.push((name, &text));
        let (tables, findings) = tables(&files);
        let finding = findings
            .iter()
            .find(|f| f.code == code)
            .unwrap_or_else(|| panic!("{name} {code}: {findings:?}"));
        assert_eq!(
            (finding.file.as_deref(), finding.line),
            (Some(name), Some(line)),
            "{finding}"
        );
        assert!(finding.to_string().contains(mention), "{finding}");
        assert!(finding.severity > Severity::Note);
        assert!(tables.runs.len() >= 2);
        if code == "path-outside" {
            assert_eq!(
                (finding.run_id.as_deref(), tables.runs[2].trace.as_deref()),
                (Some("r3"), None)
            );
        }
    }
}

#[test]
fn without_runs_there_is_no_study() {
    let fatal = |files: &[(&str, &str)]| read_tables(study(files).path(), None).unwrap_err();
    let none = fatal(&[("frames.csv", "frame_id\nF1\n")]);
    assert_eq!(none[0].file.as_deref(), Some("runs.csv"));
    let kindless = fatal(&[("runs.csv", "run_id,frame_id\nr1,F1\n")]);
    assert!(kindless[0].message.contains("kind"));
    let (tables, findings) = tables(&[("runs.csv", "run_id,kind\n")]);
    assert!(tables.runs.is_empty());
    assert_eq!(findings[0].code, "no-runs");
    assert!(read_tables(Path::new("tests/data/no such folder"), None).is_err());
}

#[test]
fn outlines_in_pixels_take_the_scale_of_the_rig() {
    let folder = study(&[
        ("runs.csv", "run_id,kind\nr1,free\n"),
        (
            "contours.csv",
            "run_id,stage,x,y,unit\nr1,before,0,0,px\nr1,before,100,0,px\nr1,before,0,100,px\n",
        ),
    ]);
    let (tables, findings, _) = read_tables(folder.path(), Some(&load(FULL))).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(
        (tables.contours[0].mm_per_px, tables.contours[0].u_scale_rel),
        (Some(0.032), Some(0.001))
    );
    assert!((tables.contours[0].points_mm[1].0 - 3.2).abs() < 1e-12);
}

#[test]
fn a_fault_in_a_workbook_names_its_sheet() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(
        "tests/data/read/faulty.xlsx",
        folder.path().join("bench.xlsx"),
    )
    .unwrap();
    let (tables, findings, _) = read_tables(folder.path(), None).unwrap();
    assert_eq!(tables.runs.len(), 1);
    let word = findings
        .iter()
        .find(|finding| finding.code == "unknown-word")
        .unwrap();
    assert!(
        word.message.starts_with("sheet \"Runs\": kind \"fram\""),
        "{word}"
    );
    assert_eq!(
        (word.file.as_deref(), word.line),
        (Some("bench.xlsx"), Some(3))
    );
    let misnamed = findings
        .iter()
        .find(|finding| finding.code == "table-misnamed")
        .unwrap();
    assert!(
        misnamed.message.contains("\"Caliper\" of bench.xlsx"),
        "{misnamed}"
    );
    assert!(misnamed.help.as_deref().unwrap().contains("\"calipers\""));
}

#[test]
fn a_table_whose_name_is_nearly_right_is_told() {
    let folder = study(&[
        ("runs.csv", RUNS),
        ("frame.csv", "frame_id\nF1\n"),
        ("readme.txt", "words"),
    ]);
    let (_, findings, inputs) = read_tables(folder.path(), None).unwrap();
    assert_eq!(inputs.len(), 1);
    let told: Vec<_> = findings
        .iter()
        .filter(|finding| finding.code == "table-misnamed")
        .collect();
    assert_eq!(told.len(), 1, "{findings:?}");
    assert_eq!(told[0].file.as_deref(), Some("frame.csv"));
}

#[test]
fn a_header_that_stands_again_is_no_run() {
    let text = format!("{RUNS}{}", RUNS.lines().next().unwrap());
    let (tables, findings) = tables(&[("runs.csv", &text)]);
    assert_eq!(tables.runs.len(), 2);
    assert!(
        findings
            .iter()
            .any(|finding| finding.code == "header-again"),
        "{findings:?}"
    );
    assert!(
        findings
            .iter()
            .all(|finding| finding.code != "unknown-word"),
        "{findings:?}"
    );
}

#[test]
fn an_empty_runs_table_is_told_once() {
    let folder = study(&[("runs.csv", "")]);
    let findings = read_tables(folder.path(), None).unwrap_err();
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!(findings[0].code, "file-empty");
}
