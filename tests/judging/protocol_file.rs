//! Protocol files and what is said of wrong ones.

use super::{MOULDED, arm, in_kpa, judged, protocol};
use hooptrace::judge::{Kind, RULES, load_protocol, protocol_from_text};
use hooptrace::recording::Finding;
use std::path::Path;

const EXAMPLE: &str = include_str!("../../sample-runs/harbour-ring/protocol.toml");

fn faults(text: &str) -> Vec<Finding> {
    protocol_from_text(text, "protocol.toml").unwrap_err()
}

/// The only fault: its code, line, column and all its words.
#[track_caller]
fn fault(text: &str, code: &str, line: u64, column: u64, words: &[&str]) {
    let all = faults(text);
    assert_eq!(all.len(), 1, "{all:#?}");
    let found = &all[0];
    assert_eq!(found.file.as_deref(), Some("protocol.toml"));
    assert_eq!(
        (found.code.as_str(), found.line, found.column.as_deref()),
        (code, Some(line), Some(column.to_string().as_str())),
        "{found}"
    );
    for word in words {
        assert!(
            found.to_string().contains(word),
            "\"{word}\" not in: {found}"
        );
    }
}

#[test]
fn the_example_reads() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs/harbour-ring/protocol.toml");
    let read = load_protocol(&path, "protocol.toml").unwrap();
    assert_eq!(read.title, "Harbour ring: what the dilation must do");
    assert_eq!(read.file, "protocol.toml");
    let rules: Vec<&str> = read.criteria.iter().map(|c| c.rule.name()).collect();
    let known: Vec<&str> = RULES.iter().map(|rule| rule.name()).collect();
    assert_eq!(rules, known);
    let pressure = &read.criteria[1];
    assert_eq!(pressure.arm.as_deref(), Some("moulded"));
    // 16 atm = 1621.2 kPa (1 atm = 101.325 kPa).
    assert!((pressure.asked.value("limit") - 1621.2).abs() < 1e-9);
    assert_eq!(pressure.asked.written("limit"), "16 atm (1621.20 kPa)");
    assert_eq!(read.criteria[3].asked.written("at_least"), "21 mm");
    assert_eq!(read.criteria[2].arm, None);
    // A byte order mark is no fault, a missing file is one.
    assert!(
        load_protocol(Path::new("nowhere.toml"), "nowhere.toml").unwrap_err()[0]
            .to_string()
            .contains("nowhere.toml")
    );
}

#[test]
fn the_example_judges() {
    let verdicts = judged(EXAMPLE, &arm("moulded", &in_kpa(&MOULDED), &[]));
    let seen: Vec<(&str, &str, &str)> = verdicts
        .iter()
        .map(|v| (v.rule.as_str(), v.group.as_str(), v.verdict.as_str()))
        .collect();
    assert_eq!(
        seen,
        [
            // 10/10: lower limit 0.741134, below 0.8.
            ("fractured_share", "moulded", "undecided"),
            ("fracture_pressure_below", "moulded", "pass"),
            ("set_at_least", "moulded", "undecided"),
            ("diameter_after_at_least", "metal", "undecided"),
            ("no_event", "moulded", "undecided"),
        ]
    );
}

#[test]
fn unknown_words() {
    fault(
        "title = \"x\"\n\n[[criterion]]\n  rule = \"fractured_shares\"\n",
        "protocol-rule",
        4,
        10,
        &["fractured_shares", "did you mean \"fractured_share\"?"],
    );
    fault(
        "[[criterion]]\nrule = \"fractured_share\"\nat_least = 0.9\nconfidence = 0.95\nconfidense = 0.9\n",
        "toml-unknown-key",
        5,
        1,
        &["confidense", "did you mean `confidence`?"],
    );
    fault(
        "tittle = \"x\"\n[[criterion]]\nrule = \"no_event\"\nat_most = 0.1\nconfidence = 0.95\n",
        "toml-unknown-key",
        1,
        1,
        &["did you mean `title`?"],
    );
    // The misspelt key and the missing one are two faults, in the order of the file.
    let all = faults(
        "[[criterion]]\nrule = \"fracture_pressure_below\"\nlimt_kpa = 900\ncoverage = 0.9\nconfidence = 0.95\n",
    );
    assert_eq!(all.len(), 2, "{all:#?}");
    assert!(
        all[0].to_string().contains(
            "protocol.toml:1:1: [[criterion]] `fracture_pressure_below` needs `limit_kpa`"
        ),
        "{}",
        all[0]
    );
    assert!(
        all[1].to_string().contains("protocol.toml:3:1"),
        "{}",
        all[1]
    );
    assert!(
        all[1].to_string().contains("did you mean `limit_kpa`?"),
        "{}",
        all[1]
    );
    fault(
        "[[criteria]]\nrule = \"no_event\"\n",
        "toml-unknown-key",
        1,
        3,
        &["did you mean `criterion`?"],
    );
}

#[test]
fn wrong_values() {
    let share = |least: &str, confidence: &str| {
        format!(
            "[[criterion]]\nrule = \"fractured_share\"\nat_least = {least}\nconfidence = {confidence}\n"
        )
    };
    fault(
        &share("95", "0.95"),
        "protocol-value",
        3,
        12,
        &["95 % is 0.95"],
    );
    fault(&share("1", "0.95"), "protocol-value", 3, 12, &["certainty"]);
    fault(
        &share("0", "0.95"),
        "protocol-value",
        3,
        12,
        &["above 0 and below 1"],
    );
    fault(
        &share("0.9", "0.5"),
        "protocol-value",
        4,
        14,
        &["above 0.5"],
    );
    fault(
        &share("\"0.9\"", "0.95"),
        "toml-value",
        3,
        12,
        &["a finite number"],
    );
    fault(
        &share("nan", "0.95"),
        "toml-value",
        3,
        12,
        &["a finite number"],
    );
    let below = |line: &str| {
        format!(
            "[[criterion]]\nrule = \"fracture_pressure_below\"\ncoverage = 0.9\nconfidence = 0.95\n{line}\n"
        )
    };
    fault(
        &below("limit = 12"),
        "protocol-unit",
        5,
        1,
        &["has no unit", "limit_kpa"],
    );
    fault(
        &below("limit_mm = 12"),
        "protocol-unit",
        5,
        1,
        &["no unit of pressure"],
    );
    fault(&below("limit_atmo = 12"), "protocol-unit", 5, 1, &["atmo"]);
    fault(&below("limit_atm = -1"), "toml-value", 5, 13, &["above 0"]);
    fault(
        &below("limit_atm = 12\nlimit_kpa = 1200"),
        "protocol-twice",
        6,
        1,
        &["both"],
    );
    fault(
        &below("limit_atm = 12\narm = 3"),
        "toml-value",
        6,
        7,
        &["text in quotes"],
    );
    fault(
        "[[criterion]]\nat_least = 0.9\n",
        "protocol-rule",
        1,
        1,
        &["names no rule"],
    );
    assert!(faults("")[0].code == "protocol-empty");
    assert!(
        faults("title = \"x\"\n")[0]
            .to_string()
            .contains("[[criterion]]")
    );
    assert!(
        faults("[[criterion]]\nrule = \n")
            .iter()
            .any(|f| f.code == "toml-syntax" && f.line == Some(2))
    );
    assert_eq!(faults("criterion = 3\n")[0].code, "toml-value");
}

#[test]
fn every_rule_can_be_written_and_wants_every_key() {
    for rule in RULES {
        let lines: Vec<String> = rule
            .keys()
            .iter()
            .map(|key| match key.kind {
                Kind::Measured(hooptrace::units::Dimension::Pressure) => {
                    format!("{}_atm = 10\n", key.name)
                }
                Kind::Measured(_) => format!("{}_mm = 10\n", key.name),
                Kind::Share | Kind::Confidence => format!("{} = 0.9\n", key.name),
            })
            .collect();
        let head = format!("[[criterion]]\nrule = \"{}\"\n", rule.name());
        let read = protocol(&format!("{head}{}", lines.concat()));
        assert_eq!(read.criteria[0].asked.settings.len(), rule.keys().len());
        for left_out in 0..lines.len() {
            let mut rest = lines.clone();
            rest.remove(left_out);
            let all = faults(&format!("{head}{}", rest.concat()));
            assert_eq!(all.len(), 1);
            assert!(
                all[0].message.contains(rule.keys()[left_out].name),
                "{}",
                all[0]
            );
        }
    }
}
