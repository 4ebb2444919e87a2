//! Finding the column of a channel and the unit its header states.

use super::blocks::beside;
use super::layout::Layout;
use crate::recording::{Finding, Place, suggest};
use crate::rig::{ChannelQuantity, ChannelSpec, ColumnRef, dimensions};
use crate::units::{self, Dimension, Unit};
use std::fmt::Write as _;

/// Words in the header that name a quantity, in the languages of the labs met (common practice, no source). Compared without
/// regard to case with the parts of a name.
const WORDS: &[(ChannelQuantity, &[&str])] = &[
    (
        ChannelQuantity::Pressure,
        &[
            "pressure",
            "press",
            "druck",
            "pression",
            "presion",
            "presión",
            "pressione",
            "druk",
            "pressao",
            "pressão",
            "tryk",
            "tryck",
        ],
    ),
    (
        ChannelQuantity::Volume,
        &["volume", "vol", "volumen", "volym", "injected", "syringe"],
    ),
    (
        ChannelQuantity::Turns,
        &[
            "turns",
            "turn",
            "umdrehungen",
            "umdrehung",
            "tours",
            "revolutions",
            "vueltas",
        ],
    ),
    (
        ChannelQuantity::Diameter,
        &[
            "diameter",
            "diam",
            "durchmesser",
            "diametre",
            "diamètre",
            "diametro",
            "diámetro",
            "optical",
            "waist",
        ],
    ),
    (
        ChannelQuantity::Sound,
        &[
            "sound",
            "audio",
            "mic",
            "microphone",
            "acoustic",
            "schall",
            "ae",
            "son",
        ],
    ),
    (
        ChannelQuantity::Force,
        &[
            "force", "kraft", "load", "fuerza", "forza", "kracht", "effort",
        ],
    ),
    (
        ChannelQuantity::Temperature,
        &[
            "temperature",
            "temp",
            "temperatur",
            "température",
            "temperatura",
            "temperatuur",
            "bath",
        ],
    ),
    (
        ChannelQuantity::Marker,
        &["marker", "mark", "event", "trigger"],
    ),
];

/// One-letter names, which count only beside a unit that fits.
const LETTERS: &[(ChannelQuantity, &[&str])] = &[
    (ChannelQuantity::Pressure, &["p", "pr"]),
    (ChannelQuantity::Volume, &["v"]),
    (ChannelQuantity::Diameter, &["d", "dia"]),
    (ChannelQuantity::Force, &["f"]),
    (ChannelQuantity::Temperature, &["t"]),
];

/// A column picked for a channel.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Picked {
    /// 0-based number.
    pub at: usize,
    /// Name for messages: as in the header, else the number.
    pub name: String,
}

/// Name and unit of a column as the header states them.
pub(crate) fn named(layout: &Layout, at: usize) -> (String, Option<&'static Unit>) {
    let header = layout.names.get(at).map_or("", String::as_str);
    let (name, in_name) = units::split_header(header);
    let in_row = layout.units.get(at).and_then(|text| units::find(text));
    // The number at the end of "Test 1" is no unit.
    match in_name {
        Some(unit) if unit.symbol == "1" && !header.ends_with([']', ')']) => {
            (header.to_owned(), in_row)
        }
        // Nor does "Printer 0.1 mm" hold millimetres: the size of something is part of its name.
        Some(_) if ends_in_size(&name) && !header.ends_with([']', ')']) => {
            (header.to_owned(), in_row)
        }
        _ => (name, in_row.or(in_name)),
    }
}

/// A name with a unit that stands elsewhere in the file, in brackets behind it; a unit in the name itself goes first.
pub(crate) fn with_unit(name: &str, unit: &str) -> String {
    let known = units::find(unit).is_some_and(|unit| unit.symbol != "1");
    if known && units::split_header(name).1.is_none() {
        format!("{name} [{}]", unit.trim())
    } else {
        name.to_owned()
    }
}

/// True for a name whose last word is a number with a fraction. A whole number may count the channels: "Pressure 1 kPa".
fn ends_in_size(name: &str) -> bool {
    name.split_whitespace().last().is_some_and(|word| {
        word.contains(['.', ',']) && word.replace(',', ".").parse::<f64>().is_ok()
    })
}

/// True where the header leaves no doubt that it states a unit: in brackets or a units row. `pressure_in` may be the inlet.
fn unit_is_sure(layout: &Layout, at: usize) -> bool {
    layout
        .units
        .get(at)
        .is_some_and(|text| units::find(text).is_some())
        || layout
            .names
            .get(at)
            .is_some_and(|name| name.trim_end().ends_with([']', ')']))
}

/// The unit the header states for a quantity; an unsure one of another dimension counts for nothing.
fn stated(layout: &Layout, at: usize, quantity: ChannelQuantity) -> Option<&'static Unit> {
    let (_, unit) = named(layout, at);
    let allowed = dimensions(quantity);
    unit.filter(|unit| {
        allowed.is_empty() || allowed.contains(&unit.dimension) || unit_is_sure(layout, at)
    })
}

/// A column in words: its name, with the label of its block where the name stands over several, else its number.
pub(crate) fn label(layout: &Layout, at: usize) -> String {
    full_name(layout, at).unwrap_or_else(|| at.to_string())
}

/// The name of a column, with the label of its block where the name stands over several; `None` where the header gives none.
pub(crate) fn full_name(layout: &Layout, at: usize) -> Option<String> {
    let name = layout.names.get(at).filter(|name| !name.is_empty())?;
    let several = layout.names.iter().filter(|other| *other == name).count() > 1;
    match layout.groups.get(at).filter(|group| !group.is_empty()) {
        Some(group) if several => Some(format!("{group} {name}")),
        _ => Some(name.clone()),
    }
}

/// The column a rig names by name or number; aliases help. A name that stands over several blocks of columns means the block of
/// the columns `taken` already.
///
/// # Errors
/// An error finding with the columns there are.
pub(crate) fn find(
    layout: &Layout,
    column: &ColumnRef,
    aliases: &[String],
    taken: &[usize],
    what: &str,
    shown_as: &str,
) -> Result<Picked, Finding> {
    let picked = |at: usize| Picked {
        at,
        name: label(layout, at),
    };
    let name = match column {
        ColumnRef::Index(at) if *at < layout.width() => return Ok(picked(*at)),
        ColumnRef::Index(at) => {
            return Err(place(
                Finding::error(
                    "column-missing",
                    format!(
                        "the {what} is declared in column number {at}, counted from 0, but the file has {} columns",
                        layout.width()
                    ),
                ),
                layout,
                shown_as,
            )
            .help("check delimiter in [dialect] and the number of the column"));
        }
        ColumnRef::Name(name) => name,
    };
    for wanted in std::iter::once(name).chain(aliases) {
        if let Some(at) = by_name(layout, wanted, taken) {
            return Ok(picked(at));
        }
    }
    Err(missing(layout, Some(name), what, shown_as))
}

/// The error for a column that is not there.
pub(crate) fn missing(layout: &Layout, name: Option<&str>, what: &str, shown_as: &str) -> Finding {
    let there: Vec<String> = (0..layout.width()).map(|at| label(layout, at)).collect();
    let wanted = name.map_or_else(
        || format!("no column for the {what} was found"),
        |name| format!("the {what} column \"{name}\" is missing"),
    );
    let list = shorten(&there);
    let near = name.and_then(|name| {
        suggest(
            name,
            layout
                .names
                .iter()
                .map(String::as_str)
                .filter(|n| !n.is_empty()),
        )
    });
    // "Druck" is not near "Druck abs [psi]", but stands in it.
    let near = near.or_else(|| {
        let wanted = plain_name(name?);
        let mut holds = layout
            .names
            .iter()
            .filter(|name| wanted.chars().count() > 2 && plain_name(name).contains(&wanted));
        holds
            .next()
            .map(String::as_str)
            .filter(|_| holds.next().is_none())
    });
    let help = match near {
        Some(near) => format!("did you mean column = \"{near}\"?"),
        None => "name the column in the rig: column = \"<name>\" or its number counted from 0, or add aliases = [...]".to_owned(),
    };
    place(
        Finding::error("column-missing", format!("{wanted}; the file has {list}")),
        layout,
        shown_as,
    )
    .help(help)
}

fn place(finding: Finding, layout: &Layout, shown_as: &str) -> Finding {
    finding.at(match layout.names_line {
        Some(line) => Place::line(shown_as, line),
        None => Place::file(shown_as),
    })
}

/// A list of columns for a message.
fn shorten(names: &[String]) -> String {
    const MOST: usize = 12;
    let mut text = names
        .iter()
        .take(MOST)
        .map(|name| format!("\"{name}\""))
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > MOST {
        let _ = write!(text, " and {} more", names.len() - MOST);
    }
    text
}

/// A column by name: exactly, then without regard to case and blanks, then without the unit, then with its group.
fn by_name(layout: &Layout, wanted: &str, taken: &[usize]) -> Option<usize> {
    let names = || layout.names.iter();
    if let Some(at) = names().position(|name| name == wanted) {
        return Some(beside(layout, at, taken));
    }
    let plain = plain_name(wanted);
    if plain.is_empty() {
        return None;
    }
    if let Some(at) = names().position(|name| plain_name(name) == plain) {
        return Some(beside(layout, at, taken));
    }
    let bare = plain_name(&units::split_header(wanted).0);
    let same: Vec<usize> = names()
        .enumerate()
        .filter(|(_, name)| !name.is_empty() && plain_name(&units::split_header(name).0) == bare)
        .map(|(at, _)| at)
        .collect();
    if let [at] = same.as_slice() {
        return Some(*at);
    }
    (0..layout.width()).find(|at| {
        let group = layout.groups.get(*at).map_or("", String::as_str);
        let name = layout.names.get(*at).map_or("", String::as_str);
        !group.is_empty()
            && (plain_name(&format!("{group} {name}")) == plain
                || plain_name(&format!("{group}/{name}")) == plain
                || plain_name(group) == plain)
    })
}

fn plain_name(name: &str) -> String {
    name.to_lowercase()
        .chars()
        .filter(|c| !c.is_whitespace() && *c != '"')
        .collect()
}

/// The column that looks like a quantity by name and unit.
///
/// # Errors
/// `Ok(None)` where none does; an error finding where several do equally.
pub(crate) fn sniff(
    layout: &Layout,
    quantity: ChannelQuantity,
    taken: &[usize],
    shown_as: &str,
) -> Result<Option<Picked>, Finding> {
    let ranked: Vec<(u32, usize)> = (0..layout.width())
        .filter(|at| !taken.contains(at))
        .map(|at| (likeness(layout, at, quantity), at))
        .filter(|(rank, _)| *rank > 0)
        .collect();
    let best = ranked.iter().map(|(rank, _)| *rank).max().unwrap_or(0);
    let first: Vec<usize> = ranked
        .iter()
        .filter(|(rank, _)| *rank == best)
        .map(|(_, at)| *at)
        .collect();
    match first.as_slice() {
        [] => Ok(None),
        [at] => Ok(Some(Picked {
            at: *at,
            name: label(layout, *at),
        })),
        // The same name over every block: the block of the columns taken already.
        [at, ..]
            if first.contains(&beside(layout, *at, taken)) && in_blocks(layout, &first, taken) =>
        {
            let at = beside(layout, *at, taken);
            Ok(Some(Picked {
                at,
                name: label(layout, at),
            }))
        }
        several => {
            let names: Vec<String> = several.iter().map(|at| label(layout, *at)).collect();
            Err(place(
                Finding::error(
                    "column-unclear",
                    format!(
                        "several columns look like the {}: {}",
                        quantity.word(),
                        shorten(&names)
                    ),
                ),
                layout,
                shown_as,
            )
            .help(
                "name the right one in the rig: column = \"<name>\" or its number counted from 0",
            ))
        }
    }
}

/// True for columns of one name over several blocks, one of which holds the first column taken.
fn in_blocks(layout: &Layout, columns: &[usize], taken: &[usize]) -> bool {
    let group = |at: usize| layout.groups.get(at).filter(|group| !group.is_empty());
    let name = columns.first().and_then(|at| layout.names.get(*at));
    let here = taken.first().and_then(|at| group(*at));
    columns.iter().all(|at| layout.names.get(*at) == name)
        && columns
            .iter()
            .any(|at| here.is_some() && group(*at) == here)
}

/// How much a column looks like a quantity; 0 not at all.
fn likeness(layout: &Layout, at: usize, quantity: ChannelQuantity) -> u32 {
    let (name, _) = named(layout, at);
    let unit = stated(layout, at, quantity);
    let group = layout.groups.get(at).map_or("", String::as_str);
    let fits = unit.is_some_and(|unit| dimensions(quantity).contains(&unit.dimension));
    let raw = unit.is_none_or(|unit| unit.dimension == Dimension::Raw);
    // "temperature of the pressure line": a unit of another quantity speaks against the name.
    if !fits && !raw {
        return 0;
    }
    // A turns column is usually headed "Volume [turns]": it is the turns channel's only if such a channel asks for it.
    let parts = words(&format!("{name} {group}"));
    let has = |list: &[(ChannelQuantity, &[&str])]| {
        list.iter()
            .filter(|(of, _)| *of == quantity)
            .flat_map(|(_, words)| words.iter())
            .any(|word| parts.iter().any(|part| part == word))
    };
    let letter = LETTERS
        .iter()
        .filter(|(of, _)| *of == quantity)
        .flat_map(|(_, words)| words.iter())
        .any(|letter| {
            parts
                .iter()
                .any(|part| part.trim_end_matches(|c: char| c.is_ascii_digit()) == *letter)
        });
    match (has(WORDS), letter, fits) {
        (true, _, true) => 4,
        (_, true, true) => 3,
        (true, _, false) => 2,
        // Found only to say that its unit must be declared.
        (false, true, false) if quantity == ChannelQuantity::Pressure => 1,
        // A unit alone says little where others are measured in it too: a length may be a stroke.
        (false, false, true)
            if matches!(quantity, ChannelQuantity::Diameter | ChannelQuantity::Force) =>
        {
            0
        }
        (false, false, true) => 1,
        _ => 0,
    }
}

/// The words of a name in lower case: `Druck_Ballon1` is `druck`, `ballon`.
pub(crate) fn words(name: &str) -> Vec<String> {
    name.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .flat_map(|part| {
            let bare = part.trim_end_matches(|c: char| c.is_ascii_digit());
            [part.to_owned(), bare.to_owned()]
        })
        .filter(|part| !part.is_empty())
        .collect()
}

/// The unit of a channel's numbers: the rig's, else the header's.
///
/// # Errors
/// An error finding where neither tells, or the header states a unit of another kind.
pub(crate) fn unit_of(
    layout: &Layout,
    picked: &Picked,
    channel: &ChannelSpec,
    shown_as: &str,
    findings: &mut Vec<Finding>,
) -> Result<&'static Unit, Finding> {
    let stated = stated(layout, picked.at, channel.quantity);
    let place = || Place {
        file: Some(shown_as.to_owned()),
        line: layout.names_line,
        column: Some(picked.name.clone()),
    };
    let word = channel.quantity.word();
    if let Some(unit) = channel.unit {
        let calibrated = channel.calibration != crate::rig::Calibration::None;
        if let Some(stated) = stated
            && !calibrated
            && !same_unit(stated, unit)
        {
            findings.push(
                Finding::doubt(
                    "unit-differs",
                    format!(
                        "the rig declares {} for the {word}, but the header of the file says {}; the rig was followed",
                        unit.symbol, stated.symbol
                    ),
                )
                .at(place())
                .help(format!("set unit = \"{}\" in the rig if the header is right, or \"auto\"", stated.symbol)),
            );
        }
        return Ok(unit);
    }
    let allowed = dimensions(channel.quantity);
    match stated {
        Some(unit) if allowed.is_empty() || allowed.contains(&unit.dimension) => Ok(unit),
        None if allowed.is_empty() => units::find("1").ok_or_else(|| Finding::error("unit-unknown", "no unit")),
        Some(unit) => Err(Finding::error(
            "unit-unknown",
            format!("the header gives the {word} in {}, which is no unit of {word}", unit.symbol),
        )
        .at(place())
        .help(format!(
            "declare in the rig what the numbers mean: unit = \"...\" and, for {}, a [channel.calibration]",
            unit.symbol
        ))),
        None => Err(Finding::error(
            "unit-unknown",
            format!(
                "the unit of the {word} cannot be told: the header \"{}\" names none that is known",
                picked.name
            ),
        )
        .at(place())
        .help(match channel.quantity {
            ChannelQuantity::Pressure => {
                "declare it in the rig: unit = \"kPa\" (or bar, atm, psi, mmHg, MPa); a unit is never guessed from the size of the numbers"
            }
            ChannelQuantity::Volume => "declare it in the rig: unit = \"mL\" (or cc, uL, turns)",
            _ => "declare it in the rig: unit = \"...\"",
        })),
    }
}

fn same_unit(a: &Unit, b: &Unit) -> bool {
    a.dimension == b.dimension && a.factor == b.factor && a.offset == b.offset
}
