//! How often each of several causes ends a run, the others going on competing (Aalen & Johansen 1978, Scand. J. Stat. 5:141).

use super::error::StatsError;

/// Most causes told apart.
const MOST_CAUSES: usize = 20;

/// A unit that failed for a cause, or was censored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CauseObservation {
    /// Load (or time) at which the unit ended.
    pub value: f64,
    /// Index of the cause; `None` if nothing happened up to `value`.
    pub cause: Option<usize>,
}

/// State after the failures at one value.
#[derive(Debug, Clone, PartialEq)]
pub struct IncidenceStep {
    /// The value.
    pub value: f64,
    /// Units that had neither failed nor been censored before it.
    pub at_risk: usize,
    /// Part of the population that no cause has ended by this value.
    pub survival: f64,
    /// Part that each cause has ended, by index. With `survival` they sum to 1.
    pub incidence: Vec<f64>,
    /// Standard uncertainty of each incidence (Marubini & Valsecchi 1995, Analysing Survival Data from Clinical Trials and Observational
    /// Studies, 10.3, from memory). 0 for a cause that has ended none yet: the formula knows nothing of causes not seen.
    pub u: Vec<f64>,
}

/// Cumulative incidences, 0 before the first step and constant between steps.
///
/// One less the product-limit estimate that takes the other causes as censored is not this: it says how often the cause would end runs if
/// the others did not exist, and exceeds the incidence.
#[derive(Debug, Clone, PartialEq)]
pub struct CumulativeIncidence {
    /// One step for each value at which something failed, in rising order.
    pub steps: Vec<IncidenceStep>,
    /// Number of units.
    pub n: usize,
    /// Number of units ended by each cause.
    pub failures: Vec<usize>,
}

/// Failures at one value.
struct Tied {
    value: f64,
    at_risk: f64,
    all: f64,
    by_cause: Vec<f64>,
    survival_before: f64,
}

/// Estimates the incidence of `causes` causes: `F_k = Σ S(before) d_k/n`. Units censored at a value at which others failed count as at risk
/// there. Fails for no observation, a value that is not finite, or a cause beyond the number given.
pub fn cumulative_incidence(
    observations: &[CauseObservation],
    causes: usize,
) -> Result<CumulativeIncidence, StatsError> {
    if observations.is_empty() {
        return Err(StatsError::TooFew {
            what: "observations",
            needed: 1,
            found: 0,
        });
    }
    if !(1..=MOST_CAUSES).contains(&causes) {
        return Err(StatsError::OutOfRange {
            what: "the number of causes",
            range: "1 to 20",
            found: causes as f64,
        });
    }
    let bad = |o: &CauseObservation| !o.value.is_finite() || o.cause.is_some_and(|c| c >= causes);
    if let Some(index) = observations.iter().position(bad) {
        return Err(StatsError::BadValue {
            must_be: "finite, with a cause below the number of causes",
            index,
        });
    }
    let tied = tied_failures(observations, causes);
    let mut steps: Vec<IncidenceStep> = Vec::with_capacity(tied.len());
    let mut incidence = vec![0.0; causes];
    let mut sums = vec![Sums::default(); causes];
    for t in &tied {
        for (k, d) in t.by_cause.iter().enumerate() {
            incidence[k] += t.survival_before * d / t.at_risk;
            sums[k].add(t, *d, incidence[k]);
        }
        let u = sums
            .iter()
            .zip(&incidence)
            .map(|(s, f)| s.variance(*f).max(0.0).sqrt())
            .collect();
        steps.push(IncidenceStep {
            value: t.value,
            at_risk: t.at_risk as usize,
            survival: t.survival_before * (t.at_risk - t.all) / t.at_risk,
            incidence: incidence.clone(),
            u,
        });
    }
    let failures = (0..causes)
        .map(|k| observations.iter().filter(|o| o.cause == Some(k)).count())
        .collect();
    Ok(CumulativeIncidence {
        steps,
        n: observations.len(),
        failures,
    })
}

fn tied_failures(observations: &[CauseObservation], causes: usize) -> Vec<Tied> {
    let mut sorted = observations.to_vec();
    sorted.sort_by(|a, b| a.value.total_cmp(&b.value));
    let mut at_risk = sorted.len();
    let mut survival = 1.0;
    let mut tied = Vec::new();
    for same in sorted.chunk_by(|a, b| a.value == b.value) {
        let mut by_cause = vec![0.0; causes];
        for k in same.iter().filter_map(|o| o.cause) {
            by_cause[k] += 1.0;
        }
        let all: f64 = by_cause.iter().sum();
        if let (true, Some(first)) = (all > 0.0, same.first()) {
            tied.push(Tied {
                value: first.value,
                at_risk: at_risk as f64,
                all,
                by_cause,
                survival_before: survival,
            });
            survival *= (at_risk as f64 - all) / at_risk as f64;
        }
        at_risk -= same.len();
    }
    tied
}

/// Sums of the variance `Σ (F - F_j)² g_j + Σ S² (d/n²)(n - d)/n - 2 Σ (F - F_j) S d/n²`, `g = D/(n (n - D))` with all failures `D`, taken
/// apart so that they can be carried from step to step.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    greenwood: f64,
    greenwood_f: f64,
    greenwood_ff: f64,
    own: f64,
    shared: f64,
    shared_f: f64,
}

impl Sums {
    fn add(&mut self, t: &Tied, d: f64, f: f64) {
        let (n, s) = (t.at_risk, t.survival_before);
        // Where all have failed F stays as it is, and the factor (F - F_j) is 0 from there on.
        if t.all < n {
            let g = t.all / (n * (n - t.all));
            self.greenwood += g;
            self.greenwood_f += g * f;
            self.greenwood_ff += g * f * f;
        }
        self.own += s * s * d / (n * n) * (n - d) / n;
        self.shared += s * d / (n * n);
        self.shared_f += s * d / (n * n) * f;
    }

    fn variance(&self, f: f64) -> f64 {
        f * f * self.greenwood - 2.0 * f * self.greenwood_f + self.greenwood_ff + self.own
            - 2.0 * (f * self.shared - self.shared_f)
    }
}
