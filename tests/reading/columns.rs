//! Which column a channel is: by name, number, block and unit.

use super::support::{auto, codes, read, rig};
use hooptrace::read::trace_from_bytes;
use std::fmt::Write as _;

#[test]
fn where_rig_and_header_differ_the_rig_wins_with_a_doubt() {
    let declared = rig(
        "[clock]\nkind = \"relative\"\ncolumn = \"t\"\nunit = \"ms\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"p [bar]\"\nunit = \"atm\"\n",
    );
    let recording = read("t;p [bar]\n0;1,5\n10;2,5\n20;3,5\n30;4,5\n", &declared);
    assert_eq!(recording.channels[0].unit.symbol, "atm");
    assert_eq!(recording.time_s[..], [0.0, 0.01, 0.02, 0.03]);
    assert!(codes(&recording).contains(&"unit-differs"));
}

#[test]
fn a_column_is_found_by_alias_case_and_number() {
    let text = "TIME_S , Line Pressure [kPa] ,V\n0,1,2\n1,2,2\n2,3,2\n3,4,2\n";
    for channel in [
        "column = \"line pressure [kpa]\"",
        "column = \"Line Pressure\"",
        "column = 1",
        "column = \"p\"\naliases = [\"P2\", \"Line Pressure [kPa]\"]",
    ] {
        let declared = rig(&format!(
            "[clock]\nkind = \"relative\"\ncolumn = \"time_s\"\nunit = \"s\"\n[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\n{channel}\n"
        ));
        assert_eq!(
            read(text, &declared).channels[0].values[..],
            [1.0, 2.0, 3.0, 4.0],
            "{channel}"
        );
    }
    let declared = rig(
        "[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\ncolumn = \"Line Presure [kPa]\"\n",
    );
    let findings = trace_from_bytes(text.as_bytes().to_vec(), "t.csv", &declared).unwrap_err();
    assert!(
        findings[0]
            .help
            .as_deref()
            .unwrap()
            .contains("Line Pressure [kPa]"),
        "{findings:?}"
    );
}

#[test]
fn part_of_a_name_suggests_the_whole() {
    let text = "time_s,Druck abs [psi],Kurbel\n0,1,2\n1,1,2\n2,1,2\n3,1,2\n";
    let declared =
        rig("[[channel]]\nquantity = \"pressure\"\ncolumn = \"Druck\"\nunit = \"psi\"\n");
    // "Druck" differs from the name by its unit and a word.
    let findings = trace_from_bytes(text.as_bytes().to_vec(), "t.csv", &declared).unwrap_err();
    assert_eq!(
        findings[0].help.as_deref(),
        Some("did you mean column = \"Druck abs [psi]\"?")
    );
}

#[test]
fn a_size_in_a_name_is_no_unit() {
    let header = "time_s;Printer 0.1 mm;Pressure 1 kPa\n";
    let text = format!("{header}{}", "0,0;1;5\n0,1;2;6\n0,2;3;7\n0,3;3;8\n");
    // A whole number counts channels: that unit holds.
    let recording = read(&text, &auto());
    assert_eq!(recording.channels[0].column, "Pressure 1 kPa");
    let diameter = rig("[[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n\
         [[channel]]\nquantity = \"diameter\"\ncolumn = 1\nunit = \"auto\"\n");
    let recording = read(&text, &diameter);
    assert_eq!(recording.channels.len(), 1);
    assert!(codes(&recording).contains(&"unit-unknown"));
}

#[test]
fn blocks_side_by_side_are_reached_by_number() {
    let mut text =
        "Force,Distance,Time,Event,,,,\nN,mm,min,,,,,\nSample 1,,,,Sample 2,,,\n\n".to_owned();
    for at in 0..10 {
        let _ = writeln!(
            text,
            "{at},0,{:.4},0,{},0,{:.4},0",
            f64::from(at) / 60.0,
            at * 2,
            f64::from(at) / 60.0
        );
    }
    let declared = rig("[clock]\nkind = \"relative\"\ncolumn = 6\nunit = \"min\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = 4\nunit = \"kPa\"\n");
    let recording = read(&text, &declared);
    assert_eq!(recording.channels[0].values[3], 6.0);
    assert_eq!(recording.line.at(0), 5);
    assert!((recording.time_s[9] - 9.0).abs() < 0.01);
}

/// Two specimens side by side, names and units over the first only; time in min, rounded to 0.6 ms at 1 kHz.
pub fn blocks() -> String {
    let mut text =
        "Force,Distance,Time,Event,,,,\nN,mm,min,,,,,\nSample 1,,,,Sample 2,,,\n\n".to_owned();
    for at in 0..200 {
        let time = (f64::from(at) / 60_000.0 * 1e5).round() / 1e5;
        let force = if at < 100 { at } else { 200 - at };
        let _ = writeln!(
            text,
            "{force},{at},{time:.5},0,{},{},{time:.5},0",
            force * 2,
            at * 3
        );
    }
    text
}

#[test]
fn a_later_block_has_the_names_of_the_first() {
    // The bare names beside a pressure of the second block mean that block.
    let declared = rig(
        "[clock]\nkind = \"relative\"\ncolumn = \"Time\"\nunit = \"min\"\n\
         [[channel]]\nquantity = \"pressure\"\ncolumn = \"Sample 2 Force\"\nunit = \"kPa\"\n\
         [[channel]]\nquantity = \"volume\"\ncolumn = \"distance\"\nunit = \"mL\"\n",
    );
    let recording = read(&blocks(), &declared);
    assert_eq!(recording.channels[0].column, "Sample 2 Force");
    assert_eq!(recording.channels[0].values[3], 6.0);
    assert_eq!(recording.channels[1].column, "Sample 2 Distance");
    assert_eq!(recording.channels[1].values[3], 9.0);
    // A bare name with nothing beside it is the first block.
    let first = rig("[[channel]]\nquantity = \"pressure\"\ncolumn = \"Force\"\nunit = \"kPa\"\n");
    assert_eq!(read(&blocks(), &first).channels[0].values[3], 3.0);
    // Groups, names and units in three rows are read likewise.
    let grouped = blocks()
        .replacen("Sample 1,,,,Sample 2,,,\n\n", "", 1)
        .replacen("Force,", "Sample 1,,,,Sample 2,,,\nForce,", 1);
    assert_eq!(read(&grouped, &declared).channels[0].values[3], 6.0);
}
