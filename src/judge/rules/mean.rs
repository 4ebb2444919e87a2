//! The mean of any quantity lies on the good side of a limit.

use super::mean_limit::{AskedFor, Measured, mean_limit};
use super::{Asked, CONFIDENCE, Judgement, Key, LIMIT, QUANTITY, Rule};
use crate::judge::decision::amount;
use crate::judge::quantity::Numbers;
use crate::judge::sample::Sample;

/// The mean of a quantity is at least, or at most, the limit.
pub struct Mean;

impl Rule for Mean {
    fn name(&self) -> &'static str {
        "mean"
    }

    fn asks(&self) -> &'static str {
        "the mean of `quantity` is `limit`, with `confidence` confidence"
    }

    fn keys(&self) -> &'static [Key] {
        &[QUANTITY, LIMIT, CONFIDENCE]
    }

    fn source(&self) -> &'static str {
        "one-sided limit of a mean: Student 1908, Biometrika 6:1; values independent and nearly normal"
    }

    fn judge(&self, asked: &Asked, sample: &Sample<'_>) -> Judgement {
        let (Some(target), Some(limit)) = (&asked.target, &asked.limit) else {
            return Judgement::undecided("the criterion names no quantity with a limit");
        };
        let path = target.path();
        let numbers = match Numbers::of(sample, target) {
            Ok(numbers) => numbers,
            Err(why) => return Judgement::undecided(why.clone()).more(Err(why)),
        };
        let value = if numbers.values.is_empty() {
            f64::NAN
        } else {
            match limit.in_unit(&numbers.unit) {
                Ok(value) => value,
                Err(why) => return Judgement::undecided(why.clone()).more(Err(why)),
            }
        };
        let wanted = AskedFor {
            side: limit.side,
            value,
            written: limit.written.clone(),
        };
        let measured = Measured {
            name: &path,
            numbers,
            n: sample.runs.len(),
            print: amount,
        };
        let mut judgement = mean_limit(asked, &wanted, &measured);
        judgement.limit = Some(limit.told(&measured.numbers.unit));
        judgement
    }
}
