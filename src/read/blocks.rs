//! Blocks of columns side by side: the same columns again and again, one block a specimen, each under its label.

use super::layout::Layout;

/// Names and units that stand over the first block only are those of every later block too. `labels` is the row of labels as
/// written: one over the first column of each block. All three lists are equally long.
pub(crate) fn repeat(names: &mut [String], units: &mut [String], labels: &[String]) {
    let Some((first, width)) = even_starts(labels) else {
        return;
    };
    let later = first + width;
    if names.iter().skip(later).any(|name| !name.is_empty())
        || names.iter().take(later).all(String::is_empty)
    {
        return;
    }
    let bare_units = units.iter().skip(later).all(String::is_empty);
    for at in later..names.len() {
        let from = first + (at - first) % width;
        let name = names[from].clone();
        names[at] = name;
        if bare_units {
            let unit = units[from].clone();
            units[at] = unit;
        }
    }
}

/// Where the labels begin and how far apart they are, if there are several at even distances of at least two columns.
fn even_starts(labels: &[String]) -> Option<(usize, usize)> {
    let starts: Vec<usize> = (0..labels.len())
        .filter(|at| !labels[*at].is_empty())
        .collect();
    let (first, second) = (*starts.first()?, *starts.get(1)?);
    let width = second - first;
    let even = starts
        .iter()
        .enumerate()
        .all(|(block, at)| *at == first + block * width);
    (even && width > 1).then_some((first, width))
}

/// True for a row of labels over names that are given for the first block only.
pub(crate) fn label_first_block(labels: &[String], names: &[String]) -> bool {
    even_starts(labels).is_some_and(|(first, width)| {
        names.iter().any(|name| !name.is_empty())
            && names.iter().skip(first + width).all(String::is_empty)
    })
}

/// The column of the same name in the block of the first of `taken`: a rig that names its pressure in the third block means the
/// volume and the time of that block too.
pub(crate) fn beside(layout: &Layout, at: usize, taken: &[usize]) -> usize {
    let (Some(name), Some(group)) = (
        layout.names.get(at).filter(|name| !name.is_empty()),
        taken
            .first()
            .and_then(|first| layout.groups.get(*first))
            .filter(|group| !group.is_empty()),
    ) else {
        return at;
    };
    (0..layout.width())
        .find(|other| {
            layout.names.get(*other) == Some(name) && layout.groups.get(*other) == Some(group)
        })
        .unwrap_or(at)
}

/// Columns whose name stood before over another block.
pub(crate) fn later(layout: &Layout) -> Vec<usize> {
    (0..layout.width())
        .filter(|at| {
            layout.names.get(*at).is_some_and(|name| {
                !name.is_empty()
                    && layout.names[..*at].contains(name)
                    && layout
                        .groups
                        .get(*at)
                        .is_some_and(|group| !group.is_empty())
            })
        })
        .collect()
}
