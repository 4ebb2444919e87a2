//! Every threshold used.

use super::{ReportData, ReportError, Section};
use crate::report::table::{Cell, Table, words};
use serde_json::Value;

/// Settings.
pub struct SettingsUsed;

impl Section for SettingsUsed {
    fn id(&self) -> &'static str {
        "settings"
    }

    fn title(&self) -> &'static str {
        "Settings used"
    }

    fn absent(&self) -> &'static str {
        "The results carry no settings."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let mut rows = Vec::new();
        flatten("", &data.analysis.study.settings, &mut rows);
        if rows.is_empty() {
            return Ok(None);
        }
        let rows = rows
            .into_iter()
            .map(|(name, value)| vec![Cell::text(name), Cell::text(value)])
            .collect();
        let mut table = Table::new("", vec![words("Setting"), words("Value")], rows);
        table.class = "mono";
        table.html().map(Some)
    }
}

/// Names and values, those inside others with a dotted name.
fn flatten(name: &str, value: &Value, rows: &mut Vec<(String, String)>) {
    match value {
        Value::Object(fields) => {
            for (key, value) in fields {
                let name = if name.is_empty() {
                    key.clone()
                } else {
                    format!("{name}.{key}")
                };
                flatten(&name, value, rows);
            }
        }
        Value::Null if name.is_empty() => {}
        Value::Null => rows.push((name.to_owned(), "not set".to_owned())),
        Value::String(text) => rows.push((name.to_owned(), text.clone())),
        other => rows.push((name.to_owned(), other.to_string())),
    }
}
