//! Models that several of these files fit.

use hooptrace::fit::Model;

use super::csv;

pub struct Formula {
    pub names: &'static [&'static str],
    pub value: fn(&[f64], f64) -> f64,
}

impl Model for Formula {
    fn names(&self) -> &[&str] {
        self.names
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        (self.value)(p, x)
    }
}

pub const MICHAELIS_MENTEN: Formula = Formula {
    names: &["Vm", "K"],
    value: |p, x| p[0] * x / (p[1] + x),
};

pub const BOD: Formula = Formula {
    names: &["asymptote", "ln_rate"],
    // Without cancellation where the rate is small.
    value: |p, x| -p[0] * (-p[1].exp() * x).exp_m1(),
};

/// Stack loss, linear in three predictors; `x` is the number of the row.
pub struct Stackloss<'a>(pub &'a [Vec<f64>]);

impl Model for Stackloss<'_> {
    fn names(&self) -> &[&str] {
        &["constant", "air", "water", "acid"]
    }
    fn value(&self, p: &[f64], x: f64) -> f64 {
        let row = &self.0[x as usize];
        p[0] + p[1] * row[1] + p[2] * row[2] + p[3] * row[3]
    }
}

/// Rows, their numbers and what was observed.
pub fn stackloss() -> (Vec<Vec<f64>>, Vec<f64>, Vec<f64>) {
    let rows = csv("curves", "stackloss.csv");
    let x = (0..rows.len()).map(|i| i as f64).collect();
    let y = rows.iter().map(|r| r[0]).collect();
    (rows, x, y)
}
