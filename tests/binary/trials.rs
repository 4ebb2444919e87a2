//! `--monte-carlo`.

use crate::study::Bench;

/// Trials beside propagation: seeded, so that they come out the same; every diameter, area and break has them, those that a linear formula
/// gives agree, and the budgets behind them are told.
#[test]
fn trials_stand_beside_propagation_and_come_out_the_same() {
    let bench = Bench::new();
    let words = ["--no-plots", "--monte-carlo", "40000", "--seed", "3"];
    bench.analyse(&words, 0);
    let first = bench.read("out/results.json");
    bench.analyse(&words, 0);
    assert_eq!(first, bench.read("out/results.json"));
    let results = bench.results();
    assert_eq!(results["study"]["monte_carlo"]["seed"], 3);
    let runs = results["runs"].as_array().unwrap();
    let frame = runs.iter().find(|run| run["kind"] == "frame").unwrap();
    let said = frame["monte_carlo"].as_array().unwrap();
    let of = |name: &str| said.iter().find(|q| q["quantity"] == name).unwrap();
    for name in [
        "diameters.before",
        "diameters.set",
        "areas.after",
        "areas.gain",
    ] {
        let (q, number) = (of(name), |key: &str| of(name)[key].as_f64().unwrap());
        assert!(
            (number("mean") - number("value")).abs() < 0.1 * number("u"),
            "{q}"
        );
        assert!((number("sd") / number("u") - 1.0).abs() < 0.1, "{q}");
        let ends = q["symmetric"].as_array().unwrap();
        let half = (ends[1].as_f64().unwrap() - ends[0].as_f64().unwrap()) / 2.0;
        assert!((1.6..2.4).contains(&(half / number("u"))), "{q}");
    }
    // The whole chain drawn anew gives the load as propagation does, where a camera told the diameter.
    let seen = |run: &&serde_json::Value| {
        let source = run["frame"]["diameter_source"].as_str();
        source.is_some_and(|s| s.starts_with("optical"))
    };
    let mut chains = 0;
    for run in runs.iter().filter(seen) {
        let said = run["monte_carlo"].as_array().unwrap();
        for name in ["frame.peak_load", "frame.peak_force"] {
            let q = said.iter().find(|q| q["quantity"] == name).unwrap();
            let number = |key: &str| q[key].as_f64().unwrap();
            assert!((number("sd") / number("u") - 1.0).abs() < 0.12, "{q}");
            chains += 1;
        }
    }
    assert!(chains >= 2, "{chains}");
    let components = frame["budgets"]["diameters.before"]["components"]
        .as_array()
        .unwrap();
    assert!(components.len() >= 3, "{components:?}");
    // k of 95 % is at least the normal quantile, and U = k u.
    let budget = |key: &str| frame["budgets"]["diameters.before"][key].as_f64().unwrap();
    assert!(
        budget("coverage_factor") > 1.9599,
        "{}",
        budget("coverage_factor")
    );
    let expanded = budget("coverage_factor") * budget("combined");
    assert!((budget("expanded") / expanded - 1.0).abs() < 1e-12);
    let u = frame["diameters"]["before"]["u"].as_f64().unwrap();
    assert!((budget("combined") / u - 1.0).abs() < 1e-12);
    // Without the option nothing is drawn.
    bench.analyse(&["--no-plots"], 0);
    assert!(bench.results()["study"]["monte_carlo"].is_null());
    assert_eq!(
        bench
            .run(&["analyse", "study", "--out", "out", "--monte-carlo", "5"])
            .status,
        2
    );
}
