//! The work of a closed loop of pressure and volume: what went in on the way up less what came back on the way down.

/// Work over a stretch of a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopWork {
    /// `∫ p dV`, straight between samples, mJ (1 kPa mL = 1 mJ).
    pub work_mj: f64,
    /// What the noise of the samples leaves in it, standard deviation, mJ.
    pub u_noise_mj: f64,
    /// What straight lines between samples miss, mJ: a third of what the work changes by with every second sample left out, since the error
    /// of the trapezium rule goes with the square of the step (Richardson's extrapolation).
    pub u_step_mj: f64,
    /// Volume at the end less that at the beginning, mL: what an error of the zero of the pressure (kPa) is worth in work.
    pub open_ml: f64,
}

/// The work of gauge pressures (kPa) at volumes (mL), with the standard deviations of a sample's noise (kPa, mL). Samples without one of both
/// are passed over; `None` for fewer than two others.
pub fn loop_work(
    pressure_kpa: &[f64],
    volume_ml: &[f64],
    (noise_kpa, noise_ml): (f64, f64),
) -> Option<LoopWork> {
    let mut known = pressure_kpa
        .iter()
        .zip(volume_ml)
        .map(|(p, v)| (*p, *v))
        .filter(|(p, v)| p.is_finite() && v.is_finite());
    let first = known.next()?;
    let coarse = every_second(first, known.clone());
    let mut work_mj = 0.0;
    let (mut by_pressure, mut by_volume) = (0.0, 0.0);
    let mut count = 1;
    // Each sample weighs with half of what its neighbours differ by; volumes at the ends with the pressure there.
    let (mut before, mut here) = (first, first);
    for next in known {
        work_mj += 0.5 * (here.0 + next.0) * (next.1 - here.1);
        by_pressure += (0.5 * (next.1 - before.1)).powi(2);
        let sign = if count == 1 { 1.0 } else { -1.0 };
        by_volume += (0.5 * (next.0 + sign * before.0)).powi(2);
        (before, here) = (here, next);
        count += 1;
    }
    by_pressure += (0.5 * (here.1 - before.1)).powi(2);
    by_volume += (0.5 * (here.0 + before.0)).powi(2);
    (count > 1).then_some(LoopWork {
        work_mj,
        u_noise_mj: (noise_kpa * by_pressure.sqrt()).hypot(noise_ml * by_volume.sqrt()),
        u_step_mj: (coarse - work_mj).abs() / 3.0,
        open_ml: here.1 - first.1,
    })
}

/// Moves the last of a list of pressures (kPa) and volumes (mL) to where the straight line from the one before passes a pressure (kPa): a fast
/// deflation passes it between two samples, and what came back below would be taken off the work.
pub fn end_at(pressure_kpa: &mut [f64], volume_ml: &mut [f64], at_kpa: f64) {
    let ([.., p1, p2], [.., v1, v2]) = (pressure_kpa, volume_ml) else {
        return;
    };
    let share = ((*p1 - at_kpa) / (*p1 - *p2)).clamp(0.0, 1.0);
    if share.is_finite() {
        (*p2, *v2) = (*p1 + share * (*p2 - *p1), *v1 + share * (*v2 - *v1));
    }
}

/// The work with every second sample left out; the last one stays.
fn every_second(first: (f64, f64), rest: impl Iterator<Item = (f64, f64)>) -> f64 {
    let (mut work_mj, mut here, mut skipped) = (0.0, first, None);
    let mut add = |here: &mut (f64, f64), next: (f64, f64)| {
        work_mj += 0.5 * (here.0 + next.0) * (next.1 - here.1);
        *here = next;
    };
    for next in rest {
        if skipped.take().is_none() {
            skipped = Some(next);
        } else {
            add(&mut here, next);
        }
    }
    if let Some(last) = skipped {
        add(&mut here, last);
    }
    work_mj
}
