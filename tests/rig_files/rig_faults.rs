//! Faults of a rig file, each with its place and its help.

use super::support::FULL;
use hooptrace::recording::{Finding, Severity};
use hooptrace::rig::rig_from_text;

fn faults(text: &str) -> Vec<Finding> {
    rig_from_text(text, "rigs/x.toml").expect_err(text)
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
            1,
            3,
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
        assert_eq!(finding.line, Some(line), "{text}: {finding}");
        assert_eq!(
            finding.column.as_deref(),
            Some(column.to_string().as_str()),
            "{text}: {finding}"
        );
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

/// A slip in a word is told once, not again as what follows from it; a line that is no TOML hides no other fault.
#[test]
fn no_fault_hides_or_invents_another() {
    let codes = |text: &str| -> Vec<String> { faults(text).into_iter().map(|f| f.code).collect() };
    assert_eq!(
        codes("[[channel]]\nquantity = \"presure\"\n"),
        ["toml-word"]
    );
    assert_eq!(
        codes(
            "[transducer]\nsied = \"inflator\"\n[clock]\nkind = \"rate\n[ambient]\npressure_kpa = 1013\n"
        ),
        ["toml-unknown-key", "toml-syntax", "rig-ambient"]
    );
}

#[test]
fn a_rig_cut_at_any_byte_is_read_or_refused() {
    for cut in 0..FULL.len() {
        if FULL.is_char_boundary(cut) {
            let _ = rig_from_text(&FULL[..cut], "x.toml");
        }
    }
}
