//! Orifice formulas and flow records against published or worked values.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod patient;
mod regurgitation;

use hooptrace::orifice::{
    AreaKind, FORMULAS, FlowError, FlowInstruments, OrificeError, discharge_coefficient_of,
    formula, gorlin_of, jet_gradient, mean_jet_gradient, measure_flow, positive_pressure_periods,
    surrogate_range_of,
};
use hooptrace::recording::{FlowRecord, Stage};
use hooptrace::uncertain::{Input, Quantity, Trials, monte_carlo};
use std::collections::BTreeSet;
use std::f64::consts::PI;

fn near(got: f64, want: f64, half_digit: f64) {
    assert!((got - want).abs() <= half_digit, "{got} against {want}");
}

fn value(name: &str, inputs: &[f64]) -> f64 {
    formula(name).unwrap().compute(inputs).unwrap()
}

/// Worked values by the stated equations; "published" ones are printed in the source of the formula.
#[test]
fn formulas() {
    near(
        value("effective-orifice-area", &[300.0, 10.0, 1.05]),
        1.883_936,
        6e-7,
    );
    near(
        value("effective-orifice-area", &[300.0, 10.0, 1.0]),
        1.838_533,
        6e-7,
    );
    near(
        value("effective-orifice-area", &[259.1682, 12.0, 1.005]),
        1.453_531,
        6e-7,
    );
    // Published 0.83 cm² (aortic) for 5 L/min, 75 /min, 0.33 s, 30 mmHg.
    near(
        value("gorlin-aortic", &[5000.0, 75.0, 0.33, 30.0]),
        0.832_589,
        6e-7,
    );
    near(
        value("gorlin-mitral", &[5000.0, 70.0, 0.45, 10.0]),
        1.331_429,
        6e-7,
    );
    near(value("hakki", &[5.0, 30.0]), 0.912_871, 6e-7);
    // Published 0.68 cm² for 5.4 L/min and 64 mmHg.
    near(value("hakki", &[5.4, 64.0]), 0.675, 1e-12);
    near(value("geometric-area", &[21.0]), 346.361, 6e-4);
    near(
        value("discharge-coefficient", &[1.90, 21.0]),
        0.548_561,
        6e-7,
    );
    near(
        value("energy-loss-coefficient", &[1.5, 30.0]),
        1.904_052,
        6e-7,
    );
    // The section of a tube of 30 mm, π 3²/4 = 7.068583 cm², is what the coefficient ELCo = EOA A/(A − EOA) then rests on.
    let loss = value("energy-loss-coefficient", &[1.5, 30.0]);
    near(1.5 * loss / (loss - 1.5), 7.068_583, 5e-7);
    near(value("geometric-area", &[30.0]), 706.858_3, 5e-5);
    let bore = Quantity::known(21.0, 0.1, "mm", "bore");
    let surrogate = surrogate_range_of(&bore);
    near(surrogate.low.value.unwrap(), 0.6 * 3.463_61, 1e-5);
    near(surrogate.high.value.unwrap(), 0.93 * 3.463_61, 1e-5);
    // The range of the coefficient is no uncertainty: u is that of the bore, twice its relative one.
    let share = surrogate.high.u.unwrap() / surrogate.high.value.unwrap();
    near(share, 2.0 * 0.1 / 21.0, 1e-5);
    let unsure = Quantity::without_u(21.0, "mm", "bore", "one reading");
    assert!(surrogate_range_of(&unsure).low.u.is_none());
    let none = Quantity::missing("mm", "nobody measured it");
    assert!(surrogate_range_of(&none).low.value.is_none());
    // A discharge coefficient of 1.90 cm² in 21 mm; by JCGM 100, 5.1.6 u = √(2² + (2 × 0.4762)²) % = 2.2152 %.
    let area = Quantity::known(1.90, 0.038, "cm2", "record");
    let coefficient = discharge_coefficient_of(&area, Some(&bore)).quantity;
    near(coefficient.value.unwrap(), 0.548_561, 6e-7);
    near(coefficient.u.unwrap() / 0.548_561, 0.022_152, 5e-6);
    // The two shares of that, the area alone 2 %.
    let budget = discharge_coefficient_of(&area, Some(&bore)).budget;
    let parts = &budget.components;
    near(parts[0].contribution() / 0.548_561, 0.02, 5e-6);
    near(parts[1].contribution() / 0.548_561, 2.0 * 0.1 / 21.0, 5e-6);
    for missing in [None, Some(&none), Some(&unsure)] {
        let coefficient = discharge_coefficient_of(&area, missing).quantity;
        assert!(coefficient.value.is_none());
        assert!(coefficient.reason.unwrap().contains("bore"));
    }
}

/// 300 mL/s (2 %), 10 mmHg (5 %), 1.05 g/mL (0.2 %): by JCGM 100 u = √(2² + 2.5² + 0.1²) % = 3.2031 %, 0.060345 cm² (differences over ± u add
/// 0.1 % of it for the curve); by JCGM 101 with 2 × 10⁶ draws mean 1.8857, sd 0.0606, 95 % 1.771 to 2.009 (symmetric), 1.768 to 2.005
/// (shortest), each ± 0.002.
#[test]
fn uncertainty_of_an_effective_area() {
    let area = formula("effective-orifice-area").unwrap();
    let quantity = area.evaluate(&[300.0, 10.0, 1.05], &[6.0, 0.5, 0.0021]);
    near(quantity.value.unwrap(), 1.883_936, 6e-7);
    near(quantity.u.unwrap(), 0.060_345, 1e-4);
    let inputs = [(300.0, 6.0), (10.0, 0.5), (1.05, 0.0021)].map(|(x, u)| Input::normal(x, u));
    let trials = Trials {
        most: 2_000_000,
        seed: 1,
    };
    let found = monte_carlo(&|x| area.equation_value(x), &inputs, &[], "eoa", trials).unwrap();
    near(found.mean, 1.8857, 0.002);
    near(found.sd, 0.0606, 0.002);
    for (got, want) in [
        (found.symmetric, (1.771, 2.009)),
        (found.shortest, (1.768, 2.005)),
    ] {
        near(got.0, want.0, 0.002);
        near(got.1, want.1, 0.002);
    }
}

/// √(2 × 1333.22) = 51.64: the constant of the effective area from first principles (Torricelli, mmHg in dyn/cm²).
#[test]
fn constant_from_first_principles() {
    near(
        (2.0 * 1333.22_f64).sqrt(),
        hooptrace::orifice::EOA_CONSTANT,
        0.05,
    );
}

/// Every formula states itself, keeps its range and propagates uncertainty.
#[test]
fn every_formula_keeps_the_contract() {
    let mut names = BTreeSet::new();
    for formula in FORMULAS {
        assert!(names.insert(formula.name()), "{} twice", formula.name());
        assert!(!formula.equation().is_empty() && !formula.source().is_empty());
        let symbols = formula.symbols();
        let middle: Vec<f64> = symbols
            .iter()
            .map(|s| match s.sign {
                "EOA" => 1.5,
                "D" => 25.0,
                _ => (s.low * s.high).sqrt(),
            })
            .collect();
        let value = formula.compute(&middle).unwrap();
        assert!(value > 0.0, "{}", formula.name());
        let u: Vec<f64> = middle.iter().map(|x| 0.01 * x).collect();
        let quantity = formula.evaluate(&middle, &u);
        assert_eq!(quantity.unit, formula.unit());
        let relative = quantity.u.unwrap() / value;
        assert!(
            (0.004..0.05).contains(&relative),
            "{} {relative}",
            formula.name()
        );
        for (i, symbol) in symbols.iter().enumerate() {
            for wrong in [symbol.low * 0.99, symbol.high * 1.01, f64::NAN] {
                let mut inputs = middle.clone();
                inputs[i] = wrong;
                assert!(matches!(
                    formula.compute(&inputs),
                    Err(OrificeError::OutOfRange { .. })
                ));
                let refused = formula.evaluate(&inputs, &u);
                assert!(refused.value.is_none() && refused.reason.is_some());
            }
        }
        assert!(matches!(
            formula.compute(&[]),
            Err(OrificeError::Count { given: 0, .. })
        ));
    }
    assert_eq!(
        formula("geometric-area").unwrap().kind(),
        AreaKind::Geometric
    );
    assert_eq!(
        formula("discharge-surrogate").unwrap().kind(),
        AreaKind::Surrogate
    );
    // An effective area above the section of the tube.
    assert!(matches!(
        formula("energy-loss-coefficient")
            .unwrap()
            .compute(&[8.0, 30.0]),
        Err(OrificeError::Contradiction(_))
    ));
}

/// Half-sine jet of 2.5 m/s: peak 25 mmHg, mean 12.5 mmHg; 4 × (mean v)² would be 10.132. With 1.2 m/s upstream the peak is 19.24.
#[test]
fn jets() {
    near(jet_gradient(2.5, 0.0), 25.0, 1e-12);
    near(jet_gradient(2.5, 1.2), 19.24, 1e-9);
    let t: Vec<f64> = (0..=300).map(|i| f64::from(i) * 1e-3).collect();
    let v: Vec<f64> = t.iter().map(|t| 2.5 * (PI * t / 0.3).sin()).collect();
    near(mean_jet_gradient(&t, &v).unwrap(), 12.5, 1e-9);
    let mean_v = v.iter().sum::<f64>() / 300.0;
    near(4.0 * mean_v * mean_v, 10.132, 1e-3);
    assert_eq!(mean_jet_gradient(&t, &v[1..]), None);
    assert_eq!(mean_jet_gradient(&[0.0, 0.0], &[1.0, 1.0]), None);
}

/// Beats of 0.85 s: flow a half-sine of 70 mL in 0.3 s; pressure difference `dp(t)` while it lasts, −80 mmHg else.
fn record(rate_hz: f64, seconds: f64, dp: impl Fn(f64) -> f64) -> FlowRecord {
    let dp = |phase: f64| if phase < 0.3 { dp(phase) } else { -80.0 };
    record_from(0.0, rate_hz, seconds, dp)
}

/// A beat, s.
const BEAT_S: f64 = 0.85;

/// The same from a time on, with a pressure difference over the whole beat.
fn record_from(from_s: f64, rate_hz: f64, seconds: f64, dp: impl Fn(f64) -> f64) -> FlowRecord {
    let peak = 70.0 * PI / (2.0 * 0.3);
    let n = (seconds * rate_hz) as usize;
    let time_s: Vec<f64> = (0..n).map(|i| from_s + i as f64 / rate_hz).collect();
    let (mut flow_ml_s, mut dp_mmhg) = (Vec::new(), Vec::new());
    for t in &time_s {
        let phase = (t - 0.2).rem_euclid(BEAT_S);
        let ejecting = phase < 0.3;
        flow_ml_s.push(if ejecting {
            peak * (PI * phase / 0.3).sin()
        } else {
            0.0
        });
        dp_mmhg.push(dp(phase));
    }
    FlowRecord {
        run_id: "r".into(),
        stage: Stage::After,
        time_s,
        flow_ml_s,
        dp_mmhg,
        line: 2,
    }
}

/// Gorlin's area takes flow and gradient of one period: 70 mL while the pressure difference is positive, 0.25 of the 0.3 s, at 12 mmHg give
/// 70/(0.25 · 44.3 · √12) = 1.82459 cm²; the time of forward flow would give 1.52049.
#[test]
fn gorlins_time_is_that_of_its_gradient() {
    let falls = |phase: f64| if phase < 0.25 { 12.0 } else { -5.0 };
    let flow = record(2000.0, 6.0, falls);
    let measured = measure_flow(&flow, 1.005, &FlowInstruments::default()).unwrap();
    let area = gorlin_of(&measured).quantity;
    near(area.value.unwrap(), 1.824_59, 0.006);
    assert!(area.method.contains("T = positive-pressure period"));
}

/// Half-sine of 70 mL in 0.300 s: mean 233.3333, RMS 259.1682 mL/s; at 12 mmHg and 1.005 g/mL an EOA of 1.453531 cm² (mean flow
/// would give 1.308638).
#[test]
fn half_sine_record() {
    let measured = measure_flow(
        &record(2000.0, 6.0, |_| 12.0),
        1.005,
        &FlowInstruments::default(),
    )
    .unwrap();
    assert_eq!(measured.beats.len(), 7);
    // The opening lies somewhere between two samples: half of 0.5 ms of 300 ms.
    near(measured.rms_flow.value.unwrap(), 259.1682, 0.4);
    near(measured.beats[2].mean_flow_ml_s, 233.3333, 0.4);
    // Form factor of a half-sine, root mean square over mean: π/(2√2) = 1.110721.
    let beat = &measured.beats[2];
    near(beat.rms_flow_ml_s / beat.mean_flow_ml_s, 1.110_721, 0.001);
    near(measured.mean_gradient.value.unwrap(), 12.0, 0.02);
    near(
        measured.effective_orifice_area.value.unwrap(),
        1.453_531,
        0.002,
    );
    near(measured.rate.value.unwrap(), 60.0 / 0.85, 0.05);
    near(measured.period.value.unwrap(), 0.3, 1e-3);
    let names: Vec<_> = measured
        .budget
        .components
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    assert!(
        names.contains(&"flow") && names.contains(&"spread between beats"),
        "{names:?}"
    );
}

struct Lcg(u64);

impl Lcg {
    fn normal(&mut self, sd: f64) -> f64 {
        let mut uniform = || {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
        };
        sd * (-2.0 * uniform().ln()).sqrt() * (2.0 * PI * uniform()).cos()
    }
}

/// A pressure difference that falls through zero before the flow ends, with noise that crosses zero many times: the period is that
/// of the clean curve and the uncertainty of the gradient covers the error.
#[test]
fn noisy_crossings() {
    // 8 sin(π t/0.25) mmHg on 0 to 0.25 s, then towards −0.4 mmHg: mean 8 × 2/π over the positive part.
    let dp = |t: f64| {
        if t < 0.25 {
            8.0 * (PI * t / 0.25).sin()
        } else {
            -0.4 * (1.0 - (-(t - 0.25) / 0.004).exp())
        }
    };
    let truth = 8.0 * 2.0 / PI;
    let mut lcg = Lcg(11);
    let mut scores = Vec::new();
    for _ in 0..60 {
        let mut noisy = record(250.0, 6.0, dp);
        for (q, p) in noisy.flow_ml_s.iter_mut().zip(&mut noisy.dp_mmhg) {
            *q += lcg.normal(2.0);
            *p += lcg.normal(0.3);
        }
        // Holes in the record are bridged.
        noisy.dp_mmhg[333] = f64::NAN;
        let instruments = FlowInstruments {
            u_dp_rel: 0.0,
            u_dp_zero_mmhg: 0.01,
            ..FlowInstruments::default()
        };
        let measured = measure_flow(&noisy, 1.0, &instruments).unwrap();
        assert_eq!(measured.beats.len(), 7);
        for beat in &measured.beats {
            near(beat.end_s - beat.start_s, 0.25, 0.03);
        }
        let (value, u) = measured.mean_gradient.pair().unwrap();
        near(value, truth, 0.05 * truth);
        scores.push((value - truth) / u);
    }
    let within = scores.iter().filter(|z| z.abs() <= 2.0).count();
    assert!(within >= 52, "{within} of 60 within 2 u: {scores:?}");
}

/// The period ends with the forward flow where the pressure difference stays positive beyond it.
#[test]
fn flow_ends_the_period() {
    let mut long = record(500.0, 6.0, |_| 10.0);
    for (t, (p, q)) in long
        .time_s
        .iter()
        .zip(long.dp_mmhg.iter_mut().zip(&mut long.flow_ml_s))
    {
        let phase = (t - 0.2).rem_euclid(0.85);
        if (0.3..0.4).contains(&phase) {
            *p = 10.0;
            *q = -5.0;
        }
    }
    let periods = positive_pressure_periods(&long.time_s, &long.flow_ml_s, &long.dp_mmhg).unwrap();
    for period in periods {
        near(period.end_s - period.start_s, 0.3, 0.004);
    }
}

#[test]
fn refusals() {
    let good = record(250.0, 6.0, |_| 10.0);
    let FlowRecord {
        time_s: t,
        flow_ml_s: q,
        dp_mmhg: p,
        ..
    } = &good;
    let of = positive_pressure_periods;
    assert_eq!(of(t, q, &p[1..]), Err(FlowError::Lengths));
    assert_eq!(
        of(&t[..9], &q[..9], &p[..9]),
        Err(FlowError::TooShort { samples: 9 })
    );
    let mut back = t.clone();
    back[7] = back[6];
    assert_eq!(of(&back, q, p), Err(FlowError::Clock { index: 7 }));
    let none = vec![-1.0; q.len()];
    assert_eq!(of(t, &none, p), Err(FlowError::NoForwardFlow));
    assert_eq!(of(t, q, &vec![-5.0; q.len()]), Err(FlowError::NoWholeBeat));
    assert_eq!(of(t, q, &vec![5.0; q.len()]), Err(FlowError::NoWholeBeat));
    assert_eq!(of(&[], &[], &[]), Err(FlowError::TooShort { samples: 0 }));
}

/// A pressure difference that leaves zero slowly: 20 mmHg times the square of a half-sine, of mean 10 mmHg over the time of forward flow, whose
/// root mean square is 259.1682 mL/s. Noise of 0.4 mmHg hides where it begins; the ends of the flow tell.
#[test]
fn slow_ends_of_a_period_are_those_of_the_flow() {
    let mut random = Lcg(1);
    let mut flow = record(200.0, 6.0, |phase| 20.0 * (PI * phase / 0.3).sin().powi(2));
    for dp in &mut flow.dp_mmhg {
        *dp += random.normal(0.4);
    }
    let measured = measure_flow(&flow, 1.005, &FlowInstruments::default()).unwrap();
    for (quantity, truth) in [
        (&measured.mean_gradient, 10.0),
        (&measured.rms_flow, 259.1682),
    ] {
        let (value, u) = quantity.pair().unwrap();
        assert!(
            (value - truth).abs() < 2.0 * u && u < 0.04 * truth,
            "{value} {u}"
        );
    }
    let ends = |name: &str| {
        let budgets = measured.budgets();
        let (_, stated) = budgets.iter().find(|(of, _)| *of == name).unwrap();
        stated
            .budget
            .components
            .iter()
            .any(|c| c.name == "ends of the period")
    };
    assert!(ends("mean_gradient") && ends("rms_flow"));
}

/// The same with noise of the flow too, which about a closed valve is now above and now below zero, and a pressure difference that comes up to
/// zero and leaves it on ramps: noise must start no period early, and the ends are still those of the flow. Every tenth of a sample's step.
#[test]
fn noise_about_a_closed_valve_starts_no_flow() {
    let mut random = Lcg(7);
    let (mut off, mut held) = ((0.0, 0.0), 0);
    let records = 60;
    for k in 0..records {
        let shift = f64::from(k) / f64::from(records) * 0.01;
        let dp = |phase: f64| match phase {
            p if p < 0.3 => 9.0 * (PI * p / 0.3).sin().powi(2),
            p if p < 0.33 => -80.0 * (p - 0.3) / 0.03,
            p if p > BEAT_S - 0.03 => -80.0 * (BEAT_S - p) / 0.03,
            _ => -80.0,
        };
        let mut flow = record_from(shift, 100.0, 4.0, dp);
        for dp in &mut flow.dp_mmhg {
            *dp += random.normal(0.4);
        }
        for q in &mut flow.flow_ml_s {
            *q += random.normal(3.0);
        }
        let measured = measure_flow(&flow, 1.005, &FlowInstruments::default()).unwrap();
        let (gradient, u) = measured.mean_gradient.pair().unwrap();
        held += usize::from((gradient - 4.5).abs() < 2.0 * u);
        off.0 += (gradient / 4.5 - 1.0) / f64::from(records);
        let (rms, _) = measured.rms_flow.pair().unwrap();
        off.1 += (rms / 259.1682 - 1.0) / f64::from(records);
    }
    assert!(off.0.abs() < 0.015 && off.1.abs() < 0.01, "{off:?}");
    assert!(held >= 54, "{held}");
}
