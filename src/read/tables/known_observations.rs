//! What labs write down beside the readings: one line each, with what its values are.

use crate::units::Dimension;

/// What a value may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Expected {
    /// A number with a unit of this dimension.
    Number(Dimension),
    /// A whole number of pieces, with the unit `count`.
    Count,
    /// A grade.
    Grade,
    /// Yes or no.
    YesNo,
    /// Words.
    Text,
}

/// A known observation.
pub(super) struct Known {
    /// Its name in results.
    pub name: &'static str,
    /// Other spellings. The order of words does not matter, nor do case, `_`, `-`, "of", "the", "a" and "to".
    pub aliases: &'static [&'static str],
    /// What its values may be.
    pub expected: &'static [Expected],
    /// True where a number below 0 makes sense: a shift has a direction, a gap has none.
    pub negative: bool,
}

const fn known(
    name: &'static str,
    aliases: &'static [&'static str],
    expected: &'static [Expected],
    negative: bool,
) -> Known {
    Known {
        name,
        aliases,
        expected,
        negative,
    }
}

use Dimension::{Angle, Length, Mass, Pressure, Ratio, Time};
use Expected::{Count, Grade, Number, Text, YesNo};

/// Every observation known (names: common practice, no source).
#[rustfmt::skip]
pub(super) const KNOWN: &[Known] = &[
    known("shift of the inner valve", &["inner valve moved", "inner shift"], &[Number(Length), YesNo], true),
    known("shift of the balloon", &["balloon slip", "balloon moved"], &[Number(Length), YesNo], true),
    known("splay of the posts", &["post splay", "posts splayed"], &[Number(Length), Number(Angle), YesNo], true),
    known("wall clearance", &["clearance", "distance to the wall"], &[Number(Length)], false),
    known("gap of the broken ring", &["ring gap", "gap", "ring broken"], &[Number(Length), Number(Angle), YesNo], false),
    known("leaflet grade", &["leaflets", "leaflet damage", "leaflet tear"], &[Grade, YesNo], false),
    known("leak grade", &["regurgitation", "paravalvular leak"], &[Grade, Number(Ratio)], false),
    known("captured debris", &["debris", "particles", "fragments", "debris count", "debris mass"], &[Number(Mass), Count, YesNo], false),
    known("dial at fracture", &["dial", "dial reading", "dial pressure", "pressure on the dial"], &[Number(Pressure)], false),
    known("after measured", &["after measured at", "time after measured"], &[Number(Time), Text], false),
];

/// A spelling as its words in order, without those that carry nothing.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = plain(text)
        .split(' ')
        .filter(|word| !matches!(*word, "" | "of" | "the" | "a" | "to"))
        .map(str::to_owned)
        .collect();
    words.sort();
    words
}

/// A spelling in small letters with single blanks.
pub(super) fn plain(text: &str) -> String {
    let text = text.to_lowercase().replace(['_', '-'], " ");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The observation of a spelling.
pub(super) fn find(what: &str) -> Option<&'static Known> {
    let wanted = words(what);
    KNOWN.iter().find(|known| {
        std::iter::once(&known.name)
            .chain(known.aliases)
            .any(|spelling| words(spelling) == wanted)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_find_one_observation_each() {
        let mut seen = std::collections::BTreeSet::new();
        for known in KNOWN {
            for spelling in std::iter::once(&known.name).chain(known.aliases) {
                assert_eq!(find(spelling).map(|k| k.name), Some(known.name));
                assert!(seen.insert(words(spelling)), "{spelling} twice");
            }
        }
        let name = |what| find(what).map(|k| k.name);
        assert_eq!(name("Inner_valve shift"), Some("shift of the inner valve"));
        assert_eq!(name("Gap of the ring"), Some("gap of the broken ring"));
        assert_eq!(name("clearance to a wall"), Some("wall clearance"));
        assert_eq!(name("ring colour"), None);
    }
}
