//! What the reference runs tell: the free balloon and the line.

use super::quantities::Quantities;
use crate::recording::RunResult;
use crate::report::show::PERCENT;
use crate::report::table::Table;
use crate::uncertain::Quantity;

/// The free balloon.
pub fn balloon(run: &RunResult) -> Table {
    let mut t = Quantities::new("Free balloon");
    if let Some(b) = &run.balloon {
        t.add("Unfolded diameter", &b.unfolded_diameter);
        t.add("Diameter at nominal pressure", &b.diameter_at_nominal);
        t.add("Diameter at rated burst pressure", &b.diameter_at_rated);
        t.add("Growth with pressure", &b.compliance);
        t.add(
            &format!("Growth for an atmosphere: {}", b.kind),
            &b.growth_per_atm,
        );
        let mut table = t.table();
        table.note = format!(
            "Model: {}{}; diameters from: {}",
            b.model,
            super::models::runner_up(b),
            b.source
        );
        return table;
    }
    t.table()
}

/// The line of the rig.
pub fn line(run: &RunResult) -> Table {
    let mut t = Quantities::new("Line");
    if let Some(l) = &run.line {
        t.add("Elastic compliance", &l.compliance);
        t.add("Trapped air at ambient pressure", &l.trapped_air);
        t.add_in(
            &format!("Part of the volume taken up that is air: {}", l.air),
            &l.air_share,
            PERCENT,
            "%",
        );
        t.add("Volume moved before the pressure rises", &l.dead_volume);
        t.add("Hysteresis, up against down", &l.down.hysteresis);
        t.add("Elastic compliance on the way down", &l.down.compliance);
        t.add("Trapped air on the way down", &l.down.trapped_air);
        let residual = Quantity::without_u(
            l.residual_ml,
            "mL",
            "standard deviation about the fitted line",
            "a scatter, given without an uncertainty of its own",
        );
        t.add("Scatter about the fit", &residual);
    }
    t.table()
}
