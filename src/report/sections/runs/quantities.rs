//! A table of quantities: how each was had, its value and its uncertainty.

use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};
use crate::uncertain::Quantity;

/// A table of quantities being filled.
pub struct Quantities {
    caption: &'static str,
    pub rows: Vec<Vec<Cell>>,
}

impl Quantities {
    pub fn new(caption: &'static str) -> Self {
        Self {
            caption,
            rows: Vec::new(),
        }
    }

    /// A quantity in its own unit.
    pub fn add(&mut self, name: &str, quantity: &Quantity) {
        let unit = quantity.unit.replace("m2", "m²");
        self.rows.push(line(name, quantity, 1.0, &unit));
    }

    /// A quantity in another unit, so many times larger.
    pub fn add_in(&mut self, name: &str, quantity: &Quantity, factor: f64, unit: &str) {
        self.rows.push(line(name, quantity, factor, unit));
    }

    /// The quantity just added in another unit or over another; how it was had is not said twice.
    pub fn also(&mut self, name: &str, quantity: &Quantity, factor: f64, unit: &str) {
        let mut row = line(name, quantity, factor, unit);
        if let Some(first) = row.first_mut() {
            first.sub.clear();
        }
        self.rows.push(row);
    }

    pub fn table(self) -> Table {
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
