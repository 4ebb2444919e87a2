//! The frames fracture below a pressure.

use super::share::ROUNDING;
use super::tolerance::more_for_tolerance;
use super::{Asked, CONFIDENCE, Judgement, Key, Kind, Rule};
use crate::judge::decision::Band;
use crate::judge::sample::Sample;
use crate::judge::strength::FEWEST_FOR_TOLERANCE;
use crate::judge::words::{names, percent, runs};
use crate::recording::{EventKind, Interval, RunResult, VerdictLimit};
use crate::stats::{
    FEW_FAILURES, StatsError, describe, normal_quantile, tolerance_one_sided, weibull_fit,
};
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

/// At least the part `coverage` of the frames fractures below `limit_<unit>`.
///
/// Where all runs fractured: one-sided upper normal tolerance limit. Where some did not: upper likelihood-ratio limit of the Weibull
/// quantile, with those runs right-censored. Either pass is withheld where a run of the sample itself held to the limit.
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
        "normal tolerance limit: ISO 16269-6; with runs that did not fracture: likelihood-ratio limit of a Weibull quantile (Meeker & Escobar 1998, ch. 8)"
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
                    upper: Some(bound.upper),
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
        let mut fractures = run.events.iter().filter(|e| e.kind == EventKind::Fracture);
        Some((
            *run,
            fractures.find(|e| e.pressure.value.is_some())?.pressure.u,
        ))
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

/// Estimate and upper limit of the quantile, kPa.
struct Bound {
    estimate: f64,
    upper: f64,
    how: &'static str,
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
        let seen = format!(
            "{} of {} fractured; the {} quantile is {:.1} kPa, its upper limit {:.1} kPa at {} confidence ({}), limit {}",
            self.sample.fractured(),
            self.sample.runs.len(),
            percent(self.coverage),
            bound.estimate,
            bound.upper,
            percent(self.confidence),
            bound.how,
            asked.written(LIMIT.name)
        );
        if bound.estimate >= self.limit {
            return Judgement::fail(seen);
        }
        if let Some(lacks) = &band.lacks {
            return Judgement::undecided(format!("{seen}; {lacks}")).more(Err(lacks.clone()));
        }
        if bound.upper >= self.limit - band.width {
            return Judgement::undecided(format!("{seen}; too few runs for this scatter"))
                .more(self.more(bound, band));
        }
        match self.doubt(held, bound) {
            Some(doubt) => Judgement::undecided(format!("{seen}; not passed, because {doubt}"))
                .more(Err(format!("further runs do not settle that {doubt}"))),
            None => Judgement::pass(seen),
        }
    }

    /// Further runs at which the present mean and scatter would do, where there is no censoring.
    fn more(&self, bound: &Bound, band: &Band) -> Result<(u64, String), String> {
        let (mean, sd) = bound.normal.ok_or(
            "not known where runs did not fracture: the likelihood-ratio limit has no simple plan",
        )?;
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
            own.strengths.iter().any(|o| o.value >= self.limit)
        })
        .collect()
    }

    /// Pressures of the runs known to have held to the limit, kPa.
    fn held(&self) -> Vec<f64> {
        let all = self.sample.strengths.iter().map(|o| o.value);
        all.filter(|v| *v >= self.limit).collect()
    }

    fn bound(&self) -> Result<Bound, String> {
        if self.sample.runs.len() > self.sample.fractured() {
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
        let k = tolerance_one_sided(d.n as u64, self.coverage, self.confidence)
            .map_err(|error| error.to_string())?;
        Ok(Bound {
            estimate: d.mean + normal_quantile(self.coverage) * sd,
            upper: d.mean + k * sd,
            how: "one-sided normal tolerance limit",
            few: false,
            normal: Some((d.mean, sd)),
        })
    }

    fn weibull(&self) -> Result<Bound, StatsError> {
        let fit = weibull_fit(&self.sample.strengths)?;
        // The upper end of a two-sided interval of confidence 2C - 1 is the one-sided limit of confidence C.
        let two_sided = 2.0 * self.confidence - 1.0;
        Ok(Bound {
            estimate: fit.quantile(self.coverage)?,
            upper: fit.quantile_profile(self.coverage, two_sided)?.upper,
            how: "Weibull, runs without fracture right-censored, likelihood-ratio limit",
            few: fit.failures < FEW_FAILURES,
            normal: None,
        })
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
                "fewer than {FEW_FAILURES} fractures make a Weibull limit too narrow"
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
            return Judgement::fail(format!(
                "{} of {n} runs held to {} or beyond ({}), more than the share {} allowed",
                held.len(),
                self.limit_written,
                pressures(held),
                percent(1.0 - self.coverage)
            ));
        }
        Judgement::undecided(format!("no upper limit of the fracture pressure: {why}"))
    }
}

/// Pressures in kPa, the first few spelt out.
fn pressures(values: &[f64]) -> String {
    let texts: Vec<String> = values.iter().map(|v| format!("{v:.1}")).collect();
    format!("{} kPa", names(texts.iter().map(String::as_str)))
}
