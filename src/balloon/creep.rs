//! What a balloon creeps by: its wall gives way slowly under pressure, so that the pressure falls while it is held. A held volume loses
//! `dp C` of pressure times capacity to the wall.
//!
//! The wall is taken to go towards `c p` with one time constant (standard linear solid, any text on viscoelasticity); both follow from how
//! the pressure falls in the early and the late half of each hold of a free run. What a wall has crept by then follows for any run from its
//! pressure, so that holds of another length than those of the free run do not look like volume kept out.

use crate::calibrate::median;
use crate::recording::Trace;
use crate::segment::Rest;

/// Part of a rest around a place that tells the pressure there.
const PLACE_SHARE: f64 = 0.1;
/// The flow has come to rest after this, s: several time constants of a line (8 ms).
const FLOW_ENDS_S: f64 = 0.1;
/// Fewest samples at a place.
const FEWEST: usize = 3;
/// Time constants looked for, s: below, a wall has crept before a stroke is over; above, it hardly creeps within a run.
const TIMES_S: (f64, f64) = (0.25, 120.0);
/// From one time constant tried to the next.
const TIMES_RATIO: f64 = 1.2;
/// Fewest falls that tell both figures.
const FEWEST_FALLS: usize = 6;
/// A creep is told from so many of its standard uncertainties on.
const TOLD_SIGMAS: f64 = 2.0;
/// The pressure is followed in steps of this, s: short against the shortest time constant.
const STEP_S: f64 = 0.05;

/// How a wall creeps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Creep {
    /// Volume it goes towards at a constant pressure, mL/kPa.
    pub ml_per_kpa: f64,
    /// Time constant, s.
    pub time_s: f64,
}

/// What a wall had crept by in the course of a run.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Crept {
    time_s: Vec<f64>,
    ml: Vec<f64>,
}

impl Crept {
    /// Volume crept up to a time (s), mL; 0 before the run.
    pub fn at(&self, t_s: f64) -> f64 {
        let after = self.time_s.partition_point(|t| *t <= t_s);
        let last = after.checked_sub(1).and_then(|k| self.ml.get(k));
        last.copied().unwrap_or(0.0)
    }
}

/// A fall of pressure within a rest.
struct Fall {
    run: usize,
    from_s: f64,
    to_s: f64,
    /// Volume lost to the wall, mL.
    ml: f64,
}

impl Creep {
    /// The creep of free runs; `None` where their holds tell none.
    pub(super) fn of(runs: &[(&Trace, &[Rest])]) -> Option<Self> {
        let falls: Vec<Fall> = runs
            .iter()
            .enumerate()
            .flat_map(|(run, (trace, rests))| falls(run, trace, rests))
            .collect();
        if falls.len() < FEWEST_FALLS {
            return None;
        }
        let tries = std::iter::successors(Some(TIMES_S.0), |t| Some(t * TIMES_RATIO));
        let (found, u, _) = tries
            .take_while(|time_s| *time_s <= TIMES_S.1)
            .map(|time_s| Self::with_time(runs, &falls, time_s))
            .filter(|(_, _, left)| left.is_finite())
            .min_by(|a, b| a.2.total_cmp(&b.2))?;
        (found.ml_per_kpa > TOLD_SIGMAS * u).then_some(found)
    }

    /// The creep with a time constant by least squares, its standard uncertainty (mL/kPa), and the sum of squares left.
    fn with_time(runs: &[(&Trace, &[Rest])], falls: &[Fall], time_s: f64) -> (Self, f64, f64) {
        let unit = Self {
            ml_per_kpa: 1.0,
            time_s,
        };
        let followed: Vec<Crept> = runs.iter().map(|(trace, _)| unit.in_run(trace)).collect();
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for fall in falls {
            let x = followed
                .get(fall.run)
                .map_or(0.0, |c| c.at(fall.to_s) - c.at(fall.from_s));
            xx += x * x;
            xy += x * fall.ml;
            yy += fall.ml * fall.ml;
        }
        let ml_per_kpa = xy / xx;
        let left = yy - xy * ml_per_kpa;
        let variance = left / (falls.len() as f64 - 2.0);
        (Self { ml_per_kpa, time_s }, (variance / xx).sqrt(), left)
    }

    /// What the wall had crept by in the course of a run, from its pressure.
    pub fn in_run(&self, trace: &Trace) -> Crept {
        let every = ((STEP_S / trace.step_s) as usize).max(1);
        let mut crept = Crept::default();
        let (mut here, mut before) = (0.0, None);
        let samples = trace.time_s.iter().zip(trace.pressure_kpa.iter());
        for (t, p) in samples.step_by(every).filter(|(_, p)| p.is_finite()) {
            let since = before.map_or(0.0, |before| t - before);
            here += (p.max(0.0) - here) * -(-since / self.time_s).exp_m1();
            before = Some(*t);
            crept.time_s.push(*t);
            crept.ml.push(self.ml_per_kpa * here);
        }
        crept
    }
}

/// Volume a wall had crept by at the rests of free runs, mL, against their pressure (kPa, increasing).
pub(super) fn at_rests(creep: &Creep, runs: &[(&Trace, &[Rest])]) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = runs
        .iter()
        .flat_map(|(trace, rests)| {
            let crept = creep.in_run(trace);
            rests.iter().map(move |r| (r.pressure_kpa, crept.at(r.t_s)))
        })
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0));
    points.dedup_by(|b, a| b.0 <= a.0);
    points
}

/// Falls in both halves of each rest on the way up.
fn falls(run: usize, trace: &Trace, rests: &[Rest]) -> Vec<Fall> {
    let mut highest = f64::NEG_INFINITY;
    let mut falls = Vec::new();
    for (k, rest) in rests.iter().enumerate() {
        if rest.pressure_kpa <= highest {
            continue;
        }
        highest = rest.pressure_kpa;
        let capacity = capacity(rests, k);
        let Some(places) = places(trace, rest).filter(|_| capacity.is_finite()) else {
            continue;
        };
        for half in places.windows(2) {
            if let [(from_s, from_kpa), (to_s, to_kpa)] = *half {
                falls.push(Fall {
                    run,
                    from_s,
                    to_s,
                    ml: (from_kpa - to_kpa) * capacity,
                });
            }
        }
    }
    falls
}

/// Injected volume over pressure between the neighbours of a rest, mL/kPa.
fn capacity(rests: &[Rest], k: usize) -> f64 {
    let (Some(a), Some(b)) = (
        rests.get(k.saturating_sub(1)),
        rests.get((k + 1).min(rests.len() - 1)),
    ) else {
        return f64::NAN;
    };
    let c = (b.volume_ml - a.volume_ml) / (b.pressure_kpa - a.pressure_kpa);
    if c > 0.0 { c } else { f64::NAN }
}

/// Time (s) and pressure (kPa) at the beginning of a rest, in its middle and at its end; `None` where it is too short.
fn places(trace: &Trace, rest: &Rest) -> Option<[(f64, f64); 3]> {
    let end_s = *trace.time_s.get(rest.to.checked_sub(1)?)?;
    let start = trace
        .time_s
        .partition_point(|t| *t < end_s - rest.length_s + FLOW_ENDS_S);
    let n = rest.to.checked_sub(start)?;
    let part = ((PLACE_SHARE * n as f64) as usize).max(FEWEST);
    if n < 4 * part {
        return None;
    }
    let level = |from: usize| {
        let samples = from..from + part;
        let kpa = median(trace.pressure_kpa.get(samples.clone())?);
        let t_s = trace.time_s.get(samples.start + part / 2)?;
        kpa.is_finite().then_some((*t_s, kpa))
    };
    Some([
        level(start)?,
        level(start + (n - part) / 2)?,
        level(rest.to - part)?,
    ])
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::recording::Readings;

    const TRUE: Creep = Creep {
        ml_per_kpa: 2e-5,
        time_s: 4.0,
    };
    /// Of balloon and line together, mL/kPa.
    const CAPACITY: f64 = 2e-3;

    /// Holds of `hold_s` after strokes of one second, at 100 samples a second, on a wall that creeps as [`TRUE`]: `V = C p + c w`,
    /// `dw/dt = (p - w) / tau`. Stepped finely, since between two samples the pressure moves.
    fn free_run(hold_s: f64) -> (Trace, Vec<Rest>) {
        const FINE: usize = 20;
        let (mut t_s, mut w, mut injected) = (0.0, 0.0, 0.0);
        let (mut time, mut pressure) = (Vec::new(), Vec::new());
        let mut rests = Vec::new();
        let dt = 0.01 / FINE as f64;
        for _ in 0..8 {
            let from = time.len();
            for sample in 0..(100.0 * (1.0 + hold_s)) as usize {
                for _ in 0..FINE {
                    let p = (injected - TRUE.ml_per_kpa * w) / CAPACITY;
                    w += (p - w) * dt / TRUE.time_s;
                    injected += if sample < 100 { 0.25 * dt } else { 0.0 };
                    t_s += dt;
                }
                time.push(t_s);
                pressure.push((injected - TRUE.ml_per_kpa * w) / CAPACITY);
            }
            let (from, to) = (from + 100, time.len());
            let middle = usize::midpoint(from, to);
            rests.push(Rest {
                from,
                to,
                t_s: time[middle],
                pressure_kpa: pressure[middle],
                volume_ml: injected,
                diameter_mm: f64::NAN,
                length_s: hold_s,
            });
        }
        let trace = Trace {
            time_s: Readings::from(time),
            pressure_kpa: Readings::from(pressure),
            step_s: 0.01,
            ..Trace::default()
        };
        (trace, rests)
    }

    /// Against a bench stepped by Euler's rule, which knows nothing of the fit.
    #[test]
    fn holds_tell_how_a_wall_creeps() {
        let (trace, rests) = free_run(3.0);
        let found = Creep::of(&[(&trace, &rests)]).unwrap();
        assert!(
            (found.time_s / TRUE.time_s).ln().abs() < TIMES_RATIO.ln(),
            "{found:?}"
        );
        assert!(
            (found.ml_per_kpa / TRUE.ml_per_kpa - 1.0).abs() < 0.1,
            "{found:?}"
        );
        // What it makes of a run with other holds.
        let (other, _) = free_run(1.0);
        let crept = found.in_run(&other).at(10.0);
        let truth = TRUE.in_run(&other).at(10.0);
        assert!((crept / truth - 1.0).abs() < 0.05, "{crept} {truth}");
    }

    #[test]
    fn a_wall_goes_towards_its_creep_exponentially() {
        let n = 2000;
        let trace = Trace {
            time_s: (0..n).map(|i| 0.01 * f64::from(i)).collect(),
            pressure_kpa: Readings::from(vec![500.0; n as usize]),
            step_s: 0.01,
            ..Trace::default()
        };
        let crept = TRUE.in_run(&trace);
        for t in [2.0_f64, 4.0, 12.0] {
            let exact = 2e-5 * 500.0 * (1.0 - (-t / 4.0).exp());
            assert!((crept.at(t) / exact - 1.0).abs() < 1e-9, "{t}");
        }
        assert_eq!(crept.at(-1.0), 0.0);
    }

    #[test]
    fn a_wall_that_does_not_creep_tells_none() {
        let (mut trace, rests) = free_run(3.0);
        for rest in &rests {
            let level = trace.pressure_kpa[rest.from];
            trace.pressure_kpa[rest.from..rest.to].fill(level);
        }
        assert_eq!(Creep::of(&[(&trace, &rests)]), None);
        assert_eq!(Creep::of(&[(&trace, &rests[..1])]), None);
    }
}
