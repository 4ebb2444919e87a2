//! Studies with a second recorder, from the folder to results.json and to what `check` says.

use super::folder::copy;
use hooptrace::pipeline::{Options, analyse, check, open_study};
use hooptrace::recording::{Finding, Severity};
use hooptrace::uncertain::Draws;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A camera whose recorder gets the signal of the pressure transducer too; its picture comes late.
const CAMERA: &str = r#"
[[recording]]
name = "camera"
[recording.dialect]
delimiter = ";"
decimal = ","
[recording.clock]
kind = "relative"
column = "t"
unit = "ms"
[[recording.channel]]
quantity = "diameter"
column = "Waist"
unit = "mm"
u_mm = 0.012
delay_s = 0.08
[[recording.channel]]
quantity = "pressure"
column = "p"
unit = "bar"
[recording.sync]
kind = "correlate"
quantity = "pressure"
drift = true
"#;

/// A recorder of sound that listens to the pressure too.
const MICROPHONE: &str = r#"
[[recording]]
name = "microphone"
trace_column = "trace_sound"
[recording.clock]
kind = "rate"
rate_hz = 500
[[recording.channel]]
quantity = "pressure"
column = "p"
unit = "bar"
[[recording.channel]]
quantity = "sound"
column = "sound"
unit = "1"
[recording.sync]
kind = "correlate"
quantity = "pressure"
drift = true
"#;

/// Noise of the second recorder, bar.
const NOISE_BAR: f64 = 0.03;

/// Frame runs of the sample study.
const FRAMES: [&str; 3] = ["fl1", "fl2", "fl3"];

/// Time (s), pressure (kPa) and waist (mm) as the sample study recorded them.
struct Recorded {
    time_s: Vec<f64>,
    pressure: Vec<f64>,
    waist: Vec<f64>,
}

impl Recorded {
    fn of(run: &str) -> Self {
        let text = fs::read_to_string(sample().join(format!("traces/{run}.csv"))).unwrap();
        let cells = |line: &str| -> Vec<f64> {
            let number = |cell: &str| cell.parse().unwrap_or(f64::NAN);
            line.split(',').map(number).collect()
        };
        let rows: Vec<Vec<f64>> = text.lines().skip(1).map(cells).collect();
        let column = |k: usize| rows.iter().map(|row| row[k]).collect();
        Self {
            time_s: column(0),
            pressure: column(1),
            waist: column(3),
        }
    }

    fn end_s(&self) -> f64 {
        self.time_s[self.time_s.len() - 1]
    }

    /// Straight between the samples; the first and the last value outside.
    fn at(&self, values: &[f64], t: f64) -> f64 {
        let above = self.time_s.partition_point(|s| *s < t);
        if above == 0 || above == values.len() {
            return values[above.min(values.len() - 1)];
        }
        let (a, b) = (self.time_s[above - 1], self.time_s[above]);
        values[above - 1] + (values[above] - values[above - 1]) * (t - a) / (b - a)
    }
}

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs/first-look")
}

/// The sample study with further recordings in the rig and a column of the runs table for each of these: run, column, file.
fn study(further: &str, without_diameter: bool, files: &[(&str, &str, &str)]) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    copy(&sample(), folder.path());
    let rig = fs::read_to_string(folder.path().join("rigs/quay.toml")).unwrap();
    let rig = if without_diameter {
        let from = rig.find("[[channel]]\nquantity = \"diameter\"").unwrap();
        let to = rig.find("[line]").unwrap();
        format!("{}{}", &rig[..from], &rig[to..])
    } else {
        rig
    };
    fs::write(folder.path().join("rigs/quay.toml"), rig + further).unwrap();
    let runs = fs::read_to_string(folder.path().join("runs.csv")).unwrap();
    let mut columns: Vec<&str> = files.iter().map(|f| f.1).collect();
    columns.sort_unstable();
    columns.dedup();
    let mut table = String::new();
    for (number, line) in runs.lines().enumerate() {
        table.push_str(line);
        for column in &columns {
            let run = line.split(',').next().unwrap();
            let file = files.iter().find(|f| f.0 == run && f.1 == *column);
            let cell = if number == 0 {
                column
            } else {
                file.map_or("", |f| f.2)
            };
            let _ = write!(table, ",{cell}");
        }
        table.push('\n');
    }
    fs::write(folder.path().join("runs.csv"), table).unwrap();
    folder
}

/// Readings of a clock that began `start_s` after the bench's and takes `1 + drift` bench seconds for one of its own, with the bench
/// time of each.
fn readings(start_s: f64, drift: f64, rate_hz: f64, until_s: f64) -> Vec<(f64, f64)> {
    let count = ((until_s - start_s) / (1.0 + drift) * rate_hz) as u32;
    (0..count)
        .map(|k| f64::from(k) / rate_hz)
        .map(|own| (own, start_s + own * (1.0 + drift)))
        .collect()
}

/// The waist of a run as a camera of 30 frames a second stores it.
fn film(run: &str, start_s: f64, drift: f64) -> String {
    let seen = Recorded::of(run);
    let mut draws = Draws::new(1, run);
    let mut text = "t;Waist;p\n".to_owned();
    for (own, true_s) in readings(start_s, drift, 30.0, seen.end_s() + 2.0) {
        let (waist, pressure) = (
            seen.at(&seen.waist, true_s),
            seen.at(&seen.pressure, true_s),
        );
        let row = format!(
            "{:.2};{waist:.3};{:.3}\n",
            1e3 * own,
            pressure / 100.0 + NOISE_BAR * draws.normal()
        );
        text.push_str(&row.replace('.', ","));
    }
    text
}

/// results.json of a study.
fn results(folder: &Path) -> Value {
    let study = open_study(folder).unwrap_or_else(|f| panic!("{f:?}"));
    let analysed =
        analyse(&study, &Options::default(), &|_, _| {}).unwrap_or_else(|f| panic!("{f:?}"));
    let file = analysed
        .outputs
        .iter()
        .find(|output| output.path == "results.json")
        .unwrap();
    serde_json::from_slice(&file.bytes).unwrap()
}

fn run<'v>(results: &'v Value, id: &str) -> &'v Value {
    let runs = results["runs"].as_array().unwrap();
    runs.iter().find(|run| run["run_id"] == id).unwrap()
}

fn codes(run: &Value) -> Vec<&str> {
    let findings = run["findings"].as_array().unwrap();
    findings
        .iter()
        .map(|f| f["code"].as_str().unwrap())
        .collect()
}

/// A quantity: value and standard uncertainty.
fn pair(quantity: &Value) -> (f64, f64) {
    (
        quantity["value"].as_f64().unwrap(),
        quantity["u"].as_f64().unwrap(),
    )
}

fn found_in(findings: &[Finding], code: &str, run: &str) -> Finding {
    let of = |f: &&Finding| f.code == code && f.run_id.as_deref() == Some(run);
    findings
        .iter()
        .find(of)
        .unwrap_or_else(|| panic!("no {code} of {run}: {findings:?}"))
        .clone()
}

/// Asserts that offset and drift of a further recording hold the clock it was made with.
fn holds(recording: &Value, start_s: f64, drift: f64) {
    let clock = &recording["clock"];
    let (offset, u_offset) = pair(&clock["offset"]);
    let (found, u_drift) = pair(&clock["drift"]);
    let centre = clock["centre_s"].as_f64().unwrap();
    let truth = start_s + drift * centre;
    // Three standard uncertainties: one clock in 370 is further off.
    assert!((offset - truth).abs() < 3.0 * u_offset, "{truth}: {clock}");
    assert!(
        (found - 1e6 * drift).abs() < 3.0 * u_drift,
        "{drift}: {clock}"
    );
    assert!(u_offset < 0.15 && u_drift < 1500.0, "{clock}");
    assert_eq!(clock["offset"]["unit"], "s");
    assert_eq!(clock["drift"]["unit"], "ppm");
    assert!(clock["u_largest_s"].as_f64().unwrap() >= 0.999 * u_offset);
    let method = clock["offset"]["method"].as_str().unwrap();
    assert!(method.starts_with("cross-correlation of "), "{method}");
}

/// A camera on a clock of its own gives the diameters that the recorder itself gave in the sample study.
#[test]
fn a_camera_on_another_clock_gives_the_same_diameters() {
    let clocks = [
        ("fe1", -12.5, 60e-6),
        ("fl1", 3.217, -150e-6),
        ("fl2", -40.0, 0.0),
        ("fl3", 6.9, 200e-6),
    ];
    let files: Vec<(String, String)> = clocks
        .iter()
        .map(|c| (c.0.to_owned(), format!("traces/film-{}.csv", c.0)))
        .collect();
    let named: Vec<(&str, &str, &str)> = files
        .iter()
        .map(|(run, file)| (run.as_str(), "trace_camera", file.as_str()))
        .collect();
    let folder = study(CAMERA, true, &named);
    for ((run, start_s, drift), (_, file)) in clocks.iter().zip(&files) {
        fs::write(folder.path().join(file), film(run, *start_s, *drift)).unwrap();
    }
    let (one, two) = (results(&sample()), results(folder.path()));
    for (id, start_s, drift) in clocks {
        let result = run(&two, id);
        let further = &result["recording"]["further"][0];
        holds(further, start_s, drift);
        assert_eq!(further["name"], "camera");
        assert_eq!(further["used"][0], "diameter");
        assert!(codes(result).contains(&"clock-aligned"));
        assert!(!codes(result).contains(&"clock-not-aligned"));
    }
    // The files are read, so their checksums stand with the others.
    let inputs = two["inputs"].as_array().unwrap();
    for (_, file) in &files {
        assert!(
            inputs.iter().any(|input| input["path"] == file.as_str()),
            "{file}"
        );
    }
    let mut compared = 0;
    for id in FRAMES {
        assert_eq!(run(&one, id)["outcome"], run(&two, id)["outcome"]);
        let at_event = |results| &run(results, id)["diameters"]["at_event"];
        if at_event(&one)["value"].is_null() {
            continue;
        }
        let ((a, u_a), (b, u_b)) = (pair(at_event(&one)), pair(at_event(&two)));
        // Both saw the same waist; frames of 30 a second lie between the samples of the recorder.
        assert!(
            (a - b).abs() < 3.0 * u_a.hypot(u_b),
            "{id}: {a} {u_a}, {b} {u_b}"
        );
        assert!(b > 15.0 && u_b > 0.0);
        compared += 1;
    }
    assert!(compared > 0);
    // The blank run was not filmed; nothing else changes for it.
    assert_eq!(
        codes(run(&two, "bl1"))
            .iter()
            .filter(|c| **c == "no-further-recording")
            .count(),
        1
    );
    assert!(run(&one, "bl1")["recording"].get("further").is_none());
}

/// Without anything in common the waist of a free balloon is placed by the volume that widens it, and less well. A frame holds the waist
/// back, so that it does not follow the volume: then nothing is placed.
#[test]
fn a_waist_alone_is_placed_where_it_follows_the_volume() {
    let alone = CAMERA.replace(
        "quantity = \"pressure\"\ndrift",
        "quantity = \"diameter\"\nwith = \"volume\"\ndrift",
    );
    assert_ne!(alone, CAMERA);
    let files = [
        ("fe1", "trace_camera", "traces/film-fe1.csv"),
        ("fl1", "trace_camera", "traces/film-fl1.csv"),
    ];
    let folder = study(&alone, true, &files);
    for (run, _, file) in files {
        fs::write(folder.path().join(file), film(run, 4.4, -80e-6)).unwrap();
    }
    let found = results(folder.path());
    let free = &run(&found, "fe1")["recording"]["further"][0];
    holds(free, 4.4, -80e-6);
    assert!(pair(&free["clock"]["offset"]).1 > 0.1);
    let held = &run(&found, "fl1")["recording"]["further"][0];
    assert!(held["clock"].is_null(), "{held}");
    assert!(codes(run(&found, "fl1")).contains(&"clock-not-aligned"));
}

/// A click at the break, heard by a recorder whose clock is placed by the pressure it also has.
#[test]
fn a_click_on_another_clock_is_evidence_of_the_break() {
    let before = results(&sample());
    let breaks: BTreeMap<&str, f64> = FRAMES
        .iter()
        .filter_map(|id| {
            let events = run(&before, id)["events"].as_array().unwrap();
            let event = events.iter().find(|e| e["kind"] == "fracture")?;
            Some((*id, event["t_s"].as_f64().unwrap()))
        })
        .collect();
    let (&id, &broke_s) = breaks.iter().next().expect("a frame that broke");
    let seen = Recorded::of(id);
    let (start_s, drift) = (-7.3, 90e-6);
    let mut draws = Draws::new(1, "heard");
    let mut text = "p,sound\n".to_owned();
    for (k, (_, true_s)) in readings(start_s, drift, 500.0, seen.end_s())
        .iter()
        .enumerate()
    {
        let click = if (true_s - broke_s).abs() < 0.003 {
            2.0
        } else {
            0.0
        };
        // Noise and a hum of 50 Hz beside it.
        let hum =
            0.005 * draws.normal() + 0.01 * (0.1 * std::f64::consts::TAU * (k % 10) as f64).sin();
        let pressure = seen.at(&seen.pressure, *true_s) / 100.0 + NOISE_BAR * draws.normal();
        let _ = writeln!(text, "{pressure:.4},{:.4}", hum + click);
    }
    let file = "traces/heard.csv";
    let folder = study(MICROPHONE, false, &[(id, "trace_sound", file)]);
    fs::write(folder.path().join(file), text).unwrap();
    let after = results(folder.path());
    let result = run(&after, id);
    let further = &result["recording"]["further"][0];
    holds(further, start_s, drift);
    assert_eq!(further["used"].as_array().unwrap().len(), 1);
    assert_eq!(further["used"][0], "sound");
    let evidence = |results: &Value| -> String {
        let events = run(results, id)["events"].as_array().unwrap();
        let event = events.iter().find(|e| e["kind"] == "fracture").unwrap();
        event["evidence"].to_string()
    };
    assert!(!evidence(&before).contains("sound:"));
    assert!(
        evidence(&after).contains("sound: an impulse of"),
        "{}",
        evidence(&after)
    );
    // Pressure comes from the main recording alone, to the last digit.
    assert_eq!(
        run(&before, id)["highest_pressure"],
        result["highest_pressure"]
    );
}

/// What cannot be placed is left out: the run stands as it stood without it, a finding says why, and `check` says the same.
#[test]
fn a_file_of_another_run_a_broken_one_and_a_missing_one_are_left_out() {
    let files = [
        ("fl1", "trace_camera", "traces/other.csv"),
        ("fl2", "trace_camera", "traces/broken.csv"),
        ("fl3", "trace_camera", "traces/none.csv"),
        ("fl3", "trace_camara", "traces/other.csv"),
        ("fe1", "trace_camera", "traces/fe1.csv"),
    ];
    let folder = study(CAMERA, true, &files);
    fs::write(
        folder.path().join("traces/other.csv"),
        film("fl3", 1.0, 0.0),
    )
    .unwrap();
    fs::write(
        folder.path().join("traces/broken.csv"),
        "time;width;x\n1,0;2,0;3,0\n",
    )
    .unwrap();
    let found = results(folder.path());
    let bare = results(study("", true, &[]).path());
    for id in FRAMES {
        let (one, two) = (run(&bare, id), run(&found, id));
        let further = &two["recording"]["further"][0];
        assert!(further["clock"].is_null(), "{further}");
        assert!(!further["reason"].as_str().unwrap().is_empty());
        assert_eq!(further["used"].as_array().unwrap().len(), 0);
        for key in ["outcome", "events", "diameters", "highest_pressure"] {
            assert_eq!(one[key], two[key], "{id} {key}");
        }
    }
    assert!(codes(run(&found, "fl1")).contains(&"clock-not-aligned"));
    let checked = check(folder.path(), &|_, _| {});
    let refused = found_in(&checked.findings, "clock-not-aligned", "fl1");
    assert_eq!(refused.file.as_deref(), Some("traces/other.csv"));
    assert!(refused.message.contains("left out") && refused.help.is_some());
    assert_eq!(refused.severity, Severity::Doubt);
    let stray = found_in(&checked.findings, "trace-column-unknown", "fl3");
    assert_eq!(
        stray.help.as_deref(),
        Some("did you mean \"trace_camera\"?")
    );
    // The main recording named once more as the film of its own run.
    let shared = found_in(&checked.findings, "recording-shared", "fe1");
    assert_eq!(shared.column.as_deref(), Some("trace_camera"));
    for id in ["fl2", "fl3"] {
        let of = |f: &&Finding| {
            f.run_id.as_deref() == Some(id)
                && f.message.contains("the recording camera was left out")
        };
        let finding = checked
            .findings
            .iter()
            .find(of)
            .unwrap_or_else(|| panic!("{id}"));
        assert_eq!(finding.severity, Severity::Doubt, "{finding:?}");
    }
    // Files named by no run are still told apart from those named as further ones.
    assert!(
        !checked
            .findings
            .iter()
            .any(|f| f.code == "recording-unused"),
        "{:?}",
        checked.findings
    );
}
