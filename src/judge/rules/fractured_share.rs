//! A large enough share of the frames fractures.

use super::share::{
    ROUNDING, more_needed, more_words, runs_to_fail, share, share_estimate, share_limit,
};
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, Rule, wrong_side};
use crate::judge::groups::ended_by_balloon;
use crate::judge::sample::Sample;
use crate::judge::words::runs;
use crate::recording::{Outcome, RunResult};
use crate::stats::{binomial_lower, binomial_upper};

const AT_LEAST: Key = Key {
    name: "at_least",
    kind: Kind::Share,
    meaning: "share of the frames that must fracture",
    needed: true,
};

/// The share of the frames that fracture reaches `at_least`. A run ended by the balloon counts as not fractured.
pub struct FracturedShare;

impl Rule for FracturedShare {
    fn name(&self) -> &'static str {
        "fractured_share"
    }

    fn asks(&self) -> &'static str {
        "the share of the frames that fracture is at least `at_least`, with `confidence`"
    }

    fn keys(&self) -> &'static [Key] {
        &[AT_LEAST, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "one-sided exact limit: Clopper & Pearson 1934, Biometrika 26:404; number of runs: success-run theorem"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let least = asked.value(AT_LEAST.name);
        let (confidence, level) = asked.confidence();
        let (x, n) = (sample.fractured(), sample.runs.len());
        let (events, all) = (x as u64, n as u64);
        let limits = binomial_lower(events, all, confidence)
            .and_then(|lower| Ok((lower, binomial_upper(events, all, confidence)?)));
        let (lower, upper) = match limits {
            Ok(limits) => limits,
            Err(error) => return Judgement::undecided(format!("no limit of the share: {error}")),
        };
        let estimate = x as f64 / n as f64;
        let balloon = sample.count(ended_by_balloon);
        let ended = if balloon > 0 {
            format!(
                " (counted as not fractured: {} ended by burst, leak or slip)",
                runs(balloon)
            )
        } else {
            String::new()
        };
        let seen = format!(
            "{x} of {n} fractured{ended}: share {}, lower limit {} at {level} confidence, asked {least}",
            share(estimate, least),
            share(lower, least)
        );
        let whole: Vec<&RunResult> = sample
            .runs
            .iter()
            .copied()
            .filter(|run| run.outcome != Outcome::Fractured)
            .collect();
        let more = more_needed(n, n - x, least, confidence);
        let judgement = if estimate < least {
            let limit = ("upper", share(upper, least), upper < least);
            let to_fail = runs_to_fail(n - x, n, 1.0 - least, confidence);
            wrong_side(&seen, (limit.0, &limit.1, limit.2), n, to_fail).or(more)
        } else if lower >= least * (1.0 - ROUNDING) {
            Judgement::pass(seen)
        } else {
            Judgement::undecided(format!("{seen}; too few runs: {}", more_words(&more))).more(more)
        };
        let found = share_estimate(estimate, (Some(lower), None), confidence);
        judgement
            .found(Some(found), Some(share_limit("at least", least)), n)
            .by(asked.decision.of_counts())
            .against(&whole)
    }
}
