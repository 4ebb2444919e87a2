//! Missing readings of a column, counted while reading and told in one finding.

use super::number::Cell;
use crate::recording::{Finding, Place};

/// From this share of missing cells on they are worth a doubt.
const MANY: f64 = 0.01;

/// Missing readings of one column.
#[derive(Debug, Clone)]
pub(crate) struct Gaps {
    column: String,
    quantity: &'static str,
    missing: usize,
    words: usize,
    /// Line and text of the first.
    first: Option<(u64, String)>,
    readings: usize,
}

impl Gaps {
    /// No gaps yet.
    pub fn new(column: &str, quantity: &'static str) -> Self {
        Self {
            column: column.to_owned(),
            quantity,
            missing: 0,
            words: 0,
            first: None,
            readings: 0,
        }
    }

    /// Counts a cell.
    pub fn add(&mut self, cell: Cell, text: &str, line: u64) {
        match cell {
            Cell::Number(_) => {
                self.readings += 1;
                return;
            }
            Cell::Missing => self.missing += 1,
            Cell::Text => self.words += 1,
        }
        if self.first.is_none() {
            self.first = Some((line, text.trim().chars().take(20).collect()));
        }
    }

    /// Counts readings of rows in which nothing was missing.
    pub fn add_readings(&mut self, rows: usize) {
        self.readings += rows;
    }

    /// Adds the counts of the next stretch of the file.
    pub fn append(&mut self, next: Self) {
        self.missing += next.missing;
        self.words += next.words;
        self.readings += next.readings;
        if self.first.is_none() {
            self.first = next.first;
        }
    }

    /// What is worth saying, if anything. An empty pressure column is an error, any other a doubt.
    pub fn finding(&self, rows: usize, file: &str) -> Option<Finding> {
        let gaps = self.missing + self.words;
        let (line, text) = self.first.as_ref()?;
        if gaps == 0 || rows == 0 {
            return None;
        }
        let place = Place::cell(file, *line, self.column.clone());
        if self.readings == 0 {
            let message = format!(
                "the {} column \"{}\" has no reading in any of {rows} rows",
                self.quantity, self.column
            );
            let finding = match self.quantity {
                "pressure" => Finding::error("channel-empty", message),
                "volume" | "turns" => Finding::doubt("channel-empty", message),
                // A camera sees nothing in a blank run: worth knowing, no more.
                _ => Finding::note("channel-empty", message),
            };
            return Some(
                finding
                    .at(place)
                    .help("check the wiring of the channel and decimal in [dialect] of the rig"),
            );
        }
        let shown = if text.is_empty() {
            "empty".to_owned()
        } else {
            format!("\"{text}\"")
        };
        let message = format!(
            "{gaps} of {rows} cells of the {} column \"{}\" hold no reading; the first is {shown}",
            self.quantity, self.column
        );
        // A slow channel beside a fast one leaves cells empty by design.
        let vital = matches!(self.quantity, "pressure" | "volume" | "turns");
        let grave = self.words > 0 || vital && gaps as f64 > MANY * rows as f64;
        Some(
            if grave {
                Finding::doubt("readings-missing", message)
            } else {
                Finding::note("readings-missing", message)
            }
            .at(place)
            .count(gaps),
        )
    }
}
