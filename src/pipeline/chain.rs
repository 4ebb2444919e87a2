//! Trials of the whole chain of a frame under load: channels, zeros, counter, line, free balloon, calipers and waist are drawn together, and the
//! load follows from every draw anew (JCGM 101). What one transducer and one counter get wrong is the same in blank, free and frame run.

use crate::balloon::{
    BAND_U, CREEP_SHARE_HALF, DrawnLoad, FrameLoad, LISTED_U_MM, LoadInput, LoadPoint,
    SHOULDER_HALF, optical_before,
};
use crate::measure::mechanics;
use crate::recording::{ByTrials, Event, FrameResult, RunResult};
use crate::segment::Rest;
use crate::uncertain::{Budget, Component, Input, Quantity, Trials};

/// What is drawn once for the run, in this order; then come the curve of the balloon, and two numbers for each rest.
#[derive(Clone, Copy)]
enum Drawn {
    /// Zero of the frame run and of the free run.
    Zero,
    FreeZero,
    /// Constant part of the pressure channel in the frame run and in the free run, and its gain.
    Channel,
    FreeChannel,
    Gain,
    /// Gain of the counter, and of that of the free run where it is another.
    Counter,
    FreeCounter,
    /// The two numbers of the line.
    Line,
    LineToo,
    /// Diameters before and loaded.
    Before,
    Loaded,
    /// Camera.
    Camera,
    /// What the balloon needs below its unfolded size.
    Unfolding,
    /// Shoulder of the waist, and the part of the free balloon's creep.
    Shoulder,
    Creep,
    /// Height of the band, and length of the waist over it.
    Band,
    Reach,
    /// Hand-overs of both counters.
    Joined,
    /// Compliance of the opening where it is a secant.
    Secant,
    /// Volume and pressure at the break.
    AtBreak,
    PressureAtBreak,
}

const ONCE: usize = Drawn::PressureAtBreak as usize + 1;

/// Figures of a draw: those of the frame, and the diameter at the break.
const FIGURES: usize = 15;

/// The figures by their names in a run, in the order of [`figures`].
type Figure = (&'static str, fn(&FrameResult) -> &Quantity);

#[rustfmt::skip]
const OF_FRAME: [Figure; FIGURES - 1] = [
    ("frame.peak_load", |f| &f.peak_load),
    ("frame.peak_tension", |f| &f.peak_tension),
    ("frame.peak_force", |f| &f.peak_force),
    ("frame.fracture_load", |f| &f.fracture_load),
    ("frame.fracture_tension", |f| &f.fracture_tension),
    ("frame.compliance", |f| &f.compliance),
    ("frame.yield_load", |f| &f.yield_load),
    ("frame.yield_diameter", |f| &f.yield_diameter),
    ("frame.offset_yield_load", |f| &f.offset_yield_load),
    ("frame.offset_yield_diameter", |f| &f.offset_yield_diameter),
    ("frame.hardening", |f| &f.hardening),
    ("frame.hardening_ratio", |f| &f.hardening_ratio),
    ("frame.work", |f| &f.work),
    ("frame.energy_stored", |f| &f.energy_stored),
];

/// Adds the trials of what the load curve of a run says.
pub(super) fn add(input: &LoadInput<'_>, load: &FrameLoad, result: &mut RunResult, trials: Trials) {
    let Some(curve) = &input.free.diameter else {
        return;
    };
    let peak = load
        .points
        .iter()
        .max_by(|a, b| a.load_kpa.total_cmp(&b.load_kpa));
    let Some(at) = peak.and_then(|p| input.rests.iter().position(|r| r.t_s == p.t_s)) else {
        return;
    };
    let standard = || Input::normal(0.0, 1.0);
    let mut inputs: Vec<Input> = (0..ONCE + curve.draws() + 2 * input.rests.len())
        .map(|_| standard())
        .collect();
    for (which, half) in [
        (Drawn::Shoulder, SHOULDER_HALF),
        (Drawn::Creep, CREEP_SHARE_HALF),
    ] {
        if let Some(input) = inputs.get_mut(which as usize) {
            let rectangle = Component::rectangular("waist", half);
            input.budget = Budget::new().with(rectangle);
        }
    }
    let event = result.first_fracture().filter(|e| e.t_s.is_some());
    let f = |z: &[f64]| figures(input, load, (at, event), z);
    let label = format!("{}: load", result.run_id);
    let frame = result.frame.as_ref();
    let at_event = result.diameters.as_ref().map(|d| &d.at_event);
    let mut propagated = [("diameters.at_event", at_event); FIGURES];
    for (slot, (name, pick)) in propagated.iter_mut().zip(OF_FRAME) {
        *slot = (name, frame.map(pick));
    }
    let found = ByTrials::beside(propagated, &f, &inputs, &label, trials);
    result.monte_carlo.extend(found);
}

/// The figures of a draw.
fn figures(
    input: &LoadInput<'_>,
    load: &FrameLoad,
    (at, event): (usize, Option<&Event>),
    z: &[f64],
) -> Option<[f64; FIGURES]> {
    let of = |which: Drawn| z.get(which as usize).copied().unwrap_or(0.0);
    let (trace, line) = (input.trace, input.line);
    let (_, own) = z.split_at_checked(ONCE)?;
    let curve = input.free.diameter.as_ref()?;
    let (of_curve, of_rests) = own.split_at_checked(curve.draws())?;
    let gain = trace.u_pressure_rel * of(Drawn::Gain);
    let channel = trace.u_pressure_kpa * of(Drawn::Channel);
    let counter = trace.u_volume_rel * of(Drawn::Counter);
    let other = if input.other_counter {
        trace.u_volume_rel * of(Drawn::FreeCounter)
    } else {
        counter
    };
    let drawn_line = line.map(|line| {
        let mut moved = line.drawn([of(Drawn::Line), of(Drawn::LineToo)]);
        moved.compliance_ml_per_kpa *= (1.0 + counter) / (1.0 + gain);
        moved.air_ml *= 1.0 + counter;
        moved
    });
    let mut free = input.free.clone();
    // As in propagation, what a zeroed channel is off by is each run's own.
    let free_offset =
        trace.u_pressure_kpa * of(Drawn::FreeChannel) + trace.u_zero_kpa * of(Drawn::FreeZero);
    free.diameter = Some(curve.drawn(of_curve).misread(gain, free_offset));
    if let (Some(line), Some(moved)) = (line, &drawn_line) {
        for (p, v) in &mut free.volume {
            let injected = *v + line.volume_ml(*p);
            *p = *p * (1.0 + gain) + free_offset;
            *v = injected * (1.0 + other) - moved.volume_ml(*p);
        }
    }
    let joined = input.u_joined_ml() * of(Drawn::Joined);
    let pressure =
        |p: f64, t_s: f64| p * (1.0 + gain) + channel + trace.u_zero_at(t_s) * of(Drawn::Zero);
    let rests: Vec<Rest> = input
        .rests
        .iter()
        .zip(of_rests.chunks_exact(2))
        .map(|(rest, z)| {
            let [by_p, by_own] = match z {
                [p, own] => [p * input.u_noise_kpa(rest), *own],
                _ => [0.0; 2],
            };
            let own_mm = load.own_mm(rest);
            Rest {
                pressure_kpa: pressure(rest.pressure_kpa, rest.t_s) + by_p,
                volume_ml: rest.volume_ml * (1.0 + counter)
                    + joined
                    + load.own_ml(input, rest) * by_own,
                diameter_mm: rest.diameter_mm
                    + trace.u_diameter_mm * of(Drawn::Camera)
                    + own_mm * by_own,
                ..*rest
            }
        })
        .collect();
    let moved = |d: Option<(f64, f64)>, by: Drawn| d.map(|(d, u)| (d + u * of(by), u));
    let unfolding = input.unfolding.map(|u| u.drawn(of(Drawn::Unfolding)));
    let drawn = LoadInput {
        rests: &rests,
        free: &free,
        unfolding: unfolding.as_ref(),
        line: drawn_line.as_ref(),
        before: moved(input.before, Drawn::Before),
        loaded: moved(input.loaded, Drawn::Loaded),
        band_height_mm: input.band_height_mm.map(|band| {
            let reach = if load.by_band() { BAND_U } else { 0.0 };
            band * (1.0 + reach * of(Drawn::Reach))
        }),
        shoulder_by: of(Drawn::Shoulder),
        creep_by: of(Drawn::Creep),
        ..*input
    };
    let found = DrawnLoad::of(&drawn, load, of(Drawn::Secant))?;
    let peak = found.at(rests.get(at)?)?;
    let band = input.band_height_mm.unwrap_or(f64::NAN) + LISTED_U_MM * of(Drawn::Band);
    let at_event = event.and_then(|event| {
        let (t_s, kpa, ml) = (event.t_s?, event.pressure.value?, event.volume.value);
        let ml = ml.unwrap_or(f64::NAN);
        let u_kpa = event.pressure.u;
        let own_kpa = u_kpa.map_or(0.0, |u| trace.u_beside_channel(u, kpa, t_s));
        let seen = optical_before(trace, t_s).map(|(d, u)| d + u * of(Drawn::Camera));
        found.at_moment(
            t_s,
            pressure(kpa, t_s) + own_kpa * of(Drawn::PressureAtBreak),
            ml * (1.0 + counter)
                + joined
                + load.own_ml_at(input, t_s, kpa, ml) * of(Drawn::AtBreak),
            seen,
        )
    });
    let tension = |p: &LoadPoint| mechanics::tension(p.load_kpa, p.diameter_mm);
    let of_event = |f: &dyn Fn(&LoadPoint) -> f64| at_event.as_ref().map_or(f64::NAN, f);
    let yielding = found.yielding().unwrap_or([f64::NAN; 4]);
    let [yield_load, yield_diameter, hardening, hardening_ratio] = yielding;
    let offset = found.offset();
    let (work, stored) = found.energies().unwrap_or((f64::NAN, f64::NAN));
    let of_band = band / input.band_height_mm.unwrap_or(f64::NAN);
    Some([
        peak.load_kpa,
        tension(peak),
        mechanics::ring_force(tension(peak), band),
        of_event(&|p| p.load_kpa),
        of_event(&tension),
        found.compliance().unwrap_or(f64::NAN),
        yield_load,
        yield_diameter,
        offset.map_or(f64::NAN, |o| o.load_kpa),
        offset.map_or(f64::NAN, |o| o.diameter_mm),
        hardening,
        hardening_ratio,
        work * of_band,
        stored * of_band,
        of_event(&|p| p.diameter_mm),
    ])
}
