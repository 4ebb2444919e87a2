//! Areas and flow of a run, and what an area comes to for a body that nobody has.

use super::quantities::Quantities;
use crate::recording::{HYPOTHETICAL, IndexedResult, RunResult};
use crate::report::show::{self, PERCENT};
use crate::report::table::{Cell, Table, numbers, words};

/// Geometric areas, and their surrogates where no flow was recorded.
pub fn areas(run: &RunResult) -> Table {
    let mut t = Quantities::new("Geometric areas (π D²/4)");
    let Some(a) = &run.areas else {
        return t.table();
    };
    t.add("Area before", &a.before);
    t.add("Area loaded", &a.loaded);
    t.add("Area after", &a.after);
    t.add_in("Area gain", &a.gain, PERCENT, "%");
    for stage in stages(&a.surrogate) {
        if let Some(range) = a.surrogate.get(stage) {
            let name = format!("Orifice surrogate {stage}, from");
            t.add(&name, &range.low);
            t.also(
                "up to, by the range of the coefficient",
                &range.high,
                1.0,
                "cm²",
            );
        }
    }
    let mut table = t.table();
    if !a.surrogate.is_empty() {
        "An orifice surrogate is the bore area times a discharge coefficient that was assumed, not measured: it is no effective orifice \
         area."
            .clone_into(&mut table.note);
    }
    table
}

/// Before comes first, whatever the order of the names.
fn stages<T>(of: &std::collections::BTreeMap<String, T>) -> Vec<&str> {
    let mut stages: Vec<&str> = of.keys().map(String::as_str).collect();
    stages.sort_by_key(|stage| (*stage != "before", *stage));
    stages
}

/// Flow figures.
pub fn flow(run: &RunResult) -> Table {
    let mut t = Quantities::new("Flow");
    for stage in stages(&run.flow) {
        let Some(f) = run.flow.get(stage) else {
            continue;
        };
        let named = |what: &str| format!("{what} {stage}");
        for (name, quantity) in [
            ("Effective orifice area", &f.effective_orifice_area),
            ("Mean gradient", &f.mean_gradient),
            ("Root-mean-square flow", &f.rms_flow),
            ("Discharge coefficient", &f.discharge_coefficient),
            ("Forward stroke volume", &f.stroke_volume),
            ("Closing volume", &f.closing_volume),
            ("Leakage volume", &f.leakage_volume),
            ("Regurgitant fraction", &f.regurgitant_fraction),
            ("By Gorlin, for comparison:", &f.gorlin),
            ("By Hakki, for comparison:", &f.hakki),
        ] {
            t.add(&named(name), quantity);
        }
        // Few benches declare what it needs.
        if f.energy_loss.value.is_some() {
            t.add(&named("Energy-loss coefficient"), &f.energy_loss);
        }
        t.rows.push(vec![
            Cell::text(named("Beats averaged")),
            Cell::number(f.beats.to_string()),
            Cell::text(""),
            Cell::text("n"),
        ]);
    }
    t.table()
}

/// Indexed areas with the cut-offs of both classes of body mass.
pub fn hypothetical(run: &RunResult) -> Table {
    let mut rows = Vec::new();
    let mut about = None;
    for stage in stages(&run.flow) {
        let of = run.flow.get(stage);
        let Some(patient) = of.and_then(|f| f.hypothetical_patient.as_ref()) else {
            continue;
        };
        about = Some(patient);
        for row in &patient.mismatch {
            let class = if row.applies {
                format!("{}, that of this height and weight", row.body_mass)
            } else {
                format!("{}, for comparison", row.body_mass)
            };
            rows.push(vec![
                Cell::text(show::capital(stage)).sub(class),
                Cell::quantity(&patient.indexed_area, 1.0),
                Cell::number(show::fixed(row.moderate_at_most, 2)),
                Cell::number(show::fixed(row.severe_at_most, 2)),
                Cell::maybe(row.mismatch.as_deref()),
            ]);
        }
    }
    let mut table = Table::new(
        "Indexed area for a hypothetical patient, by the class of body mass",
        vec![
            words("Stage and class"),
            numbers("EOA/BSA", "cm²/m²"),
            numbers("Moderate up to", "cm²/m²"),
            numbers("Severe up to", "cm²/m²"),
            words("Mismatch, ± 2u"),
        ],
        rows,
    );
    table.note = about.map_or_else(String::new, note);
    table
}

fn note(patient: &IndexedResult) -> String {
    let loss = if patient.energy_loss_index.value.is_some() {
        let index = show::quantity(&patient.energy_loss_index, 1.0).sentence("cm²/m²");
        format!(" Energy-loss index at the last stage: {index}.")
    } else {
        String::new()
    };
    format!(
        "{}: {} cm, {} kg, BMI {} kg/m², body surface {} m² ({}). Cut-offs of VARC-3 (Eur Heart J 2021, 42:1825) for the aortic \
         position, upper bounds included.{loss}",
        show::capital(HYPOTHETICAL),
        patient.height_cm,
        patient.weight_kg,
        written(patient.body_mass_index.value, 1),
        written(patient.body_surface.value, 3),
        patient.body_surface.method,
    )
}

fn written(value: Option<f64>, decimals: i32) -> String {
    value.map_or_else(
        || show::MISSING.to_owned(),
        |value| show::fixed(value, decimals),
    )
}
