//! Protocol files and what is said of wrong ones.

use super::{MOULDED, arm, in_kpa, judged, protocol};
use hooptrace::judge::{
    Decision, GUARD_FACTOR, Key, Kind, RULES, STEPS, load_protocol, protocol_from_text,
};
use hooptrace::recording::Finding;
use hooptrace::units::Dimension;
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
    for rule in known {
        assert!(rules.contains(&rule), "the example shows no {rule}");
    }
    let pressure = &read.criteria[1];
    assert_eq!(pressure.arm.as_deref(), Some("moulded"));
    // 16 atm = 1621.2 kPa (1 atm = 101.325 kPa).
    assert!((pressure.asked.value("limit") - 1621.2).abs() < 1e-9);
    assert_eq!(pressure.asked.written("limit"), "16 atm (1621.20 kPa)");
    assert_eq!(read.criteria[3].asked.written("at_least"), "21 mm");
    assert_eq!(read.criteria[2].arm, None);
    let steps: Vec<&str> = read.steps.iter().map(|s| s.step.name()).collect();
    assert_eq!(
        steps,
        ["balloon", "order", "ramp", "holds", "strokes", "maximum"]
    );
    let mean = read.criteria.last().unwrap();
    assert!(mean.only_adherent && mean.asked.decision == Decision::Guarded(GUARD_FACTOR));
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
            // Highest pressures 1.02 times those of the fracture: mean 9.578, s 0.467 atm, k = 2.3546 for ten, limit 10.68 atm.
            ("tolerance", "moulded", "pass"),
            // Nothing of this was seen of runs made up here.
            ("each_within", "moulded", "undecided"),
            ("each_within", "moulded", "undecided"),
            ("each_within", "moulded", "undecided"),
            ("mean", "moulded", "undecided"),
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

/// A line that sets a key, as a protocol writes it.
fn line(key: &Key) -> String {
    let name = key.name;
    match key.kind {
        Kind::Measured(Dimension::Pressure) => format!("{name}_atm = 10\n"),
        Kind::Measured(Dimension::Volume) => format!("{name}_ml = 10\n"),
        Kind::Measured(Dimension::Time) => format!("{name}_s = 10\n"),
        Kind::Measured(_) => format!("{name}_mm = 10\n"),
        Kind::List(_) => format!("{name}_atm = [4, 8]\n"),
        Kind::Rate => format!("{name}_atm_per_s = 2\n"),
        Kind::Share | Kind::Confidence | Kind::Ratio => format!("{name} = 0.9\n"),
        Kind::Count => format!("{name} = 1\n"),
        Kind::Word(words) => format!("{name} = \"{}\"\n", words[0]),
        Kind::Quantity => format!("{name} = \"diameters.after\"\n"),
        Kind::Limit { .. } => "at_least_mm = 10\n".to_owned(),
    }
}

#[test]
fn every_rule_can_be_written_and_wants_every_key() {
    for rule in RULES {
        let needed: Vec<&Key> = rule.keys().iter().filter(|key| key.needed).collect();
        let lines: Vec<String> = needed.iter().map(|key| line(key)).collect();
        let head = format!("[[criterion]]\nrule = \"{}\"\n", rule.name());
        let read = protocol(&format!("{head}{}", lines.concat()));
        let asked = &read.criteria[0].asked;
        for key in &needed {
            let there = matches!(key.kind, Kind::Limit { .. }) && asked.limit.is_some();
            assert!(
                there || !asked.written(key.name).contains("(no "),
                "{}",
                key.name
            );
        }
        for (left_out, key) in needed.iter().enumerate() {
            let mut rest = lines.clone();
            rest.remove(left_out);
            let all = faults(&format!("{head}{}", rest.concat()));
            assert_eq!(all.len(), 1, "{all:?}");
            let word = match key.kind {
                Kind::Limit { .. } => "at_least_mm",
                _ => key.name,
            };
            assert!(all[0].message.contains(word), "{}", all[0]);
        }
    }
}

/// Every key of a step can be set, each with the needed ones, and none of them is unknown.
#[test]
fn every_step_can_be_written() {
    for step in STEPS {
        for key in step.keys() {
            let needed = step
                .keys()
                .iter()
                .filter(|k| k.needed || k.name == key.name);
            let lines: String = needed.map(line).collect();
            let text = format!("[[step]]\nstep = \"{}\"\n{lines}", step.name());
            // Keys that want another beside them say so, and nothing else is wrong.
            if let Err(all) = protocol_from_text(&text, "protocol.toml") {
                assert!(all.iter().all(|f| f.code == "protocol-key"), "{all:?}");
            }
        }
        let bare = format!("[[step]]\nstep = \"{}\"\n", step.name());
        assert!(
            faults(&bare)
                .iter()
                .all(|f| f.code == "protocol-key" && f.line == Some(1))
        );
    }
}

#[test]
fn faults_of_steps() {
    fault(
        "[[step]]\nstep = \"ramps\"\n",
        "protocol-step",
        2,
        8,
        &["ramps", "did you mean \"ramp\"?"],
    );
    fault(
        "[[step]]\narm = \"a\"\n",
        "protocol-step",
        1,
        1,
        &["names no step", "maximum"],
    );
    fault(
        "[[step]]\nstep = \"balloon\"\nagainst = \"label_size\"\noversize_mm = 2\nwithin_mm = 1\n",
        "protocol-key",
        1,
        1,
        &["label size", "a name, not a measured length", "true_id"],
    );
    fault(
        "[[step]]\nstep = \"balloon\"\nagainst = \"true_id\"\noversize_mm = 2\nwithin_ratio = 0.1\n",
        "protocol-key",
        1,
        1,
        &["both as lengths or both as ratios"],
    );
    fault(
        "[[step]]\nstep = \"balloon\"\nagainst = \"true_id\"\noversize_kpa = 2\nwithin_mm = 1\n",
        "protocol-unit",
        4,
        1,
        &["no unit of length", "oversize_mm"],
    );
    fault(
        "[[step]]\nstep = \"ramp\"\nat_most_atm = 2\n",
        "protocol-unit",
        3,
        1,
        &["no unit of pressure a second", "at_most_kpa_per_s"],
    );
    fault(
        "[[step]]\nstep = \"targets\"\npressures_atm = 4\nwithin_atm = 1\n",
        "toml-value",
        3,
        17,
        &["a list of numbers"],
    );
    fault(
        "[[step]]\nstep = \"holds\"\nat_least_s = 5\nholds = 3\n",
        "toml-unknown-key",
        4,
        1,
        &["unknown key `holds`"],
    );
    fault(
        "[[step]]\nstep = \"maximum\"\nat_most_rated = 1\nat_most_atm = 12\n",
        "protocol-key",
        1,
        1,
        &["two limits"],
    );
}

#[test]
fn faults_of_quantities_limits_and_decision_rules() {
    let each = |lines: &str| {
        format!(
            "[[criterion]]\nrule = \"each_within\"\nallowed_failures = 0\nreliability = 0.9\nconfidence = 0.95\n{lines}\n"
        )
    };
    let of = |limit: &str| each(&format!("quantity = \"diameters.after\"\n{limit}"));
    fault(
        &each("quantity = \"diameter.after\"\nat_least_mm = 20"),
        "protocol-quantity",
        6,
        12,
        &["did you mean \"diameters.after\"?"],
    );
    fault(
        &of("at_least_kpa = 20"),
        "protocol-unit",
        7,
        1,
        &["a quantity in mm", "at_least_mm"],
    );
    fault(
        &of("at_least = 20"),
        "protocol-unit",
        7,
        1,
        &["no unit", "at_least_mm"],
    );
    fault(
        &of("at_least_mm = 20\nat_most_mm = 25"),
        "protocol-twice",
        8,
        1,
        &["two limits are two criteria"],
    );
    fault(
        &of("at_least_mm = \"wide\""),
        "toml-value",
        7,
        15,
        &["a finite number"],
    );
    fault(
        &of("at_least = \"mild\""),
        "toml-value",
        7,
        12,
        &["a finite number"],
    );
    fault(
        &each("quantity = \"areas.gain\"\nat_least_percent = 20"),
        "protocol-unit",
        7,
        1,
        &["a pure number", "5 % is 0.05"],
    );
    fault(
        &each("quantity = \"observations.leaflet grade\"\nat_most = \"milt\""),
        "toml-word",
        7,
        11,
        &["did you mean \"mild\"?"],
    );
    fault(
        &each("quantity = \"observations.captured debris\"\nis = \"maybe\""),
        "toml-word",
        7,
        6,
        &["yes, no"],
    );
    fault(
        &of("at_least_mm = 20\ndecision_rule = \"garded\""),
        "toml-word",
        8,
        17,
        &["did you mean \"guarded\"?"],
    );
    fault(
        &of("at_least_mm = 20\nguard_factor = 2"),
        "protocol-key",
        1,
        1,
        &["needs decision_rule = \"guarded\""],
    );
}

/// Steps that contradict themselves or each other: at the step, with what was found, what was expected and help.
#[test]
fn steps_that_no_run_can_keep_are_an_error() {
    let targets = "[[step]]\nstep = \"targets\"\npressures_atm = [8, 20]\nwithin_atm = 0.5\n";
    let maximum = |atm: f64| format!("[[step]]\nstep = \"maximum\"\nat_most_atm = {atm}\n");
    let strokes = |keys: &str| format!("[[step]]\nstep = \"strokes\"\n{keys}\n");
    let order = |word: &str| format!("[[step]]\nstep = \"order\"\ninner_valve = \"{word}\"\n");
    let helped = "no run can keep this";
    for (text, line, words) in [
        (
            strokes("at_least = 5\nat_most = 3"),
            1,
            "`strokes`: found at least 5 and at most 3 for the number of strokes; expected the least to be no more than the most",
        ),
        (
            "[[step]]\nstep = \"ramp\"\nat_least_kpa_per_s = 60\nat_most_atm_per_s = 0.5\n"
                .to_owned(),
            1,
            "found at least 60 and at most 50.663 for the rise of pressure in a stroke, kPa/s",
        ),
        (
            format!("{}{}", strokes("at_least = 5"), strokes("at_most = 3")),
            4,
            "(the other is the step `strokes` of line 1)",
        ),
        (
            format!("{}{targets}", maximum(18.0)),
            4,
            "found a pressure of 20 atm (2026.5 kPa) to go to and a maximum of 18 atm (1823.9 kPa)",
        ),
        (
            format!("{targets}{}", maximum(18.0)),
            5,
            "expected no target above the maximum",
        ),
        (
            format!(
                "[[step]]\nstep = \"fill\"\npressure_atm = 3\nwithin = 0.1\n{}",
                maximum(2.0)
            ),
            5,
            "found a pressure of 3 atm",
        ),
        (
            format!("{}{}", order("before"), order("after")),
            4,
            "number of inner valves in the ring during the dilation",
        ),
    ] {
        let all = faults(&text);
        assert_eq!(all.len(), 1, "{all:#?}");
        let found = &all[0];
        assert_eq!(
            (found.code.as_str(), found.file.as_deref(), found.line),
            ("protocol-contradiction", Some("protocol.toml"), Some(line)),
            "{found}"
        );
        assert!(found.message.contains(words), "{found}");
        assert!(
            found
                .help
                .as_ref()
                .is_some_and(|help| help.contains(helped))
        );
    }
    // A target at the maximum, limits that meet, and steps for other arms are sound.
    for text in [
        format!("{targets}{}", maximum(20.0)),
        strokes("at_least = 3\nat_most = 3"),
        format!(
            "{}{}",
            strokes("arm = \"a\"\nat_least = 5"),
            strokes("arm = \"b\"\nat_most = 3")
        ),
    ] {
        assert!(protocol_from_text(&text, "protocol.toml").is_ok(), "{text}");
    }
}
