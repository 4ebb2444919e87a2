//! Bursts, leaks and slips are rare enough.

use super::share::{
    ROUNDING, more_needed, more_words, runs_to_fail, share, share_estimate, share_limit,
};
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, Rule, wrong_side};
use crate::judge::groups::ended_by_balloon;
use crate::judge::sample::Sample;
use crate::recording::{EventKind, RunResult};
use crate::stats::{binomial_lower, binomial_upper};

const AT_MOST: Key = Key {
    name: "at_most",
    kind: Kind::Share,
    meaning: "share of the runs that may have a burst, leak or slip",
    needed: true,
};

/// The share of runs with a burst, leak or slip, before or after a fracture, stays within `at_most`.
pub struct NoEvent;

impl Rule for NoEvent {
    fn name(&self) -> &'static str {
        "no_event"
    }

    fn asks(&self) -> &'static str {
        "the share of the runs with a burst, leak or slip is at most `at_most`, with `confidence`"
    }

    fn keys(&self) -> &'static [Key] {
        &[AT_MOST, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "one-sided exact limit: Clopper & Pearson 1934, Biometrika 26:404; number of runs: success-run theorem"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let most = asked.value(AT_MOST.name);
        let (confidence, level) = asked.confidence();
        let (x, n) = (sample.count(has_event), sample.runs.len());
        let (events, all) = (x as u64, n as u64);
        let limits = binomial_lower(events, all, confidence)
            .and_then(|lower| Ok((lower, binomial_upper(events, all, confidence)?)));
        let (lower, upper) = match limits {
            Ok(limits) => limits,
            Err(error) => return Judgement::undecided(format!("no limit of the share: {error}")),
        };
        let estimate = x as f64 / n as f64;
        let seen = format!(
            "{x} of {n} runs with a burst, leak or slip: share {}, upper limit {} at {level} confidence, allowed {most}",
            share(estimate, most),
            share(upper, most)
        );
        let more = more_needed(n, x, 1.0 - most, confidence);
        let judgement = if estimate > most {
            let limit = ("lower", share(lower, most), lower > most);
            wrong_side(
                &seen,
                (limit.0, &limit.1, limit.2),
                n,
                runs_to_fail(x, n, most, confidence),
            )
            .or(more)
        } else if upper <= most * (1.0 + ROUNDING) {
            Judgement::pass(seen)
        } else {
            Judgement::undecided(format!("{seen}; too few runs: {}", more_words(&more))).more(more)
        };
        let with: Vec<&RunResult> = sample
            .runs
            .iter()
            .copied()
            .filter(|run| has_event(run))
            .collect();
        let found = share_estimate(estimate, (None, Some(upper)), confidence);
        judgement
            .found(Some(found), Some(share_limit("at most", most)), n)
            .by(asked.decision.of_counts())
            .against(&with)
    }
}

fn has_event(run: &RunResult) -> bool {
    ended_by_balloon(run)
        || run.events.iter().any(|event| {
            matches!(
                event.kind,
                EventKind::Burst | EventKind::Leak | EventKind::Slip
            )
        })
}
