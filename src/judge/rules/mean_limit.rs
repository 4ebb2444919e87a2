//! A mean that must lie on the good side of a value: its one-sided limit by Student's t.

use super::{Asked, Judgement, wrong_side};
use crate::judge::decision::Band;
use crate::judge::limit::Side;
use crate::judge::quantity::Numbers;
use crate::judge::words::runs;
use crate::recording::{Interval, VerdictLimit};
use crate::stats::{describe, student_quantile};

/// Largest number of runs that is named.
const MOST_RUNS: usize = 10_000;

/// A quantity of the runs of a group.
pub(super) struct Measured<'m, 'a> {
    /// What it is called in reasons.
    pub name: &'m str,
    /// Values of the runs that have one.
    pub numbers: Numbers<'a>,
    /// Runs that count.
    pub n: usize,
    /// How a value in a unit is printed.
    pub print: fn(f64, &str) -> String,
}

/// What a mean is set against, in the unit of the values.
pub(super) struct AskedFor {
    /// Good side.
    pub side: Side,
    /// Value.
    pub value: f64,
    /// As it was written.
    pub written: String,
}

/// The value of a key as a lower limit.
pub(super) fn asked_for(asked: &Asked, key: &str) -> AskedFor {
    AskedFor {
        side: Side::AtLeast,
        value: asked.value(key),
        written: asked.written(key),
    }
}

/// Judges whether the mean lies on the good side. Its limit knows the scatter between runs, not an error they all share; a guard band does.
pub(super) fn mean_limit(
    asked: &Asked,
    wanted: &AskedFor,
    measured: &Measured<'_, '_>,
) -> Judgement {
    let unit = measured.numbers.unit.as_str();
    let (confidence, _) = asked.confidence();
    let band = asked.decision.band(&measured.numbers.us(), unit);
    let limit = VerdictLimit {
        side: wanted.side.word().to_owned(),
        value: Some(wanted.value),
        unit: unit.to_owned(),
        written: wanted.written.clone(),
    };
    let (judgement, estimate) = judged(asked, wanted, measured, &band);
    let estimate = estimate.map(|(mean, bound)| Interval {
        value: Some(mean),
        lower: bound.filter(|_| wanted.side != Side::AtMost),
        upper: bound.filter(|_| wanted.side == Side::AtMost),
        confidence,
        unit: unit.to_owned(),
        method: "mean of the runs that have it; one-sided limit by Student's t".to_owned(),
    });
    judgement
        .found(estimate, Some(limit), measured.numbers.values.len())
        .by(band.words)
        .against(&measured.numbers.beyond(wanted.side, wanted.value))
}

fn judged(
    asked: &Asked,
    wanted: &AskedFor,
    measured: &Measured<'_, '_>,
    band: &Band,
) -> (Judgement, Option<(f64, Option<f64>)>) {
    let Measured {
        name,
        numbers,
        n,
        print,
    } = measured;
    let (confidence, level) = asked.confidence();
    let print = |x: f64| print(x, &numbers.unit);
    let values = numbers.bare();
    let d = match describe(&values) {
        Ok(d) => d,
        Err(error) => {
            let why = format!(
                "{name}: {} of {n} runs have a value ({error})",
                values.len()
            );
            let none = "not known without values".to_owned();
            return (Judgement::undecided(why).more(Err(none)), None);
        }
    };
    let without = match n - d.n {
        0 => String::new(),
        missing => format!(", {} without a value left out", runs(missing)),
    };
    let AskedFor {
        side,
        value,
        written,
    } = wanted;
    let (sign, wrong, bound_word) = match side {
        Side::AtMost => (-1.0, "above", "upper"),
        Side::AtLeast | Side::Is => (1.0, "below", "lower"),
    };
    let seen = format!("mean {name} {} of {}{without}", print(d.mean), runs(d.n));
    // False also where a limit was never given.
    let good = sign * (d.mean - value) >= 0.0;
    let scatter = d.standard_error.zip(d.sd).filter(|(error, _)| *error > 0.0);
    let Some((error, sd)) = scatter else {
        let why = if d.n < 2 {
            "a single value has no limit; at least 2 are needed"
        } else {
            "the values do not differ, so that their scatter is not known"
        };
        let not = if good { "not " } else { "" };
        let judgement = Judgement::undecided(format!("{seen}: {not}{wrong} {written}, but {why}"));
        return (judgement.more(Err(why.to_owned())), Some((d.mean, None)));
    };
    let t = match student_quantile(confidence, d.n as f64 - 1.0) {
        Ok(t) => t,
        Err(error) => {
            let judgement = Judgement::undecided(format!("{seen}: no limit: {error}"));
            return (judgement.more(Err(error.to_string())), Some((d.mean, None)));
        }
    };
    if !good {
        let limit = d.mean + sign * t * error;
        let seen = format!("{seen}: {wrong} {written}");
        let other = if bound_word == "upper" {
            "lower"
        } else {
            "upper"
        };
        let beyond = sign * (limit - value) < 0.0;
        let to_fail = runs_at((d.mean - value).abs(), sd, confidence, d.n);
        let found = (other, print(limit));
        return (
            wrong_side(&seen, (found.0, &found.1, beyond), d.n, to_fail),
            Some((d.mean, None)),
        );
    }
    let bound = d.mean - sign * t * error;
    let seen = format!(
        "{seen}, {bound_word} limit {} at {level} confidence (Student's t), asked {written}",
        print(bound)
    );
    let judgement = if let Some(lacks) = &band.lacks {
        Judgement::undecided(format!("{seen}; {lacks}")).more(Err(lacks.clone()))
    } else if sign * (bound - value) >= band.width {
        Judgement::pass(seen)
    } else {
        let margin = sign * (d.mean - value) - band.width;
        Judgement::undecided(format!("{seen}; too few runs for this scatter"))
            .more(more(margin, sd, confidence, d.n))
    };
    (judgement, Some((d.mean, Some(bound))))
}

/// Further runs at which the limit would lie on the good side if mean and scatter stayed as they are.
fn more(margin: f64, sd: f64, confidence: f64, n: usize) -> Result<(u64, String), String> {
    let runs = runs_at(margin, sd, confidence, n)?;
    Ok((
        runs.saturating_sub(n as u64),
        format!(
            "{runs} runs would do if mean and scatter stayed as they are: an even chance, not a promise"
        ),
    ))
}

/// The smallest number of runs from `n` on with `t(confidence; n - 1) sd / √n <= margin`.
fn runs_at(margin: f64, sd: f64, confidence: f64, n: usize) -> Result<u64, String> {
    if margin <= 0.0 {
        return Err(
            "no number of runs with this mean would do: it stands on the limit or in the guard band"
                .to_owned(),
        );
    }
    let enough = |n: usize| {
        let t = student_quantile(confidence, n as f64 - 1.0).unwrap_or(f64::INFINITY);
        t * sd / (n as f64).sqrt() <= margin
    };
    let (mut few, mut many) = (n, n.max(2));
    while !enough(many) {
        few = many;
        many *= 2;
        if many > MOST_RUNS {
            return Err(format!(
                "more than {MOST_RUNS} runs with this mean and scatter"
            ));
        }
    }
    while many - few > 1 {
        let middle = few + (many - few) / 2;
        if enough(middle) {
            many = middle;
        } else {
            few = middle;
        }
    }
    Ok(many as u64)
}
