//! Trials of the whole chain of a frame under load: channels, zeros, counter, line, free balloon, calipers and waist are drawn together, and the
//! load follows from every draw anew (JCGM 101). What one transducer and one counter get wrong is the same in blank, free and frame run.

use crate::balloon::{
    BAND_U, CREEP_SHARE_HALF, DrawnLoad, FrameLoad, LISTED_U_MM, LoadInput, LoadPoint,
    SHOULDER_HALF,
};
use crate::measure::mechanics;
use crate::recording::{ByTrials, Event, RunResult};
use crate::segment::Rest;
use crate::uncertain::{Budget, Component, Input, Trials, monte_carlo_of};

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
    /// Noise of the counter at the break.
    AtBreak,
}

const ONCE: usize = Drawn::AtBreak as usize + 1;

/// Names of the figures, in the order of [`figures`].
const NAMES: [&str; 4] = [
    "frame.peak_load",
    "frame.peak_tension",
    "frame.peak_force",
    "diameters.at_event",
];

/// Adds the trials of load, tension, ring force and diameter at the break to a run.
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
    let f = |z: &[f64]| figures(input, load, (at, event), z).unwrap_or([f64::NAN; NAMES.len()]);
    let label = format!("{}: load", result.run_id);
    let said = monte_carlo_of(&f, &inputs, &[], &label, trials);
    let propagated = [
        result.frame.as_ref().map(|f| &f.peak_load),
        result.frame.as_ref().map(|f| &f.peak_tension),
        result.frame.as_ref().map(|f| &f.peak_force),
        result.diameters.as_ref().map(|d| &d.at_event),
    ];
    let found: Vec<ByTrials> = NAMES
        .into_iter()
        .zip(said)
        .zip(propagated)
        .filter_map(|((name, said), by)| {
            let by = by.filter(|by| by.pair().is_some())?;
            Some(ByTrials::new(name, by, said?))
        })
        .collect();
    result.monte_carlo.extend(found);
}

/// The figures of a draw.
fn figures(
    input: &LoadInput<'_>,
    load: &FrameLoad,
    (at, event): (usize, Option<&Event>),
    z: &[f64],
) -> Option<[f64; NAMES.len()]> {
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
            let u_ml = input.u_counter(rest).hypot(load.scatter_ml);
            let [by_p, by_v] = [z[0] * input.u_noise_kpa(rest), z[1] * u_ml];
            Rest {
                pressure_kpa: pressure(rest.pressure_kpa, rest.t_s) + by_p,
                volume_ml: rest.volume_ml * (1.0 + counter) + joined + by_v,
                diameter_mm: rest.diameter_mm + trace.u_diameter_mm * of(Drawn::Camera),
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
        // What the frame had opened by at the first rest adds to its diameter before.
        before: moved(
            input.before.map(|(d, u)| (d, u.hypot(load.u_opened_mm))),
            Drawn::Before,
        ),
        loaded: moved(input.loaded, Drawn::Loaded),
        band_height_mm: input.band_height_mm.map(|band| {
            let reach = if load.by_band() { BAND_U } else { 0.0 };
            band * (1.0 + reach * of(Drawn::Reach))
        }),
        shoulder_by: of(Drawn::Shoulder),
        creep_by: of(Drawn::Creep),
        ..*input
    };
    let found = DrawnLoad::of(&drawn, load.opened_mm)?;
    let LoadPoint {
        load_kpa,
        diameter_mm,
        ..
    } = found.at(rests.get(at)?)?;
    let tension = mechanics::tension(load_kpa, diameter_mm);
    let band = input.band_height_mm.unwrap_or(f64::NAN) + LISTED_U_MM * of(Drawn::Band);
    let at_event = event.and_then(|event| {
        let kpa = pressure(event.pressure.value?, event.t_s?);
        let u_ml = trace.noise_ml.hypot(load.scatter_ml);
        let volume_ml = event.volume.value? * (1.0 + counter) + joined + u_ml * of(Drawn::AtBreak);
        found.diameter(event.t_s?, kpa, volume_ml)
    });
    Some([
        load_kpa,
        tension,
        mechanics::ring_force(tension, band),
        at_event.unwrap_or(f64::NAN),
    ])
}
