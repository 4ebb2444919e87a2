//! A mean that must reach a value: its one-sided lower limit by Student's t.

use super::{Asked, Judgement};
use crate::judge::words::runs;
use crate::stats::{describe, student_quantile};

/// A quantity of the runs of an arm.
pub(super) struct Measured<'m> {
    /// What it is called in reasons.
    pub name: &'m str,
    /// Values of the runs that have one, in bench units.
    pub values: Vec<f64>,
    /// Runs that count.
    pub n: usize,
    /// How a value is printed.
    pub print: fn(f64) -> String,
}

/// Judges whether the mean reaches the value of `key`. The limit knows the scatter between runs, not an error they all share.
pub(super) fn mean_at_least(asked: &Asked, key: &str, measured: &Measured<'_>) -> Judgement {
    let least = asked.value(key);
    let (confidence, level) = asked.confidence();
    let Measured {
        name,
        values,
        n,
        print,
    } = measured;
    let d = match describe(values) {
        Ok(d) => d,
        Err(error) => {
            return Judgement::undecided(format!(
                "{name}: {} of {n} runs have a value ({error})",
                values.len()
            ));
        }
    };
    let without = match n - d.n {
        0 => String::new(),
        missing => format!(", {} without a value left out", runs(missing)),
    };
    let wanted = asked.written(key);
    let mean = print(d.mean);
    let seen = format!("mean {name} {mean} of {}{without}", runs(d.n));
    if d.mean < least {
        return Judgement::fail(format!("{seen}: below {wanted}"));
    }
    let Some(error) = d.standard_error else {
        return Judgement::undecided(format!(
            "{seen}: not below {wanted}, but a single value has no limit; at least 2 are needed"
        ));
    };
    if error <= 0.0 {
        return Judgement::undecided(format!(
            "{seen}: not below {wanted}, but the values do not differ, so that their scatter is not known"
        ));
    }
    match student_quantile(confidence, d.n as f64 - 1.0) {
        Ok(t) => {
            let lower = d.mean - t * error;
            let seen = format!(
                "{seen}, lower limit {} at {level} confidence (Student's t), asked {wanted}",
                print(lower)
            );
            if lower >= least {
                Judgement::pass(seen)
            } else {
                Judgement::undecided(format!("{seen}; too few runs for this scatter"))
            }
        }
        Err(error) => Judgement::undecided(format!("{seen}: no limit: {error}")),
    }
}
