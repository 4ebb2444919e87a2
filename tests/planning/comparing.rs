//! Two analyses beside each other.

use super::support::{changed, folders, harbour, harbour_json, run};
use hooptrace::compare::{Comparison, Results, compare};
use serde_json::{Value, json};
use std::fs;
use std::io::Write;

fn between(a: &Value, b: &Value, least: f64) -> Comparison {
    let side = |out, json| Results { out, json };
    compare(side("a", a), side("b", b), least).unwrap()
}

fn run_of<'v>(results: &'v mut Value, id: &str) -> &'v mut Value {
    let runs = results["runs"].as_array_mut().unwrap();
    runs.iter_mut().find(|run| run["run_id"] == id).unwrap()
}

#[test]
fn an_analysis_is_the_same_as_itself() {
    let results = harbour_json();
    let found = between(&results, &results, 0.0);
    assert!(found.is_same(), "{found:?}");
    assert_eq!(
        found.runs_compared,
        results["runs"].as_array().unwrap().len()
    );
    assert!(
        found.quantities_compared > 500,
        "{}",
        found.quantities_compared
    );
    let folder = folders(&[harbour(), harbour()]);
    let (status, told, _) = run(folder.path(), &["compare", "0", "1"]);
    assert!(status == 0 && told.contains("no change"), "{told}");
}

/// Values set by hand: 10 with u 3 becomes 20 with u 4, so z = 10/5 and 10 over the larger u is 2.5.
#[test]
fn a_quantity_nobody_has_heard_of_is_compared() {
    let mut a = harbour_json();
    let quantity = |value, u| json!({"value": value, "u": u, "unit": "mm", "method": "new"});
    run_of(&mut a, "hr03")["frame"]["brand_new"] = quantity(json!(10.0), json!(3.0));
    run_of(&mut a, "hr03")["frame"]["going"] = quantity(json!(1.0), json!(0.1));
    let mut b = a.clone();
    run_of(&mut b, "hr03")["frame"]["brand_new"] = quantity(json!(20.0), json!(4.0));
    run_of(&mut b, "hr03")["frame"]["going"] =
        json!({"value": null, "u": null, "unit": "mm", "method": "none", "reason": "washed out"});
    let found = between(&a, &b, 0.0);
    let [change] = found.quantities.as_slice() else {
        panic!("{found:?}")
    };
    assert_eq!(change.of, "hr03.frame.brand_new");
    assert_eq!(
        (change.z, change.over_larger_u, change.difference),
        (Some(2.0), Some(2.5), 10.0)
    );
    let [one] = found.one_sided.as_slice() else {
        panic!("{found:?}")
    };
    assert_eq!(
        (one.only_in, one.missing, one.reason.as_str()),
        ("first", "value", "washed out")
    );
    // Below the threshold it is counted, and still a change.
    let found = between(&a, &b, 2.1);
    assert!(found.quantities.is_empty() && found.quantities_below == 1 && !found.is_same());
}

#[test]
fn other_units_are_an_error_and_never_a_number() {
    let a = harbour_json();
    let mut b = a.clone();
    run_of(&mut b, "hr03")["diameters"]["set"]["unit"] = json!("in");
    let found = between(&a, &b, 0.0);
    assert!(found.quantities.is_empty());
    let [change] = found.units_differ.as_slice() else {
        panic!("{found:?}")
    };
    assert_eq!(change.of, "hr03.diameters.set");
    let folder = folders(&[harbour(), &serde_json::to_vec(&b).unwrap()]);
    let (status, told, _) = run(folder.path(), &["compare", "0", "1"]);
    assert_eq!(status, 1);
    assert!(
        told.contains("error[unit-differs] hr03.diameters.set: mm in the first, in in the second"),
        "{told}"
    );
    assert!(!told.contains("quantities, the largest"), "{told}");
}

/// Rounding in the last digits is no change; a thousand times as much is.
#[test]
fn last_digits_are_no_change() {
    let a = harbour_json();
    for (share, same) in [(1e-12, true), (1e-6, false)] {
        let mut b = a.clone();
        let set = &mut run_of(&mut b, "hr03")["diameters"]["after"]["value"];
        *set = json!(set.as_f64().unwrap() * (1.0 + share));
        assert_eq!(between(&a, &b, 0.0).is_same(), same, "{share}");
    }
}

#[test]
fn a_setting_and_a_run_left_out_are_told() {
    let other = changed(|folder| {
        let mut study = fs::OpenOptions::new()
            .append(true)
            .open(folder.join("study.toml"))
            .unwrap();
        study
            .write_all(b"[settings]\nset_ratio_least = 0.2\n")
            .unwrap();
        let runs = fs::read_to_string(folder.join("runs.csv")).unwrap();
        let kept = runs.lines().filter(|line| !line.starts_with("hr03,"));
        fs::write(folder.join("runs.csv"), kept.collect::<Vec<_>>().join("\n")).unwrap();
    });
    let found = between(
        &harbour_json(),
        &serde_json::from_slice(&other).unwrap(),
        0.0,
    );
    assert_eq!(found.runs_only_first, ["hr03"]);
    assert!(found.runs_only_second.is_empty());
    let [setting] = found.settings.as_slice() else {
        panic!("{:?}", found.settings)
    };
    assert_eq!(
        (setting.of.as_str(), setting.second.as_deref()),
        ("set_ratio_least", Some("0.2"))
    );
    // No frame keeps a fifth of its diameter: what was stretched is so no more.
    assert!(!found.outcomes.is_empty());
    assert!(
        found
            .outcomes
            .iter()
            .all(|change| change.first.as_deref() == Some("stretched")),
        "{:?}",
        found.outcomes
    );
    // The files that were changed, and no other but the recording that is gone.
    let files: Vec<&str> = found
        .inputs
        .iter()
        .map(|change| change.of.as_str())
        .collect();
    for file in ["runs.csv", "study.toml", "traces/hr03.csv"] {
        assert!(files.contains(&file), "{files:?}");
    }
    // A share is an interval: its u follows from its limits, which have no row of their own, and quantiles say of what.
    let share = "groups[moulded, arm].proportion";
    let share = found.quantities.iter().find(|change| change.of == share);
    let share = share.unwrap();
    let limits = share.limits_first.unwrap();
    let half = (limits.upper.unwrap() - limits.lower.unwrap()) / 2.0;
    assert!((share.u_first.unwrap() * 1.959_964 - half).abs() < 1e-6 && share.z.is_some());
    let named = |part: &str| {
        let mut all = found.quantities.iter();
        all.any(|change| change.of.contains(part))
    };
    assert!(named(
        ".strength[fracture_pressure, weibull].quantiles[p 0.1]"
    ));
    assert!(!named("proportion.lower") && !named("maximum likelihood"));
    // One moulded frame fewer moves what is said of its arm.
    assert!(
        found
            .quantities
            .iter()
            .any(|change| change.of.starts_with("groups[moulded, arm]"))
    );
    assert!(
        found
            .others
            .iter()
            .any(|change| change.of == "groups[moulded, arm].n")
    );
    let sorted = found
        .quantities
        .windows(2)
        .all(|w| w[0].z.map_or(-1.0, f64::abs) >= w[1].z.map_or(-1.0, f64::abs));
    assert!(sorted);

    let folder = folders(&[harbour(), &other]);
    let (status, told, _) = run(folder.path(), &["compare", "0", "1"]);
    assert_eq!(status, 1);
    assert!(
        told.contains("runs only in the first: hr03") && told.contains("share most errors"),
        "{told}"
    );
    let (status, told, _) = run(
        folder.path(),
        &["compare", "0", "1", "--json", "--least", "3"],
    );
    let json: Value = serde_json::from_str(&told).unwrap();
    assert_eq!(
        (status, json["runs_only_first"][0].as_str()),
        (1, Some("hr03"))
    );
}

#[test]
fn an_event_that_became_another_is_told() {
    let a = harbour_json();
    let mut b = a.clone();
    run_of(&mut b, "hr03")["events"][0]["kind"] = json!("slip");
    run_of(&mut b, "hr03")["outcome"] = json!("slip");
    let found = between(&a, &b, 0.0);
    assert_eq!(found.events.len(), 1);
    let (first, second) = (
        found.events[0].first.clone().unwrap(),
        found.events[0].second.clone().unwrap(),
    );
    assert!(
        first.starts_with("fracture at ") && first.contains(" s, ") && first.contains("kPa"),
        "{first}"
    );
    assert!(second.starts_with("slip at "), "{second}");
    assert_eq!(found.outcomes[0].of, "hr03");
}

#[test]
fn what_is_no_result_is_told_with_its_file() {
    let folder = folders(&[
        harbour(),
        b"{\"schema\": \"hooptrace-results/0\"}",
        b"run_id,kind\n",
        b"[1, 2]",
        b"",
    ]);
    let runless = json!({"schema": "hooptrace-results/1", "runs": [{"kind": "frame"}]});
    fs::create_dir(folder.path().join("runless")).unwrap();
    fs::write(
        folder.path().join("runless/results.json"),
        runless.to_string(),
    )
    .unwrap();
    for (out, words) in [
        (
            "1",
            &[
                "results-schema",
                "hooptrace-results/0",
                "expected \"hooptrace-results/1\"",
            ] as &[&str],
        ),
        ("2", &["results-no-json", "results.json:1:"]),
        ("3", &["results-schema", "without a schema"]),
        ("4", &["results-no-json"]),
        (
            "nowhere",
            &["file-unreadable", "nowhere/results.json", "--out"],
        ),
        ("runless", &["results-runs", "without a name"]),
    ] {
        for pair in [["compare", "0", out], ["compare", out, "0"]] {
            let (status, told, complaint) = run(folder.path(), &pair);
            assert!(status == 2 && told.is_empty(), "{out}: {told}");
            for word in words {
                assert!(complaint.contains(word), "{out}: {complaint}");
            }
            assert!(
                complaint.contains("help:") && complaint.contains(out),
                "{complaint}"
            );
        }
    }
    // Both faulty: both are told.
    let (_, _, complaint) = run(folder.path(), &["compare", "1", "2"]);
    assert!(complaint.contains("results-schema") && complaint.contains("results-no-json"));
}
