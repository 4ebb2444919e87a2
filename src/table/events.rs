//! `events.csv`: one row an event.

use super::flat::{Row, csv};
use super::runs::grade;
use crate::recording::{Analysis, Event, PressureDefinition};

/// The events of an analysis as a flat table; a header alone where there are none.
///
/// # Errors
///
/// The writer's error; none is expected in memory.
pub fn events_csv(analysis: &Analysis) -> Result<Vec<u8>, csv::Error> {
    let rows: Vec<Row> = analysis
        .runs
        .iter()
        .flat_map(|run| run.events.iter().map(|e| row(&run.run_id, Some(e))))
        .collect();
    csv(&row("", None).names, &rows)
}

fn row(run_id: &str, event: Option<&Event>) -> Row {
    let mut row = Row::default();
    row.text("run_id", run_id);
    row.text(
        "kind",
        event.map_or_else(String::new, |e| format!("{:?}", e.kind).to_lowercase()),
    );
    row.number("t_s", event.and_then(|e| e.t_s));
    row.number("t_lo_s", event.and_then(|e| e.t_lo_s));
    row.number("t_hi_s", event.and_then(|e| e.t_hi_s));
    row.text(
        "sample",
        event
            .and_then(|e| e.sample)
            .map_or_else(String::new, |s| s.to_string()),
    );
    row.quantity("pressure", "kPa", event.map(|e| &e.pressure));
    row.quantity("drop", "kPa", event.map(|e| &e.drop));
    row.quantity("volume", "mL", event.map(|e| &e.volume));
    // That of the onset is the pressure of the event.
    let others = PressureDefinition::ALL.into_iter();
    for definition in others.filter(|d| *d != PressureDefinition::Onset) {
        let by = event.and_then(|e| e.pressures.iter().find(|p| p.definition == definition));
        let name = format!("pressure_{}", definition.word().replace(' ', "_"));
        row.quantity(&name, "kPa", by.map(|p| &p.pressure));
        if definition == PressureDefinition::LastCompletedStep {
            let most = by.and_then(|p| p.at_most.as_ref());
            row.quantity(&format!("{name}_at_most"), "kPa", most);
        }
    }
    row.number("confidence", event.map(|e| e.confidence));
    row.text(
        "log_odds",
        event.map_or_else(String::new, |e| {
            let odds = e.log_odds.iter();
            let odds = odds.map(|o| format!("{} {:+}", o.of, o.log_odds));
            odds.collect::<Vec<_>>().join("; ")
        }),
    );
    row.text("grade", event.map_or_else(String::new, |e| grade(e.grade)));
    row.text(
        "evidence",
        event.map_or_else(String::new, |e| e.evidence.join("; ")),
    );
    row
}
