//! The highest pressure of a run, and the frame under load.

use super::quantities::Quantities;
use crate::recording::RunResult;
use crate::report::run_parts::censored;
use crate::report::show::{KPA_PER_ATM, PERCENT};
use crate::report::table::Table;

/// The table.
pub fn of(run: &RunResult) -> Table {
    let mut t = Quantities::new(if run.frame.is_some() {
        "Pressure and frame"
    } else {
        "Pressure"
    });
    let highest = if censored(run) {
        "Highest pressure: no fracture up to"
    } else {
        "Highest pressure"
    };
    t.add_in(highest, &run.highest_pressure, KPA_PER_ATM, "atm");
    t.also("the same in kPa", &run.highest_pressure, 1.0, "kPa");
    if let Some(f) = &run.frame {
        let source = format!("Diameter during the run from: {}", f.diameter_source);
        t.add_in(
            "Highest pressure of rated burst pressure",
            &f.peak_over_rated,
            1.0,
            "×",
        );
        t.add("Load just before the fracture", &f.fracture_load);
        t.add("Wall tension just before the fracture", &f.fracture_tension);
        t.add("Highest load on the frame at a rest", &f.peak_load);
        t.add("Wall tension at that rest", &f.peak_tension);
        t.add("Ring force at that rest", &f.peak_force);
        t.add("Diametral compliance of the frame", &f.compliance);
        t.add(
            "Modulus of a solid ring that opens alike",
            &f.equivalent_modulus,
        );
        t.add("Yield load", &f.yield_load);
        t.add("Diameter at yield", &f.yield_diameter);
        t.add("Yield load by offset", &f.offset_yield_load);
        t.add("Diameter at yield by offset", &f.offset_yield_diameter);
        t.add("Hardening", &f.hardening);
        t.also(
            "of the slope before yield",
            &f.hardening_ratio,
            PERCENT,
            "%",
        );
        t.add("Work done on the ring", &f.work);
        t.add("Elastic energy in the ring", &f.energy_stored);
        t.add(
            "Energy released by the line at the fracture",
            &f.energy_released,
        );
        t.add("Work of the loop, up and down again", &f.loop_work);
        t.add("Load after the fracture", &f.residual_load);
        t.also("of the load before", &f.residual_share, PERCENT, "%");
        t.add(
            "Diameter after the fracture, under load",
            &f.residual_diameter,
        );
        t.add("Oversize against true ID", &f.oversize_true_id);
        t.also("of the true ID", &f.oversize_true_id_ratio, PERCENT, "%");
        t.add("Oversize against stent ID", &f.oversize_stent_id);
        t.also("of the stent ID", &f.oversize_stent_id_ratio, PERCENT, "%");
        let mut table = t.table();
        if !f.diameter_source.is_empty() {
            table.note = source;
        }
        return table;
    }
    t.table()
}
