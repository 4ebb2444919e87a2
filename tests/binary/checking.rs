//! `hooptrace check`: a study broken on purpose for every check, what is printed of it, and that nothing is written.

use super::study::{Bench, Ended, files_below};
use hooptrace::pipeline::CHECKS;
use serde_json::Value;
use std::collections::BTreeSet;
use std::fs;

pub const RUNS: &str = "study/runs.csv";
const RIG: &str = "study/rigs/quay.toml";

pub fn check(bench: &Bench, status: i32) -> Ended {
    let ended = bench.run(&["check", "study"]);
    assert_eq!(ended.status, status, "{}{}", ended.stdout, ended.stderr);
    ended
}

pub fn findings(bench: &Bench) -> Vec<Value> {
    let ended = bench.run(&["check", "study", "--json"]);
    serde_json::from_str(&ended.stdout).unwrap_or_else(|e| panic!("{e}: {}", ended.stdout))
}

pub fn codes(bench: &Bench) -> BTreeSet<String> {
    let code = |finding: &Value| finding["code"].as_str().unwrap().to_owned();
    findings(bench).iter().map(code).collect()
}

/// One way to break a study, and the code it must be told under.
struct Broken {
    check: &'static str,
    code: &'static str,
    harm: fn(&Bench),
}

/// At least one for every check.
const BROKEN: &[Broken] = &[
    Broken {
        check: "reference-runs",
        code: "no-blank-run",
        harm: |b| drop_line(b, RUNS, "bl1,"),
    },
    Broken {
        check: "reference-runs",
        code: "no-free-run",
        harm: |b| drop_line(b, RUNS, "fe1,"),
    },
    Broken {
        check: "reference-runs",
        code: "blank-run-not-listed",
        harm: |b| b.change(RIG, "[\"bl1\"]", "[\"bl1\", \"bl2\"]"),
    },
    Broken {
        check: "reference-runs",
        code: "blank-run-of-other-kind",
        harm: |b| b.change(RIG, "[\"bl1\"]", "[\"fe1\"]"),
    },
    Broken {
        check: "rig-says",
        code: "ambient-undeclared",
        harm: |b| drop_line(b, RIG, "pressure_kpa = "),
    },
    Broken {
        check: "rig-says",
        code: "side-undeclared",
        harm: |b| drop_line(b, RIG, "side = "),
    },
    Broken {
        check: "rig-says",
        code: "range-undeclared",
        harm: |b| drop_line(b, RIG, "range_kpa = "),
    },
    Broken {
        check: "gauge",
        code: "caliper-uncertainty-assumed",
        harm: |b| drop_line(b, RIG, "caliper_u_mm"),
    },
    Broken {
        check: "gauge",
        code: "caliper-resolution-undeclared",
        harm: |b| {
            drop_line(b, RIG, "caliper_resolution_mm");
            drop_line(b, RIG, "caliper_u_mm");
        },
    },
    Broken {
        check: "unused",
        code: "frame-unused",
        harm: |b| add_line(b, "study/frames.csv", "SPARE,moulded,21,20.5"),
    },
    Broken {
        check: "unused",
        code: "balloon-unused",
        harm: |b| add_line(b, "study/balloons.csv", "HB-99,23,40,5,16,X"),
    },
    Broken {
        check: "unused",
        code: "frame-again",
        harm: |b| set(b, "fl2", "frame_id", &cell(b, "fl1", "frame_id")),
    },
    Broken {
        check: "sizes",
        code: "true-id-missing",
        harm: |b| {
            let frame = cell(b, "fl1", "frame_id");
            set_in(b, "study/frames.csv", &frame, "true_id_mm", "");
        },
    },
    Broken {
        check: "arms",
        code: "arm-missing",
        harm: |b| {
            set(b, "fl1", "arm", "one");
            set(b, "fl2", "arm", "");
        },
    },
    Broken {
        check: "arms",
        code: "protocol-arm",
        harm: |b| {
            b.change(
                "study/study.toml",
                "rig = ",
                "protocol = \"p.toml\"\nrig = ",
            );
            let text = "[[criterion]]\nrule = \"fractured_share\"\narm = \"nobody\"\nat_least = 0.9\nconfidence = 0.9\n";
            b.write("study/p.toml", text);
        },
    },
    Broken {
        check: "recordings",
        code: "recording-unused",
        harm: |b| b.write("study/traces/spare.csv", "a,b\n1,2\n"),
    },
    Broken {
        check: "recordings",
        code: "recording-shared",
        harm: |b| set(b, "fl2", "trace", "./traces/fl1.csv"),
    },
    Broken {
        check: "recordings",
        code: "recording-copied",
        harm: |b| {
            fs::copy(
                b.path("study/traces/fl1.csv"),
                b.path("study/traces/fl2.csv"),
            )
            .unwrap();
        },
    },
    Broken {
        check: "stages",
        code: "no-diameter-before",
        harm: |b| {
            unmeasured(b, "fl3,before");
        },
    },
    Broken {
        check: "stages",
        code: "no-diameter-after",
        harm: |b| {
            unmeasured(b, "fl3,after");
        },
    },
    Broken {
        check: "inspected",
        code: "not-inspected",
        harm: |b| set(b, "fl1", "inspection", ""),
    },
    Broken {
        check: "inspected",
        code: "inspection-of-other-kind",
        harm: |b| set(b, "bl1", "inspection", "fractured"),
    },
    Broken {
        check: "started",
        code: "start-unreadable",
        harm: |b| set(b, "fl1", "started_at", "4.3.2025"),
    },
    Broken {
        check: "started",
        code: "start-missing",
        harm: |b| {
            drop_line(b, RIG, "due_on");
            set(b, "fl1", "started_at", "");
        },
    },
];

/// Takes every reading of a run at a stage away.
fn unmeasured(bench: &Bench, run_and_stage: &str) {
    drop_line(bench, "study/calipers.csv", run_and_stage);
    drop_line(bench, "study/contours.csv", run_and_stage);
}

/// Takes away every line that begins so, which must be there.
fn drop_line(bench: &Bench, file: &str, start: &str) {
    let text = bench.read(file);
    let kept: Vec<&str> = text.lines().filter(|l| !l.starts_with(start)).collect();
    // An outline may have been taken of other runs only.
    assert!(
        kept.len() < text.lines().count() || file.contains("contours"),
        "{file} has no line {start}"
    );
    bench.write(file, &(kept.join("\n") + "\n"));
}

fn add_line(bench: &Bench, file: &str, line: &str) {
    bench.write(file, &format!("{}\n{line}\n", bench.read(file).trim_end()));
}

fn column(text: &str, name: &str) -> usize {
    let mut names = text.lines().next().unwrap().split(',');
    names.position(|other| other == name).unwrap()
}

fn cell(bench: &Bench, run: &str, name: &str) -> String {
    let text = bench.read(RUNS);
    let row = text.lines().find(|l| l.starts_with(&format!("{run},")));
    row.unwrap()
        .split(',')
        .nth(column(&text, name))
        .unwrap()
        .to_owned()
}

fn set(bench: &Bench, run: &str, name: &str, value: &str) {
    set_in(bench, RUNS, run, name, value);
}

/// Puts a value into the row that begins with this name.
fn set_in(bench: &Bench, file: &str, row: &str, name: &str, value: &str) {
    let text = bench.read(file);
    let at = column(&text, name);
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let found = lines
        .iter()
        .position(|l| l.starts_with(&format!("{row},")))
        .unwrap();
    let mut cells: Vec<&str> = lines[found].split(',').collect();
    cells[at] = value;
    lines[found] = cells.join(",");
    bench.write(file, &(lines.join("\n") + "\n"));
}

#[test]
fn a_sound_study_has_nothing_worse_than_notes_and_nothing_is_written() {
    let bench = Bench::new();
    let before = files_below(bench.folder.path());
    let ended = check(&bench, 0);
    assert!(ended.stderr.is_empty(), "{}", ended.stderr);
    let last = ended.stdout.lines().last().unwrap();
    assert!(
        last.starts_with("no errors, no doubts, ") && last.ends_with(" in 5 runs"),
        "{last}"
    );
    assert!(before == files_below(bench.folder.path()));
}

/// Two runs may be two acquisitions of one file: neither a copy nor a file that nobody names.
#[test]
fn parts_of_one_file_are_recordings_of_their_own() {
    let bench = Bench::new();
    let both = bench.read("study/traces/fl1.csv") + &bench.read("study/traces/fl2.csv");
    bench.write("study/traces/fl1.csv", &both);
    fs::remove_file(bench.path("study/traces/fl2.csv")).unwrap();
    set(&bench, "fl1", "trace", "traces/fl1.csv#1");
    set(&bench, "fl2", "trace", "traces/fl1.csv#2");
    check(&bench, 0);
    let codes = codes(&bench);
    assert!(codes.contains("acquisition-chosen"), "{codes:?}");
    let wrong: Vec<&String> = codes
        .iter()
        .filter(|code| code.starts_with("recording-") || *code == "several-acquisitions")
        .collect();
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// A mistyped reading is told at its row by both commands, and spoils the diameter it belongs to and no other.
#[test]
fn a_mistyped_reading_is_told_and_spoils_one_diameter() {
    let sound = Bench::new();
    sound.analyse(&["--no-plots"], 0);
    let bench = Bench::new();
    bench.change("study/calipers.csv", ",20.55,mm", ",205.5,mm");
    bench.analyse(&["--no-plots"], 0);
    let (results, was) = (bench.results(), sound.results());
    let in_results = results["findings"].as_array().unwrap().iter();
    let of_run = results["runs"].as_array().unwrap().iter();
    let in_runs = of_run.flat_map(|run| run["findings"].as_array().unwrap());
    let told = [
        findings(&bench),
        in_results.chain(in_runs).cloned().collect(),
    ];
    for told in told {
        let slips: Vec<&Value> = told
            .iter()
            .filter(|finding| finding["code"] == "reading-stands-off")
            .collect();
        assert!(!slips.is_empty(), "{told:?}");
        for slip in slips {
            assert_eq!(
                (
                    &slip["severity"],
                    &slip["run_id"],
                    &slip["file"],
                    &slip["line"]
                ),
                (
                    &"doubt".into(),
                    &"fl1".into(),
                    &"calipers.csv".into(),
                    &4.into()
                )
            );
        }
    }
    assert_eq!(bench.outcomes()[3..], sound.outcomes()[3..]);
    let u = |results: &Value, run: &str, stage: &str| {
        let runs = results["runs"].as_array().unwrap();
        let found = runs.iter().find(|r| r["run_id"] == run).unwrap();
        found["diameters"][stage]["u"].as_f64().unwrap()
    };
    assert!(u(&results, "fl1", "before") > 30.0);
    for (run, stage) in [("fl1", "after"), ("fl2", "before"), ("fl3", "after")] {
        let (now, then) = (u(&results, run, stage), u(&was, run, stage));
        assert!(
            (now - then).abs() < 0.1 * then,
            "{run} {stage}: {now} {then}"
        );
    }
}

/// Each harm is told under its code, in words and as JSON with all keys, and only after it was done.
#[test]
fn every_check_finds_what_is_broken() {
    let sound = codes(&Bench::new());
    for broken in BROKEN {
        let bench = Bench::new();
        assert!(!sound.contains(broken.code), "{}", broken.code);
        (broken.harm)(&bench);
        let ended = check(&bench, 0);
        assert!(
            ended.stdout.contains(&format!("[{}]", broken.code)),
            "{}:\n{}",
            broken.code,
            ended.stdout
        );
        let all = findings(&bench);
        let told = all.iter().find(|f| f["code"] == broken.code);
        let told = told.unwrap_or_else(|| panic!("{}", broken.code));
        for key in ["severity", "message", "help", "file"] {
            assert!(told[key].is_string(), "{}: no {key}: {told}", broken.code);
        }
        for key in ["run_id", "line", "column"] {
            assert!(told.get(key).is_some(), "{}: no {key}", broken.code);
        }
    }
    let tried: BTreeSet<&str> = BROKEN.iter().map(|broken| broken.check).collect();
    let listed: BTreeSet<&str> = CHECKS.iter().map(|check| check.name).collect();
    assert_eq!(tried, listed, "every check has an example, and only those");
    assert_eq!(listed.len(), CHECKS.len(), "names of checks stand once");
}

/// Doubts of tables and recordings, which the readers find, are told too.
#[test]
fn tables_and_recordings_are_read() {
    let bench = Bench::new();
    set(&bench, "fl1", "balloon_id", "HB-23x");
    set(&bench, "fl2", "frame_id", "nobody");
    set(&bench, "fe1", "started_at", "2031-01-01T08:00:00");
    bench.change("study/traces/fl3.csv", "Pressure [kPa]", "Pessure [kPa]");
    let ended = check(&bench, 1);
    for code in [
        "balloon-not-listed",
        "frame-not-listed",
        "calibration-overdue",
        "column-missing",
    ] {
        assert!(ended.stdout.contains(code), "{code}:\n{}", ended.stdout);
    }
    assert!(
        ended
            .stdout
            .contains("\nrun fl3\n  error[column-missing] traces/fl3.csv:1")
    );
    let last = ended.stdout.lines().last().unwrap();
    assert!(last.starts_with("1 error, "), "{last}");
}

/// What is the same in many runs is told once, and counted for each.
#[test]
fn what_many_runs_share_is_folded() {
    let bench = Bench::new();
    for run in ["fl1", "fl2", "fl3"] {
        set(&bench, run, "inspection", "");
    }
    let ended = check(&bench, 0);
    assert_eq!(ended.stdout.matches("[not-inspected]").count(), 1);
    assert!(
        ended.stdout.contains("\nin 3 runs: doubt[not-inspected]")
            && ended.stdout.contains("(fl1, fl2, fl3)"),
        "{}",
        ended.stdout
    );
    assert!(ended.stdout.contains("no errors, 3 doubts, "));
    let told = |f: &&Value| f["code"] == "not-inspected";
    assert_eq!(findings(&bench).iter().filter(told).count(), 3);
}

/// Faults of study file, rig, tables and protocol come in one go, each with its line and a mark under the part meant.
#[test]
fn a_study_that_cannot_be_read_tells_every_fault_at_once() {
    let bench = Bench::new();
    bench.change(RIG, "quantity = \"pressure\"", "quantity = \"presure\"");
    bench.change(RIG, "unit = \"mL\"", "unit = \"ml3\"");
    bench.change(RIG, "side = ", "sied = ");
    bench.change(
        "study/study.toml",
        "rig = ",
        "protocol = \"p.toml\"\nrig = ",
    );
    bench.write(
        "study/p.toml",
        "[[criterion]]\nrule = \"fractured_shore\"\n",
    );
    set(&bench, "fl2", "kind", "fram");
    let ended = check(&bench, 2);
    for (code, marked) in [
        ("toml-unknown-key", "sied = \"inflator\""),
        ("toml-word", "quantity = \"presure\""),
        ("unknown-unit", "unit = \"ml3\""),
        ("protocol-rule", "rule = \"fractured_shore\""),
        ("unknown-word", "fl2,fram,"),
    ] {
        assert!(ended.stdout.contains(code), "{code}:\n{}", ended.stdout);
        assert!(ended.stdout.contains(&format!(" | {marked}")), "{marked}");
    }
    assert!(ended.stdout.ends_with("; the study cannot be read\n"));
    // The same faults stop an analysis, on standard error.
    let stopped = bench.analyse(&[], 2);
    assert_eq!(
        stopped.stderr.matches("error[").count(),
        5,
        "{}",
        stopped.stderr
    );
    let line = 1 + bench
        .read(RIG)
        .lines()
        .position(|l| l.contains("ml3"))
        .unwrap();
    let margin = " ".repeat(line.to_string().len());
    let shown = format!(
        "rigs/quay.toml:{line}:8: [[channel]] `unit` is \"ml3\", which is no known unit\n  {line} | unit = \"ml3\"\n  {margin} |        ^^^^^\n    help: "
    );
    assert!(
        stopped.stderr.contains(&shown),
        "{shown}\n{}",
        stopped.stderr
    );
    for near in ["\"pressure\"", "`side`", "\"frame\"", "\"fractured_share\""] {
        let help = format!("did you mean {near}?");
        assert!(stopped.stderr.contains(&help), "{help}\n{}", stopped.stderr);
    }
}

/// A fault of a table is marked in its cell, one of a long line through a window, whatever the encoding.
#[test]
fn a_fault_of_a_table_is_marked_in_its_cell() {
    let bench = Bench::new();
    bench.change(
        "study/calipers.csv",
        "fl1,before,caliper,15,1,mio,20.65",
        "fl1,before,caliper,15,1,mio,wide",
    );
    let ended = bench.analyse(&["--no-plots"], 1);
    let shown =
        "  2 | fl1,before,caliper,15,1,mio,wide,mm\n    |                             ^^^^\n";
    assert!(ended.stderr.contains(shown), "{}", ended.stderr);
    // A note of two thousand characters in front of the cell at fault, in UTF-16.
    let bench = Bench::new();
    let text = bench.read(RUNS);
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    lines[0] = format!("note,{}", lines[0].replace(",note", ",note_2"));
    for line in &mut lines[1..] {
        *line = format!("{},{line}", "ä".repeat(2000));
    }
    let long = (lines.join("\n") + "\n").replace(",fl1,frame,", ",fl1,fraim,");
    let wide: Vec<u8> = std::iter::once(0xfeff)
        .chain(long.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    fs::write(bench.path(RUNS), wide).unwrap();
    let ended = bench.analyse(&["--no-plots"], 1);
    let at = ended
        .stderr
        .find("fraim,")
        .unwrap_or_else(|| panic!("{}", ended.stderr));
    assert!(ended.stderr[..at].contains('…'), "{}", ended.stderr);
    assert!(ended.stderr.contains("^^^^^\n"));
    assert!(ended.stderr.lines().all(|l| l.chars().count() < 200));
}

#[test]
fn a_check_of_no_study_says_what_to_give() {
    let bench = Bench::new();
    let ended = bench.run(&["check", "studdy"]);
    assert_eq!((ended.status, ended.stdout.as_str()), (2, ""));
    assert!(ended.stderr.contains("there is no folder studdy"));
    let ended = bench.run(&["check", "study/traces/fl1.csv"]);
    assert_eq!(ended.status, 2);
    assert!(
        ended.stderr.contains("is a file") && ended.stderr.contains("give the folder: study\n")
    );
    fs::create_dir(bench.path("empty")).unwrap();
    let ended = bench.run(&["check", "empty", "--json"]);
    assert_eq!(ended.status, 2);
    let told: Vec<Value> = serde_json::from_str(&ended.stdout).unwrap();
    assert_eq!(told.len(), 1);
}
