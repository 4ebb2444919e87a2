//! Flat tables: every column carries its unit, every quantity its uncertainty beside it.

use crate::uncertain::Quantity;

/// One row of named cells, in order.
#[derive(Default)]
pub(super) struct Row {
    pub names: Vec<String>,
    pub cells: Vec<String>,
}

impl Row {
    pub fn text(&mut self, name: &str, value: impl Into<String>) {
        self.names.push(name.to_owned());
        self.cells.push(value.into());
    }

    pub fn number(&mut self, name: &str, value: Option<f64>) {
        self.text(name, value.map_or_else(String::new, number));
    }

    /// Two columns: the value and its standard uncertainty, the unit in both names.
    pub fn quantity(&mut self, name: &str, unit: &str, quantity: Option<&Quantity>) {
        let suffix = suffix(unit);
        self.number(&format!("{name}{suffix}"), quantity.and_then(|q| q.value));
        self.number(&format!("u_{name}{suffix}"), quantity.and_then(|q| q.u));
    }
}

/// Unit as a suffix of a column name: `_ml_per_kpa`; nothing for a pure number.
fn suffix(unit: &str) -> String {
    match unit {
        "1" | "" => String::new(),
        unit => format!(
            "_{}",
            unit.to_lowercase()
                .replace('/', "_per_")
                .replace('°', "deg")
        ),
    }
}

/// Shortest text that reads back as the same number.
fn number(value: f64) -> String {
    if value.is_finite() {
        value.to_string()
    } else {
        String::new()
    }
}

/// Rows as CSV under a header; all rows have the names of the header.
pub(super) fn csv(header: &[String], rows: &[Row]) -> Result<Vec<u8>, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header)?;
    for row in rows {
        writer.write_record(&row.cells)?;
    }
    writer
        .into_inner()
        .map_err(|error| error.into_error().into())
}
