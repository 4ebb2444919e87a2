//! Made-up runs with a defect, and what calibrating says of them.

use crate::staircase::{Staircase, rig, run_row};
use hooptrace::calibrate::calibrate;
use hooptrace::recording::{Finding, RawRecording, Readings, Trace};
use hooptrace::rig::{ChannelQuantity, Rig, Settings, rig_from_text};

/// Seeds, rates (Hz) and noises (kPa) over which a property holds.
pub fn runs() -> Vec<Staircase> {
    let mut runs = Vec::new();
    for seed in [1, 2, 3] {
        for rate_hz in [20.0, 100.0, 1000.0] {
            for noise_kpa in [0.3, 1.5, 4.0] {
                runs.push(Staircase {
                    rate_hz,
                    noise_kpa,
                    seed,
                    ..Staircase::default()
                });
            }
        }
    }
    runs
}

/// In words, for messages.
pub fn named(run: &Staircase) -> String {
    format!(
        "seed {}, {} Hz, {} kPa",
        run.seed, run.rate_hz, run.noise_kpa
    )
}

/// The pressure column.
pub fn pressure(raw: &mut RawRecording) -> &mut Readings {
    column(raw, ChannelQuantity::Pressure)
}

/// The volume column.
pub fn volume(raw: &mut RawRecording) -> &mut Readings {
    column(raw, ChannelQuantity::Volume)
}

fn column(raw: &mut RawRecording, quantity: ChannelQuantity) -> &mut Readings {
    let channel = raw.channels.iter_mut().find(|c| c.quantity == quantity);
    &mut channel.unwrap().values
}

/// The rig of the staircase with more lines in its pressure channel.
pub fn rig_with(pressure: &str) -> Rig {
    let text = format!(
        "name = \"made\"\n[ambient]\npressure_kpa = 101.325\n\
         [[channel]]\nquantity = \"pressure\"\nu_kpa = 1.0\nu_rel = 0.001\n{pressure}\n\
         [[channel]]\nquantity = \"volume\"\nunit = \"mL\"\nu_ml = 0.02\n"
    );
    rig_from_text(&text, "rigs/made.toml").unwrap().0
}

/// Trace and findings; the trace is empty where the recording cannot be used.
pub fn see_with(raw: &RawRecording, rig: &Rig) -> (Trace, Vec<Finding>) {
    match calibrate(raw.clone(), rig, &run_row(), &Settings::default(), None) {
        Ok(seen) => seen,
        Err(findings) => (Trace::default(), findings),
    }
}

/// The same with the rig of the staircase.
pub fn see(raw: &RawRecording) -> (Trace, Vec<Finding>) {
    see_with(raw, &rig())
}

/// The one finding of a code.
pub fn only<'f>(findings: &'f [Finding], code: &str, about: &str) -> &'f Finding {
    let found: Vec<&Finding> = findings.iter().filter(|f| f.code == code).collect();
    assert_eq!(found.len(), 1, "{code} of {about} in {findings:#?}");
    found[0]
}

/// Nothing of these codes is said.
pub fn none(findings: &[Finding], codes: &[&str], about: &str) {
    let found: Vec<&Finding> = findings
        .iter()
        .filter(|f| codes.contains(&f.code.as_str()))
        .collect();
    assert!(found.is_empty(), "{about}: {found:#?}");
}

/// Row in the middle of a hold under pressure: stroke 3 of 8 is over, the fill takes 8 s.
pub fn in_a_hold(run: &Staircase) -> usize {
    let at = 8.0 + 3.0 * (run.stroke_s + run.hold_s) + run.stroke_s + 0.4 * run.hold_s;
    (at * run.rate_hz) as usize
}
