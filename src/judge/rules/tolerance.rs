//! Enough of the population lies on the good side of a limit.

use super::{Asked, CONFIDENCE, Judgement, Key, Kind, LIMIT, QUANTITY, Rule, wrong_side};
use crate::judge::decision::{Band, amount, digits};
use crate::judge::limit::Side;
use crate::judge::quantity::Numbers;
use crate::judge::sample::Sample;
use crate::judge::strength::FEWEST_FOR_TOLERANCE;
use crate::judge::words::{percent, probability, runs};
use crate::recording::Interval;
use crate::stats::{
    NormalScale, Sides, binomial_upper, describe, normal_quantile, order_limits, order_sample_size,
    shapiro_wilk, tolerance_fails_at, tolerance_limits, tolerance_one_sided, tolerance_runs_at,
};

/// Normality is doubted below this probability of the Shapiro-Wilk test: the usual level of tests, common practice, no source.
pub(super) const NORMALITY_DOUBTED_P: f64 = 0.05;

const COVERAGE: Key = Key {
    name: "coverage",
    kind: Kind::Share,
    meaning: "share of all such frames that must lie on the good side",
    needed: true,
};
const SCALE: Key = Key {
    name: "scale",
    kind: Kind::Word(&[VALUES, LOG]),
    meaning: "scale on which the values are taken as normal: values (where the key is missing) or log",
    needed: false,
};
const VALUES: &str = "values";
const LOG: &str = "log";

/// At least the part `coverage` of the population lies on the good side, by the exact one-sided tolerance limit of a normal population. Where
/// the sample does not look normal, a pass also needs the limit that assumes no distribution.
pub struct Tolerance;

impl Rule for Tolerance {
    fn name(&self) -> &'static str {
        "tolerance"
    }

    fn asks(&self) -> &'static str {
        "`quantity` of at least `coverage` of all such frames is `limit`, with `confidence` confidence"
    }

    fn keys(&self) -> &'static [Key] {
        &[QUANTITY, LIMIT, COVERAGE, CONFIDENCE, SCALE]
    }

    fn source(&self) -> &'static str {
        "one-sided normal tolerance limit: ISO 16269-6; without a distribution: Wilks 1941, Ann. Math. Stat. 12:91; normality: Royston 1995, Appl. Stat. 44:547"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let (Some(target), Some(limit)) = (&asked.target, &asked.limit) else {
            return Judgement::undecided("the criterion names no quantity with a limit");
        };
        let numbers = match Numbers::of(sample, target) {
            Ok(numbers) => numbers,
            Err(why) => return Judgement::undecided(why.clone()).more(Err(why)),
        };
        let n = numbers.values.len();
        let told = limit.told(&numbers.unit);
        if n < FEWEST_FOR_TOLERANCE {
            let why = format!(
                "{}: at least {FEWEST_FOR_TOLERANCE} values needed, {n} given by {}",
                target.path(),
                runs(sample.runs.len())
            );
            return Judgement::undecided(why)
                .found(None, Some(told), n)
                .more(Err("not known without a scatter".to_owned()));
        }
        let value = match limit.in_unit(&numbers.unit) {
            Ok(value) => value,
            Err(why) => return Judgement::undecided(why.clone()).more(Err(why)),
        };
        let band = asked.decision.band(&numbers.us(), &numbers.unit);
        let question = Question {
            path: target.path(),
            values: numbers.bare(),
            unit: numbers.unit.clone(),
            side: limit.side,
            limit: value,
            written: limit.written.clone(),
            log: asked
                .texts
                .get(SCALE.name)
                .is_some_and(|scale| scale == LOG),
            coverage: asked.value(COVERAGE.name),
            confidence: asked.value(CONFIDENCE.name),
            without: sample.runs.len() - n,
        };
        let (judgement, estimate) = match question.judged(&band) {
            Ok((judgement, estimate)) => (judgement, Some(estimate)),
            Err(why) => {
                let all = format!("{}: no tolerance limit: {why}", question.path);
                (Judgement::undecided(all).more(Err(why)), None)
            }
        };
        judgement
            .found(estimate, Some(told), n)
            .by(band.words)
            .against(&numbers.beyond(limit.side, value))
    }
}

/// Whether a sample looks normal, in words: `Err` where that is doubted.
pub(super) fn normality(values: &[f64]) -> Result<String, String> {
    let test = match shapiro_wilk(values) {
        Ok(test) => test,
        Err(error) => return Ok(format!("normality not tested: {error}")),
    };
    let p = probability(test.p);
    let told = format!("Shapiro-Wilk W = {:.4}, p = {p}", test.w);
    if test.p >= NORMALITY_DOUBTED_P {
        Ok(told)
    } else {
        Err(format!("normality is doubted ({told})"))
    }
}

/// The limit of a sample by its own ordered values, whatever its distribution; `Err` says how many further runs it takes to have one.
pub(super) fn without_distribution(
    values: &[f64],
    side: Side,
    (coverage, confidence): (f64, f64),
) -> Result<f64, Result<(u64, String), String>> {
    let limits = order_limits(values, coverage, confidence).ok();
    let limit = limits.and_then(|limits| match side {
        Side::AtMost => limits.upper,
        Side::AtLeast | Side::Is => limits.lower,
    });
    limit.ok_or_else(|| {
        let needed = order_sample_size(coverage, confidence, 1).map_err(|error| error.to_string())?;
        let more = needed.saturating_sub(values.len() as u64);
        Ok((
            more,
            format!("a limit without a distribution needs {needed} values, and passes if all lie on the good side"),
        ))
    })
}

struct Question {
    path: String,
    values: Vec<f64>,
    unit: String,
    side: Side,
    limit: f64,
    written: String,
    log: bool,
    coverage: f64,
    confidence: f64,
    without: usize,
}

impl Question {
    fn judged(&self, band: &Band) -> Result<(Judgement, Interval), String> {
        let scale = if self.log {
            NormalScale::Logarithms
        } else {
            NormalScale::Values
        };
        let words = |error: crate::stats::StatsError| error.to_string();
        let limits =
            tolerance_limits(&self.values, self.coverage, self.confidence, scale).map_err(words)?;
        let on_scale = |x: f64| if self.log { x.ln() } else { x };
        let back = |y: f64| if self.log { y.exp() } else { y };
        let scaled: Vec<f64> = self.values.iter().map(|v| on_scale(*v)).collect();
        let d = describe(&scaled).map_err(words)?;
        let sd =
            d.sd.filter(|sd| *sd > 0.0)
                .ok_or("the values do not differ, so that their scatter is not known")?;
        let sign = self.side.sign();
        let quantile = back(d.mean - sign * normal_quantile(self.coverage) * sd);
        let (bound, bound_word) = if self.side == Side::AtMost {
            (limits.upper, "upper")
        } else {
            (limits.lower, "lower")
        };
        let seen = self.seen(bound, bound_word, limits.k_one_sided);
        let estimate = Interval {
            value: Some(quantile),
            lower: (bound_word == "lower").then_some(bound),
            upper: (bound_word == "upper").then_some(bound),
            confidence: self.confidence,
            unit: self.unit.clone(),
            method: format!(
                "value that {} lie on the good side of; one-sided normal tolerance limit{}",
                percent(self.coverage),
                if self.log { " of the logarithms" } else { "" }
            ),
        };
        let inwards = self.limit + sign * band.width;
        let good = |x: f64, limit: f64| sign * (x - limit) >= 0.0;
        if !good(quantile, self.limit) {
            // The same quantile, with the same confidence on its other side.
            let k = tolerance_one_sided(d.n as u64, self.coverage, 1.0 - self.confidence);
            let limit = back(d.mean - sign * k.map_err(words)? * sd);
            let other = if bound_word == "upper" {
                "lower"
            } else {
                "upper"
            };
            let seen = format!(
                "{seen}; {} are estimated to lie within {}",
                percent(self.coverage),
                amount(quantile, &self.unit)
            );
            let limit_words = amount(limit, &self.unit);
            let judgement = if let Err(doubted) = normality(&scaled) {
                self.wrong_side_by_counting(&seen, &doubted)
            } else {
                let margin = sign * (d.mean - on_scale(self.limit)) / sd;
                let to_fail = runs_to_fail(margin, (self.coverage, self.confidence));
                let beyond = !good(limit, self.limit);
                wrong_side(&seen, (other, &limit_words, beyond), d.n, to_fail)
            };
            return Ok((judgement, estimate));
        }
        if let Some(lacks) = &band.lacks {
            let judgement = Judgement::undecided(format!("{seen}; {lacks}"));
            return Ok((judgement.more(Err(lacks.clone())), estimate));
        }
        if !good(bound, inwards) {
            let margin = sign * (d.mean - on_scale(inwards)) / sd;
            let more = more_for_tolerance(margin, (self.coverage, self.confidence), d.n);
            let judgement = Judgement::undecided(format!("{seen}; too few runs for this scatter"));
            return Ok((judgement.more(more), estimate));
        }
        Ok((self.if_normal(&seen, &scaled, inwards), estimate))
    }

    /// A pass by the normal limit; withheld where the sample does not look normal and its own ordered values do not pass either.
    fn if_normal(&self, seen: &str, scaled: &[f64], inwards: f64) -> Judgement {
        let doubted = match normality(scaled) {
            Ok(told) => return Judgement::pass(format!("{seen}; {told}")),
            Err(doubted) => doubted,
        };
        let asked = (self.coverage, self.confidence);
        match without_distribution(&self.values, self.side, asked) {
            Ok(free) if self.side.sign() * (free - inwards) >= 0.0 => Judgement::pass(format!(
                "{seen}; {doubted}, but the limit without a distribution, {}, passes too",
                amount(free, &self.unit)
            )),
            Ok(free) => Judgement::undecided(format!(
                "{seen}; not passed, because {doubted}, and the limit without a distribution, {}, does not pass: another scale, or `each_within`",
                amount(free, &self.unit)
            ))
            .more(Err(format!("{doubted}: more runs like these do not mend that"))),
            Err(more) => Judgement::undecided(format!(
                "{seen}; not passed, because {doubted}, and of so few values there is no limit without a distribution"
            ))
            .more(more),
        }
    }

    /// The normal quantile lies on the wrong side, but the values do not look normal: then the count of values beyond the limit decides.
    fn wrong_side_by_counting(&self, seen: &str, doubted: &str) -> Judgement {
        let sign = self.side.sign();
        let n = self.values.len();
        let good = self
            .values
            .iter()
            .filter(|v| sign * (**v - self.limit) >= 0.0);
        let good = good.count();
        let most = binomial_upper(good as u64, n as u64, self.confidence);
        let counted = format!("{seen}; {doubted}, and {good} of {n} values lie on the good side");
        match most {
            Ok(most) if most < self.coverage => Judgement::fail(format!(
                "{counted}: at most {} of the population do, at the same confidence",
                percent(most)
            )),
            _ => Judgement::undecided(format!(
                "{counted}, which does not exclude that {} of the population do: another scale, or `each_within`",
                percent(self.coverage)
            ))
            .more(Err(format!("{doubted}: the limit of a normal population says nothing here"))),
        }
    }

    fn seen(&self, bound: f64, bound_word: &str, k: f64) -> String {
        let without = match self.without {
            0 => String::new(),
            missing => format!(", {} without a value left out", runs(missing)),
        };
        format!(
            "{} of {}{without}: {bound_word} limit of {} of the population {} at {} confidence (normal{}, k = {}), asked {} {}",
            self.path,
            runs(self.values.len()),
            percent(self.coverage),
            amount(bound, &self.unit),
            percent(self.confidence),
            if self.log { " logarithms" } else { "" },
            digits(k),
            self.side.word(),
            self.written
        )
    }
}

/// Runs at which it would be shown that too few meet the criterion if mean and scatter stayed as they are; `margin` in standard deviations.
pub(super) fn runs_to_fail(margin: f64, (coverage, confidence): (f64, f64)) -> Result<u64, String> {
    tolerance_fails_at(margin, coverage, confidence).map_err(|error| error.to_string())
}

/// Further runs at which a tolerance limit would pass if mean and scatter stayed as they are; `margin` in standard deviations.
pub(super) fn more_for_tolerance(
    margin: f64,
    (coverage, confidence): (f64, f64),
    n: usize,
) -> Result<(u64, String), String> {
    let needed = tolerance_runs_at(margin, coverage, confidence, Sides::One).map_err(|error| {
        format!("no number of runs with this mean and scatter would do: {error}")
    })?;
    Ok((
        needed.saturating_sub(n as u64),
        format!(
            "{needed} runs would do if mean and scatter stayed as they are: an even chance, not a promise"
        ),
    ))
}
