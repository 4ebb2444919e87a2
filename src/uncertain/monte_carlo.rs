//! Uncertainty by trials: what a formula makes of draws from its inputs' distributions (JCGM 101:2008), adaptive by its 7.9.

use super::draw::Draws;
use super::{Budget, Component, Distribution, widened};
use serde::Serialize;

/// Trials of a block: at least 100/(1 − p) and 10⁴ (JCGM 101, 7.9.4).
const BLOCK: usize = 10_000;
/// Share of the trials inside an interval.
const INSIDE: f64 = 0.95;
/// Significant digits that are to settle.
const DIGITS: i32 = 2;
/// Fewest trials: two blocks, so that they can be compared.
pub const LEAST_TRIALS: usize = 2 * BLOCK;
/// Most trials of a quantity: what it keeps of them is 80 MB.
pub const MOST_TRIALS: usize = 10_000_000;
/// Of so many of the trials at least the formula must be finite: fewer, and what is left is no distribution of the quantity.
const FINITE_SHARE: f64 = 0.99;
/// Attempts at a draw of Student's t before its middle is taken: never met, the loop ends by it.
const ATTEMPTS: usize = 64;

/// How many trials, and from which stream of random numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Trials {
    /// Most trials; fewer where the result settles before. From [`LEAST_TRIALS`] up to [`MOST_TRIALS`].
    pub most: usize,
    /// Seed.
    pub seed: u64,
}

/// An input: its value, and what makes it uncertain.
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Value.
    pub value: f64,
    /// Components in the unit of the value by their sensitivities; with degrees of freedom they are drawn from Student's t.
    pub budget: Budget,
}

impl Input {
    /// A value with a normal standard uncertainty.
    pub fn normal(value: f64, u: f64) -> Self {
        Self {
            value,
            budget: Budget::new().with(Component::normal("stated", u)),
        }
    }
}

/// An error that several inputs have in common: normal, with its factor in each input.
#[derive(Debug, Clone, PartialEq)]
pub struct Common {
    /// Standard uncertainty.
    pub u: f64,
    /// Factor in each input, in their order.
    pub factors: Vec<f64>,
}

/// What the trials say of a quantity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MonteCarlo {
    /// Mean, in the unit of the quantity.
    pub mean: f64,
    /// Standard deviation, the standard uncertainty by trials.
    pub sd: f64,
    /// 95 % interval with as much below as above it.
    pub symmetric: (f64, f64),
    /// The shortest 95 % interval.
    pub shortest: (f64, f64),
    /// Trials made.
    pub trials: usize,
    /// Whether mean, standard deviation and both ends settled to two digits of the standard deviation.
    pub settled: bool,
}

impl MonteCarlo {
    /// What values had by other means say, resamplings for instance: as many as there are, not watched for settling. `None` for fewer
    /// than two, or where one is not finite.
    pub fn of(mut values: Vec<f64>) -> Option<Self> {
        if values.len() < 2 || values.iter().any(|value| !value.is_finite()) {
            return None;
        }
        values.sort_by(f64::total_cmp);
        let (mean, sd) = moments(&values);
        Some(Self {
            mean,
            sd,
            symmetric: symmetric(&values)?,
            shortest: shortest(&values)?,
            trials: values.len(),
            settled: false,
        })
    }
}

/// Draws inputs and takes them through `f` until two digits of the result settle. `label` names the stream of random numbers, so that
/// quantities do not depend on each other. `None` where `f` is not finite in one trial of a hundred or more: such a quantity has no
/// standard deviation.
pub fn monte_carlo(
    f: &dyn Fn(&[f64]) -> f64,
    inputs: &[Input],
    common: &[Common],
    label: &str,
    trials: Trials,
) -> Option<MonteCarlo> {
    let one = |x: &[f64]| [f(x)];
    let [said] = trials_of(&one, [true], (inputs, common), label, trials);
    said
}

/// The same for several quantities that one model gives from the same draws, of inputs without anything in common: until two digits of each
/// that is `wanted` settle, but for those that are not finite in one trial of a hundred or more.
pub fn monte_carlo_of<const N: usize>(
    f: &dyn Fn(&[f64]) -> [f64; N],
    wanted: [bool; N],
    inputs: &[Input],
    label: &str,
    trials: Trials,
) -> [Option<MonteCarlo>; N] {
    trials_of(f, wanted, (inputs, &[]), label, trials)
}

fn trials_of<const N: usize>(
    f: &dyn Fn(&[f64]) -> [f64; N],
    wanted: [bool; N],
    (inputs, common): (&[Input], &[Common]),
    label: &str,
    trials: Trials,
) -> [Option<MonteCarlo>; N] {
    let most = trials.most.clamp(LEAST_TRIALS, MOST_TRIALS);
    let mut draws = Draws::new(trials.seed, label);
    let mut outputs = wanted.map(|wanted| Output {
        refused: !wanted,
        ..Output::default()
    });
    let mut x = vec![0.0; inputs.len()];
    let mut made = 0;
    while made + BLOCK <= most && outputs.iter().any(|output| !output.done()) {
        for output in outputs.iter_mut().filter(|output| !output.done()) {
            output.from = output.values.len();
        }
        for _ in 0..BLOCK {
            draw(inputs, common, &mut draws, &mut x);
            for (output, value) in outputs.iter_mut().zip(f(&x)) {
                if value.is_finite() && !output.done() {
                    output.values.push(value);
                }
            }
        }
        made += BLOCK;
        for output in outputs.iter_mut().filter(|output| !output.done()) {
            output.close(made);
        }
    }
    outputs.map(Output::said)
}

/// Draws every input once.
fn draw(inputs: &[Input], common: &[Common], draws: &mut Draws, x: &mut [f64]) {
    for (slot, input) in x.iter_mut().zip(inputs) {
        let components = input.budget.components.iter();
        *slot = input.value + components.map(|c| error(c, draws)).sum::<f64>();
    }
    for shared in common {
        let error = shared.u * draws.normal();
        for (slot, factor) in x.iter_mut().zip(&shared.factors) {
            *slot += factor * error;
        }
    }
}

/// The trials of one quantity.
#[derive(Default)]
struct Output {
    /// Finite values.
    values: Vec<f64>,
    /// First value of the block being made.
    from: usize,
    /// Mean, standard deviation and ends of each block.
    blocks: Vec<[f64; 4]>,
    /// Trials made of it.
    made: usize,
    settled: bool,
    /// Too often not finite.
    refused: bool,
}

impl Output {
    fn done(&self) -> bool {
        self.settled || self.refused
    }

    /// Looks at a finished block.
    fn close(&mut self, made: usize) {
        self.made = made;
        self.refused |= (self.values.len() as f64) < FINITE_SHARE * made as f64;
        let mut block = self.values.get(self.from..).unwrap_or_default().to_vec();
        block.sort_by(f64::total_cmp);
        let (mean, sd) = moments(&block);
        match symmetric(&block) {
            Some((low, high)) if !self.refused => self.blocks.push([mean, sd, low, high]),
            _ => self.refused = true,
        }
        self.settled = self.blocks.len() > 1 && settles(&self.blocks, moments(&self.values).1);
    }

    fn said(mut self) -> Option<MonteCarlo> {
        if self.refused {
            return None;
        }
        let (mean, sd) = moments(&self.values);
        self.values.sort_by(f64::total_cmp);
        Some(MonteCarlo {
            mean,
            sd,
            symmetric: symmetric(&self.values)?,
            shortest: shortest(&self.values)?,
            trials: self.made,
            settled: self.settled,
        })
    }
}

/// A draw of a component's error in the unit of the result.
fn error(component: &Component, draws: &mut Draws) -> f64 {
    let half = match component.distribution {
        Distribution::Normal => {
            let scale = component.sensitivity * component.u;
            return match component.degrees_of_freedom {
                // Up to two degrees of freedom Student's t has no standard deviation to compare.
                Some(dof) if dof > 2.0 => scale * student(dof, draws),
                Some(dof) => scale * widened(dof) * draws.normal(),
                None => scale * draws.normal(),
            };
        }
        Distribution::Resolution => component.width / 2.0,
        Distribution::Rectangular => component.width,
        Distribution::Triangular => {
            let sum = draws.between(-0.5, 0.5) + draws.between(-0.5, 0.5);
            return component.sensitivity * component.width * sum;
        }
    };
    component.sensitivity * half * draws.between(-1.0, 1.0)
}

/// A draw of Student's t (Bailey 1994: polar method).
fn student(dof: f64, draws: &mut Draws) -> f64 {
    for _ in 0..ATTEMPTS {
        let (u, v) = (draws.between(-1.0, 1.0), draws.between(-1.0, 1.0));
        let w = u * u + v * v;
        if w > 0.0 && w < 1.0 {
            return u * (dof * (w.powf(-2.0 / dof) - 1.0) / w).sqrt();
        }
    }
    0.0
}

fn moments(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}

/// Whether twice the standard deviation of the averages of the blocks is below the tolerance: half of one in the last of two digits of the
/// standard uncertainty (JCGM 101, 7.9.2 and 7.9.4).
fn settles(blocks: &[[f64; 4]], u: f64) -> bool {
    if u <= 0.0 {
        return true;
    }
    let tolerance = 0.5 * 10_f64.powf(u.log10().floor() - f64::from(DIGITS - 1));
    let h = blocks.len() as f64;
    (0..4).all(|k| {
        let column: Vec<f64> = blocks.iter().filter_map(|b| b.get(k).copied()).collect();
        2.0 * moments(&column).1 / h.sqrt() < tolerance
    })
}

/// Places of an interval in sorted trials: how many it spans, and how many there are.
fn span(values: &[f64]) -> (usize, usize) {
    let n = values.len();
    (((INSIDE * n as f64) + 0.5) as usize, n)
}

/// The interval with as many trials below as above it (JCGM 101, 7.7.2).
fn symmetric(values: &[f64]) -> Option<(f64, f64)> {
    let (inside, n) = span(values);
    let from = (n - inside) / 2;
    Some((*values.get(from)?, *values.get(from + inside)?))
}

/// The shortest interval (JCGM 101, 7.7.4).
fn shortest(values: &[f64]) -> Option<(f64, f64)> {
    let (inside, _) = span(values);
    let ends = values.get(inside..)?;
    ends.iter()
        .zip(values)
        .map(|(high, low)| (*low, *high))
        .min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const TRIALS: Trials = Trials {
        most: 1_000_000,
        seed: 11,
    };

    fn near(value: f64, expected: f64, within: f64) {
        assert!(
            (value - expected).abs() <= within,
            "{value} against {expected}"
        );
    }

    /// JCGM 101:2008, 9.2.3 (from memory): the sum of four rectangular inputs of mean 0 and standard deviation 1 has u = 2.00 and the
    /// symmetric 95 % interval ± 3.88, where the normal one is ± 3.92; 9.2.4: with the fourth ten times as wide u = 10.1 and ± 17.0.
    #[test]
    fn sums_of_rectangles() {
        let input = |u: f64| Input {
            value: 0.0,
            budget: Budget::new().with(Component::rectangular("x", u * 3.0_f64.sqrt())),
        };
        let sum = |x: &[f64]| x.iter().sum();
        let alike = [input(1.0), input(1.0), input(1.0), input(1.0)];
        let said = monte_carlo(&sum, &alike, &[], "alike", TRIALS).unwrap();
        assert!(said.settled, "{said:?}");
        near(said.sd, 2.0, 0.02);
        // Two digits of u settle: to 0.05.
        near(said.symmetric.1, 3.88, 0.05);
        near(said.symmetric.0, -3.88, 0.05);
        let wide = [input(1.0), input(1.0), input(1.0), input(10.0)];
        let said = monte_carlo(&sum, &wide, &[], "wide", TRIALS).unwrap();
        near(said.sd, 10.1, 0.5);
        near(said.symmetric.1, 17.0, 0.5);
    }

    /// Effective orifice area of 300 mL/s (2 %), 10 mmHg (5 %), 1.05 g/mL (0.2 %), computed once with 2 million draws elsewhere: mean 1.8857,
    /// sd 0.0606, symmetric 1.771 to 2.009, shortest 1.768 to 2.005, each to 0.002 cm².
    #[test]
    fn orifice_area_by_trials() {
        let inputs = [
            Input::normal(300.0, 6.0),
            Input::normal(10.0, 0.5),
            Input::normal(1.05, 0.0021),
        ];
        let area = |x: &[f64]| x[0] / (51.6 * (x[1] / x[2]).sqrt());
        let said = monte_carlo(&area, &inputs, &[], "area", TRIALS).unwrap();
        near(said.mean, 1.8857, 0.002);
        near(said.sd, 0.0606, 0.002);
        near(said.symmetric.0, 1.771, 0.002);
        near(said.symmetric.1, 2.009, 0.002);
        near(said.shortest.0, 1.768, 0.0025);
        near(said.shortest.1, 2.005, 0.0025);
    }

    /// Student's t of 3 degrees has the variance 3 (dof / (dof − 2)) and the 97.5 % quantile 3.182 (any table); what is common to two inputs
    /// falls out of their difference.
    #[test]
    fn few_degrees_and_common_errors() {
        let t = Input {
            value: 0.0,
            budget: Budget::new().with(Component::normal("x", 1.0).dof(3.0)),
        };
        let said = monte_carlo(&|x| x[0], &[t], &[], "t", TRIALS).unwrap();
        near(said.symmetric.1, 3.182, 0.06);
        let pair = [Input::normal(20.0, 0.01), Input::normal(21.0, 0.01)];
        let common = Common {
            u: 5.0,
            factors: vec![1.0, 1.0],
        };
        let said = monte_carlo(&|x| x[1] - x[0], &pair, &[common], "pair", TRIALS).unwrap();
        near(said.sd, 0.01 * 2.0_f64.sqrt(), 3e-4);
    }

    /// The same seed gives the same, another stream something else; a formula that is not finite has no result.
    #[test]
    fn seeded_and_refused() {
        let input = [Input::normal(1.0, 0.5)];
        let run = |label: &str| monte_carlo(&|x| x[0], &input, &[], label, TRIALS).unwrap();
        assert_eq!(run("a"), run("a"));
        assert_ne!(run("a").mean, run("b").mean);
        assert_eq!(
            monte_carlo(&|x| (x[0] - 1.0).sqrt(), &input, &[], "a", TRIALS),
            None
        );
    }
}
