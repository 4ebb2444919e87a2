//! What a study file says of the series of its runs: groups, the definition of the fracture pressure, margins, a staircase.

use super::document::Section;
use crate::recording::{GroupBy, ListedCell, Place, PressureDefinition};
use crate::units::{Dimension, KPA_PER_ATM, Unit, split_header};

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
    /// What the fracture of each run is set against, beside its oversize; `None` where nobody names it.
    pub fracture_against: Option<DoseColumn>,
}

/// A column of numbers in the tables of runs, frames or balloons that was fixed before the runs: a planned pressure, the thickness of a band.
#[derive(Debug, Clone, PartialEq)]
pub struct DoseColumn {
    /// Its name in the tables, in lower case.
    pub column: String,
    /// The same in words, without the unit: `planned pressure`.
    pub name: String,
    /// The unit that its name ends in.
    pub unit: &'static Unit,
    /// Where the study file names it.
    pub at: Place,
}

impl DoseColumn {
    /// What a cell says, in the bench unit (kPa, mm).
    ///
    /// # Errors
    /// What was expected, where it says nothing that a frame can be dilated to.
    pub fn level(&self, cell: &ListedCell<'_>) -> Result<f64, &'static str> {
        let number = cell.number().ok_or("a finite number")?;
        let bench = self.unit.to_bench(number);
        match self.unit.dimension {
            Dimension::Pressure if bench <= 0.0 => Err("a pressure above 0"),
            _ if !bench.is_finite() => Err("a finite number"),
            _ => Ok(bench),
        }
    }
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
            fracture_against: None,
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
        fracture_against: fracture_against(top),
    }
}

/// The column that fracture is set against; one that names no unit is a fault.
fn fracture_against(top: &Section<'_, '_>) -> Option<DoseColumn> {
    let (text, span) = top.text("fracture_against")?;
    let column = text.trim().to_lowercase();
    let (name, unit) = split_header(&column);
    let Some(unit) = unit else {
        top.doc.error(
            &span,
            "fracture-against",
            format!(
                "`fracture_against` is \"{text}\"; expected a column whose name ends in its unit"
            ),
            Some(
                "name the unit in the column, as in planned_pressure_atm or band_thickness_mm"
                    .to_owned(),
            ),
        );
        return None;
    };
    Some(DoseColumn {
        name: name.replace('_', " "),
        column,
        unit,
        at: top.doc.place(&span),
    })
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
