//! What a balloon needs below its unfolded size: read from the fill of a free run.
//!
//! A ring narrower than the unfolded balloon meets a balloon still partly folded, whose section has the ring's area. The free balloon
//! had that section during its fill, when so much of its volume was in: `D = D0 sqrt(V / V0)` (a section of equal area; the length does not
//! change). The reading during a fill holds the loss in the line too; a balloon that is hardly begun takes fluid at next to no pressure, so
//! what the reading shows there is that loss, and is taken off.

use super::{FreeBalloon, LineModel};
use crate::recording::{Phase, PhaseKind, Trace};
use crate::segment::Rest;

/// The loss in the line is read while this share of the volume is in.
const LOSS_SHARES: (f64, f64) = (0.08, 0.25);
/// The pressure is read from here on up to all but the last volume, in so many bins.
const READ_SHARES: (f64, f64) = (0.45, 0.99);
const BINS: usize = 9;
/// Slow noise and hum folded into a slow clock do not average out over a bin: it counts as so many independent readings at most.
const MOST_INDEPENDENT: f64 = 4.0;
/// Fewest samples of a bin.
const FEWEST: usize = 2;
/// A fill whose flow differs by more than this between the two has another loss.
const SAME_FLOW: f64 = 0.2;
/// What a folded balloon needs where no fill shows it, kPa, with its standard uncertainty: it opens by hand, at nothing to 5 kPa (common
/// practice, no source); the middle and the spread of a rectangle between these bounds (JCGM 100, 4.3.7).
const UNSEEN_KPA: (f64, f64) = (2.5, 2.5 / 1.732_050_807_568_877_2);
/// What a balloon hardly begun needs itself stays in the loss that is taken off, kPa: a tenth of those few kilopascals.
const BEGUN_U_KPA: f64 = 0.3;

/// Pressure of the folded balloon against the diameter of the circle of its section.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Unfolding {
    /// Diameter (mm, increasing) and pressure (kPa).
    points: Vec<(f64, f64)>,
    /// Standard uncertainty of the pressure, kPa.
    u_kpa: f64,
}

impl Unfolding {
    /// From the first free run that shows it; `None` where no fill with its volume was recorded.
    pub fn from_fills(
        runs: &[(&Trace, &[Phase], &[Rest])],
        free: &FreeBalloon,
        line: Option<&LineModel>,
    ) -> Option<Self> {
        runs.iter()
            .find_map(|(trace, phases, rests)| from_fill(trace, phases, rests, free, line?))
    }

    /// The same, moved by a standard normal number as its uncertainty has it.
    #[must_use]
    pub fn drawn(&self, z: f64) -> Self {
        let moved = |(d, p): &(f64, f64)| (*d, p + z * self.u_kpa);
        Self {
            points: self.points.iter().map(moved).collect(),
            u_kpa: self.u_kpa,
        }
    }

    /// Pressure (kPa) at a diameter (mm), with its standard uncertainty.
    fn at(&self, diameter_mm: f64) -> Option<(f64, f64)> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        let above = self.points.partition_point(|p| p.0 < diameter_mm);
        let pressure = match (
            above.checked_sub(1).and_then(|k| self.points.get(k)),
            self.points.get(above),
        ) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (diameter_mm - a.0) / (b.0 - a.0),
            (None, _) => first.1,
            (_, None) => last.1,
        };
        Some((pressure.max(0.0), self.u_kpa))
    }
}

/// Pressure that the free balloon needs for a diameter (mm), kPa, with the standard uncertainty that its folds add: 0 above the unfolded
/// size.
pub fn free_pressure(
    free: &FreeBalloon,
    unfolding: Option<&Unfolding>,
    diameter_mm: f64,
) -> Option<(f64, f64)> {
    let curve = free.diameter.as_ref()?;
    let stretched = curve.pressure_for(diameter_mm);
    let (folded, u_folds) = unfolding
        .and_then(|u| u.at(diameter_mm))
        .unwrap_or(UNSEEN_KPA);
    Some(if stretched > folded {
        (stretched, 0.0)
    } else {
        (folded, u_folds)
    })
}

fn from_fill(
    trace: &Trace,
    phases: &[Phase],
    rests: &[Rest],
    free: &FreeBalloon,
    line: &LineModel,
) -> Option<Unfolding> {
    let volume = trace.volume_ml.as_ref()?;
    let curve = free.diameter.as_ref()?;
    let fill = phases.iter().find(|p| p.kind == PhaseKind::Fill)?;
    let full = rests
        .iter()
        .find(|r| r.t_s > fill.t_end_s && r.volume_ml.is_finite())?;
    let whole = full.volume_ml - line.volume_ml(full.pressure_kpa);
    let unfolded = curve.at(full.pressure_kpa);
    // Share of the volume that is in, reading and time of every sample of the fill.
    let samples: Vec<(f64, f64, f64)> = (fill.start..fill.end)
        .filter_map(|k| {
            let (p, v) = (*trace.pressure_kpa.get(k)?, *volume.get(k)?);
            let share = (v - line.volume_ml(p)) / whole;
            (p.is_finite() && share.is_finite()).then_some((share, p, *trace.time_s.get(k)?))
        })
        .collect();
    let between = |(from, to): (f64, f64)| -> Vec<(f64, f64, f64)> {
        samples
            .iter()
            .copied()
            .filter(|s| s.0 >= from && s.0 < to)
            .collect()
    };
    let flow = |part: &[(f64, f64, f64)]| {
        let (a, b) = (part.first()?, part.last()?);
        Some((b.0 - a.0) / (b.2 - a.2))
    };
    let (begun, later) = (between(LOSS_SHARES), between(READ_SHARES));
    if begun.len() < 2 * FEWEST || (flow(&later)? / flow(&begun)? - 1.0).abs() > SAME_FLOW {
        return None;
    }
    let mean =
        |part: &[(f64, f64, f64)]| part.iter().map(|s| s.1).sum::<f64>() / part.len().max(1) as f64;
    let lost = mean(&begun);
    let step = (READ_SHARES.1 - READ_SHARES.0) / BINS as f64;
    // Mean pressure and samples of a bin; the share of its middle.
    let bins: Vec<(f64, f64, f64)> = (0..BINS)
        .map(|bin| READ_SHARES.0 + step * bin as f64)
        .filter_map(|from| {
            let here = between((from, from + step));
            let share = here.iter().map(|s| s.0).sum::<f64>() / here.len().max(1) as f64;
            (here.len() >= FEWEST).then(|| (share, mean(&here) - lost, here.len() as f64))
        })
        .collect();
    let samples = bins.iter().map(|b| b.2).fold(begun.len() as f64, f64::min);
    let u_kpa = (std::f64::consts::SQRT_2 * trace.noise_kpa / samples.min(MOST_INDEPENDENT).sqrt())
        .hypot(BEGUN_U_KPA);
    // A fill that tells less than what is known of folded balloons anyway tells nothing.
    if bins.len() < 2 || u_kpa.is_nan() || u_kpa > UNSEEN_KPA.1 {
        return None;
    }
    Some(Unfolding {
        points: rising(&bins)
            .into_iter()
            .zip(&bins)
            .map(|(pressure, bin)| (unfolded * bin.0.sqrt(), pressure))
            .collect(),
        u_kpa,
    })
}

/// The means that never fall and are nearest to those of the bins (pools of adjacent violators; Barlow et al. 1972): a balloon never needs
/// less for more.
fn rising(bins: &[(f64, f64, f64)]) -> Vec<f64> {
    let mut pools: Vec<(f64, f64, usize)> = Vec::new();
    for (_, pressure, weight) in bins {
        let mut pool = (*pressure, *weight, 1);
        while let Some(last) = pools.pop_if(|last| last.0 > pool.0) {
            let weight = last.1 + pool.1;
            pool = (
                (last.0 * last.1 + pool.0 * pool.1) / weight,
                weight,
                last.2 + pool.2,
            );
        }
        pools.push(pool);
    }
    pools
        .into_iter()
        .flat_map(|(pressure, _, many)| std::iter::repeat_n(pressure, many))
        .collect()
}
