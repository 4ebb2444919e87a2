//! The pulse duplicator: flow and pressure difference over a valve of known orifice.

use crate::uncertain::Draws;

/// Beats recorded.
const BEATS: usize = 3;
/// Samples a second, Hz.
const RATE_HZ: f64 = 100.0;
/// Duration of a beat, s (70 a minute, the usual reference condition).
const BEAT_S: f64 = 60.0 / 70.0;
/// Duration of forward flow, s (35 % of the beat).
const EJECTION_S: f64 = 0.35 * BEAT_S;
/// Start of forward flow in a beat, s.
const EJECTION_FROM_S: f64 = 0.2;
/// Stroke volume, mL (5 L/min at 70 a minute).
const STROKE_VOLUME_ML: f64 = 5000.0 / 70.0;
/// Leak of the closed valve, mL/s.
const LEAK_ML_S: f64 = 3.0;
/// Pressure difference over the closed valve, mmHg.
const CLOSED_MMHG: f64 = -80.0;
/// Time over which the valve's pressure turns, s.
const TURN_S: f64 = 0.03;
/// Inertance of the fluid column, mmHg s²/mL.
const INERTANCE: f64 = 3e-4;
/// Standard deviation of a flow sample, mL/s.
const FLOW_SPREAD: f64 = 2.0;
/// Standard deviation of a pressure sample, mmHg.
const PRESSURE_SPREAD: f64 = 0.3;
/// Standard deviations of what the flow probe is off by, relative (common practice, no source), ...
pub const FLOW_GAIN_U: f64 = 0.005;
/// ... at standstill, mL/s, ...
pub const FLOW_ZERO_U_ML_S: f64 = 0.3;
/// ... and the pressure difference, relative ...
pub const DP_GAIN_U: f64 = 0.003;
/// ... and at its zero, mmHg.
pub const DP_ZERO_U_MMHG: f64 = 0.02;
/// Standard uncertainty of the density that a rig declares, relative.
pub const DENSITY_U: f64 = 0.001;
/// 51.6: constant of the effective orifice area in ISO 5840 (cm², mL/s, mmHg, g/mL); sqrt(2 × 1333.22) = 51.64 by calculation.
pub const ORIFICE_CONSTANT: f64 = 51.6;

/// A valve in the duplicator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Valve {
    /// Area of the jet, cm².
    pub jet_cm2: f64,
    /// Density of the fluid, g/mL.
    pub density: f64,
}

/// What the instruments of the duplicator are off by; nothing by default.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FlowMeters {
    /// Gain error of the flow probe, relative.
    pub flow_gain_error: f64,
    /// Zero of the flow, mL/s.
    pub flow_zero_ml_s: f64,
    /// Gain error of the pressure difference, relative.
    pub dp_gain_error: f64,
    /// Zero of the pressure difference, mmHg.
    pub dp_zero_mmhg: f64,
}

/// A sample of the duplicator.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlowSample {
    /// Time, s.
    pub t: f64,
    /// Forward flow, mL/s.
    pub flow: f64,
    /// Pressure difference, mmHg.
    pub dp: f64,
}

impl Valve {
    /// Flow and pressure difference `t` seconds into a beat: half a sine of flow; `ρ (Q / 51.6 A)²` for the jet and the inertance of
    /// the column on top.
    fn at(&self, t: f64) -> (f64, f64) {
        let into = t - EJECTION_FROM_S;
        if (0.0..EJECTION_S).contains(&into) {
            let peak = STROKE_VOLUME_ML * std::f64::consts::FRAC_PI_2 / EJECTION_S;
            let phase = std::f64::consts::PI * into / EJECTION_S;
            let flow = peak * phase.sin();
            let rise = peak * std::f64::consts::PI / EJECTION_S * phase.cos();
            let jet = self.density * (flow / (ORIFICE_CONSTANT * self.jet_cm2)).powi(2);
            return (flow, jet + INERTANCE * rise);
        }
        // The closed valve: pressure turns just before opening and just after closing.
        let away = if into < 0.0 { -into } else { into - EJECTION_S };
        (-LEAK_ML_S, CLOSED_MMHG * (away / TURN_S).min(1.0))
    }

    /// A noisy recording by these instruments.
    pub fn record(&self, meters: FlowMeters, draws: &mut Draws) -> Vec<FlowSample> {
        let samples = (BEATS as f64 * BEAT_S * RATE_HZ).round() as usize;
        (0..samples)
            .map(|k| {
                let t = k as f64 / RATE_HZ;
                let (flow, dp) = self.at(t % BEAT_S);
                FlowSample {
                    t,
                    flow: (1.0 + meters.flow_gain_error) * flow
                        + meters.flow_zero_ml_s
                        + FLOW_SPREAD * draws.normal(),
                    dp: (1.0 + meters.dp_gain_error) * dp
                        + meters.dp_zero_mmhg
                        + PRESSURE_SPREAD * draws.normal(),
                }
            })
            .collect()
    }

    /// Forward stroke volume, mL, and what leaks back of it through the closed valve, %: the valve closes at once.
    pub fn true_volumes() -> (f64, f64) {
        let leaked = LEAK_ML_S * (BEAT_S - EJECTION_S);
        (STROKE_VOLUME_ML, 100.0 * leaked / STROKE_VOLUME_ML)
    }

    /// Effective orifice area (cm²) and mean pressure difference (mmHg) without noise, by the definition of ISO 5840 over the
    /// positive-pressure period of forward flow, on a grid of 10 µs.
    pub fn truth(&self) -> (f64, f64) {
        let dt = 1e-5;
        let beat = (BEAT_S / dt).round() as usize;
        let points = (0..beat)
            .map(|k| self.at(k as f64 * dt))
            .filter(|(flow, dp)| *flow > 0.0 && *dp > 0.0);
        effective_area(points, self.density)
    }
}

/// `Q_rms / (51.6 sqrt(mean dp / ρ))` (ISO 5840) and mean dp of evenly spaced points of the positive-pressure period.
pub fn effective_area(points: impl Iterator<Item = (f64, f64)>, density: f64) -> (f64, f64) {
    let (mut n, mut squares, mut pressure) = (0.0, 0.0, 0.0);
    for (flow, dp) in points {
        n += 1.0;
        squares += flow * flow;
        pressure += dp;
    }
    let mean = pressure / n;
    (
        (squares / n).sqrt() / (ORIFICE_CONSTANT * (mean / density).sqrt()),
        mean,
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half-sine of 70 mL in 0.300 s at 12 mmHg and 1.005 g/mL: RMS flow 259.1682 mL/s (peak 366.5191/√2), area 1.453531 cm² by the
    /// definition with constant 51.6 (ISO 5840).
    #[test]
    fn half_sine_of_known_stroke_gives_the_area_of_the_definition() {
        let n = 30_000;
        let points = (0..n).map(|k| {
            let phase = std::f64::consts::PI * (f64::from(k) + 0.5) / f64::from(n);
            (366.5191 * phase.sin(), 12.0)
        });
        let (area, mean) = effective_area(points, 1.005);
        assert!((area - 1.453_531).abs() < 1e-6);
        assert!((mean - 12.0).abs() < 1e-9);
    }

    /// Without inertance the area of the definition is the jet's own; with it the two stay within a few per cent.
    #[test]
    fn truth_is_near_the_area_of_the_jet() {
        let (area, gradient) = Valve {
            jet_cm2: 1.9,
            density: 1.0,
        }
        .truth();
        assert!((area / 1.9 - 1.0).abs() < 0.08);
        assert!((2.0..20.0).contains(&gradient));
    }
}
