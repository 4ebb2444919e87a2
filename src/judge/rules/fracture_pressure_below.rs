//! The frames fracture below a pressure.

use super::share::ROUNDING;
use super::share::runs_to_fail as runs_to_fail_share;
use super::tolerance::{
    NORMALITY_DOUBTED_P, more_for_tolerance, normality, runs_to_fail, without_distribution,
};
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, Rule, wrong_side};
use crate::judge::decision::Band;
use crate::judge::families::{SEED, weibull_goodness};
use crate::judge::limit::Side;
use crate::judge::sample::Sample;
use crate::judge::stops::Stops;
use crate::judge::strength::FEWEST_FOR_TOLERANCE;
use crate::judge::words::{names, percent, probability, runs};
use crate::recording::{Interval, RunResult, VerdictLimit};
use crate::stats::{
    FEW_FAILURES, ProfileLimits, StatsError, StrengthFit, WEIBULL, binomial_lower,
    calibrate_quantile, describe, normal_quantile, strength_fit, tolerance_one_sided,
};
use crate::uncertain::Draws;
use crate::units::Dimension;

const LIMIT: Key = Key {
    name: "limit",
    kind: Kind::Measured(Dimension::Pressure),
    meaning: "pressure below which the frames must fracture",
    needed: true,
};
const COVERAGE: Key = Key {
    name: "coverage",
    kind: Kind::Share,
    meaning: "share of all such frames that must fracture below the limit",
    needed: true,
};

/// Samples simulated for a limit: 250 of them lie beyond one of 95 % confidence, which then has 94.7 to 95.3 % (one standard deviation of a
/// count).
const DRAWS: usize = 4999;
/// Strengths from which the chi-squared limit stands as it is: of 100 it holds 95 % to half a per cent, of 10 only 91 to 92 %.
const MANY: usize = 100;

/// At least the part `coverage` of the frames fractures below `limit_<unit>`.
///
/// Where all runs fractured: one-sided upper normal tolerance limit. Where some did not, or strengths are known by steps only: upper
/// likelihood-ratio limit of the Weibull quantile, with those runs right-censored and steps as steps, in small samples set by simulation so that
/// it holds as often as it says. Either pass is withheld where a run of
/// the sample itself held to the limit.
pub struct FracturePressureBelow;

impl Rule for FracturePressureBelow {
    fn name(&self) -> &'static str {
        "fracture_pressure_below"
    }

    fn asks(&self) -> &'static str {
        "at least the part `coverage` of the frames fractures below `limit_<unit>`, with `confidence`"
    }

    fn keys(&self) -> &'static [Key] {
        &[LIMIT, COVERAGE, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "normal tolerance limit: ISO 16269-6; with runs that did not fracture, and with steps: likelihood-ratio limit of a Weibull quantile (Meeker & Escobar 1998, ch. 8), in small samples set by simulation (Lawless 2003, 4.2 and 5.1; from memory)"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let question = Question::new(asked, sample);
        let held = question.held();
        let limit = VerdictLimit {
            side: "at most".to_owned(),
            value: Some(question.limit),
            unit: "kPa".to_owned(),
            written: question.limit_written.clone(),
        };
        let beyond: Vec<&RunResult> = question.beyond();
        let us: Vec<(&RunResult, Option<f64>)> = fractures(sample);
        let band = asked.decision.band(&us, "kPa");
        let (judgement, estimate) = match question.bound() {
            Ok(bound) => {
                let estimate = Interval {
                    value: Some(bound.estimate),
                    lower: None,
                    upper: bound.upper,
                    confidence: question.confidence,
                    unit: "kPa".to_owned(),
                    method: format!("{} quantile, {}", percent(question.coverage), bound.how),
                };
                (
                    question.by_bound(asked, &held, &bound, &band),
                    Some(estimate),
                )
            }
            Err(why) => (
                question
                    .by_counting(&held, &why)
                    .more(Err(format!("not known: {why}"))),
                None,
            ),
        };
        judgement
            .found(estimate, Some(limit), sample.runs.len())
            .by(band.words)
            .against(&beyond)
    }
}

/// Fractured runs with the standard uncertainty of their fracture pressure.
fn fractures<'a>(sample: &Sample<'a>) -> Vec<(&'a RunResult, Option<f64>)> {
    let told = sample.runs.iter().filter_map(|run| {
        let (pressure, _) = run.fracture_pressure(sample.definition)?;
        pressure.value?;
        Some((*run, pressure.u))
    });
    // Beyond the limit of the channel only a lower bound is known: it counts as censored, and has no uncertainty.
    told.filter(|(run, _)| {
        !sample
            .fractures_beyond_limit
            .iter()
            .any(|beyond| beyond.run_id == run.run_id)
    })
    .collect()
}

/// Why no number of further runs is known.
const NO_PLAN: &str =
    "not known where runs did not fracture: the likelihood-ratio limit has no simple plan";

/// Estimate of the quantile with its one-sided limits, kPa; none where the data leave one open.
struct Bound {
    estimate: f64,
    lower: Option<f64>,
    upper: Option<f64>,
    how: String,
    few: bool,
    /// Mean and standard deviation of a normal sample.
    normal: Option<(f64, f64)>,
}

struct Question<'q, 's> {
    sample: &'q Sample<'s>,
    limit: f64,
    limit_written: String,
    coverage: f64,
    confidence: f64,
}

impl<'q, 's> Question<'q, 's> {
    fn new(asked: &Asked, sample: &'q Sample<'s>) -> Self {
        Self {
            sample,
            limit: asked.value(LIMIT.name),
            limit_written: asked.written(LIMIT.name),
            coverage: asked.value(COVERAGE.name),
            confidence: asked.value(CONFIDENCE.name),
        }
    }

    /// Judged by the limit of the quantile.
    fn by_bound(&self, asked: &Asked, held: &[f64], bound: &Bound, band: &Band) -> Judgement {
        let kpa = |limit: Option<f64>| limit.map_or("open".to_owned(), |v| format!("{v:.1} kPa"));
        let seen = format!(
            "{} of {} fractured; the {} quantile is {:.1} kPa, its upper limit {} at {} confidence ({}), limit {}",
            self.sample.fractured(),
            self.sample.runs.len(),
            percent(self.coverage),
            bound.estimate,
            kpa(bound.upper),
            percent(self.confidence),
            bound.how,
            asked.written(LIMIT.name)
        );
        if bound.estimate >= self.limit {
            if let Some(doubted) = self.not_normal(bound) {
                let why = format!(
                    "{doubted}, so that the limit of a normal population says nothing here"
                );
                return self
                    .by_counting(held, &why)
                    .more(Err(format!("not known: {why}")));
            }
            let lower = kpa(bound.lower);
            let excluded = bound.lower.is_some_and(|lower| lower >= self.limit);
            let to_fail = bound.normal.map_or_else(
                || Err(NO_PLAN.to_owned()),
                |(mean, sd)| {
                    runs_to_fail((self.limit - mean) / sd, (self.coverage, self.confidence))
                },
            );
            let n = self.sample.fracture_pressures().len();
            return wrong_side(&seen, ("lower", &lower, excluded), n, to_fail);
        }
        if let Some(lacks) = &band.lacks {
            return Judgement::undecided(format!("{seen}; {lacks}")).more(Err(lacks.clone()));
        }
        if bound
            .upper
            .is_none_or(|upper| upper >= self.limit - band.width)
        {
            return Judgement::undecided(format!("{seen}; too few runs for this scatter"))
                .more(self.more(bound, band));
        }
        let crooked = || bound.normal.is_none().then(|| self.crooked()).flatten();
        let doubt = self.doubt(held, bound).or_else(crooked).map(|doubt| {
            let more = Err(format!("further runs do not settle that {doubt}"));
            (doubt, more)
        });
        match doubt.or_else(|| self.doubted_normal(bound, band)) {
            Some((doubt, more)) => {
                Judgement::undecided(format!("{seen}; not passed, because {doubt}")).more(more)
            }
            None => Judgement::pass(seen),
        }
    }

    /// Further runs at which the present mean and scatter would do, where there is no censoring.
    fn more(&self, bound: &Bound, band: &Band) -> Result<(u64, String), String> {
        let (mean, sd) = bound.normal.ok_or(NO_PLAN)?;
        more_for_tolerance(
            (self.limit - band.width - mean) / sd,
            (self.coverage, self.confidence),
            self.sample.fracture_pressures().len(),
        )
    }

    /// Runs known to have held to the limit.
    fn beyond(&self) -> Vec<&'s RunResult> {
        let all = self.sample.runs.iter().copied();
        all.filter(|run| {
            let own = self.sample.only(|other| other.run_id == run.run_id);
            own.ranges.iter().any(|range| range.above >= self.limit)
        })
        .collect()
    }

    /// Pressures of the runs known to have held to the limit, kPa.
    fn held(&self) -> Vec<f64> {
        let all = self.sample.ranges.iter().map(|range| range.above);
        all.filter(|v| *v >= self.limit).collect()
    }

    fn bound(&self) -> Result<Bound, String> {
        let sample = self.sample;
        let unbroken = sample.runs.len() > sample.fractured();
        if unbroken || sample.by_step() || !sample.fractures_without_pressure.is_empty() {
            self.weibull().map_err(|error| error.to_string())
        } else {
            self.normal()
        }
    }

    fn normal(&self) -> Result<Bound, String> {
        let pressures = self.sample.fracture_pressures();
        if pressures.len() < FEWEST_FOR_TOLERANCE {
            return Err(format!(
                "fracture pressures: at least {FEWEST_FOR_TOLERANCE} needed, {} given",
                pressures.len()
            ));
        }
        let d = describe(&pressures).map_err(|error| error.to_string())?;
        let sd = d
            .sd
            .filter(|sd| *sd > 0.0)
            .ok_or("the fracture pressures do not differ, so that their scatter is not known")?;
        let limit = |confidence: f64| {
            tolerance_one_sided(d.n as u64, self.coverage, confidence)
                .map(|k| Some(d.mean + k * sd))
                .map_err(|error| error.to_string())
        };
        Ok(Bound {
            estimate: d.mean + normal_quantile(self.coverage) * sd,
            lower: limit(1.0 - self.confidence)?,
            upper: limit(self.confidence)?,
            how: "one-sided normal tolerance limit".to_owned(),
            few: false,
            normal: Some((d.mean, sd)),
        })
    }

    fn weibull(&self) -> Result<Bound, StatsError> {
        let fit = strength_fit(&WEIBULL, &self.sample.ranges)?;
        let seen = if self.sample.by_step() {
            "Weibull, strengths between steps, runs without fracture right-censored"
        } else {
            "Weibull, runs without fracture right-censored"
        };
        let calibrated = self.calibrated(&fit);
        let enough = self.sample.ranges.len() >= MANY || calibrated.is_some();
        let (lower, upper, how) = match calibrated {
            Some(limits) => (
                limits.lower,
                limits.upper,
                format!(
                    "likelihood-ratio limit set by {DRAWS} samples simulated from the fit, seed {SEED}"
                ),
            ),
            None => (
                fit.quantile_lower(self.coverage, self.confidence)?,
                fit.quantile_upper(self.coverage, self.confidence)?,
                "likelihood-ratio limit".to_owned(),
            ),
        };
        Ok(Bound {
            estimate: fit.quantile(self.coverage)?,
            lower,
            upper,
            how: format!("{seen}, {how}"),
            few: fit.failures < FEW_FAILURES || !enough,
            normal: None,
        })
    }

    /// Limits that hold as often as they say in small samples too; `None` for samples that need none, and where simulated samples cannot be
    /// fitted.
    fn calibrated(&self, fit: &StrengthFit) -> Option<ProfileLimits> {
        let ranges = &self.sample.ranges;
        if ranges.len() >= MANY {
            return None;
        }
        let stops = Stops::of(ranges);
        let seen = |i: usize, strength: f64| stops.seen(i, strength);
        let label = format!("limit of a quantile: {}", self.sample.name);
        let mut draws = Draws::new(SEED, &label);
        let uniform = &mut || draws.unit();
        // An upper and a lower limit of a confidence are the ends of an interval of less.
        let both = 2.0 * self.confidence - 1.0;
        let found = calibrate_quantile(fit, self.coverage, both, &seen, DRAWS, uniform);
        found.ok().map(|found| found.limits)
    }

    /// Why the limit of a Weibull population may not stand: its plot is more crooked than those of samples drawn from the fit.
    fn crooked(&self) -> Option<String> {
        let p = weibull_goodness(self.sample)?;
        (p < NORMALITY_DOUBTED_P).then(|| {
            let p = probability(p);
            format!("the strengths do not lie on a Weibull line (simulated p = {p})")
        })
    }

    /// Why the limit of a normal population may not stand; none where no such limit was taken.
    fn not_normal(&self, bound: &Bound) -> Option<String> {
        bound.normal?;
        normality(&self.sample.fracture_pressures()).err()
    }

    /// Why a pass by the limit of a normal population is no pass where the sample does not look normal, and how many more runs would make it
    /// one; none where its own ordered values pass without any family.
    #[allow(clippy::type_complexity)]
    fn doubted_normal(
        &self,
        bound: &Bound,
        band: &Band,
    ) -> Option<(String, Result<(u64, String), String>)> {
        let doubted = self.not_normal(bound)?;
        let pressures = self.sample.fracture_pressures();
        let asked = (self.coverage, self.confidence);
        match without_distribution(&pressures, Side::AtMost, asked) {
            Ok(free) if free < self.limit - band.width => None,
            Ok(free) => Some((
                format!("{doubted}, and the limit without a distribution is {free:.1} kPa"),
                Err(format!("{doubted}: more runs like these do not mend that")),
            )),
            Err(more) => Some((
                format!("{doubted}, and of so few values there is no limit without a distribution"),
                more,
            )),
        }
    }

    /// Why a pass by the limit is no pass.
    fn doubt(&self, held: &[f64], bound: &Bound) -> Option<String> {
        if !held.is_empty() {
            return Some(format!(
                "{} held to the limit ({}), which the model does not expect",
                runs(held.len()),
                pressures(held)
            ));
        }
        if bound.few {
            return Some(format!(
                "fewer than {FEW_FAILURES} fractures, or too few to simulate others like them, make a Weibull limit too narrow"
            ));
        }
        // A fracture without a pressure happened somewhere up to the highest pressure of its run.
        let unseen = &self.sample.fractures_without_pressure;
        let unknown = unseen
            .iter()
            .filter(|run| run.highest_pressure.value.is_none_or(|p| p >= self.limit))
            .chain(&self.sample.unbroken_without_pressure);
        let unknown: Vec<&str> = unknown.map(|run| run.run_id.as_str()).collect();
        (!unknown.is_empty()).then(|| {
            format!(
                "runs without a known pressure may have held to the limit ({})",
                names(unknown)
            )
        })
    }

    /// Without a limit of the quantile: the share of runs that held to the limit can still be too large.
    fn by_counting(&self, held: &[f64], why: &str) -> Judgement {
        let n = self.sample.runs.len();
        let allowed = (1.0 - self.coverage) * n as f64;
        if held.len() as f64 > allowed * (1.0 + ROUNDING) {
            let seen = format!(
                "{} of {n} runs held to {} or beyond ({}), more than the share {} allowed",
                held.len(),
                self.limit_written,
                pressures(held),
                percent(1.0 - self.coverage)
            );
            let lower = binomial_lower(held.len() as u64, n as u64, self.confidence).unwrap_or(0.0);
            let excluded = lower > 1.0 - self.coverage;
            let limit = format!("{lower:.4} of that share");
            let to_fail = runs_to_fail_share(held.len(), n, 1.0 - self.coverage, self.confidence);
            return wrong_side(&seen, ("lower", &limit, excluded), n, to_fail);
        }
        Judgement::undecided(format!("no upper limit of the fracture pressure: {why}"))
    }
}

/// Pressures in kPa, the first few spelt out.
fn pressures(values: &[f64]) -> String {
    let texts: Vec<String> = values.iter().map(|v| format!("{v:.1}")).collect();
    format!("{} kPa", names(texts.iter().map(String::as_str)))
}
