//! A made-up study: invented frames and balloons, with traces that rise in strokes, hold, snap and deflate.
//!
//! The numbers are plausible, not simulated: the figures and the page only have to show them.

#[path = "made_up_flow.rs"]
mod flow;

use crate::made_references::{blank_run, context, free_run};
use crate::noise::Noise;
use flow::{areas, flow};
use hooptrace::plot::RunContext;
use hooptrace::recording::*;
use hooptrace::rig::{Series, Settings};
use hooptrace::uncertain::Quantity;
use std::collections::BTreeMap;

/// Kilopascals in an atmosphere.
pub const ATM: f64 = 101.325;

pub fn q(value: f64, u: f64, unit: &str) -> Quantity {
    Quantity::known(value, u, unit, "made up")
}

pub fn none(unit: &str) -> Quantity {
    Quantity::missing(unit, "no optical channel in this recording")
}

/// A staircase of strokes and holds that snaps at `snap_kpa` (if it is reached), at 200 Hz.
pub struct Made {
    pub trace: Trace,
    pub phases: Vec<Phase>,
    /// Samples before and after the snap.
    pub snap: Option<(usize, usize)>,
}

pub fn staircase(seed: u64, strokes: usize, snap_kpa: f64) -> Made {
    let rate = 200.0;
    let mut noise = Noise(seed);
    let (mut p, mut v, mut d) = (0.0f64, 0.0f64, 19.0f64);
    let mut t = Trace {
        step_s: 1.0 / rate,
        noise_kpa: 1.2,
        noise_ml: 0.01,
        u_zero_kpa: 0.4,
        u_pressure_kpa: 5.0,
        u_pressure_rel: 0.002,
        u_volume_ml: 0.05,
        u_volume_rel: 0.005,
        u_diameter_mm: 0.03,
        ..Trace::default()
    };
    let (mut pressure, mut volume, mut diameter) = (vec![], vec![], vec![]);
    let (mut phases, mut snap) = (vec![], None);
    let mut push = |t: &mut Trace, p: f64, v: f64, d: f64| {
        let i = t.row.len();
        t.row.push(i as u64);
        t.line.push(i as u64 + 12);
        pressure.push(p + 4.0 * noise.next());
        t.clipped.push(false);
        volume.push(v + 0.02 * noise.next());
        diameter.push(d + 0.04 * noise.next());
    };
    let mut phase = |t: &Trace, kind, start: usize| {
        phases.push(Phase {
            kind,
            t_start_s: start as f64 / rate,
            t_end_s: t.row.len() as f64 / rate,
            ends: PhaseEnds::default(),
            start,
            end: t.row.len(),
        });
    };
    for _ in 0..400 {
        push(&mut t, 0.0, 0.0, d);
    }
    phase(&t, PhaseKind::Vent, 0);
    let start = t.row.len();
    for i in 0..800 {
        v = 14.0 * f64::from(i) / 800.0;
        p = 60.0 + 30.0 * (f64::from(i) / 40.0).sin().abs();
        push(&mut t, p, v, d);
    }
    phase(&t, PhaseKind::Fill, start);
    let start = t.row.len();
    for i in 0..120 {
        p = if (20..90).contains(&i) { 2.0 } else { 88.0 };
        push(&mut t, p, v, d);
    }
    phase(&t, PhaseKind::Switch, start);
    for _ in 0..strokes {
        let start = t.row.len();
        let from = p;
        for i in 0..240 {
            v += 0.35 / 240.0;
            p = from + 175.0 * f64::from(i) / 240.0;
            d += 0.12 / 240.0;
            if p >= snap_kpa && snap.is_none() {
                snap = Some((t.row.len(), t.row.len() + 4));
                for k in 0..5 {
                    push(&mut t, p - 90.0 * f64::from(k), v, d + 0.25 * f64::from(k));
                }
                for k in 0..160 {
                    let ring = 60.0 * (-f64::from(k) / 25.0).exp() * (f64::from(k) / 4.0).cos();
                    push(&mut t, p - 360.0 + ring, v, d + 1.2);
                }
                p -= 360.0;
                d += 1.2;
                break;
            }
            push(&mut t, p, v, d);
        }
        phase(&t, PhaseKind::Stroke, start);
        let (start, top) = (t.row.len(), p);
        for i in 0..1400 {
            p = top * (0.96 + 0.04 * (-f64::from(i) / 300.0).exp());
            push(&mut t, p, v, d);
        }
        phase(&t, PhaseKind::Hold, start);
    }
    let (start, top, full) = (t.row.len(), p, v);
    for i in 0..1000 {
        let share = 1.0 - f64::from(i) / 1000.0;
        v = full * share;
        p = top * share * share - 40.0 * (1.0 - share);
        push(&mut t, p, v, d - 0.6 * (1.0 - share));
    }
    phase(&t, PhaseKind::Deflate, start);
    t.time_s = (0..t.row.len()).map(|i| i as f64 / rate).collect();
    t.pressure_kpa = pressure.into();
    t.volume_ml = Some(volume.into());
    t.diameter_mm = Some(diameter.into());
    Made {
        trace: t,
        phases,
        snap,
    }
}

pub fn event(made: &Made, kind: EventKind) -> Option<Event> {
    let (before, after) = made.snap?;
    let t = &made.trace;
    Some(Event {
        kind,
        t_s: Some(t.time_s[before]),
        t_lo_s: Some(t.time_s[before - 1]),
        t_hi_s: Some(t.time_s[before + 1]),
        sample: Some(before),
        pressure: q(t.pressure_kpa[before], 6.2, "kPa"),
        drop: q(
            t.pressure_kpa[before] - t.pressure_kpa[after + 60],
            3.4,
            "kPa",
        ),
        volume: q(t.volume_ml.as_ref().map_or(0.0, |v| v[before]), 0.1, "mL"),
        pressures: Vec::new(),
        confidence: 0.94,
        log_odds: Vec::new(),
        grade: Grade::Agree,
        evidence: vec![
            "fell by 27 % within 20 ms while no volume was withdrawn".to_owned(),
            "held pressure afterwards and rose again on the next stroke".to_owned(),
        ],
        before,
        after,
    })
}

/// A run with nothing but its name.
pub fn bare(run_id: &str, kind: RunKind, outcome: Outcome) -> RunResult {
    RunResult {
        run_id: run_id.to_owned(),
        kind,
        budgets: BTreeMap::new(),
        monte_carlo: Vec::new(),
        frame_id: None,
        balloon_id: None,
        arm: None,
        operator: None,
        started_at: None,
        trace: None,
        inspection: None,
        inner_valve: None,
        note: None,
        setup: Setup::default(),
        outcome,
        outcome_reason: "The recording carries no event and the frame was not inspected."
            .to_owned(),
        highest_pressure: none("kPa"),
        phases: vec![],
        events: vec![],
        line: None,
        balloon: None,
        frame: None,
        relaxation: Vec::new(),
        relaxation_reason: None,
        diameters: None,
        areas: None,
        photographs: Vec::new(),
        leaflets: Vec::new(),
        flow: BTreeMap::new(),
        observations: vec![],
        adherence: vec![],
        recording: RecordingInfo::default(),
        findings: vec![],
    }
}

pub fn diameters(after: f64) -> Diameters {
    let mut by_method = BTreeMap::new();
    for (name, shift, u) in [
        ("caliper", 0.0, 0.045),
        ("plug", -0.35, 0.1),
        ("outline_area", 0.08, 0.06),
    ] {
        let stage = |d: f64| q(d + shift, u, "mm");
        let mut stages = BTreeMap::from([
            ("before".to_owned(), stage(19.02)),
            ("after".to_owned(), stage(after)),
        ]);
        if name != "plug" {
            stages.insert("loaded".to_owned(), stage(after + 0.42));
        }
        by_method.insert(name.to_owned(), stages);
    }
    Diameters {
        before: q(19.02, 0.045, "mm"),
        loaded: q(after + 0.42, 0.06, "mm"),
        after: q(after, 0.045, "mm"),
        at_event: q(19.93, 0.05, "mm"),
        set: q(after - 19.02, 0.06, "mm"),
        set_ratio: q((after - 19.02) / 19.02, 0.0032, "1"),
        recoil: q(0.42 / (after + 0.42), 0.0034, "1"),
        recovery: q(0.42 / (after + 0.42 - 19.02), 0.04, "1"),
        expansion: q((after + 0.42 - 19.02) / 19.02, 0.004, "1"),
        after_measured: "not stated".to_owned(),
        open_ring: Some(flow::open_ring()),
        three_lobe_amplitude: BTreeMap::from([("after".to_owned(), q(0.12, 0.01, "mm"))]),
        outline_fits: flow::outline_fits(),
        by_method,
    }
}

fn frame_result(peak: f64) -> FrameResult {
    let d: Vec<f64> = (0..60).map(|i| 19.0 + 1.6 * f64::from(i) / 59.0).collect();
    let load: Vec<f64> = d
        .iter()
        .map(|d| {
            let x = (d - 19.0) / 1.6;
            peak * 0.9 * (1.0 - (-3.0 * x).exp()) / (1.0 - (-3.0f64).exp())
                - if x > 0.9 { 300.0 } else { 0.0 }
        })
        .collect();
    let force = d
        .iter()
        .zip(&load)
        .map(|(d, p)| p * d / 2.0 * 9.0 / 1000.0)
        .collect();
    FrameResult {
        budgets: Vec::new(),
        construction: Some("metal ring, sewn".to_owned()),
        peak_pressure: q(peak, 6.4, "kPa"),
        peak_over_rated: q(peak / 607.95, 0.011, "1"),
        peak_load: q(peak * 0.9, 14.0, "kPa"),
        peak_tension: q(peak * 0.9 * 9.8 / 1000.0, 0.16, "N/mm"),
        fracture_load: q(peak * 0.95, 2.1, "kPa"),
        fracture_tension: q(peak * 0.95 * 9.8 / 1000.0, 0.17, "N/mm"),
        peak_force: q(peak * 0.09 * 0.9, 1.7, "N"),
        compliance: q(0.000_93, 0.000_041, "mm/kPa"),
        equivalent_modulus: q(520.0, 30.0, "MPa"),
        yield_load: q(peak * 0.72, 22.0, "kPa"),
        yield_diameter: q(19.55, 0.05, "mm"),
        offset_yield_load: q(peak * 0.76, 24.0, "kPa"),
        offset_yield_diameter: q(19.68, 0.05, "mm"),
        hardening: q(410.0, 36.0, "kPa/mm"),
        hardening_ratio: q(0.38, 0.04, "1"),
        work: q(61.0, 2.8, "mJ"),
        energy_stored: q(22.0, 1.9, "mJ"),
        energy_released: q(88.0, 2.1, "mJ"),
        loop_work: q(412.0, 3.0, "mJ"),
        residual_load: q(peak * 0.3, 6.0, "kPa"),
        residual_share: q(0.33, 0.01, "1"),
        residual_diameter: q(20.4, 0.05, "mm"),
        oversize_true_id: q(1.4, 0.11, "mm"),
        oversize_true_id_ratio: q(0.0757, 0.006, "1"),
        oversize_stent_id: q(0.4, 0.11, "mm"),
        oversize_stent_id_ratio: Quantity::missing(
            "1",
            "the frame table states no stent ID for this frame",
        ),
        diameter_source: "optical channel".to_owned(),
        curve: Curve {
            pressure_kpa: load,
            diameter_mm: d,
            force_n: force,
            ..Curve::default()
        },
        curve_time_s: Vec::new(),
        balloon_rated_kpa: Some(607.95),
    }
}

pub fn info(made: &Made) -> RecordingInfo {
    RecordingInfo {
        read: ReadSummary {
            format: "delimited text".to_owned(),
            encoding: "UTF-8".to_owned(),
            delimiter: ";".to_owned(),
            decimal: ",".to_owned(),
            columns: vec!["t".into(), "P1".into(), "V".into(), "D".into()],
            units: vec!["s".into(), "bar".into(), "mL".into(), "mm".into()],
            skip_lines: 9,
            header_rows: 2,
            rows: made.trace.len(),
            preamble: vec![("Operator".into(), "AB".into())],
            ..ReadSummary::default()
        },
        samples: made.trace.len(),
        duration_s: made.trace.time_s.last().copied().unwrap_or(0.0),
        rate_hz: 200.0,
        noise_kpa: 1.16,
        smallest_drop_kpa: 30.4,
        channels: vec!["pressure".into(), "volume".into(), "diameter".into()],
        further: Vec::new(),
    }
}

/// A frame run whose snap lies at `snap_kpa`, or that never snaps.
pub fn frame_run(run_id: &str, arm: &str, seed: u64, snap_kpa: Option<f64>) -> (RunResult, Made) {
    let made = staircase(seed, 8, snap_kpa.unwrap_or(1e9));
    let peak = made.trace.pressure_kpa.iter().copied().fold(0.0, f64::max);
    let mut run = bare(run_id, RunKind::Frame, Outcome::Stretched);
    run.frame_id = Some(format!("FR-{seed:02}"));
    run.balloon_id = Some("B-20".to_owned());
    run.arm = Some(arm.to_owned());
    run.operator = Some("AB".to_owned());
    run.started_at = Some(format!("2025-03-0{}T09:15:00", 1 + seed % 7));
    run.trace = Some(format!("traces/{seed:02}.csv"));
    run.inspection = Some(Inspection::Intact);
    run.highest_pressure = q(peak, 6.4, "kPa");
    run.outcome_reason = format!(
        "No fracture up to {peak:.0} kPa; the diameter grew by 0.9 mm and the frame is whole at the inspection."
    );
    run.phases.clone_from(&made.phases);
    let after = if snap_kpa.is_some() { 20.6 } else { 19.9 };
    if let Some(e) = event(&made, EventKind::Fracture) {
        run.outcome = Outcome::Fractured;
        run.inspection = Some(Inspection::Fractured);
        "Pressure fell by 27 % within 20 ms with no volume withdrawn, held afterwards, and the frame was found broken.".clone_into(&mut run.outcome_reason);
        run.events.push(e);
    }
    run.frame = Some(frame_result(peak));
    run.diameters = Some(diameters(after));
    run.areas = Some(areas(after));
    run.recording = info(&made);
    if seed.is_multiple_of(2) {
        for (stage, eoa) in [("before", 1.21), ("after", 1.47)] {
            run.flow.insert(stage.to_owned(), flow(eoa));
        }
        run.findings.push(
            Finding::doubt("clock-jitter", "steps between samples vary by 4 %")
                .at(Place::cell(format!("traces/{seed:02}.csv"), 512, "t"))
                .help("declare the rate in the rig file")
                .run(run_id),
        );
    }
    (run, made)
}

pub fn interval(value: f64, half: f64, unit: &str) -> Interval {
    Interval {
        value: Some(value),
        lower: Some(value - half),
        upper: Some(value + half),
        confidence: 0.95,
        unit: unit.to_owned(),
        method: "made up".to_owned(),
    }
}

pub fn group(name: &str, pressures: &[f64], censored: usize) -> Group {
    let mut sorted = pressures.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() + censored;
    let mean = sorted.iter().sum::<f64>() / sorted.len() as f64;
    Group {
        name: name.to_owned(),
        by: "arm".to_owned(),
        runs: Vec::new(),
        n,
        fractured: sorted.len(),
        censored,
        proportion: Interval {
            value: Some(sorted.len() as f64 / n as f64),
            lower: Some(0.44),
            upper: Some(0.97),
            confidence: 0.95,
            unit: "1".to_owned(),
            method: "Clopper-Pearson".to_owned(),
        },
        fracture_pressure: PressureStatistics {
            n: sorted.len(),
            mean: q(mean, 22.0, "kPa"),
            sd: q(61.0, 14.0, "kPa"),
            min_kpa: sorted.first().copied(),
            max_kpa: sorted.last().copied(),
        },
        weibull: Some(WeibullResult {
            shape: interval(18.0, 7.0, "1"),
            scale: interval(mean * 1.03, 40.0, "kPa"),
            b10: interval(mean * 0.91, 60.0, "kPa"),
            log_likelihood: -42.1,
            failures: sorted.len(),
        }),
        kaplan_meier: KaplanMeierResult {
            surviving: (1..=sorted.len())
                .map(|i| 1.0 - i as f64 / n as f64)
                .collect(),
            lower: vec![None; sorted.len()],
            upper: vec![None; sorted.len()],
            median: interval(mean, 50.0, "kPa"),
            pressure_kpa: sorted,
        },
        tolerance: vec![ToleranceResult {
            confidence: 0.95,
            coverage: 0.9,
            sides: 1,
            k: 2.755,
            lower: Some(mean - 168.0),
            upper: None,
            unit: "kPa".to_owned(),
        }],
        strength: Vec::new(),
        strength_points: Vec::new(),
        incidence: None,
        values: Vec::new(),
        dose: Vec::new(),
        up_and_down: None,
        area_gain: Some(interval(0.17, 0.02, "1")),
        diameter_after: Some(interval(20.6, 0.1, "mm")),
        observations: crate::methods::observations(n),
        remarks: vec!["Burst balloons count as censored; independence is assumed.".to_owned()],
    }
}

/// A study of blank, free and `n` frame runs over two arms; every fourth frame run does not fracture.
pub fn study(n: usize) -> (Analysis, Vec<(Made, RunContext)>) {
    let (blank, blank_made) = blank_run();
    let (free, free_made) = free_run();
    let shared = context(&blank, &free);
    let mut runs = vec![blank, free];
    let mut made = vec![(blank_made, shared.clone()), (free_made, shared.clone())];
    for i in 0..n {
        let arm = if i % 2 == 0 {
            "slow strokes"
        } else {
            "fast strokes"
        };
        let snap = 1040.0 + 23.0 * ((i * 7) % 11) as f64 + if i % 2 == 0 { 0.0 } else { 90.0 };
        let snap = (i % 4 != 3).then_some(snap);
        let (mut run, m) = frame_run(&format!("run-{:02}", i + 1), arm, i as u64 + 1, snap);
        run.adherence = crate::kept_steps::steps_kept(runs.len());
        runs.push(run);
        made.push((m, shared.clone()));
    }
    let pressures = |arm: &str| -> Vec<f64> {
        runs.iter()
            .filter(|r| r.arm.as_deref() == Some(arm))
            .filter_map(|r| r.events.first()?.pressure.value)
            .collect()
    };
    let mut groups = vec![
        group("slow strokes", &pressures("slow strokes"), 0),
        group("fast strokes", &pressures("fast strokes"), n / 4),
    ];
    // What is tedious to make up is computed.
    let judged = hooptrace::judge::groups(&runs, &Series::default(), &Settings::default());
    for group in &mut groups {
        if let Some(same) = judged.iter().find(|judged| judged.name == group.name) {
            group.runs.clone_from(&same.runs);
            group.strength.clone_from(&same.strength);
            group.strength_points.clone_from(&same.strength_points);
            group.values.clone_from(&same.values);
        }
    }
    let analysis = Analysis {
        schema: SCHEMA.to_owned(),
        tool: Tool {
            name: "hooptrace".to_owned(),
            version: "0.1.0".to_owned(),
        },
        study: StudyInfo {
            title: "Stroke rate and fracture pressure of sewn metal rings".to_owned(),
            monte_carlo: None,
            report: BTreeMap::from([
                ("laboratory".to_owned(), Some("Made-up bench".to_owned())),
                ("customer".to_owned(), None),
            ]),
            rig: "bench two".to_owned(),
            rig_file: "rigs/bench-two.toml".to_owned(),
            ambient_pressure_kpa: 100.9,
            transducer_side: "balloon".to_owned(),
            definition: PressureDefinition::Onset,
            fracture_pressure_definition: "onset by change point".to_owned(),
            settings: serde_json::json!({"drop_share": 0.004, "strict": false, "leak": {"long_s": 1.0, "shortest_s": 0.3}, "window": {"before_s": 0.1}}),
        },
        inputs: vec![Input {
            path: "runs.csv".to_owned(),
            sha256: "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08".to_owned(),
            bytes: 4812,
        }],
        findings: vec![
            Finding::note(
                "no-protocol",
                "the study names no protocol, so no criterion was judged",
            )
            .at(Place::file("study.toml"))
            .help("add `protocol = \"protocol.toml\"`"),
        ],
        runs,
        groups,
        comparisons: vec![Comparison {
            name: "logrank".to_owned(),
            quantity: "fracture_pressure".to_owned(),
            groups: vec!["slow strokes".to_owned(), "fast strokes".to_owned()],
            chi2: Some(5.73),
            statistic: None,
            df: Some(1.0),
            estimate: None,
            p: Some(0.0167),
            p_adjusted: None,
            method: "logrank test of the pressures to fracture, censored runs included".to_owned(),
        }],
        balloon_ratings: vec![BalloonRating {
            name: "20 × 40 mm".to_owned(),
            bursts: 30,
            mean: q(1864.4, 11.5, "kPa"),
            sd_kpa: Some(62.8),
            k: Some(4.0222),
            coverage: 0.999,
            confidence: 0.95,
            limit_kpa: Some(1611.7),
            rated_atm: Some(15.0),
            labelled_atm: Some(14.0),
            reason: None,
            remarks: vec!["A made-up remark.".to_owned()],
        }],
        verdicts: vec![Verdict {
            rule: "fracture below 16 atm in nine of ten".to_owned(),
            group: "slow strokes".to_owned(),
            verdict: "undecided".to_owned(),
            reason: "8 of 8 fractured; the lower limit of the share is 0.69.".to_owned(),
            asks: "nine of ten frames fracture below 16 atm".to_owned(),
            decision_rule: "simple acceptance".to_owned(),
            estimate: Some(Interval {
                value: Some(1.0),
                lower: Some(0.6877),
                upper: None,
                confidence: 0.95,
                unit: "1".to_owned(),
                method: "share".to_owned(),
            }),
            limit: None,
            n: 8,
            more_runs: Some(21),
            more_runs_reason: Some("if none of them fails".to_owned()),
            failing_runs: vec!["run 3".to_owned()],
        }],
        adherence: vec![GroupAdherence {
            group: "slow strokes".to_owned(),
            n: 8,
            kept_all: 7,
            deviated: vec!["run 3".to_owned()],
            not_known: Vec::new(),
        }],
        agreement: crate::methods::agreement(),
        gauge_rr: crate::methods::gauge_rr(),
    };
    (analysis, made)
}

/// Numbers that are none in everything a group says of distributions, values and doses.
pub fn group_of_nothing(group: &mut Group) {
    for fit in &mut group.strength {
        fit.delta_aicc = Some(f64::NAN);
        fit.log_likelihood = f64::NAN;
        for quantile in &mut fit.quantiles {
            quantile.interval.value = Some(f64::INFINITY);
            quantile.interval.lower = None;
        }
    }
    for point in &mut group.strength_points {
        point.probability = f64::NAN;
    }
    for value in &mut group.values {
        value.mean.value = Some(f64::NAN);
        value.plot = vec![(f64::NAN, f64::INFINITY); 4];
    }
}
