//! The program as it is called: exit status, what it prints, what it writes and what it leaves alone.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod checking;
mod columns;
#[path = "../shared/folder.rs"]
mod folder;
mod study;
mod trials;

use std::fs;
use std::path::PathBuf;
use std::process::Stdio;
use std::thread::sleep;
use std::time::Duration;
use study::{Bench, files_below};

/// The files that are promised of a study of these runs.
fn promised(runs: &[&str]) -> Vec<PathBuf> {
    let tables = ["runs.csv", "events.csv", "observations.csv"];
    let mut names: Vec<PathBuf> = ["results.json", "report.html"]
        .iter()
        .chain(&tables)
        .map(PathBuf::from)
        .chain(runs.iter().flat_map(|run| {
            ["svg", "png"].map(|kind| PathBuf::from(format!("plots/{run}.{kind}")))
        }))
        .collect();
    names.sort();
    names
}

const RUNS: [&str; 5] = ["bl1", "fe1", "fl1", "fl2", "fl3"];

#[test]
fn a_good_study_gives_every_promised_file_and_status_0() {
    let bench = Bench::new();
    let ended = bench.analyse(&[], 0);
    assert!(ended.stderr.is_empty(), "{}", ended.stderr);
    for run in RUNS {
        assert!(ended.stdout.contains(run), "{}", ended.stdout);
    }
    assert!(ended.stdout.contains("out/report.html"));
    let written: Vec<PathBuf> = files_below(&bench.path("out")).into_keys().collect();
    assert_eq!(written, promised(&RUNS));
    assert_eq!(bench.results()["schema"], "hooptrace-results/1");
}

/// Nothing is written beside the output folder, and the raw files stay as they are to the byte.
#[test]
fn raw_files_and_surroundings_stay_untouched() {
    let bench = Bench::new();
    let before = files_below(bench.folder.path());
    bench.analyse(&[], 0);
    let mut after = files_below(bench.folder.path());
    after.retain(|name, _| !name.starts_with("out"));
    assert!(before == after, "files beside the results changed");
}

#[test]
fn the_number_of_threads_and_the_place_change_no_byte() {
    let bench = Bench::new();
    bench.analyse(&["--threads", "1"], 0);
    let one = files_below(&bench.path("out"));
    let elsewhere = Bench::new();
    let study = elsewhere.path("study");
    let words = [
        "analyse",
        study.to_str().unwrap(),
        "--out",
        "deep/down/there",
        "--threads",
        "2",
    ];
    assert_eq!(elsewhere.run(&words).status, 0);
    let two = files_below(&elsewhere.path("deep/down/there"));
    assert_eq!(
        one.keys().collect::<Vec<_>>(),
        two.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &one {
        assert!(two.get(name) == Some(bytes), "{} differs", name.display());
    }
}

#[test]
fn a_study_that_is_not_there_is_status_2() {
    let bench = Bench::new();
    let ended = bench.run(&["analyse", "studdy", "--out", "out"]);
    assert_eq!(ended.status, 2);
    assert!(
        ended.stderr.starts_with("error[no-study]") && ended.stderr.contains("studdy"),
        "{}",
        ended.stderr
    );
    assert!(ended.stderr.contains("help:") && ended.stdout.is_empty());
    // A folder without study.toml is none either.
    fs::create_dir(bench.path("empty")).unwrap();
    let ended = bench.run(&["analyse", "empty", "--out", "out"]);
    assert_eq!(ended.status, 2);
    assert!(ended.stderr.contains("study.toml"), "{}", ended.stderr);
    assert!(!bench.path("out").exists());
}

#[test]
fn a_faulty_rig_is_status_2_with_its_place() {
    let bench = Bench::new();
    bench.change(
        "study/rigs/quay.toml",
        "quantity = \"pressure\"",
        "quantity = \"presure\"",
    );
    let line = 1 + bench
        .read("study/rigs/quay.toml")
        .lines()
        .position(|l| l.contains("presure"))
        .unwrap();
    let ended = bench.analyse(&[], 2);
    assert!(
        ended.stderr.contains(&format!("rigs/quay.toml:{line}:")),
        "{}",
        ended.stderr
    );
    assert!(
        ended.stderr.contains("did you mean") && ended.stderr.contains("pressure"),
        "{}",
        ended.stderr
    );
    assert!(!bench.path("out").exists());
}

#[test]
fn words_that_mean_nothing_are_status_2() {
    let bench = Bench::new();
    for words in [
        &["analyze"] as &[&str],
        &["analyse", "study"],
        &["analyse", "study", "--out", "out", "--threads", "0"],
        &[],
    ] {
        let ended = bench.run(words);
        assert_eq!(ended.status, 2, "{words:?}");
        assert!(
            ended.stderr.contains("Usage:") || ended.stderr.contains("error:"),
            "{words:?}: {}",
            ended.stderr
        );
    }
    assert_eq!(
        bench.run(&["--version"]).stdout.trim(),
        concat!("hooptrace ", env!("CARGO_PKG_VERSION"))
    );
}

/// One recording lacks its pressure: that run is invalid with an error that names file and line; the others come out as if nothing
/// were wrong.
#[test]
fn one_bad_recording_stops_no_other() {
    let bench = Bench::new();
    bench.analyse(&["--no-plots"], 0);
    let good = bench.results();
    bench.change("study/traces/fl2.csv", "Pressure [kPa]", "Pessure [kPa]");
    let ended = bench.analyse(&["--no-plots"], 1);
    assert!(
        ended.stderr.contains("traces/fl2.csv:1"),
        "{}",
        ended.stderr
    );
    assert!(
        ended.stderr.contains("(run fl2)") && ended.stderr.contains("help:"),
        "{}",
        ended.stderr
    );
    let bad = bench.results();
    for at in [0, 1, 2, 4] {
        assert_eq!(good["runs"][at], bad["runs"][at]);
    }
    assert_eq!(bad["runs"][3]["outcome"], "invalid");
    let findings = bad["runs"][3]["findings"].as_array().unwrap();
    assert!(
        findings
            .iter()
            .any(|f| f["severity"] == "error" && f["file"] == "traces/fl2.csv" && f["line"] == 1)
    );
}

/// A recording cut off in the middle of a row, one of noise, an empty one and one that is gone: each is told, none stops the rest.
#[test]
fn recordings_broken_in_any_way_are_told_and_passed_over() {
    let bench = Bench::new();
    let bytes = fs::read(bench.path("study/traces/fl1.csv")).unwrap();
    fs::write(bench.path("study/traces/fl1.csv"), &bytes[..300]).unwrap();
    let noise: Vec<u8> = (0..40_000_u32)
        .map(|k| (k.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    fs::write(bench.path("study/traces/fl2.csv"), noise).unwrap();
    fs::remove_file(bench.path("study/traces/fl3.csv")).unwrap();
    fs::write(bench.path("study/traces/fe1.csv"), "").unwrap();
    let ended = bench.analyse(&[], 1);
    for run in ["fe1", "fl1", "fl2", "fl3"] {
        assert!(
            ended.stderr.contains(&format!("traces/{run}.csv")),
            "{run}: {}",
            ended.stderr
        );
        assert!(!ended.stderr.contains("panicked"), "{}", ended.stderr);
    }
    assert_eq!(
        bench.outcomes()[0],
        ("bl1".to_owned(), "reference".to_owned())
    );
    assert!(
        bench.outcomes()[1..]
            .iter()
            .all(|(_, outcome)| outcome == "invalid"),
        "{:?}",
        bench.outcomes()
    );
    assert!(bench.path("out/report.html").exists());
}

#[test]
fn only_takes_the_run_and_what_it_rests_on() {
    let bench = Bench::new();
    bench.analyse(&["--only", "fl3"], 0);
    let names: Vec<String> = bench.outcomes().into_iter().map(|(run, _)| run).collect();
    assert_eq!(names, ["bl1", "fe1", "fl3"]);
    let written: Vec<PathBuf> = files_below(&bench.path("out")).into_keys().collect();
    assert_eq!(written, promised(&["bl1", "fe1", "fl3"]));
}

#[test]
fn an_unknown_run_is_status_2_with_the_nearest_name() {
    let bench = Bench::new();
    let ended = bench.analyse(&["--only", "fl33"], 2);
    assert!(
        ended.stderr.contains("fl33") && ended.stderr.contains("did you mean \"fl3\""),
        "{}",
        ended.stderr
    );
    assert!(!bench.path("out").exists());
}

#[test]
fn quiet_prints_nothing_but_errors() {
    let bench = Bench::new();
    let ended = bench.analyse(&["--quiet", "--no-plots"], 0);
    assert_eq!((ended.stdout.as_str(), ended.stderr.as_str()), ("", ""));
    bench.change("study/traces/fl2.csv", "Pressure [kPa]", "Pessure [kPa]");
    let ended = bench.analyse(&["--quiet", "--no-plots"], 1);
    assert!(
        ended.stdout.is_empty() && ended.stderr.contains("fl2"),
        "{}",
        ended.stderr
    );
}

/// Without plots there is no page either, not even the one of an earlier result, which would speak of other numbers.
#[test]
fn without_plots_no_page_is_left() {
    let bench = Bench::new();
    bench.analyse(&[], 0);
    let ended = bench.analyse(&["--no-plots"], 0);
    assert!(
        ended.stdout.contains("out/results.json"),
        "{}",
        ended.stdout
    );
    let written: Vec<PathBuf> = files_below(&bench.path("out")).into_keys().collect();
    assert_eq!(
        written,
        ["events.csv", "observations.csv", "results.json", "runs.csv"].map(PathBuf::from)
    );
}

/// A second result takes the place of the first; files of others in the folder stay.
#[test]
fn a_second_result_replaces_the_first_and_nothing_else() {
    let bench = Bench::new();
    bench.analyse(&[], 0);
    bench.write("out/notes.txt", "keep me");
    let first = files_below(&bench.path("out"));
    bench.analyse(&["--only", "fl1"], 0);
    let mut names = promised(&["bl1", "fe1", "fl1"]);
    names.push("notes.txt".into());
    names.sort();
    assert_eq!(
        files_below(&bench.path("out"))
            .into_keys()
            .collect::<Vec<_>>(),
        names
    );
    bench.analyse(&[], 0);
    assert!(
        first == files_below(&bench.path("out")),
        "the first result did not come back"
    );
    assert_eq!(bench.read("out/notes.txt"), "keep me");
}

/// Where the plots cannot be moved in, no results.json says that the folder is whole.
#[test]
fn results_json_comes_last() {
    let bench = Bench::new();
    fs::create_dir(bench.path("out")).unwrap();
    bench.write("out/plots", "a file where a folder belongs");
    let ended = bench.analyse(&[], 2);
    assert!(
        ended.stderr.contains("cannot-write") && ended.stderr.contains("plots"),
        "{}",
        ended.stderr
    );
    let left: Vec<PathBuf> = files_below(&bench.path("out")).into_keys().collect();
    assert!(!left.contains(&"results.json".into()), "{left:?}");
    assert!(
        left.iter()
            .all(|name| !name.to_string_lossy().contains("partial")),
        "{left:?}"
    );
    // Nor can a result go where a file is.
    bench.write("file", "not a folder");
    let ended = bench.run(&["analyse", "study", "--out", "file"]);
    assert!(ended.stderr.contains("file is a file"), "{}", ended.stderr);
    assert_eq!(
        (ended.status, bench.read("file").as_str()),
        (2, "not a folder")
    );
}

/// Killed at any moment, a run leaves a whole result or none.
#[test]
fn a_killed_run_leaves_a_whole_result_or_none() {
    let bench = Bench::new();
    bench.analyse(&[], 0);
    let whole = files_below(&bench.path("out"));
    for ms in [5, 40, 120, 250, 400, 600, 900, 1300] {
        let words = ["analyse", "study", "--out", "out", "--quiet"];
        let mut child = bench
            .command(&words)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        sleep(Duration::from_millis(ms));
        child.kill().unwrap();
        child.wait().unwrap();
        let left = files_below(&bench.path("out"));
        if left.contains_key(&PathBuf::from("results.json")) {
            for (name, bytes) in &whole {
                assert!(
                    left.get(name) == Some(bytes),
                    "{} after {ms} ms",
                    name.display()
                );
            }
        }
    }
    // What a kill leaves beside is no hindrance to the next run.
    bench.analyse(&[], 0);
    let after = files_below(&bench.path("out"));
    assert!(
        whole
            .iter()
            .all(|(name, bytes)| after.get(name) == Some(bytes))
    );
}

/// Folders of killed runs go with the next run into the same place; those of live ones, and whatever only looks like one, stay.
#[test]
#[cfg(target_os = "linux")]
fn what_dead_runs_left_is_cleared_and_nothing_else() {
    let bench = Bench::new();
    let mut dead = bench
        .command(&["--version"])
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let number = dead.id();
    dead.wait().unwrap();
    let alive = std::process::id();
    let mut kept = vec![
        format!(".hooptrace-partial-{alive}"),
        format!(".hooptrace-partial-0{number}"),
        format!(".hooptrace-partial-{number}-x"),
        format!("hooptrace-partial-{number}"),
        ".hooptrace-partial-".to_owned(),
    ];
    kept.push(format!(".hooptrace-partial-{}", u64::MAX));
    let gone = format!(".hooptrace-partial-{number}");
    for name in kept.iter().chain([&gone]) {
        let plots = bench.path("out").join(name).join("plots");
        fs::create_dir_all(&plots).unwrap();
        fs::write(plots.join("half.svg"), "<svg").unwrap();
    }
    bench.analyse(&["--no-plots"], 0);
    assert!(!bench.path("out").join(&gone).exists());
    for name in &kept {
        assert!(
            bench.path("out").join(name).join("plots/half.svg").exists(),
            "{name}"
        );
    }
}

#[test]
fn results_never_go_among_the_raw_files() {
    let bench = Bench::new();
    let before = files_below(bench.folder.path());
    for out in [
        "study",
        "./study/",
        "study/traces",
        "study/../study",
        "study/traces/new/out",
        "new/../study/rigs",
    ] {
        let ended = bench.run(&["analyse", "study", "--out", out]);
        assert_eq!(ended.status, 2, "{out}");
        assert!(
            ended.stderr.contains("out-is-study"),
            "{out}: {}",
            ended.stderr
        );
    }
    assert!(before == files_below(bench.folder.path()));
}

/// Nothing outside the study is read, whichever file asks for it.
#[test]
fn paths_that_leave_the_study_are_refused() {
    let bench = Bench::new();
    fs::copy(bench.path("study/traces/fl1.csv"), bench.path("secret.csv")).unwrap();
    bench.change("study/runs.csv", "traces/fl1.csv", "../secret.csv");
    let ended = bench.analyse(&["--no-plots"], 1);
    assert!(ended.stderr.contains("../secret.csv"), "{}", ended.stderr);
    assert!(
        !bench
            .read("out/results.json")
            .contains("\"path\": \"../secret.csv\"")
    );
    bench.change("study/study.toml", "rigs/quay.toml", "../quay.toml");
    assert!(bench.analyse(&[], 2).stderr.contains("study.toml:2:"));
}

/// What `inspect` prints is a rig file that reads the recording it was made from.
#[test]
fn the_proposed_rig_reads_the_recording() {
    let bench = Bench::new();
    // Recordings with the lines before their data: one row of names; five lines about the bench and two rows of names.
    for (trace, head) in [
        ("first-look/traces/fl1.csv", 1),
        ("harbour-ring/traces/hr03.csv", 7),
    ] {
        let trace = format!("{}/sample-runs/{trace}", env!("CARGO_MANIFEST_DIR"));
        let seen = bench.run(&["inspect", &trace]);
        assert_eq!(seen.status, 0, "{}", seen.stderr);
        bench.write("mine.toml", &seen.stdout);
        let again = bench.run(&["inspect", &trace, "--rig", "mine.toml"]);
        assert_eq!(again.status, 0, "{}", again.stderr);
        let bytes = fs::read(&trace).unwrap();
        let rows = bytes.trim_ascii_end().split(|b| *b == b'\n').count() - head;
        assert!(
            again
                .stdout
                .contains(&format!("reads the file: {rows} rows")),
            "{}",
            again.stdout
        );
    }
    assert_eq!(bench.run(&["inspect", "no-such.csv"]).status, 2);
}

/// A study on the proposed rig finds the same break at the same sample: only what the file does not say is missing.
#[test]
fn a_study_on_the_proposed_rig_finds_the_break() {
    let bench = Bench::new();
    bench.analyse(&["--no-plots"], 0);
    let known = bench.results()["runs"][2]["events"][0].clone();
    let proposed = bench.run(&["inspect", "study/traces/fl1.csv"]).stdout;
    bench.write("study/rigs/quay.toml", &proposed);
    bench.analyse(&["--no-plots"], 0);
    let found = &bench.results()["runs"][2]["events"][0];
    assert_eq!(
        (&found["kind"], &found["sample"]),
        (&known["kind"], &known["sample"])
    );
    assert_eq!(known["kind"], "fracture");
}

#[test]
fn strict_turns_a_failed_criterion_into_status_1() {
    let bench = Bench::new();
    bench.change(
        "study/study.toml",
        "rig = ",
        "protocol = \"protocol.toml\"\nrig = ",
    );
    let criterion = "[[criterion]]\nrule = \"fractured_share\"\nat_least = 0.9\nconfidence = 0.9\n";
    bench.write("study/protocol.toml", criterion);
    // One frame of three broke: 0.9 of them did not.
    bench.analyse(&["--no-plots"], 0);
    assert_eq!(bench.results()["verdicts"][0]["verdict"], "fail");
    bench.analyse(&["--no-plots", "--strict"], 1);
    // With criteria that hold, strict is content.
    bench.change("study/protocol.toml", "at_least = 0.9", "at_least = 0.01");
    bench.analyse(&["--no-plots", "--strict"], 0);
    assert_eq!(bench.results()["verdicts"][0]["verdict"], "pass");
    // A protocol that cannot be read is no protocol.
    bench.change("study/protocol.toml", "fractured_share", "fractured_shore");
    let ended = bench.analyse(&["--strict"], 2);
    assert!(
        ended.stderr.contains("protocol.toml:2:") && ended.stderr.contains("fractured_share"),
        "{}",
        ended.stderr
    );
}

#[test]
fn simulate_writes_the_sample_studies() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["simulate", "--out", "made"]).status, 0);
    let made = files_below(&bench.path("made"));
    let committed = fs::read(
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-runs/first-look/traces/fl1.csv"),
    );
    assert_eq!(
        made.get(&PathBuf::from("first-look/traces/fl1.csv")),
        committed.ok().as_ref()
    );
    assert!(made.contains_key(&PathBuf::from("harbour-ring.truth.json")));
}

/// What cannot be proven is told with what was typed, what was expected and nothing of files nobody wrote.
#[test]
fn prove_says_what_of_its_options_is_wrong() {
    let bench = Bench::new();
    for (words, says) in [
        (&["--set", "drop_shar=1"][..], "did you mean `drop_share`?"),
        (&["--set", "drop_share=much"], "drop_share=much"),
        (&["--set", "leak.shortes_s=1"], "did you mean `shortest_s`?"),
        (&["--set", "leak.shortest_s=-1"], "`leak.shortest_s` is -1"),
        (
            &["--set", "leak.shortest_s=3", "--set", "leak.long_s=2"],
            "the first must be the smaller",
        ),
        (&["--noise-kpa", "-3"], "expected a number above 0"),
        (&["--rate-hz", "NaN"], "expected a number above 0"),
        (&["--runs", "0"], "at least 1"),
        (&["--scenario", "everydy"], "did you mean \"everyday\"?"),
        (&["--rig", "nowhere.toml"], "nowhere.toml"),
    ] {
        let typed: Vec<&str> = ["prove"].into_iter().chain(words.iter().copied()).collect();
        let ended = bench.run(&typed);
        assert_eq!(ended.status, 2, "{words:?}");
        assert!(ended.stderr.contains(says), "{words:?}: {}", ended.stderr);
        assert!(!ended.stderr.contains("study.toml"), "{}", ended.stderr);
    }
}

/// What `settings` prints is a part of a study file that changes nothing.
#[test]
fn the_printed_settings_are_the_defaults() {
    let bench = Bench::new();
    let ended = bench.run(&["settings"]);
    assert!(ended.status == 0 && ended.stderr.is_empty());
    assert!(ended.stdout.contains("\n[settings.leak]\n"));
    assert!(ended.stdout.contains("\nshortest_s = 0.25\n"));
    assert!(ended.stdout.lines().all(|line| line.len() <= 112));
    bench.analyse(&["--no-plots", "--only", "fl1"], 0);
    let before = bench.results()["study"]["settings"].clone();
    let study = bench.read("study/study.toml");
    bench.write("study/study.toml", &format!("{study}\n{}", ended.stdout));
    bench.analyse(&["--no-plots", "--only", "fl1"], 0);
    assert_eq!(bench.results()["study"]["settings"], before);
    assert_eq!(before["leak"]["shortest_s"], 0.25);
}
