//! How the recording of a run was read, and the phases in it.

use crate::plot::palette::phase_word;
use crate::recording::RunResult;
use crate::report::show;
use crate::report::table::{Cell, Table, numbers, words};

/// What the operator did.
pub fn phases(run: &RunResult) -> Table {
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

/// What the reader understood.
pub fn understood(run: &RunResult) -> Table {
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
