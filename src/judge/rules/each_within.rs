//! Every run by itself lies on the good side of a limit, but for a number of failures fixed beforehand.

use super::share::share_estimate;
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, QUANTITY, Rule};
use crate::judge::decision::{Decision, amount};
use crate::judge::limit::{Against, Limit};
use crate::judge::quantity::{Target, Value};
use crate::judge::sample::Sample;
use crate::judge::words::{names, percent, runs};
use crate::recording::RunResult;
use crate::stats::{
    Conformity, Tolerance, binomial_lower, further_runs, guarded_decision, sample_size,
};

const ALLOWED: Key = Key {
    name: "allowed_failures",
    kind: Kind::Count,
    meaning: "runs that may lie on the bad side, fixed before the runs",
    needed: true,
};
const RELIABILITY: Key = Key {
    name: "reliability",
    kind: Kind::Share,
    meaning: "share of all such runs that must lie on the good side",
    needed: true,
};
const LIMIT: Key = Key {
    name: "limit",
    kind: Kind::Limit { words: true },
    meaning: "the limit: a number with its unit in the key, a grade (at_most = \"mild\"), or is = \"no\"",
    needed: true,
};

/// At least the part `reliability` of all runs lies on the good side: shown by the number of runs that a plan with so many allowed failures
/// takes.
///
/// The number is that of the plan, also where fewer failures came: stopping as soon as fewer runs with fewer failures would do has less
/// than the confidence named.
pub struct EachWithin;

impl Rule for EachWithin {
    fn name(&self) -> &'static str {
        "each_within"
    }

    fn asks(&self) -> &'static str {
        "`quantity` of every run is `limit`, but for `allowed_failures` allowed failures, which shows a share of `reliability` with `confidence` confidence"
    }

    fn keys(&self) -> &'static [Key] {
        &[QUANTITY, LIMIT, ALLOWED, RELIABILITY, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "exact binomial plan: Clopper & Pearson 1934, Biometrika 26:404; without failures the success-run theorem; guard band: JCGM 106:2012"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let (Some(target), Some(limit)) = (&asked.target, &asked.limit) else {
            return Judgement::undecided("the criterion names no quantity with a limit");
        };
        match Counted::of(asked.decision, target, limit, sample) {
            Ok(counted) => counted.judged(asked, limit, &target.path()),
            Err(why) => Judgement::undecided(why.clone()).more(Err(why)),
        }
    }
}

/// Runs by the side they lie on.
struct Counted<'a> {
    good: usize,
    bad: Vec<&'a RunResult>,
    /// On the good side, but within the guard band or without an uncertainty.
    guarded: Vec<&'a RunResult>,
    without: Vec<&'a RunResult>,
    /// Largest guard band.
    band: f64,
    unit: String,
    decision: Decision,
}

impl<'a> Counted<'a> {
    fn of(
        decision: Decision,
        target: &Target,
        limit: &Limit,
        sample: &Sample<'a>,
    ) -> Result<Self, String> {
        let mut counted = Self {
            good: 0,
            bad: Vec::new(),
            guarded: Vec::new(),
            without: Vec::new(),
            band: 0.0,
            unit: target.unit().unwrap_or_default().to_owned(),
            decision,
        };
        for run in &sample.runs {
            let Some(value) = target.value(run) else {
                counted.without.push(run);
                continue;
            };
            if let Value::Number { unit, .. } = &value {
                counted.unit.clone_from(unit);
            }
            match limit
                .against(&value)
                .map_err(|why| format!("{}: {why}", run.run_id))?
            {
                Against::Good(true) => counted.good += 1,
                Against::Good(false) => counted.bad.push(run),
                Against::Distance(distance, u) => counted.add(run, distance, u),
            }
        }
        Ok(counted)
    }

    /// A value so far on the good side, with its standard uncertainty.
    fn add(&mut self, run: &'a RunResult, distance: f64, u: Option<f64>) {
        let factor = match self.decision {
            Decision::Guarded(factor) if u != Some(0.0) => Some(factor),
            _ => None,
        };
        let Some(factor) = factor else {
            if distance >= 0.0 {
                self.good += 1;
            } else {
                self.bad.push(run);
            }
            return;
        };
        let good_side = Tolerance {
            lower: 0.0,
            upper: f64::INFINITY,
        };
        let decided = u.and_then(|u| guarded_decision(good_side, distance, u, factor).ok());
        self.band = decided.map_or(self.band, |d| self.band.max(d.guard_band));
        match decided.map(|d| d.guarded) {
            Some(Conformity::Accepted) => self.good += 1,
            Some(Conformity::Rejected) => self.bad.push(run),
            None if distance < 0.0 => self.bad.push(run),
            Some(Conformity::Guarded) | None => self.guarded.push(run),
        }
    }

    fn rule(&self) -> String {
        match self.decision {
            Decision::Simple => "simple acceptance of every run (JCGM 106:2012, 8.2): the limit itself decides, no guard band for the uncertainty of the measurement".to_owned(),
            Decision::Guarded(factor) => format!(
                "guarded acceptance of every run (JCGM 106:2012, 8.3.2): w = {factor} u inside the limit, here up to {}; words, grades and counts have no band",
                amount(self.band, &self.unit)
            ),
        }
    }

    fn judged(&self, asked: &Asked, limit: &Limit, path: &str) -> Judgement {
        let (confidence, level) = asked.confidence();
        let reliability = asked.value(RELIABILITY.name);
        let allowed = asked.value(ALLOWED.name).max(0.0) as usize;
        let (bad, n) = (
            self.bad.len(),
            self.good + self.bad.len() + self.guarded.len(),
        );
        let told = Some(limit.told(&self.unit));
        if n == 0 {
            let why = format!("no run of {} has {path}", self.without.len());
            return Judgement::undecided(why)
                .found(None, told, 0)
                .by(self.rule())
                .more(Err("not known without values".to_owned()));
        }
        // What lies within the guard band is not accepted, and so shows nothing good.
        let shown = n - bad - self.guarded.len();
        let lower = binomial_lower(shown as u64, n as u64, confidence).ok();
        let share = shown as f64 / n as f64;
        let estimate = share_estimate(share, (lower, None), confidence);
        let seen = self.seen(limit, path, (n, allowed), lower, &level);
        self.verdict(&seen, (n, allowed), reliability, confidence)
            .found(Some(estimate), told, n)
            .by(self.rule())
            .against(&self.bad)
    }

    fn verdict(
        &self,
        seen: &str,
        (n, allowed): (usize, usize),
        reliability: f64,
        confidence: f64,
    ) -> Judgement {
        if self.bad.len() > allowed {
            return Judgement::fail(format!("{seen}; more failures than allowed"));
        }
        if self.bad.len() + self.guarded.len() > allowed {
            let why = format!(
                "within the guard band, or without an uncertainty: {}",
                names(self.guarded.iter().map(|run| run.run_id.as_str()))
            );
            return Judgement::undecided(format!("{seen}; {why}")).more(Err(format!(
                "{why}: measure better, more runs do not decide them"
            )));
        }
        let plan = sample_size(reliability, confidence, allowed as u64).and_then(|needed| {
            Ok((
                needed,
                further_runs(n as u64, allowed as u64, reliability, confidence)?,
            ))
        });
        match plan {
            Ok((needed, 0)) => Judgement::pass(format!("{seen}; the plan takes {needed} runs")),
            Ok((needed, more)) => Judgement::undecided(format!(
                "{seen}; too few runs: the plan takes {needed}, {more} more"
            ))
            .more(Ok((
                more,
                match allowed.saturating_sub(self.bad.len() + self.guarded.len()) {
                    0 => "if none of them fails".to_owned(),
                    left => format!("if no more than {left} of them fail"),
                },
            ))),
            // Fewer runs than failures allowed: the plan itself still stands.
            Err(_) if (n as u64) < allowed as u64 => {
                let needed = sample_size(reliability, confidence, allowed as u64);
                let more = needed.map(|needed| needed.saturating_sub(n as u64));
                Judgement::undecided(format!("{seen}; too few runs")).more(
                    more.map(|more| (more, "if no more than are allowed fail".to_owned()))
                        .map_err(|error| error.to_string()),
                )
            }
            Err(error) => {
                Judgement::undecided(format!("{seen}; {error}")).more(Err(error.to_string()))
            }
        }
    }

    fn seen(
        &self,
        limit: &Limit,
        path: &str,
        (n, allowed): (usize, usize),
        lower: Option<f64>,
        level: &str,
    ) -> String {
        let without = if self.without.is_empty() {
            String::new()
        } else {
            let without = self.without.iter().map(|run| run.run_id.as_str());
            format!(
                " ({} without a value left out: {})",
                runs(self.without.len()),
                names(without)
            )
        };
        let failed = if self.bad.is_empty() {
            String::new()
        } else {
            format!(
                " ({})",
                names(self.bad.iter().map(|run| run.run_id.as_str()))
            )
        };
        let shown = lower.map_or_else(String::new, |lower| {
            format!("; share shown at {level} confidence: {}", percent(lower))
        });
        format!(
            "{path} {} {} in {} of {}{without}, {} beyond{failed}, {allowed} allowed{shown}",
            limit.side.word(),
            limit.written,
            n - self.bad.len(),
            runs(n),
            self.bad.len(),
        )
    }
}
