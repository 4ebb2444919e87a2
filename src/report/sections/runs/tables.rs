//! The tables of a run.

use crate::plot::palette::phase_word;
use crate::recording::{RunResult, Stage};
use crate::report::run_parts::{censored, grade_word, over_rated, rated_ratio};
use crate::report::show::{self, KPA_PER_ATM, MISSING, PERCENT};
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::Quantity;

/// Tables shown openly.
pub fn open(run: &RunResult) -> Vec<Table> {
    let mut tables = Vec::new();
    tables.extend(quantities(run));
    tables.extend(observations(run));
    tables
        .into_iter()
        .filter(|table| !table.rows.is_empty())
        .collect()
}

/// Tables folded away, with the words on the fold.
pub fn folded(run: &RunResult) -> Vec<(&'static str, Table)> {
    [
        (
            "Pressure of a break by definition",
            super::breaks::by_definition(run),
        ),
        ("Log-odds of each kind", super::breaks::log_odds(run)),
        (
            "Models tried on the diameters of the balloon",
            super::models::tried(run),
        ),
        (
            "Diameters of the free balloon with pressure",
            super::models::growth(run),
        ),
        (
            "How the pressure fell in the longest holds",
            super::relaxation::holds(run),
        ),
        ("Diameters by method", by_method(run).unwrap_or_default()),
        (
            "What the uncertainties are made of",
            super::uncertainty::budgets(run),
        ),
        ("Uncertainty by trials", super::uncertainty::by_trials(run)),
        (
            "What the photographs say",
            super::photographs::measured(run),
        ),
        (
            "Where the uncertainty of a photograph comes from",
            super::photographs::budgets(run),
        ),
        (
            "Free edges of the leaflets: (length − chord) / chord",
            super::photographs::leaflets(run),
        ),
        ("Phases of the run", phases(run)),
        ("How the recording was read", reading(run)),
        (
            "Further recordings and their clocks",
            super::clocks::further(run),
        ),
    ]
    .into_iter()
    .filter(|(_, table)| !table.rows.is_empty())
    .collect()
}

/// A time of the trace, s.
pub fn time_of(t_s: Option<f64>) -> String {
    t_s.map_or(MISSING.to_owned(), |t| show::fixed(t, 3))
}

/// The events of a run; `None` where there were none.
pub fn events(run: &RunResult) -> Option<Table> {
    if run.events.is_empty() {
        return None;
    }
    let time = time_of;
    let rows = run
        .events
        .iter()
        .map(|e| {
            let over = over_rated(run, &e.pressure);
            let ratio = rated_ratio(run, &e.pressure).map_or(MISSING.to_owned(), |r| {
                format!("{}{}", if over { "▲ " } else { "" }, show::fixed(r, 2))
            });
            vec![
                Cell::text(e.kind.word()),
                Cell {
                    whole: true,
                    ..Cell::number(time(e.t_s)).sub(if e.t_lo_s.is_some() || e.t_hi_s.is_some() {
                        format!("{} to {}", time(e.t_lo_s), time(e.t_hi_s))
                    } else {
                        String::new()
                    })
                },
                Cell {
                    over,
                    ..Cell::pressure(&e.pressure)
                },
                Cell {
                    over,
                    ..Cell::number(ratio)
                },
                Cell::quantity(&e.drop, 1.0),
                Cell::quantity(&e.volume, 1.0),
                Cell::text(grade_word(e.grade))
                    .sub(format!("confidence {} of 1", show::fixed(e.confidence, 2))),
                Cell::number(e.sample.map_or(MISSING.to_owned(), |s| s.to_string())),
            ]
        })
        .collect();
    let mut table = Table::new(
        "Events",
        vec![
            words("Event"),
            numbers("Onset, interval", "s"),
            numbers("Pressure just before", "atm, kPa"),
            numbers("Of rated", "×"),
            numbers("Drop", "kPa"),
            numbers("Injected volume", "mL"),
            words("Witnesses"),
            numbers("Data row", "from 0"),
        ],
        rows,
    );
    table.class = "runs";
    table.cards = true;
    Some(table)
}

/// One line of the table of quantities: name and how it was had or why it is missing, value, ± u, unit.
fn line(name: &str, quantity: &Quantity, factor: f64, unit: &str) -> Vec<Cell> {
    let shown = show::quantity(quantity, factor);
    let how = match (shown.missing(), shown.reason.is_empty()) {
        (true, _) => format!("missing: {}", shown.reason),
        (false, true) => quantity.method.clone(),
        (false, false) => format!("{}; {}", quantity.method, shown.reason),
    };
    let u = if shown.u.is_empty() {
        String::new()
    } else {
        format!("± {}", shown.u)
    };
    vec![
        Cell::text(name).sub(how),
        Cell::number(shown.value),
        Cell::text(u),
        Cell::text(unit),
    ]
}

/// A table of quantities being filled.
pub(super) struct Quantities {
    caption: &'static str,
    pub(super) rows: Vec<Vec<Cell>>,
}

impl Quantities {
    pub(super) fn new(caption: &'static str) -> Self {
        Self {
            caption,
            rows: Vec::new(),
        }
    }

    pub(super) fn add(&mut self, name: &str, quantity: &Quantity, factor: f64, unit: &str) {
        self.rows.push(line(name, quantity, factor, unit));
    }

    /// The quantity just added in another unit or over another; how it was had is not said twice.
    pub(super) fn also(&mut self, name: &str, quantity: &Quantity, factor: f64, unit: &str) {
        let mut row = line(name, quantity, factor, unit);
        if let Some(first) = row.first_mut() {
            first.sub.clear();
        }
        self.rows.push(row);
    }

    pub(super) fn table(self) -> Table {
        let columns = vec![
            words("Quantity, and how it was had"),
            numbers("Value", ""),
            words("± u"),
            words("Unit"),
        ];
        let mut table = Table::new(self.caption, columns, self.rows);
        table.class = "quantities";
        table
    }
}

/// The quantities of the run, a table for each matter.
fn quantities(run: &RunResult) -> [Table; 7] {
    [
        pressures(run),
        diameters(run),
        super::flow::areas(run),
        super::flow::flow(run),
        super::flow::hypothetical(run),
        balloon(run),
        line_of_rig(run),
    ]
}

fn pressures(run: &RunResult) -> Table {
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
    t.add(highest, &run.highest_pressure, KPA_PER_ATM, "atm");
    t.also("the same in kPa", &run.highest_pressure, 1.0, "kPa");
    if let Some(f) = &run.frame {
        let source = format!("Diameter during the run from: {}", f.diameter_source);
        t.add(
            "Highest pressure of rated burst pressure",
            &f.peak_over_rated,
            1.0,
            "×",
        );
        t.add("Highest load on the frame", &f.peak_load, 1.0, "kPa");
        t.add(
            "Wall tension at the highest load",
            &f.peak_tension,
            1.0,
            "N/mm",
        );
        t.add("Ring force at the highest load", &f.peak_force, 1.0, "N");
        t.add(
            "Diametral compliance of the frame",
            &f.compliance,
            1.0,
            "mm/kPa",
        );
        t.add("Yield load", &f.yield_load, 1.0, "kPa");
        t.add("Diameter at yield", &f.yield_diameter, 1.0, "mm");
        t.add("Yield load by offset", &f.offset_yield_load, 1.0, "kPa");
        t.add(
            "Diameter at yield by offset",
            &f.offset_yield_diameter,
            1.0,
            "mm",
        );
        t.add("Hardening", &f.hardening, 1.0, "kPa/mm");
        t.also(
            "of the slope before yield",
            &f.hardening_ratio,
            PERCENT,
            "%",
        );
        t.add("Work done on the ring", &f.work, 1.0, "mJ");
        t.add("Elastic energy in the ring", &f.energy_stored, 1.0, "mJ");
        t.add(
            "Energy released by the line at the fracture",
            &f.energy_released,
            1.0,
            "mJ",
        );
        t.add("Load after the fracture", &f.residual_load, 1.0, "kPa");
        t.also("of the load before", &f.residual_share, PERCENT, "%");
        t.add(
            "Diameter after the fracture, under load",
            &f.residual_diameter,
            1.0,
            "mm",
        );
        t.add("Oversize against true ID", &f.oversize_true_id, 1.0, "mm");
        t.also("of the true ID", &f.oversize_true_id_ratio, PERCENT, "%");
        t.add("Oversize against stent ID", &f.oversize_stent_id, 1.0, "mm");
        t.also("of the stent ID", &f.oversize_stent_id_ratio, PERCENT, "%");
        let mut table = t.table();
        if !f.diameter_source.is_empty() {
            table.note = source;
        }
        return table;
    }
    t.table()
}

fn diameters(run: &RunResult) -> Table {
    let mut t = Quantities::new("Diameters and recoil");
    if let Some(d) = &run.diameters {
        t.add("Diameter before", &d.before, 1.0, "mm");
        t.add("Diameter loaded", &d.loaded, 1.0, "mm");
        t.add("Diameter after", &d.after, 1.0, "mm");
        t.add("Diameter at the first event", &d.at_event, 1.0, "mm");
        t.add("Set", &d.set, 1.0, "mm");
        t.add("Set of diameter before", &d.set_ratio, PERCENT, "%");
        t.add("Expansion", &d.expansion, PERCENT, "%");
        t.add("Recoil", &d.recoil, PERCENT, "%");
        t.add("Recovery", &d.recovery, PERCENT, "%");
        for (stage, amplitude) in &d.three_lobe_amplitude {
            t.add(&format!("Three-lobed wave {stage}"), amplitude, 1.0, "mm");
        }
        let mut note = format!("“After” was measured: {}", d.after_measured);
        if let Some(ring) = &d.open_ring {
            t.add("Gap of the open ring", &ring.gap, 1.0, "mm");
            t.add(
                "Chord of the outline over the gap",
                &ring.gap_chord,
                1.0,
                "mm",
            );
            t.add("Inner edge with material", &ring.material_arc, 1.0, "mm");
            t.add("Wall of the frame", &ring.wall, 1.0, "mm");
            t.add(
                "Bore from the neutral arc",
                &ring.bore_from_neutral_arc,
                1.0,
                "mm",
            );
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

fn balloon(run: &RunResult) -> Table {
    let mut t = Quantities::new("Free balloon");
    if let Some(b) = &run.balloon {
        t.add("Unfolded diameter", &b.unfolded_diameter, 1.0, "mm");
        t.add(
            "Diameter at nominal pressure",
            &b.diameter_at_nominal,
            1.0,
            "mm",
        );
        t.add(
            "Diameter at rated burst pressure",
            &b.diameter_at_rated,
            1.0,
            "mm",
        );
        t.add("Growth with pressure", &b.compliance, 1.0, "mm/kPa");
        t.add(
            &format!("Growth for an atmosphere: {}", b.kind),
            &b.growth_per_atm,
            1.0,
            "%/atm",
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

fn line_of_rig(run: &RunResult) -> Table {
    let mut t = Quantities::new("Line");
    if let Some(l) = &run.line {
        t.add("Elastic compliance", &l.compliance, 1.0, "mL/kPa");
        t.add("Trapped air at ambient pressure", &l.trapped_air, 1.0, "mL");
        t.add(
            &format!("Part of the volume taken up that is air: {}", l.air),
            &l.air_share,
            PERCENT,
            "%",
        );
        t.add(
            "Volume moved before the pressure rises",
            &l.dead_volume,
            1.0,
            "mL",
        );
        t.add("Hysteresis, up against down", &l.down.hysteresis, 1.0, "mL");
        t.add(
            "Elastic compliance on the way down",
            &l.down.compliance,
            1.0,
            "mL/kPa",
        );
        t.add(
            "Trapped air on the way down",
            &l.down.trapped_air,
            1.0,
            "mL",
        );
        let residual = Quantity::without_u(
            l.residual_ml,
            "mL",
            "standard deviation about the fitted line",
            "a scatter, given without an uncertainty of its own",
        );
        t.add("Scatter about the fit", &residual, 1.0, "mL");
    }
    t.table()
}

fn by_method(run: &RunResult) -> Option<Table> {
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

fn observations(run: &RunResult) -> Option<Table> {
    if run.observations.is_empty() {
        return None;
    }
    let rows = run
        .observations
        .iter()
        .map(|o| {
            let kind = match (o.kind, &o.reason) {
                (Some(kind), _) => Cell::text(kind.word()),
                (None, reason) => Cell {
                    title: reason.clone().unwrap_or_default(),
                    ..Cell::text("not used")
                },
            };
            let understood = match &o.quantity {
                Some(quantity) => Cell::text(show::quantity(quantity, 1.0).phrase(&quantity.unit)),
                None => Cell::text(MISSING),
            };
            vec![
                Cell::text(&o.what),
                Cell::text(&o.value),
                Cell::maybe(o.unit.as_deref()),
                kind,
                Cell {
                    title: o
                        .quantity
                        .as_ref()
                        .and_then(|q| q.reason.clone())
                        .unwrap_or_default(),
                    ..understood
                },
                Cell::maybe(o.stage.map(Stage::word)),
                Cell::maybe(o.observer.as_deref()),
            ]
        })
        .collect();
    Some(Table::new(
        "Observations",
        vec![
            words("What"),
            words("Value"),
            words("Unit"),
            words("Kind"),
            words("As a number"),
            words("Stage"),
            words("Observer"),
        ],
        rows,
    ))
}

fn phases(run: &RunResult) -> Table {
    let rows = run
        .phases
        .iter()
        .map(|p| {
            vec![
                Cell::text(phase_word(p.kind)),
                Cell::number(show::fixed(p.t_start_s, 3)),
                Cell::number(show::fixed(p.t_end_s, 3)),
                Cell::number(show::fixed(p.t_end_s - p.t_start_s, 3)),
            ]
        })
        .collect();
    Table::new(
        "",
        vec![
            words("Phase"),
            numbers("From", "s"),
            numbers("To", "s"),
            numbers("Length", "s"),
        ],
        rows,
    )
}

fn reading(run: &RunResult) -> Table {
    let read = &run.recording.read;
    if read.columns.is_empty() && read.format.is_empty() {
        return Table::default();
    }
    let columns: Vec<String> = read
        .columns
        .iter()
        .enumerate()
        .map(|(i, name)| match read.units.get(i).map(String::as_str) {
            Some("") | None => name.clone(),
            Some(unit) => format!("{name} [{unit}]"),
        })
        .collect();
    let mut facts = vec![
        ("Format", read.format.clone()),
        ("Encoding", read.encoding.clone()),
        ("Delimiter", read.delimiter.clone()),
        ("Decimal mark", read.decimal.clone()),
        ("Thousands mark", read.thousands.clone()),
        ("Lines before the header", read.skip_lines.to_string()),
        ("Header rows", read.header_rows.to_string()),
        ("Columns", columns.join(", ")),
        ("Channels used", run.recording.channels.join(", ")),
        ("Data rows", read.rows.to_string()),
    ];
    facts.retain(|(_, value)| !value.is_empty());
    let mut rows: Vec<Vec<Cell>> = facts
        .into_iter()
        .map(|(name, value)| vec![Cell::text(name), Cell::text(value)])
        .collect();
    rows.extend(
        read.preamble
            .iter()
            .map(|(name, value)| vec![Cell::text(name), Cell::text(value)]),
    );
    Table::new("", vec![words("What"), words("Understood as")], rows)
}
