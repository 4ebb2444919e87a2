//! What speaks for and against each kind of a fall: every channel that is there adds its log-odds, none is needed.
//!
//! A fall is a fracture, a burst, a slip, or none of them (noise, a hand, a knock). Each witness of [`WITNESSES`] looks at one thing and
//! says by how much it makes each kind more likely, as a natural logarithm of a likelihood; witnesses of different channels err
//! independently, so these add up. How sure a witness can be is bounded (`evidence.sure_log_odds`): its model of the world is one of several. The log-odds of
//! a kind are the logarithm of its probability over that of all others, and the kind of an event is the likeliest. What the eye saw is no
//! witness here: it is compared with the trace afterwards.

mod diameter;
mod force;
mod left;
mod pace;
mod recording;
mod size;
mod sound;
mod steps;
mod volume;

use super::{Context, Fall};
use crate::recording::{EventKind, Odds};

/// What a fall may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Fracture,
    Burst,
    Slip,
    Nothing,
}

/// Every kind, in the order of their weights.
const KINDS: [Kind; 4] = [Kind::Fracture, Kind::Burst, Kind::Slip, Kind::Nothing];

impl Kind {
    fn word(self) -> &'static str {
        match self {
            Self::Fracture => EventKind::Fracture.word(),
            Self::Burst => EventKind::Burst.word(),
            Self::Slip => EventKind::Slip.word(),
            Self::Nothing => "nothing",
        }
    }
}

/// What one witness says.
pub(super) struct Witness {
    /// In words that can be checked on the plot.
    pub says: String,
    /// Log-likelihood of each of [`KINDS`], up to a common constant.
    pub weights: [f64; 4],
}

impl Witness {
    /// One that only remarks.
    fn remark(says: String) -> Self {
        Self {
            says,
            weights: [0.0; 4],
        }
    }
}

/// Looks at one thing; nothing where the channel is missing.
type Look = fn(&Context<'_>, &Fall) -> Option<Witness>;

/// Every witness. A new one is one file and one line here.
const WITNESSES: &[Look] = &[
    size::witness,
    pace::witness,
    left::witness,
    volume::witness,
    diameter::witness,
    force::witness,
    sound::witness,
    recording::clipped,
    recording::gap,
    recording::ends,
];

/// A fall with the sum of what was said.
pub(super) struct Weighed {
    /// The likeliest kind.
    pub kind: Kind,
    /// Log-odds of every kind.
    pub odds: Vec<Odds>,
    /// Probability of the likeliest kind.
    pub probability: f64,
    /// What spoke for it and against it.
    pub evidence: Vec<String>,
}

/// Weighs a fall.
pub(super) fn weigh(context: &Context<'_>, fall: &Fall) -> Weighed {
    let is = &context.settings.evidence;
    let witnesses: Vec<Witness> = WITNESSES
        .iter()
        .filter_map(|look| look(context, fall))
        .collect();
    let nothing = if context.trace.volume_ml.is_some() {
        -is.nothing_with_volume_log_odds
    } else {
        -is.nothing_without_volume_log_odds
    };
    let mut sums = [0.0, 0.0, 0.0, nothing];
    for witness in &witnesses {
        for (sum, weight) in sums.iter_mut().zip(witness.weights) {
            *sum += weight;
        }
    }
    // What is no event was turned away before: of the three the likeliest is named.
    let at = (0..3)
        .max_by(|a, b| sums[*a].total_cmp(&sums[*b]))
        .unwrap_or(0);
    let odds = (0..KINDS.len()).map(|k| Odds {
        of: KINDS[k].word().to_owned(),
        log_odds: rounded(sums[k] - together(&sums, k)),
    });
    let log_odds = sums[at] - together(&sums, at);
    Weighed {
        kind: KINDS[at],
        odds: odds.collect(),
        probability: 1.0 / (1.0 + (-log_odds).exp()),
        evidence: witnesses
            .iter()
            .map(|w| spoken(w, at, is.either_way_log_odds))
            .collect(),
    }
}

/// Logarithm of the sum of all likelihoods but one.
fn together(sums: &[f64; 4], but: usize) -> f64 {
    let others = || (0..sums.len()).filter(|k| *k != but).map(|k| sums[k]);
    let most = others().fold(f64::NEG_INFINITY, f64::max);
    most + others().map(|sum| (sum - most).exp()).sum::<f64>().ln()
}

/// What a witness says, with whether it speaks for a kind or against it and by how much.
fn spoken(witness: &Witness, at: usize, either_way: f64) -> String {
    let weights = &witness.weights;
    // All other kinds being as likely, by how much this one gains.
    let by = weights[at] - together(weights, at) + 3.0_f64.ln();
    let says = &witness.says;
    if by > either_way {
        format!("for ({by:+.1}): {says}")
    } else if by < -either_way {
        format!("against ({by:+.1}): {says}")
    } else {
        says.clone()
    }
}

fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn log_odds_are_those_of_the_probabilities() {
        // Likelihoods 1, 2, 3 and 4: probabilities 0.1 to 0.4.
        let sums = [1.0_f64.ln(), 2.0_f64.ln(), 3.0_f64.ln(), 4.0_f64.ln()];
        for (k, p) in [0.1_f64, 0.2, 0.3, 0.4].into_iter().enumerate() {
            let odds = sums[k] - together(&sums, k);
            assert!((odds - (p / (1.0 - p)).ln()).abs() < 1e-12);
        }
    }

    #[test]
    fn a_witness_says_which_way_it_speaks() {
        let witness = |weights| Witness {
            says: "so".to_owned(),
            weights,
        };
        assert_eq!(spoken(&witness([0.0; 4]), 0, 0.2), "so");
        assert_eq!(
            spoken(&witness([2.0, 0.0, 0.0, 0.0]), 0, 0.2),
            "for (+2.0): so"
        );
        assert_eq!(
            spoken(&witness([-2.0, 0.0, 0.0, 0.0]), 0, 0.2),
            "against (-2.0): so"
        );
    }
}
