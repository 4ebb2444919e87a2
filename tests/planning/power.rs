//! A protocol on the simulated bench.

use super::support::run;
use hooptrace::bench::Scenario;
use hooptrace::judge::protocol_from_text;
use hooptrace::plan::{PowerOrder, power};
use std::fs;

/// Criteria whose answer is known beforehand: solid stents never break, so a share of 0.6 fails in every study (0 of 4: upper limit 0.527 at 95 %); none of four runs
/// with an event leaves a share of 0.3 open; and the last is of another arm.
const PROTOCOL: &str = "[[criterion]]\nrule = \"fractured_share\"\narm = \"metal\"\nat_least = 0.6\nconfidence = 0.95\n\
[[criterion]]\nrule = \"no_event\"\nat_most = 0.3\nconfidence = 0.95\n\
[[criterion]]\nrule = \"fractured_share\"\narm = \"other\"\nat_least = 0.5\nconfidence = 0.95\n";
/// Frames that never break, on balloons that hold.
const SCENARIO: &str = "name = \"solid\"\n[[frames]]\nconstruction = \"solid-stent\"\nshare = 1.0\n[balloon]\nburst = 0.0\nleak = 0.0\noff_centre = 0.0\n";

fn order() -> PowerOrder {
    PowerOrder {
        protocol: protocol_from_text(PROTOCOL, "protocol.toml").unwrap(),
        arm: Some("metal".to_owned()),
        scenario: Scenario::from_toml(SCENARIO, "solid.toml").unwrap(),
        construction: None,
        frames: 4,
        studies: 3,
        seed: 5,
    }
}

/// 3 of 3: from (0.025)^(1/3) = 0.2924 to 1 (Clopper & Pearson 1934, closed form).
#[test]
fn criteria_are_counted_over_studies_with_exact_limits() {
    let scratch = tempfile::tempdir().unwrap();
    let plan = power(order(), scratch.path(), &|_, _| {}).unwrap();
    assert_eq!(plan.criteria.len(), 2);
    let [share, events] = plan.criteria.as_slice() else {
        panic!("{plan:?}")
    };
    assert_eq!((share.fail.studies, share.pass.studies), (3, 0));
    assert!((share.fail.lower.unwrap() - 0.025_f64.cbrt()).abs() < 1e-9);
    assert_eq!(share.fail.upper, Some(1.0));
    assert!((share.pass.upper.unwrap() - (1.0 - 0.025_f64.cbrt())).abs() < 1e-9);
    // None of four with an event: the upper limit at 95 % is 1 - 0.05^(1/4) = 0.53, above 0.3.
    assert_eq!(events.undecided.studies, 3);
    assert!(events.undecided_because.is_some());
    assert_eq!(plan.outcomes.values().sum::<usize>(), 12);
    assert!(
        !plan.outcomes.contains_key("fractured"),
        "{:?}",
        plan.outcomes
    );
    // Nothing is left behind, and the same seed says the same.
    assert_eq!(fs::read_dir(scratch.path()).unwrap().count(), 0);
    assert_eq!(power(order(), scratch.path(), &|_, _| {}).unwrap(), plan);
}

#[test]
fn what_cannot_be_simulated_is_told() {
    let scratch = tempfile::tempdir().unwrap();
    let told = |order| power(order, scratch.path(), &|_, _| {}).unwrap_err()[0].to_string();
    let none = told(PowerOrder {
        studies: 0,
        ..order()
    });
    assert!(none.contains("0 studies of 4 frames"), "{none}");
    let other = told(PowerOrder {
        construction: Some("moulded-ring".to_owned()),
        ..order()
    });
    assert!(other.contains("expected one of solid-stent"), "{other}");
    let arm = told(PowerOrder {
        arm: Some("mettal".to_owned()),
        ..order()
    });
    assert!(arm.contains("expected one of metal, other"), "{arm}");
    let many = told(PowerOrder {
        frames: 501,
        ..order()
    });
    assert!(many.contains("501"), "{many}");
}

/// Two criteria of one rule differ in quantity and limit: what each asks is printed, and its number stands in the table.
#[test]
fn every_criterion_says_what_it_asks() {
    let criteria = "[[criterion]]\nrule = \"mean\"\nquantity = \"diameters.after\"\nat_least_mm = 21\nconfidence = 0.95\n\
        [[criterion]]\nrule = \"mean\"\narm = \"metal\"\nquantity = \"areas.gain\"\nat_least = 0.1\nconfidence = 0.95\n";
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("protocol.toml"), criteria).unwrap();
    fs::write(folder.path().join("solid.toml"), SCENARIO).unwrap();
    let words = "plan power --protocol protocol.toml --scenario solid.toml --frames 2 --studies 1";
    let words: Vec<&str> = words.split(' ').collect();
    let (status, told, complaint) = run(folder.path(), &words);
    assert_eq!(status, 0, "{complaint}");
    for line in [
        "1 mean: the mean of diameters.after is at least 21 mm, with 95 % confidence",
        "2 mean of arm metal: the mean of areas.gain is at least 0.1, with 95 % confidence",
    ] {
        assert!(told.contains(line), "{told}");
    }
    assert!(
        told.lines()
            .any(|line| line.trim_start().starts_with("2 mean  ")),
        "{told}"
    );
}

#[test]
fn the_program_prints_shares_with_limits_and_what_it_assumes() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("protocol.toml"), PROTOCOL).unwrap();
    fs::write(folder.path().join("solid.toml"), SCENARIO).unwrap();
    let words = [
        "plan",
        "power",
        "--protocol",
        "protocol.toml",
        "--scenario",
        "solid.toml",
        "--frames",
        "3",
        "--studies",
        "1",
    ];
    let (status, told, complaint) = run(folder.path(), &words);
    assert_eq!(status, 0, "{complaint}");
    assert!(
        told.contains("100.0 % (2.5 to 100.0 %)") && told.contains("simulated bench"),
        "{told}"
    );
    let mut absent = words;
    absent[3] = "none.toml";
    let (status, _, complaint) = run(folder.path(), &absent);
    assert!(
        status == 2 && complaint.contains("none.toml"),
        "{complaint}"
    );
}
