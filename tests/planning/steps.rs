//! Steps of pressure from an analysis.

use super::support::{folders, harbour, harbour_json, run};
use hooptrace::plan::{Bore, StepsOrder, steps};
use serde_json::{Value, json};

const ATM: f64 = 101.325;

fn order(mm: f64) -> StepsOrder {
    StepsOrder {
        balloon_id: "HB-23".to_owned(),
        bore: Bore {
            what: "true inner diameter",
            mm,
            u_mm: None,
        },
        to_diameter_mm: None,
        step_atm: 1.0,
        most_share_of_rated: 0.9,
        group: None,
    }
}

/// Numbers set by hand in a small table of results: everything can be worked out on paper.
fn by_hand() -> Value {
    let q = |value: f64, u: f64| json!({"value": value, "u": u, "unit": "mm", "method": ""});
    let row = |atm: f64, d: f64| json!({"pressure_kpa": atm * ATM, "diameter": q(d, 0.03)});
    let frame = |id: &str, outcome: &str, broke: Option<f64>, highest: f64| {
        let event = |p: f64| json!({"kind": "fracture", "t_s": 3.0, "pressure": q(p * ATM, 2.0)});
        json!({
            "run_id": id, "kind": "frame", "arm": "other", "balloon_id": "B", "outcome": outcome,
            "highest_pressure": q(highest * ATM, 2.0),
            "events": broke.map(event).into_iter().collect::<Vec<_>>(),
            "balloon": null, "line": null,
            // Unfolded at 20 mm: below, the balloon needs nothing, and the load is the pressure.
            "frame": {"curve": {"pressure_kpa": [ATM, 7.0 * ATM], "diameter_mm": [19.0, 19.6]}},
        })
    };
    json!({
        "schema": "hooptrace-results/1",
        "study": {"title": "By hand", "ambient_pressure_kpa": ATM},
        "groups": [{"name": "ring", "runs": ["a", "b", "c", "d"]}],
        "runs": [
            {"run_id": "bl", "kind": "blank", "arm": null, "balloon_id": null, "outcome": "reference",
             "highest_pressure": q(900.0, 2.0), "events": [], "balloon": null, "frame": null,
             "line": {"compliance": q(0.001, 0.0001), "trapped_air": q(0.5, 0.01)}},
            {"run_id": "fe", "kind": "free", "arm": null, "balloon_id": "B", "outcome": "reference",
             "highest_pressure": q(900.0, 2.0), "events": [], "line": null, "frame": null,
             "balloon": {
                "source": "optical readings of the free run",
                "nominal_pressure_kpa": 4.0 * ATM, "rated_burst_pressure_kpa": 10.0 * ATM,
                "unfolded_diameter": q(20.0, 0.03),
                "table": [row(4.0, 21.0), row(6.0, 21.4), row(8.0, 21.7), row(10.0, 22.0), row(12.0, 22.2)],
                "curve": {"pressure_kpa": [4.0 * ATM, 12.0 * ATM], "volume_ml": [10.0, 14.0], "diameter_mm": [21.0, 22.2]},
             }},
            frame("a", "fractured", Some(6.0), 6.5),
            frame("b", "fractured", Some(9.0), 9.5),
            frame("c", "burst", None, 7.0),
            frame("d", "invalid", Some(1.0), 2.0),
        ],
    })
}

#[test]
fn every_column_is_what_paper_and_pencil_give() {
    let asked = StepsOrder {
        balloon_id: "B".to_owned(),
        step_atm: 2.0,
        most_share_of_rated: 1.2,
        bore: Bore {
            u_mm: Some(0.04),
            ..order(20.0).bore
        },
        ..order(20.0)
    };
    let plan = steps(&asked, &by_hand(), "results.json").unwrap();
    let atm: Vec<f64> = plan.steps.iter().map(|step| step.pressure_atm).collect();
    for (found, expected) in atm.iter().zip([4.0, 6.0, 8.0, 10.0, 12.0]) {
        assert!((found - expected).abs() < 1e-9);
    }
    assert_eq!(atm.len(), 5);
    let step = &plan.steps[1];
    let near = |found: Option<f64>, expected: f64| {
        assert!(
            (found.unwrap() - expected).abs() < 1e-9,
            "{found:?} {expected}"
        );
    };
    near(step.diameter.value, 21.4);
    near(step.oversize.value, 1.4);
    // 0.03 and 0.04 in squares make 0.05.
    near(step.oversize.u, 0.05);
    near(step.oversize_percent.value, 7.0);
    near(
        step.oversize_percent.u,
        100.0 * (0.03_f64 / 20.0).hypot(21.4 * 0.04 / 400.0),
    );
    near(Some(step.margin_atm), 4.0);
    near(Some(step.margin_percent), 40.0);
    // Balloon 11 mL, line 0.001 mL/kPa and 0.5 mL of air at 7 atm absolute.
    near(
        step.volume.value,
        11.0 + 0.001 * 6.0 * ATM + 0.5 * 6.0 / 7.0,
    );
    assert!(step.volume.u.is_none() && step.volume.reason.is_some());
    // Three frames count, all on the same straight line from 1 to 7 atm: 19.5 mm at 6 atm, none at 8 atm.
    let waist = step.waist_seen.unwrap();
    near(Some(waist.lowest_mm), 19.5);
    near(Some(waist.highest_mm), 19.5);
    assert_eq!(waist.frames, 3);
    assert!(plan.steps[2].waist_seen.is_none());
    let beyond: Vec<bool> = plan.steps.iter().map(|step| step.beyond_rated).collect();
    assert_eq!(beyond, [false, false, false, false, true]);
    let among: Vec<usize> = plan
        .steps
        .iter()
        .map(|s| s.among_fractures_of.len())
        .collect();
    assert_eq!(among, [0, 1, 1, 0, 0]);
    // One of three broke at 6 atm, one was taken off at 7 atm, the last broke at 9 atm: 2/3 survive 6 atm, none 9 atm.
    let seen = &plan.seen[0];
    assert_eq!((seen.runs, seen.fractured, plan.seen.len()), (3, 2, 1));
    let quantiles: Vec<f64> = seen
        .quantiles
        .iter()
        .map(|q| q.pressure_kpa.unwrap() / ATM)
        .collect();
    for (found, expected) in quantiles.iter().zip([6.0, 9.0, 9.0]) {
        assert!((found - expected).abs() < 1e-9);
    }
    assert!((seen.held_kpa.unwrap() / ATM - 7.0).abs() < 1e-9);
    assert!(plan.caution.contains("no advice for a patient"));
}

#[test]
fn steps_between_the_rows_of_the_table_are_less_sure() {
    let asked = StepsOrder {
        balloon_id: "B".to_owned(),
        to_diameter_mm: Some(21.5),
        ..order(20.0)
    };
    let plan = steps(&asked, &by_hand(), "results.json").unwrap();
    assert_eq!(plan.steps.len(), 4);
    assert!(plan.ends.contains("is reached"), "{}", plan.ends);
    let between = &plan.steps[1];
    assert!((between.diameter.value.unwrap() - 21.2).abs() < 1e-9);
    // The curve as written is straight from 21.0 to 22.2 mm: 21.15 mm at 5 atm, 0.05 mm off the table.
    assert!((between.diameter.u.unwrap() - 0.03_f64.hypot(0.05)).abs() < 1e-9);
    // Without an uncertainty of the bore that is said.
    assert!(plan.assumptions.iter().any(|a| a.contains("--u-id")));
}

/// Diameters of the sample's plan are those of the table in the results, its rated pressure the label's.
#[test]
fn the_sample_study_gives_a_plan() {
    let results = harbour_json();
    let plan = steps(&order(20.5), &results, "results.json").unwrap();
    assert!(
        (plan.rated_kpa / ATM - 16.0).abs() < 1e-9 && (plan.nominal_kpa / ATM - 5.0).abs() < 1e-9
    );
    // 5 atm to 0.9 of 16 atm.
    assert_eq!(plan.steps.len(), 10);
    let free = results["runs"]
        .as_array()
        .unwrap()
        .iter()
        .find(|run| run["run_id"] == "fe1")
        .unwrap();
    let table = free["balloon"]["table"].as_array().unwrap();
    for (step, row) in plan.steps.iter().zip(table) {
        assert_eq!(step.diameter.value, row["diameter"]["value"].as_f64());
        assert_eq!(step.diameter.u, row["diameter"]["u"].as_f64());
    }
    assert!(
        plan.steps
            .iter()
            .any(|step| step.among_fractures_of.contains(&"moulded".to_owned()))
    );
    // Frames stand inside their free balloon.
    let waists = plan
        .steps
        .iter()
        .filter_map(|s| Some((s.waist_seen?.highest_mm, s.diameter.value?)));
    assert!(waists.clone().count() > 2 && waists.into_iter().all(|(w, d)| w < d));
}

#[test]
fn what_makes_no_plan_is_refused() {
    let results = harbour_json();
    let told = |order: StepsOrder| {
        steps(&order, &results, "results.json")
            .unwrap_err()
            .to_string()
    };
    let near = told(StepsOrder {
        balloon_id: "HB-24".to_owned(),
        ..order(20.5)
    });
    assert!(near.contains("did you mean \"HB-2"), "{near}");
    assert!(told(order(0.5)).contains("0.5 mm"));
    // A balloon of 23 mm never touches a frame of 40 mm.
    let wide = told(order(40.0));
    assert!(
        wide.contains("plan-too-small") && wide.contains("never touches"),
        "{wide}"
    );
    let arm = told(StepsOrder {
        group: Some("mouldy".to_owned()),
        ..order(20.5)
    });
    assert!(arm.contains("moulded"), "{arm}");
    let mut bare = by_hand();
    bare["runs"][1]["balloon"]["rated_burst_pressure_kpa"] = Value::Null;
    let asked = StepsOrder {
        balloon_id: "B".to_owned(),
        ..order(20.5)
    };
    let labels = steps(&asked, &bare, "results.json").unwrap_err();
    assert_eq!(labels.code, "plan-no-labels");
    bare["runs"][1]["balloon"] = json!({});
    assert_eq!(
        steps(&asked, &bare, "results.json").unwrap_err().code,
        "results-incomplete"
    );
}

#[test]
fn the_program_refuses_a_label_size_and_ends_with_the_caution() {
    let folder = folders(&[harbour()]);
    let words = ["plan", "steps", "--from", "0", "--balloon", "HB-23"];
    let with = |more: &[&str]| run(folder.path(), &[&words as &[&str], more].concat());
    let (status, told, complaint) = with(&["--true-id", "20.5", "--max-share-of-rated", "1.0"]);
    assert_eq!(status, 0, "{complaint}");
    let last = told.trim_end().lines().last().unwrap();
    assert!(
        last.contains("bench only") && last.contains("no advice for a patient"),
        "{told}"
    );
    let (status, _, complaint) = with(&["--label-size", "23"]);
    assert!(
        status == 2 && complaint.contains("a label size is no diameter"),
        "{complaint}"
    );
    let (status, _, complaint) = with(&[]);
    assert!(
        status == 2 && complaint.contains("--true-id"),
        "{complaint}"
    );
    let (status, _, complaint) = with(&["--true-id", "20.5", "--stent-id", "21.5"]);
    assert!(
        status == 2 && complaint.contains("cannot be used with"),
        "{complaint}"
    );
    let json: Value = serde_json::from_str(&with(&["--stent-id", "21.4", "--json"]).1).unwrap();
    assert_eq!(json["bore"]["what"], "stent inner diameter");
}
