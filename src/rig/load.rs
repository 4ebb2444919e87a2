//! From a rig file to a checked [`Rig`].

use super::channel::{channels, same_column};
use super::clock::clock;
use super::dialect::dialect;
use super::document::{Document, Section, read_text};
use super::flow::flow;
use super::recording::recordings;
use super::{ChannelQuantity, Rig, Side};
use crate::recording::{Finding, LineResistance, Severity};
use std::path::Path;

/// The barometer of any inhabited place, kPa (common practice, no source): outside, a unit was mistaken.
const AMBIENT_KPA: (f64, f64) = (50.0, 115.0);
/// Relative standard uncertainty of a line's resistance where none is declared: it goes with the fourth power of the bore, which is known
/// to 5 %, and with the viscosity, which changes by 2 % for a degree (Hagen-Poiseuille).
const RESISTANCE_U_REL: f64 = 0.2;

/// Reads and checks a rig file; `shown_as` is how messages name it.
///
/// # Errors
/// All faults found, each with line, column and advice, where at least one makes the rig unusable.
pub fn load_rig(path: &Path, shown_as: &str) -> Result<(Rig, Vec<Finding>), Vec<Finding>> {
    let text = read_text(path, shown_as).map_err(|finding| vec![finding])?;
    rig_from_text(&text, shown_as)
}

/// Reads and checks the text of a rig file.
///
/// # Errors
/// As [`load_rig`].
pub fn rig_from_text(text: &str, shown_as: &str) -> Result<(Rig, Vec<Finding>), Vec<Finding>> {
    let doc = Document::new(shown_as, text);
    let root = doc.parse();
    let top = Section::new(&doc, root.get_ref(), root.span(), "");
    let rig = read_rig(&top, shown_as);
    top.finish();
    let findings = doc.into_findings();
    if findings.iter().any(|f| f.severity == Severity::Error) {
        Err(findings)
    } else {
        Ok((rig, findings))
    }
}

fn read_rig(top: &Section<'_, '_>, shown_as: &str) -> Rig {
    let name = top.text("name").map(|(name, _)| name).unwrap_or_default();
    let ambient = top.section("ambient");
    let ambient_kpa = ambient_kpa(&ambient);
    ambient.finish();

    let transducer = top.section("transducer");
    let side = transducer.word(
        "side",
        &[
            ("inflator", Some(Side::Inflator)),
            ("balloon", Some(Side::Balloon)),
            ("auto", None),
        ],
    );
    transducer.finish();

    let dialect = dialect(top.section("dialect"));
    let clock = clock(top.section("clock"));

    let line = top.section("line");
    let blank_runs = line.texts("blank_runs");
    let ml_per_turn = line.positive("ml_per_turn");
    let resistance = line.not_negative("resistance_kpa_s_per_ml");
    let u_resistance_rel = line.not_negative("u_resistance_rel");
    line.finish();

    let channels = channels(top, ml_per_turn);
    check_channels(top, &channels);
    for finding in same_column(&channels, shown_as) {
        top.doc.push(finding);
    }

    let recordings = recordings(top, &channels, ml_per_turn, shown_as);

    let geometry = top.section("geometry");
    let mm_per_px = geometry.positive("mm_per_px");
    let u_mm_per_px_rel = geometry.not_negative("u_mm_per_px_rel");
    let caliper_resolution_mm = geometry.positive("caliper_resolution_mm");
    let caliper_u_mm = geometry.not_negative("caliper_u_mm");
    geometry.finish();

    let fluid = top.section("fluid");
    let density_g_per_ml = fluid.positive("density_g_per_ml");
    fluid.finish();

    let flow = flow(top.section("flow"));

    Rig {
        name,
        file: shown_as.to_owned(),
        ambient_kpa,
        side: side.flatten(),
        dialect,
        clock,
        channels,
        recordings,
        blank_runs,
        ml_per_turn,
        resistance: resistance.map(|kpa_s_per_ml| LineResistance {
            kpa_s_per_ml,
            u_rel: u_resistance_rel.unwrap_or(RESISTANCE_U_REL),
        }),
        mm_per_px,
        u_mm_per_px_rel,
        caliper_resolution_mm,
        caliper_u_mm,
        density_g_per_ml,
        flow,
    }
}

fn ambient_kpa(ambient: &Section<'_, '_>) -> Option<f64> {
    let (kpa, span) = ambient.number("pressure_kpa")?;
    if (AMBIENT_KPA.0..=AMBIENT_KPA.1).contains(&kpa) {
        return Some(kpa);
    }
    ambient.doc.error(
        &span,
        "rig-ambient",
        format!(
            "[ambient] `pressure_kpa` is {kpa}; expected the absolute pressure of the air, {} to {} kPa",
            AMBIENT_KPA.0, AMBIENT_KPA.1
        ),
        Some("give the reading of the barometer in kPa (1013 hPa = 101.3 kPa)".to_owned()),
    );
    None
}

/// A rig that lists channels needs one of the pressure.
fn check_channels(top: &Section<'_, '_>, channels: &[super::ChannelSpec]) {
    let Some((span, value)) = top.get("channel") else {
        return;
    };
    // A channel whose quantity is no word, told already, may be the pressure.
    let listed = value.get_ref().as_array().map_or(0, |list| list.len());
    let pressure = |channel: &super::ChannelSpec| channel.quantity == ChannelQuantity::Pressure;
    if channels.len() == listed && !channels.iter().any(pressure) {
        top.doc.error(
            &span,
            "rig-no-pressure",
            "the rig lists channels but none of quantity \"pressure\"".to_owned(),
            Some("add a [[channel]] with quantity = \"pressure\", or leave out every [[channel]] to have them sniffed".to_owned()),
        );
    }
}
