//! Photographs and marked leaflets of a run: what stands below a picture so that a person can reject it, and the tables.

use crate::plot::{RunFigures, stage_word};
use crate::recording::{PhotographResult, RunResult};
use crate::report::sections::figures::Shown;
use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::Quantity;

/// The pictures with their outlines.
pub fn shown<'a>(run: &RunResult, figures: &'a RunFigures) -> Vec<Shown<'a>> {
    let with = |figure: &'a crate::plot::PhotographFigure| {
        let result = run.photographs.get(figure.photograph)?;
        Some(Shown {
            svg: &figure.svg,
            caption: caption(result),
            evidence: Vec::new(),
        })
    };
    figures.photographs.iter().filter_map(with).collect()
}

fn caption(result: &PhotographResult) -> String {
    let say = |quantity: &Quantity| show::quantity(quantity, 1.0).sentence(&unit(quantity));
    let rejected = if result.used {
        ""
    } else {
        "REJECTED (use = no), nothing rests on it. "
    };
    let scale = match result.scale.pair() {
        Some((mm, u)) => format!(
            "{} mm a pixel, known to {} % ({})",
            show::digits(mm, 5),
            show::digits(100.0 * u / mm, 2),
            result.scale.method
        ),
        None => "none, so in pixels".to_owned(),
    };
    format!(
        "{rejected}{}, {}: area {}, diameter of the same area {}, largest circle inside {}, between jaws {} to {}. The opening is {}; \
         threshold (Otsu) {}, outline at level {} ({}). Scale: {scale}. Perspective, distortion of the lens and the depth of the plane \
         are not corrected. If the line does not follow the edge, write no into the column use of images.csv.",
        show::capital(stage_word(result.stage)),
        result.file,
        say(&result.area),
        say(&result.area_diameter),
        say(&result.largest_inscribed_circle),
        say(&result.feret_min),
        say(&result.feret_max),
        if result.bright {
            "brighter than its edge"
        } else {
            "darker than its edge"
        },
        result.otsu_level,
        show::digits(result.level, 4),
        result.level_method,
    )
}

fn unit(quantity: &Quantity) -> String {
    quantity.unit.replace('2', "²")
}

/// Every figure of every photograph.
pub fn measured(run: &RunResult) -> Table {
    let mut rows = Vec::new();
    for result in &run.photographs {
        let used = if result.used { "" } else { " (rejected)" };
        for (name, quantity) in [
            ("Area", &result.area),
            ("Diameter of the same area", &result.area_diameter),
            ("Perimeter", &result.perimeter),
            ("Diameter of the same perimeter", &result.perimeter_diameter),
            ("Largest circle inside", &result.largest_inscribed_circle),
            ("Largest width between jaws", &result.feret_max),
            ("Smallest width between jaws", &result.feret_min),
            ("Fitted circle", &result.fitted_circle),
            ("Area over that of the convex hull", &result.solidity),
        ] {
            rows.push(vec![
                Cell::text(format!("{}{used}", stage_word(result.stage))),
                Cell::text(name).sub(quantity.method.clone()),
                Cell::quantity(quantity, 1.0),
                Cell::text(unit(quantity)),
            ]);
        }
    }
    Table::new(
        "",
        vec![
            words("Stage"),
            words("Quantity"),
            numbers("Value", ""),
            words("Unit"),
        ],
        rows,
    )
}

/// Where the uncertainty of each diameter comes from.
pub fn budgets(run: &RunResult) -> Table {
    let mut rows = Vec::new();
    for result in &run.photographs {
        let unit = result.area_diameter.unit.clone();
        for (component, share) in result.budget.components.iter().zip(result.budget.shares()) {
            rows.push(vec![
                Cell::text(stage_word(result.stage)),
                Cell::text(component.name.clone()),
                Cell::number(show::digits(component.contribution(), 2)),
                Cell::text(unit.clone()),
                Cell::number(show::fixed(100.0 * share, 1)),
            ]);
        }
    }
    Table::new(
        "",
        vec![
            words("Stage"),
            words("Component"),
            numbers("Contribution to u", ""),
            words("Unit"),
            numbers("Of the variance", "%"),
        ],
        rows,
    )
}

/// The pin-wheeling index of every leaflet.
pub fn leaflets(run: &RunResult) -> Table {
    let mut rows = Vec::new();
    for result in &run.leaflets {
        let mut add = |name: &str, quantity: &Quantity| {
            rows.push(vec![
                Cell::text(stage_word(result.stage)),
                Cell::text(name).sub(quantity.method.clone()),
                Cell::quantity(quantity, 1.0),
            ]);
        };
        for (name, quantity) in &result.leaflets {
            add(&format!("leaflet {name}"), quantity);
        }
        add("mean", &result.mean);
        add("largest", &result.max);
    }
    Table::new(
        "",
        vec![words("Stage"), words("Free edge"), numbers("Index", "1")],
        rows,
    )
}
