//! The simulated bench against the physics it claims, and the committed sample studies against the simulator.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::bench::balloon::Balloon;
use hooptrace::bench::frame::Ring;
use hooptrace::bench::hole::Hole;
use hooptrace::bench::line::Line;
use hooptrace::bench::operator::Operator;
use hooptrace::bench::run::{Course, TrueEvent, simulate};
use hooptrace::bench::samples::parts;
use hooptrace::bench::solver::{Happening, Specimen};
use hooptrace::bench::truth::TrueRun;
use hooptrace::bench::{self, Truth, sample_plans};
use hooptrace::recording::{Outcome, RunKind};
use hooptrace::uncertain::Draws;
use hooptrace::{read, rig};
use std::collections::BTreeMap;
use std::f64::consts::FRAC_PI_4;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// kPa in an atmosphere (exact).
const ATM: f64 = 101.325;

fn samples_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs")
}

/// Every sample study written once into a temporary folder, with its truth.
fn written() -> &'static (tempfile::TempDir, Vec<Truth>) {
    static WRITTEN: OnceLock<(tempfile::TempDir, Vec<Truth>)> = OnceLock::new();
    WRITTEN.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let truths = sample_plans()
            .iter()
            .map(|plan| bench::write_with_truth(plan, folder.path()).unwrap())
            .collect();
        (folder, truths)
    })
}

fn every_run() -> impl Iterator<Item = &'static TrueRun> {
    written().1.iter().flat_map(|truth| &truth.runs)
}

/// A tube without air, at standard ambient pressure.
fn tube(ml_per_atm: f64) -> Line {
    Line {
        compliance_ml_per_kpa: ml_per_atm / ATM,
        trapped_air_ml: 0.0,
        ambient_kpa: ATM,
        resistance_kpa_s_per_ml: 0.0,
        ringing: None,
    }
}

/// A balloon whose wall does not grow: all capacity is in the tube.
fn rigid_balloon(diameter_mm: f64, length_mm: f64) -> Balloon {
    Balloon {
        unfolded_diameter_mm: diameter_mm,
        seating_mm: 0.0,
        seating_kpa: 1.0,
        growth_mm_per_kpa: 0.0,
        unfolding_kpa: 0.5,
        working_length_mm: length_mm,
        cone_volume_ml: 0.0,
        folded_volume_ml: 0.0,
        creep_ml_per_kpa: 0.0,
        creep_time_s: 1.0,
        burst_kpa: f64::INFINITY,
    }
}

/// Inject until the balloon stands at `kpa`, in steps small beside the tube's capacity.
fn pressurise(specimen: &mut Specimen, kpa: f64) {
    let (mut low, mut high) = (specimen.injected_ml, specimen.injected_ml + 60.0);
    for _ in 0..200 {
        specimen.injected_ml = 0.5 * (low + high);
        if specimen.settle().pressure < kpa {
            low = specimen.injected_ml;
        } else {
            high = specimen.injected_ml;
        }
    }
}

/// Blank model `C p + V_a p/(p + p_atm)`: 0.020 mL/atm, 0.5 mL of air, 12 atm give 0.7015 mL; 1 mL of air has a capacity of
/// 1/(1 + p)² mL/atm (1, 0.25, 0.0278, 0.00826, 0.00227 at 0, 1, 5, 10, 20 atm) and takes up 0.952 mL by 20 atm. All by Boyle's
/// law on paper.
#[test]
fn line_takes_up_what_boyle_and_hooke_say() {
    let line = Line {
        trapped_air_ml: 0.5,
        ..tube(0.020)
    };
    assert!((line.volume(12.0 * ATM) - 0.7015).abs() < 5e-5);
    let air = Line {
        trapped_air_ml: 1.0,
        ..tube(0.0)
    };
    for (atm, capacity, tolerance) in [
        (0.0, 1.0, 1e-9),
        (1.0, 0.25, 1e-9),
        (5.0, 0.0278, 5e-5),
        (10.0, 0.00826, 5e-6),
        (20.0, 0.00227, 5e-6),
    ] {
        assert!((air.capacity(atm * ATM) * ATM - capacity).abs() < tolerance);
    }
    assert!((air.volume(20.0 * ATM) - 0.952).abs() < 5e-4);
}

/// Cylinders 20 × 40, 22 × 40, 24 × 45, 26 × 45 mm hold 12.6, 15.2, 20.4, 23.9 mL.
#[test]
fn balloon_holds_the_volume_of_its_cylinder() {
    for (d, length, ml) in [
        (20.0, 40.0, 12.6),
        (22.0, 40.0, 15.2),
        (24.0, 45.0, 20.4),
        (26.0, 45.0, 23.9),
    ] {
        let volume = rigid_balloon(d, length).volume_free(10.0 * ATM);
        assert!((volume - ml).abs() < 0.05, "{d} x {length}: {volume}");
    }
}

/// A free diameter of 22.35 mm, 0.9 mL missing over 10 mm: the waist is 19.62 mm.
#[test]
fn waist_displaces_the_missing_shell() {
    let balloon = rigid_balloon(22.35, 40.0);
    let p = 10.0 * ATM;
    let missing = balloon.volume_free(p) - balloon.volume_waisted(p, 19.62, 10.0, 0.0);
    // 0.005 mm on the waist is π/2 × 19.62 × 10 × 0.005 mm³ = 1.6e-3 mL.
    assert!((missing - 0.9).abs() < 1.6e-3);
}

/// 20 atm in a ring of 21 mm over 5 mm: ring force 106.39 N (thin ring, N = p D L / 2). The balloon is far wider than the ring,
/// so nearly all of the pressure loads the ring.
#[test]
fn ring_carries_half_of_pressure_times_diameter_times_length() {
    let mut stiff = parts::stiff_base();
    stiff.stiffness_n_per_mm = 1e6;
    let ring = Ring::new(stiff, 21.0);
    let mut specimen = Specimen::new(
        tube(0.1),
        Some(rigid_balloon(30.0, 40.0)),
        Some(ring),
        parts::seat(5.0),
    );
    pressurise(&mut specimen, 20.0 * ATM);
    let state = specimen.state();
    let load = state.pressure - state.free_pressure;
    assert!((state.pressure - 20.0 * ATM).abs() < 1e-6);
    assert!((state.force - 106.39 * load / (20.0 * ATM)).abs() < 0.01);
    assert!(load > 0.999 * state.pressure);
}

/// A waist that springs from 19.0 to 20.2 mm over 8 mm in a rig of 0.07 mL/atm at 10 atm takes 0.2956 mL: 4.22 atm are lost.
#[test]
fn a_snap_drops_the_pressure_by_volume_over_capacity() {
    let mut stiff = parts::stiff_base();
    stiff.stiffness_n_per_mm = 1e6;
    let ring = Ring::new(stiff, 19.0);
    let mut specimen = Specimen::new(
        tube(0.07),
        Some(rigid_balloon(22.0, 40.0)),
        Some(ring),
        parts::seat(8.0),
    );
    pressurise(&mut specimen, 10.0 * ATM);
    let waist = specimen.state().waist;
    specimen.ring.as_mut().unwrap().bore_mm = 20.2;
    let after = specimen.settle();
    let opened = FRAC_PI_4 * (after.waist.powi(2) - waist.powi(2)) * 8.0 * 1e-3;
    assert!((opened - 0.2956).abs() < 5e-4, "{opened}");
    let drop = 10.0 - after.pressure / ATM;
    assert!((drop - 4.22).abs() < 0.01, "{drop}");
}

/// Water through 50 µm at 20 atm: 63.7 m/s and 0.0775 mL/s; in 0.1 mL/atm −0.775 atm/s. sqrt(p) falls on a straight line:
/// 13.00 atm after 10 s, zero at 51.6 s.
#[test]
fn a_pinhole_lets_the_root_of_pressure_fall_on_a_line() {
    let p0 = 20.0 * ATM;
    assert!((Hole::jet_speed(p0, 1.0) - 63.7).abs() < 0.05);
    assert!((Hole::round(50.0).flow(p0, 1.0) - 0.0775).abs() < 5e-5);
    let mut specimen = Specimen::new(tube(0.1), None, None, parts::seat(5.0));
    pressurise(&mut specimen, p0);
    specimen.hole = Some(Hole::round(50.0));
    let mut roots = Vec::new();
    for n in 0..50_000 {
        if n % 5000 == 0 {
            roots.push((specimen.state().pressure / ATM).sqrt());
        }
        specimen.step(0.0, 1e-3);
    }
    assert!((roots[2].powi(2) - 13.00).abs() < 0.01);
    let fall = roots[0] - roots[1];
    for pair in roots.windows(2) {
        assert!((pair[0] - pair[1] - fall).abs() < 1e-3 * fall);
    }
    // The line meets zero where its constant fall per 5 s uses the root up.
    assert!((roots[0] / fall * 5.0 - 51.6).abs() < 0.1);
}

/// What was injected is in the line, in the balloon, or crept into its wall: to 1e-9 mL at every step, through yield and break.
/// The volumes are summed here from line and balloon, not taken from the solver.
#[test]
fn the_balance_of_volume_closes() {
    let plan = parts::balloon("b", 25.0, 5.0, 15.0);
    let line = Line {
        trapped_air_ml: 0.3,
        ..tube(0.05)
    };
    let ring = Ring::new(parts::banded_stent(58.0), 22.0);
    let mut specimen = Specimen::new(
        line,
        Some(plan.balloon.clone()),
        Some(ring),
        parts::seat(4.6),
    );
    let mut happened = Vec::new();
    let mut worst = 0.0_f64;
    // 21 mL fill the balloon in 6 s, then 2.8 mL more in 28 s.
    for n in 0..34_000 {
        let flow = if n < 6000 { 21.0 / 6.0 } else { 0.1 };
        happened.extend(specimen.step(flow * 1e-3, 1e-3));
        // The ring moves after the balance is struck: strike it again for the ring as it stands.
        let state = specimen.settle();
        let held = line.volume(state.pressure)
            + plan
                .balloon
                .volume_waisted(state.pressure, state.waist, 4.6, 0.0)
            + specimen.crept_ml;
        worst = worst.max((specimen.injected_ml - specimen.lost_ml - held).abs());
    }
    assert!(happened.contains(&Happening::Yield), "{happened:?}");
    assert!(happened.contains(&Happening::Fracture), "{happened:?}");
    assert!(worst < 1e-9, "{worst} mL left open");
}

/// A moulded ring in a usual rig, recorded fast enough to see the edge.
fn fast_snap() -> Course {
    let plan = parts::balloon("b", 23.0, 5.0, 16.0);
    let line = Line {
        trapped_air_ml: 0.2,
        ..tube(0.045)
    };
    let ring = Ring::new(parts::moulded_ring(45.0), 20.6);
    let specimen = Specimen::new(line, Some(plan.balloon), Some(ring), parts::seat(5.2));
    let operator = Operator::new(parts::habit(1300.0), true, Draws::new(3, "snap"));
    simulate(specimen, operator, 2000.0)
}

/// A snap falls within milliseconds, holds afterwards, and the balance was kept at every step of the run.
#[test]
fn a_snap_takes_milliseconds_and_the_balloon_still_holds() {
    let course = fast_snap();
    assert!(course.largest_imbalance_ml < 1e-9);
    let event = course.events.iter().find(|e| e.kind == "fracture").unwrap();
    let drop = event.drop_kpa.unwrap();
    let at = |share: f64| {
        course
            .samples
            .iter()
            .filter(|s| s.t >= event.t_s)
            .find(|s| s.pressure <= event.pressure_before_kpa - share * drop)
            .unwrap()
            .t
    };
    let fall = at(0.9) - at(0.1);
    assert!((0.001..0.03).contains(&fall), "{fall} s");
    // Strokes after the break bring the pressure up again.
    assert!(course.highest_kpa > event.pressure_before_kpa - drop + 100.0);
}

/// Volume that the waist's opening took, mL.
fn opened_ml(event: &TrueEvent, contact_mm: f64) -> f64 {
    let (d1, d2) = (event.diameter_before_mm, event.diameter_after_mm.unwrap());
    FRAC_PI_4 * (d2 * d2 - d1 * d1) * contact_mm * 1e-3
}

/// In the samples every fracture's drop is the opened volume over the capacity of line and balloon (mean of before and after, each
/// by the formulas of the line and the chart of the balloon), within the stroke that went on meanwhile and the curvature of both.
#[test]
fn drops_of_the_samples_follow_from_the_capacity() {
    let mut fractures = 0;
    for (plan, truth) in sample_plans().iter().zip(&written().1) {
        for (planned, run) in plan.runs.iter().zip(&truth.runs) {
            for event in run.events.iter().filter(|e| e.kind == "fracture") {
                let balloon = &plan.balloons[planned.balloon.unwrap()].balloon;
                let contact = run.contact_length_mm.unwrap();
                let held = |p: f64, d: f64| {
                    plan.line.volume(p) + balloon.volume_waisted(p, d, contact, 0.0)
                };
                let (p1, p2) = (event.pressure_before_kpa, event.pressure_after_kpa.unwrap());
                let (d1, d2) = (event.diameter_before_mm, event.diameter_after_mm.unwrap());
                let went_in = held(p2, d2) - held(p1, d1);
                // A stroke of 0.26 mL in 0.77 s moves at most 0.26/0.77 × π/2 × 0.06 s = 0.032 mL meanwhile.
                assert!(
                    (-1e-3..0.033).contains(&went_in),
                    "{}: {went_in}",
                    run.run_id
                );
                let drop_atm = event.drop_kpa.unwrap() / ATM;
                assert!((0.3..4.0).contains(&drop_atm), "{}: {drop_atm}", run.run_id);
                assert!(opened_ml(event, contact) > 0.05);
                fractures += 1;
            }
        }
    }
    assert!(fractures >= 9);
}

/// Every outcome a bench can have is among the samples, and so are a double break, a break in a hold and a missing note.
#[test]
fn the_samples_cover_every_outcome() {
    let has = |outcome: Outcome| every_run().any(|run| run.outcome == outcome);
    for outcome in [
        Outcome::Fractured,
        Outcome::Stretched,
        Outcome::Unchanged,
        Outcome::Burst,
        Outcome::Leak,
        Outcome::Slip,
        Outcome::Reference,
    ] {
        assert!(has(outcome), "{outcome:?}");
    }
    let frames = || every_run().filter(|run| run.kind == RunKind::Frame);
    assert!(frames().any(|run| run.breaks == 2));
    assert!(frames().any(|run| {
        run.events
            .iter()
            .any(|e| e.kind == "fracture" && e.phase == hooptrace::recording::PhaseKind::Hold)
    }));
    assert!(frames().any(|run| run.inspection.is_empty()));
    assert!(frames().any(|run| run.faults.len() >= 3));
    let harbour = &written().1[1];
    let of = |kind| harbour.runs.iter().filter(|r| r.kind == kind).count();
    assert_eq!(
        (of(RunKind::Blank), of(RunKind::Free)),
        (2, 2),
        "blank and free runs"
    );
    assert!(of(RunKind::Frame) >= 12);
}

/// Runs look like a working day: 30 to 70 s, 5 to 19 atm, a slip of 50 to 300 ms, a burst to next to nothing, a leak not.
#[test]
fn the_samples_are_plausible() {
    for run in every_run() {
        let last = run.phases.last().unwrap().t_end_s;
        assert!((30.0..70.0).contains(&last), "{}: {last} s", run.run_id);
        let highest = run.highest_pressure_kpa / ATM;
        assert!((5.0..19.5).contains(&highest), "{}: {highest}", run.run_id);
        for event in &run.events {
            let after = event.pressure_after_kpa.map(|p| p / ATM);
            match event.kind {
                "burst" => assert!(after.unwrap() < 0.2),
                "fracture" | "slip" => assert!(after.unwrap() > 0.5),
                _ => assert!(after.is_none()),
            }
        }
        if let Some(d) = run.diameters {
            let whole = run.breaks == 0 && run.outcome != Outcome::Stretched;
            assert_eq!(d.set_mm.abs() < 0.02, whole, "{}", run.run_id);
            assert!(d.loaded_mm.is_none_or(|loaded| loaded > d.after_mm));
        }
    }
}

/// The project's own reader makes of each sample recording as many rows as were written, and finds each event in the row the truth
/// names: the row before is earlier than the onset, the row itself is not.
#[test]
fn the_samples_read_back_with_their_rigs() {
    let (folder, truths) = written();
    for truth in truths {
        let study = folder.path().join(&truth.study);
        for run in &truth.runs {
            let (rig, findings) = rig::load_rig(&study.join(&run.rig), &run.rig).unwrap();
            assert!(findings.is_empty(), "{findings:?}");
            let name = format!("traces/{}.csv", run.run_id);
            let recording = read::read_trace(&study.join(&name), &name, &rig).unwrap();
            assert_eq!(recording.time_s.len(), run.rows, "{name}");
            for event in &run.events {
                assert!(recording.time_s[event.row] >= event.t_s - 1e-9);
                assert!(recording.time_s[event.row - 1] < event.t_s);
            }
        }
    }
}

/// The example rigs are read without a finding.
#[test]
fn the_example_rigs_are_sound() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("rigs");
    let mut names: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    names.sort();
    assert!(names.len() >= 4);
    for path in names {
        let shown = path.file_name().unwrap().to_string_lossy().into_owned();
        let (rig, findings) = rig::load_rig(&path, &shown).unwrap();
        assert!(findings.is_empty(), "{shown}: {findings:?}");
        assert_eq!(format!("{}.toml", rig.name), shown);
    }
}

/// A run does not change when another is left out before it.
#[test]
fn runs_do_not_hang_on_each_other() {
    let mut plan = sample_plans().swap_remove(0);
    let name = plan.runs.last().unwrap().id.clone();
    plan.runs.remove(2);
    plan.runs.remove(0);
    let folder = tempfile::tempdir().unwrap();
    bench::write_study(&plan, folder.path()).unwrap();
    let file = format!("traces/{name}.csv");
    let whole = written().0.path().join("first-look").join(&file);
    assert_eq!(
        fs::read(folder.path().join(&file)).unwrap(),
        fs::read(whole).unwrap()
    );
}

/// Every file below a folder, by its path from there.
fn files_below(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut files = BTreeMap::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_path_buf();
                files.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    files
}

/// The committed samples are what the simulator writes, byte for byte, and stay small.
#[test]
fn the_committed_samples_are_what_the_simulator_writes() {
    let mut committed = files_below(&samples_folder());
    // Words about the samples and instructions to git are not samples.
    committed.retain(|name, _| !matches!(name.to_str(), Some("README.md" | ".gitattributes")));
    let fresh = files_below(written().0.path());
    let names = |files: &BTreeMap<PathBuf, Vec<u8>>| files.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&committed), names(&fresh));
    for (name, bytes) in &fresh {
        assert!(
            committed.get(name) == Some(bytes),
            "{} differs: run `cargo test --test bench_simulation -- --ignored` to write the samples anew",
            name.display()
        );
    }
    let size: usize = committed.values().map(Vec::len).sum();
    assert!(size < 6_000_000, "{size} bytes");
}

/// Writes the sample studies anew.
#[test]
#[ignore = "writes into sample-runs; run it after a deliberate change of the simulator"]
fn write_the_samples_anew() {
    for plan in sample_plans() {
        bench::write_with_truth(&plan, &samples_folder()).unwrap();
    }
}
