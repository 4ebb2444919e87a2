//! The work of a closed loop of pressure and volume: what went in on the way up less what came back on the way down.

/// Work over a stretch of a recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopWork {
    /// `∫ p dV`, straight between samples, mJ (1 kPa mL = 1 mJ).
    pub work_mj: f64,
    /// What the noise of the samples leaves in it, standard deviation, mJ.
    pub u_noise_mj: f64,
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
        open_ml: here.1 - first.1,
    })
}
