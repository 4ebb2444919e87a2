//! Every threshold used, with its reason: those of no group at once, the others folded.

use super::{ReportData, ReportError, Section};
use crate::report::table::{Cell, Table, words};
use crate::rig::settings::{Setting, Settings};
use askama::Template;
use serde_json::Value;

/// Settings.
pub struct SettingsUsed;

#[derive(Template)]
#[template(path = "settings.html", config = "src/report/askama.toml")]
struct Block {
    general: String,
    groups: Vec<Folded>,
}

/// The settings of a group.
struct Folded {
    name: String,
    about: &'static str,
    /// How many of them are not the default, in words; empty where none is.
    changed: String,
    table: String,
}

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
        let Value::Object(fields) = &data.analysis.study.settings else {
            return Ok(None);
        };
        let known = Settings::default().list();
        let (mut general, mut groups) = (Vec::new(), Vec::new());
        for (name, value) in fields {
            let mut rows = Vec::new();
            flatten(name, value, &mut rows);
            if !value.is_object() {
                general.append(&mut rows);
                continue;
            }
            let about = Settings::GROUPS.iter().find(|(group, _)| group == name);
            let count = rows.iter().filter(|row| changed(row, &known)).count();
            groups.push(Folded {
                name: name.clone(),
                about: about.map_or("", |(_, about)| about),
                changed: match count {
                    0 => String::new(),
                    1 => "1 setting changed".to_owned(),
                    _ => format!("{count} settings changed"),
                },
                table: table(rows, &known)?,
            });
        }
        if general.is_empty() && groups.is_empty() {
            return Ok(None);
        }
        let general = if general.is_empty() {
            String::new()
        } else {
            table(general, &known)?
        };
        Ok(Some(Block { general, groups }.render()?))
    }
}

fn known_as<'k>(name: &str, known: &'k [Setting]) -> Option<&'k Setting> {
    known.iter().find(|setting| setting.name() == name)
}

/// True where a value is not the default.
fn changed((name, value): &(String, String), known: &[Setting]) -> bool {
    let value = value.parse::<f64>().ok();
    known_as(name, known).is_some_and(|setting| value != Some(setting.value))
}

fn table(rows: Vec<(String, String)>, known: &[Setting]) -> Result<String, ReportError> {
    let row = |row: (String, String)| {
        let setting = known_as(&row.0, known);
        let value = Cell::text(&row.1);
        let value = match setting.filter(|_| changed(&row, known)) {
            Some(setting) => value.sub(format!("default {}", setting.value)),
            None => value,
        };
        let reason = setting.map_or("", |setting| setting.reason);
        vec![Cell::text(row.0), value, Cell::text(reason)]
    };
    let rows = rows.into_iter().map(row).collect();
    let columns = vec![words("Setting"), words("Value"), words("Reason")];
    let mut table = Table::new("", columns, rows);
    table.class = "mono";
    table.html()
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
