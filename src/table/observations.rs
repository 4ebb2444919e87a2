//! `observations.csv`: one row an observation, as written and as understood.

use super::flat::{Row, csv};
use crate::recording::{Analysis, ObservationRow};

/// The observations of an analysis as a flat table; a header alone where there are none.
///
/// # Errors
///
/// The writer's error; none is expected in memory.
pub fn observations_csv(analysis: &Analysis) -> Result<Vec<u8>, csv::Error> {
    let rows: Vec<Row> = analysis
        .runs
        .iter()
        .flat_map(|run| {
            run.observations
                .iter()
                .map(|o| row(run.arm.as_deref(), Some(o)))
        })
        .collect();
    csv(&row(None, None).names, &rows)
}

fn row(arm: Option<&str>, observation: Option<&ObservationRow>) -> Row {
    let mut row = Row::default();
    let text = |pick: fn(&ObservationRow) -> Option<String>| {
        observation.and_then(pick).unwrap_or_default()
    };
    row.text("run_id", text(|o| Some(o.run_id.clone())));
    row.text("arm", arm.unwrap_or_default());
    row.text("stage", text(|o| o.stage.map(|s| s.word().to_owned())));
    row.text("name", text(|o| Some(o.name.clone())));
    row.text("kind", text(|o| o.kind.map(|k| k.word().to_owned())));
    let quantity = observation.and_then(|o| o.quantity.as_ref());
    row.number("number", quantity.and_then(|q| q.value));
    row.number("u_number", quantity.and_then(|q| q.u));
    row.text(
        "number_unit",
        quantity.map_or_else(String::new, |q| q.unit.clone()),
    );
    row.text("grade", text(|o| o.grade.clone()));
    row.text(
        "yes",
        text(|o| o.yes.map(|yes| if yes { "yes" } else { "no" }.to_owned())),
    );
    row.text("written_what", text(|o| Some(o.what.clone())));
    row.text("written_value", text(|o| Some(o.value.clone())));
    row.text("written_unit", text(|o| o.unit.clone()));
    row.text("observer", text(|o| o.observer.clone()));
    row.text("reason", text(|o| o.reason.clone()));
    row
}
