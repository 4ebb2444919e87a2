//! The `[flow]` table of a rig file: what the instruments of the pulse duplicator are worth.

use super::document::{Section, number_of};
use crate::units::{Dimension, find};

/// What a rig declares of its flow loop. Standard uncertainties (k = 1); `None` where nothing is declared.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct FlowSpec {
    /// Flow, relative (`u_flow_rel`).
    pub u_flow_rel: Option<f64>,
    /// Zero of the flow, mL/s (`u_flow_ml_s`, or another unit of flow as the ending).
    pub u_flow_zero_ml_s: Option<f64>,
    /// Pressure difference, relative (`u_dp_rel`).
    pub u_dp_rel: Option<f64>,
    /// Zero of the pressure difference, mmHg (`u_dp_mmhg`, or another unit of pressure as the ending).
    pub u_dp_zero_mmhg: Option<f64>,
    /// Density of the fluid, relative (`u_density_rel`).
    pub u_density_rel: Option<f64>,
    /// Diameter of the tube behind the valve, mm (`aorta_diameter_mm`).
    pub aorta_diameter_mm: Option<f64>,
}

/// Tubes behind a valve, mm: what the energy loss formula takes.
pub(super) const AORTA_MM: (f64, f64) = (5.0, 60.0);

/// Reads the table.
pub(super) fn flow(section: Section<'_, '_>) -> FlowSpec {
    let mmhg = find("mmHg").map_or(1.0, |unit| unit.factor);
    let spec = FlowSpec {
        u_flow_rel: section.not_negative("u_flow_rel"),
        u_dp_rel: section.not_negative("u_dp_rel"),
        u_density_rel: section.not_negative("u_density_rel"),
        u_flow_zero_ml_s: in_unit(&section, "u_flow_", Dimension::Flow, "u_flow_ml_s"),
        u_dp_zero_mmhg: in_unit(&section, "u_dp_", Dimension::Pressure, "u_dp_mmhg")
            .map(|kpa| kpa / mmhg),
        aorta_diameter_mm: section.within("aorta_diameter_mm", AORTA_MM, "mm"),
    };
    section.finish();
    spec
}

/// A number of at least zero whose unit stands at the end of its key, in the bench unit of the dimension.
fn in_unit(
    section: &Section<'_, '_>,
    prefix: &str,
    dimension: Dimension,
    example: &str,
) -> Option<f64> {
    let mut found = None;
    for (tail, span, value) in section.with_prefix(prefix) {
        let Some(unit) = find(&tail).filter(|unit| unit.dimension == dimension) else {
            section.doc.error(
                &span,
                "toml-unknown-key",
                format!(
                    "{} has a key `{prefix}{tail}`; `{tail}` is no unit of {}",
                    section.name,
                    dimension.word()
                ),
                Some(format!("write the unit at the end of the key, as in {example}; a relative part is {prefix}rel")),
            );
            continue;
        };
        match number_of(value).filter(|number| *number >= 0.0) {
            Some(number) => found = Some(number * unit.factor),
            None => section.wrong(
                &format!("{prefix}{tail}"),
                value,
                "a finite number of at least 0",
            ),
        }
    }
    found
}
