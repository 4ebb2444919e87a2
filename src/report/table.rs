//! A table of the page as plain values; one template writes them all.

use super::ReportError;
use super::show::{self, KPA_PER_ATM, Shown};
use crate::recording::Interval;
use crate::uncertain::Quantity;
use askama::Template;

/// A cell. Only what is set is written.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Cell {
    /// Text or number.
    pub main: String,
    /// Blanks behind the number, so that points line up.
    pub pad: String,
    /// A second, quieter line: the uncertainty, a grade.
    pub sub: String,
    /// Blanks behind the second line.
    pub sub_pad: String,
    /// Where the text links to.
    pub href: String,
    /// What the pointer shows: the reason of a missing number.
    pub title: String,
    /// Class of the badge the text is shown in.
    pub badge: &'static str,
    /// A quiet line above the text.
    pub label: &'static str,
    /// Badges below each other: class and text.
    pub tags: Vec<(&'static str, String)>,
    /// True for numbers.
    pub number: bool,
    /// True where several numbers stand in the text, so that there is no point to line up by.
    pub whole: bool,
    /// True where the pressure exceeds the rated burst pressure.
    pub over: bool,
}

impl Cell {
    /// A text.
    pub fn text(text: impl Into<String>) -> Self {
        Self {
            main: text.into(),
            ..Self::default()
        }
    }

    /// A text that may be missing.
    pub fn maybe(text: Option<&str>) -> Self {
        Self::text(text.unwrap_or(show::MISSING))
    }

    /// A number already written.
    pub fn number(text: impl Into<String>) -> Self {
        Self {
            main: text.into(),
            number: true,
            ..Self::default()
        }
    }

    /// A number with its uncertainty below and, where something is missing, the reason as title.
    pub fn shown(shown: Shown) -> Self {
        Self {
            sub: if shown.u.is_empty() {
                String::new()
            } else {
                format!("± {}", shown.u)
            },
            main: shown.value,
            title: shown.reason,
            number: true,
            ..Self::default()
        }
    }

    /// A quantity in a unit (see [`show::quantity`]).
    pub fn quantity(quantity: &Quantity, unit: f64) -> Self {
        Self::shown(show::quantity(quantity, unit))
    }

    /// A quantity that may be absent altogether, with the reason for that.
    pub fn maybe_quantity(quantity: Option<&Quantity>, unit: f64, absent: &str) -> Self {
        quantity.map_or_else(
            || Self {
                title: absent.to_owned(),
                ..Self::number(show::MISSING)
            },
            |q| Self::quantity(q, unit),
        )
    }

    /// An estimate with its limits below it, in a unit so many times smaller. All three are rounded at the second digit of a quarter of
    /// the interval, which is about a standard uncertainty.
    pub fn interval(interval: &Interval, unit: f64) -> Self {
        let limits = interval.lower.zip(interval.upper);
        let u = limits.map(|(low, high)| (high - low) / 4.0 / unit);
        let write = |v: Option<f64>| {
            v.filter(|v| v.is_finite())
                .map_or(show::MISSING.to_owned(), |v| show::pair(v / unit, u).0)
        };
        Self {
            sub: if interval.lower.is_some() || interval.upper.is_some() {
                format!("{} to {}", write(interval.lower), write(interval.upper))
            } else {
                String::new()
            },
            title: format!(
                "{} % limits, {}",
                show::percent(interval.confidence),
                interval.method
            ),
            ..Self::number(write(interval.value))
        }
    }

    /// A pressure in atmospheres with the same in kilopascals below it.
    pub fn pressure(pressure: &Quantity) -> Self {
        let (atm, kpa) = (
            show::quantity(pressure, KPA_PER_ATM),
            show::quantity(pressure, 1.0),
        );
        Self {
            sub: if kpa.missing() {
                String::new()
            } else {
                kpa.phrase("kPa")
            },
            main: atm.phrase("atm"),
            title: atm.reason,
            number: true,
            whole: true,
            ..Self::default()
        }
    }

    /// With a quiet line above.
    #[must_use]
    pub fn label(mut self, label: &'static str) -> Self {
        self.label = label;
        self
    }

    /// With a second line.
    #[must_use]
    pub fn sub(mut self, sub: impl Into<String>) -> Self {
        self.sub = sub.into();
        self
    }

    /// As a link.
    #[must_use]
    pub fn link(mut self, href: impl Into<String>) -> Self {
        self.href = href.into();
        self
    }

    /// As a badge.
    #[must_use]
    pub fn badge(mut self, class: &'static str) -> Self {
        self.badge = class;
        self
    }
}

/// A column's heading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Name.
    pub name: String,
    /// Unit, empty where there is none.
    pub unit: String,
    /// True where the cells are numbers.
    pub number: bool,
}

/// Shorthand for a column of text.
pub fn words(name: &str) -> Column {
    Column {
        name: name.to_owned(),
        unit: String::new(),
        number: false,
    }
}

/// Shorthand for a column of numbers.
pub fn numbers(name: &str, unit: &str) -> Column {
    Column {
        name: name.to_owned(),
        unit: unit.to_owned(),
        number: true,
    }
}

/// A heading over several columns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// Name, empty over columns that need none.
    pub name: String,
    /// Columns below it.
    pub columns: usize,
}

/// A table.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    /// What it shows; empty where the heading above says it.
    pub caption: String,
    /// A line below the table, empty where none is needed.
    pub note: String,
    /// Class of the table element.
    pub class: &'static str,
    /// True where a narrow page sets every row as a card.
    pub cards: bool,
    /// Headings over the columns, or none.
    pub spans: Vec<Span>,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows; the first cell of each is its heading.
    pub rows: Vec<Vec<Cell>>,
}

#[derive(Template)]
#[template(path = "table.html", config = "src/report/askama.toml")]
struct Page<'a> {
    table: &'a Table,
}

impl Table {
    /// A table of columns and rows.
    pub fn new(caption: &str, columns: Vec<Column>, rows: Vec<Vec<Cell>>) -> Self {
        Self {
            caption: caption.to_owned(),
            columns,
            rows,
            ..Self::default()
        }
    }

    /// The table with its numbers padded so that their points stand under each other.
    #[must_use]
    pub fn aligned(mut self) -> Self {
        for column in 0..self.columns.len() {
            let cells = || self.rows.iter().filter_map(|row| row.get(column));
            let most = cells()
                .filter(|c| c.number && !c.whole)
                .map(|c| show::decimals(&c.main))
                .max()
                .unwrap_or(0);
            let most_sub = cells()
                .filter(|c| c.number && !c.whole && c.sub.starts_with('±'))
                .map(|c| show::decimals(&c.sub))
                .max()
                .unwrap_or(0);
            for row in &mut self.rows {
                if let Some(cell) = row.get_mut(column).filter(|c| c.number && !c.whole) {
                    cell.pad = show::padding(&cell.main, most);
                    cell.sub_pad = if cell.sub.starts_with('±') {
                        show::padding(&cell.sub, most_sub)
                    } else {
                        String::new()
                    };
                }
            }
        }
        self
    }

    /// Heading of a column with its unit, where a narrow page sets every row as a card.
    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "templates pass by reference"
    )]
    fn heading(&self, column: &usize) -> String {
        self.columns
            .get(*column)
            .map_or_else(String::new, |c| match c.unit.as_str() {
                "" => c.name.clone(),
                unit => format!("{} ({unit})", c.name),
            })
    }

    /// As HTML.
    ///
    /// # Errors
    /// Where the template cannot be written.
    pub fn html(&self) -> Result<String, ReportError> {
        Ok(Page { table: self }.render()?)
    }

    /// The aligned table as HTML; nothing where it has no rows.
    ///
    /// # Errors
    /// Where the template cannot be written.
    pub fn html_if_any(self) -> Result<String, ReportError> {
        if self.rows.is_empty() {
            Ok(String::new())
        } else {
            self.aligned().html()
        }
    }
}
