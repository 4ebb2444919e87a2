//! The diameters of the frame of a run: those that count, every method apart, and what is fitted through its outlines.

use super::quantities::Quantities;
use crate::recording::RunResult;
use crate::report::show::PERCENT;
use crate::report::table::{Cell, Table, numbers, words};

/// The diameters that count, and what follows from them.
pub fn of(run: &RunResult) -> Table {
    let mut t = Quantities::new("Diameters and recoil");
    if let Some(d) = &run.diameters {
        t.add("Diameter before", &d.before);
        t.add("Diameter loaded", &d.loaded);
        t.add("Diameter after", &d.after);
        t.add("Diameter at the first event", &d.at_event);
        t.add("Set", &d.set);
        t.add_in("Set of diameter before", &d.set_ratio, PERCENT, "%");
        t.add_in("Expansion", &d.expansion, PERCENT, "%");
        t.add_in("Recoil", &d.recoil, PERCENT, "%");
        t.add_in("Recovery", &d.recovery, PERCENT, "%");
        for (stage, amplitude) in &d.three_lobe_amplitude {
            t.add(&format!("Three-lobed wave {stage}"), amplitude);
        }
        let mut note = format!("“After” was measured: {}", d.after_measured);
        if let Some(ring) = &d.open_ring {
            t.add("Gap of the open ring", &ring.gap);
            t.add("Chord of the outline over the gap", &ring.gap_chord);
            t.add("Inner edge with material", &ring.material_arc);
            t.add("Wall of the frame", &ring.wall);
            t.add("Bore from the neutral arc", &ring.bore_from_neutral_arc);
            note.push_str(
                ". The ring is open: “diameter after” is a mean of what was measured, not the inner diameter of a closed ring; read it with \
                 the gap",
            );
        }
        let mut table = t.table();
        table.note = note;
        return table;
    }
    t.table()
}

/// Every method apart.
pub fn by_method(run: &RunResult) -> Option<Table> {
    const STAGES: [&str; 3] = ["before", "loaded", "after"];
    let methods = &run.diameters.as_ref()?.by_method;
    let rows = methods
        .iter()
        .map(|(name, stages)| {
            // A method may tell a shape as well as a size: each row has a unit of its own.
            let unit = stages.values().next().map_or("", |q| q.unit.as_str());
            let mut row = vec![Cell::text(name.replace('_', " ")), Cell::text(unit)];
            row.extend(STAGES.iter().map(|stage| {
                Cell::maybe_quantity(
                    stages.get(*stage),
                    1.0,
                    "not measured by this method at this stage",
                )
            }));
            row
        })
        .collect();
    Some(Table::new(
        "",
        vec![
            words("Method"),
            words("Unit"),
            numbers("Before", ""),
            numbers("Loaded", ""),
            numbers("After", ""),
        ],
        rows,
    ))
}

/// Circles and ellipses of least squares through the outlines.
pub fn outline_fits(run: &RunResult) -> Table {
    let stages = run.diameters.iter().flat_map(|d| &d.outline_fits);
    let rows = stages
        .flat_map(|(stage, fits)| fits.iter().map(move |fit| (stage, fit)))
        .map(|(stage, (name, fit))| {
            vec![
                Cell::text(stage),
                Cell::text(name.replace('_', " ")).sub(fit.largest_diameter.method.clone()),
                Cell::quantity(&fit.largest_diameter, 1.0),
                Cell::maybe_quantity(
                    fit.smallest_diameter.as_ref(),
                    1.0,
                    "a circle has one diameter",
                ),
                Cell::quantity(&fit.rms_residual, 1.0),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Stage"),
            words("Fit"),
            numbers("Diameter, or the longest", "mm"),
            numbers("The shortest", "mm"),
            numbers("Points off it, root mean square", "mm"),
        ],
        rows,
    )
}
