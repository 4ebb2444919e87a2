//! Readings that stand off by far more than readings do: most often a slip of the pen. They are told and marked, never mended or dropped.
//!
//! | a reading against | stands off where it is farther away than | on which ground |
//! | --- | --- | --- |
//! | its repeats: same hand, same orientation | [`REPEAT_SDS`] robust standard deviations of the study's repeats, but no less than [`LEAST_SHARE`] and no more than [`PLACE_SHARE`] of the diameter | repeats |
//! | what other hands read at the orientation | [`PLACE_SHARE`] of the diameter | hands differ by tenths of a millimetre |
//! | the readings of its ring | the longest diameter of an oval of [`MOST_OVAL`] from the shortest | rings are not rounder for being read |
//!
//! The robust standard deviation is 1.4826 times the median absolute deviation (Hampel 1974, JASA 69:383), so that the slips themselves do
//! not widen what they are set against. A reading without orientation has no repeats: it may be of any other diameter of its ring.

use super::scatter::{DITHER, angle_tenths};
use crate::recording::{CaliperRow, Finding, GaugeMethod, Stage};
use std::collections::BTreeMap;

/// Repeats farther off than so many of their standard deviations are no repeats. Iglewicz & Hoaglin (1993, from memory) doubt from 3.5 on;
/// two repeats differ by √2 more than one does from the truth, few of them tell a median deviation badly, and hands have bad days (chosen).
const REPEAT_SDS: f64 = 10.0;
/// Share of the diameter below which no reading stands off, however alike a few repeats happen to be: 0.2 mm of 20 mm (chosen).
const LEAST_SHARE: f64 = 0.01;
/// Share of the diameter beyond which no two readings at one orientation are alike, whoever took them: 1 mm of 20 mm (chosen).
const PLACE_SHARE: f64 = 0.05;
/// Ovality (Dmax − Dmin)/Dmean that a ring may have: dilated frames are seen with up to 0.18 or so (common practice).
const MOST_OVAL: f64 = 0.2;
/// Makes the median absolute deviation of normal data their standard deviation: 1 / Φ⁻¹(3/4).
const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// Methods whose readings scatter; a plug passes or does not.
const METHODS: [GaugeMethod; 2] = [GaugeMethod::Caliper, GaugeMethod::Optical];

/// What readings are gathered by; what a level leaves open is `None`.
type Key<'r> = (&'r str, Option<Stage>, Option<i64>, Option<&'r str>);
/// From wide to narrow: run, ring, orientation of a ring, hand at an orientation.
const LEVELS: [fn(&CaliperRow) -> Option<Key<'_>>; 4] = [
    |row| Some((&row.run_id, None, None, None)),
    |row| Some((&row.run_id, Some(row.stage), None, None)),
    |row| {
        let angle = angle_tenths(row)?;
        Some((&row.run_id, Some(row.stage), Some(angle), None))
    },
    |row| {
        let hand = row.operator.as_deref().unwrap_or_default();
        let angle = angle_tenths(row)?;
        Some((&row.run_id, Some(row.stage), Some(angle), Some(hand)))
    },
];

/// The middle of the readings that a reading is set against, mm, and how many they are, itself among them.
#[derive(Clone, Copy)]
struct Middle {
    mm: f64,
    count: usize,
}

/// Marks the readings that stand off and says so of each, with its line. `step_mm` is the step of the caliper, if it is declared.
pub fn mark_slips(readings: &mut [CaliperRow], step_mm: Option<f64>) -> Vec<(u64, Finding)> {
    let mut told: Vec<(usize, Finding)> = METHODS
        .into_iter()
        .flat_map(|method| slips(readings, method, step_mm))
        .collect();
    told.sort_by_key(|(at, _)| *at);
    told.into_iter()
        .filter_map(|(at, finding)| {
            let row = readings.get_mut(at)?;
            row.stands_off = true;
            Some((row.line, finding))
        })
        .collect()
}

/// The slips of a method by their number among all readings.
fn slips(
    readings: &[CaliperRow],
    method: GaugeMethod,
    step_mm: Option<f64>,
) -> Vec<(usize, Finding)> {
    let (places, rows): (Vec<usize>, Vec<&CaliperRow>) = readings
        .iter()
        .enumerate()
        .filter(|(_, row)| row.method == method && row.usable())
        .unzip();
    let values: Vec<f64> = rows.iter().map(|row| row.value_mm).collect();
    let Some(of_study) = middle(&values, 0.0) else {
        return Vec::new();
    };
    // Of two readings that differ, the one nearer to what the wider level says is the better witness.
    let mut nearest = vec![of_study; rows.len()];
    let levels = LEVELS.map(|key| {
        let middles = middles(&rows, key, &nearest);
        for (near, middle) in nearest.iter_mut().zip(&middles) {
            *near = middle.map_or(*near, |middle| middle.mm);
        }
        middles
    });
    let [_, rings, orientations, hands] = levels;
    let sd_mm = repeat_sd(&rows).max(DITHER * step_mm.unwrap_or(0.0));
    let against = rings.iter().zip(&orientations).zip(&hands);
    let doubted = rows.iter().zip(against).zip(places);
    doubted
        .filter_map(|((row, ((ring, orientation), hand)), at)| {
            let witnesses = Witnesses {
                repeats: hand.filter(|middle| middle.count > 1),
                hands: orientation.filter(|o| o.count > hand.map_or(0, |hand| hand.count)),
                ring: *ring,
                sd_mm,
            };
            Some((at, witnesses.doubt(row)?))
        })
        .collect()
}

/// The middle of what each reading is gathered with at a level.
fn middles(
    rows: &[&CaliperRow],
    key: fn(&CaliperRow) -> Option<Key<'_>>,
    nearest: &[f64],
) -> Vec<Option<Middle>> {
    let mut gathered: BTreeMap<Key<'_>, Vec<usize>> = BTreeMap::new();
    for (at, row) in rows.iter().enumerate() {
        if let Some(key) = key(row) {
            gathered.entry(key).or_default().push(at);
        }
    }
    let mut middles = vec![None; rows.len()];
    for members in gathered.values() {
        let values: Vec<f64> = members.iter().map(|at| rows[*at].value_mm).collect();
        let near = members.first().map_or(0.0, |at| nearest[*at]);
        for at in members {
            middles[*at] = middle(&values, near).map(|mm| Middle {
                mm,
                count: members.len(),
            });
        }
    }
    middles
}

/// Median; of two middle values the one nearer to a value that is known from elsewhere.
fn middle(values: &[f64], near: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let upper = *sorted.get(sorted.len() / 2)?;
    let lower = *sorted.get((sorted.len() - 1) / 2)?;
    Some(if (upper - near).abs() < (lower - near).abs() {
        upper
    } else {
        lower
    })
}

/// Robust standard deviation of one reading among its repeats, mm; 0 where nothing was repeated.
fn repeat_sd(rows: &[&CaliperRow]) -> f64 {
    let [.., hand] = LEVELS;
    let mut repeats: BTreeMap<Key<'_>, Vec<f64>> = BTreeMap::new();
    for row in rows {
        if let Some(key) = hand(row) {
            repeats.entry(key).or_default().push(row.value_mm);
        }
    }
    let deviations: Vec<f64> = repeats
        .values()
        .filter(|values| values.len() > 1)
        .flat_map(|values| {
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            // Deviations from the mean of n fall short of those from the truth.
            values
                .iter()
                .map(move |v| (v - mean).abs() * (n / (n - 1.0)).sqrt())
        })
        .collect();
    middle(&deviations, 0.0).map_or(0.0, |median| MAD_TO_SD * median)
}

/// What a reading is set against.
struct Witnesses {
    /// Repeats by the same hand.
    repeats: Option<Middle>,
    /// All hands at the orientation, where there are others.
    hands: Option<Middle>,
    /// All readings of the ring.
    ring: Option<Middle>,
    /// Standard deviation of a repeat, mm.
    sd_mm: f64,
}

impl Witnesses {
    /// The finding, where one of them says that the reading stands off.
    fn doubt(&self, row: &CaliperRow) -> Option<Finding> {
        let within = |share: f64, middle: Middle| share * middle.mm;
        let of_repeats = self.repeats.map(|middle| {
            let (least, most) = (within(LEAST_SHARE, middle), within(PLACE_SHARE, middle));
            (
                "its repeats",
                middle,
                (REPEAT_SDS * self.sd_mm).clamp(least, most),
            )
        });
        let of_hands = self
            .hands
            .map(|middle| ("other hands there", middle, within(PLACE_SHARE, middle)));
        let of_ring = self.ring.map(|middle| {
            let longest = (1.0 + MOST_OVAL / 2.0) / (1.0 - MOST_OVAL / 2.0);
            let limit = if row.value_mm > middle.mm {
                middle.mm * (longest - 1.0)
            } else {
                middle.mm * (1.0 - 1.0 / longest)
            };
            ("the readings of that ring", middle, limit)
        });
        let said: Vec<_> = [of_repeats, of_hands, of_ring]
            .into_iter()
            .flatten()
            .collect();
        let off = |(_, middle, _): &(_, Middle, f64)| (row.value_mm - middle.mm).abs();
        let doubted = said.iter().find(|witness| off(witness) > witness.2)?;
        let all: Vec<String> = said
            .iter()
            .map(|(who, middle, _)| format!("{who} say {:.3} mm", middle.mm))
            .collect();
        let angle = row
            .orientation_deg
            .map_or_else(String::new, |angle| format!(" at {angle}°"));
        Some(
            Finding::doubt(
                "reading-stands-off",
                format!(
                    "the reading {:.3} mm ({}{angle}) stands {:.3} mm off {}, more than {:.3} mm: {}",
                    row.value_mm,
                    row.stage.word(),
                    off(doubted),
                    doubted.0,
                    doubted.2,
                    all.join(", ")
                ),
            )
            .run(&row.run_id)
            .effect("the mean diameter still contains the reading, with how far it moves the mean as uncertainty; what repeats of the study scatter is taken without it")
            .help("check the reading and its repeats against the notes (a digit, the decimal mark, the unit, the row); mend the cell, or delete the row if nobody can tell"),
        )
    }
}
