//! What a study file says of the series of its runs: groups, the definition of the fracture pressure, margins, a staircase.

use super::document::Section;
use crate::recording::{GroupBy, Place, PressureDefinition};
use crate::units::KPA_PER_ATM;

/// How the runs of a study are put together.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What the runs are grouped by.
    pub group_by: GroupBy,
    /// Where the study file says so.
    pub group_by_at: Option<Place>,
    /// What is called the fracture pressure. Runs without a pressure by it have none: definitions are never pooled.
    pub definition: PressureDefinition,
    /// Difference of mean diameters, mm, below which two groups count as equivalent; `None` where nobody declares it.
    pub equivalence_mm: Option<f64>,
    /// The staircase the runs followed, in the order of the runs table.
    pub up_and_down: Option<Staircase>,
}

impl Default for Series {
    /// By arm, onset, nothing else declared.
    fn default() -> Self {
        Self {
            group_by: GroupBy::default(),
            group_by_at: None,
            definition: PressureDefinition::Onset,
            equivalence_mm: None,
            up_and_down: None,
        }
    }
}

/// A staircase test: the next frame is loaded a step lower after a fracture, a step higher after none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Staircase {
    /// Pressure of the first frame, kPa.
    pub start_kpa: f64,
    /// The step, kPa.
    pub step_kpa: f64,
}

/// Reads the keys of the study file.
pub(super) fn series(top: &Section<'_, '_>) -> Series {
    let words: Vec<(&str, PressureDefinition)> = PressureDefinition::ALL
        .iter()
        .map(|definition| (definition.word(), *definition))
        .collect();
    let group_by = top.get("group_by");
    Series {
        group_by: group_by
            .as_ref()
            .map_or_else(GroupBy::default, |_| GroupBy::of(&top.texts("group_by"))),
        group_by_at: group_by.map(|(_, value)| top.doc.place(&value.span())),
        definition: top
            .word("fracture_pressure_definition", &words)
            .unwrap_or(PressureDefinition::Onset),
        equivalence_mm: top.positive("equivalence_mm"),
        up_and_down: staircase(top.section("up_and_down")),
    }
}

fn staircase(section: Section<'_, '_>) -> Option<Staircase> {
    if !section.exists() {
        return None;
    }
    for key in ["start_atm", "step_atm"] {
        if section.get(key).is_none() {
            section.doc.error(
                &section.span,
                "toml-missing-key",
                format!("{} has no `{key}`", section.name),
                Some("a staircase needs start_atm and step_atm".to_owned()),
            );
        }
    }
    let start = section.positive("start_atm");
    let step = section.positive("step_atm");
    section.finish();
    Some(Staircase {
        start_kpa: start? * KPA_PER_ATM,
        step_kpa: step? * KPA_PER_ATM,
    })
}
