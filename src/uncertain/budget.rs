//! Uncertainty budgets after JCGM 100:2008 (GUM).

use super::Quantity;
use crate::stats::{normal_quantile, student_quantile};
use serde::Serialize;

/// What is known about one input, and so how its stated width becomes a standard uncertainty (JCGM 100, 4.3).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Distribution {
    /// The width is a standard uncertainty already.
    Normal,
    /// Anywhere within ± a: a/√3 (4.3.7).
    Rectangular,
    /// Within ± a, the middle more likely: a/√6 (4.3.9).
    Triangular,
    /// Read to the nearest step q: q/(2√3) (F.2.2.1).
    Resolution,
}

impl Distribution {
    /// The word used in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Normal => "normal",
            Self::Rectangular => "rectangular",
            Self::Triangular => "triangular",
            Self::Resolution => "resolution",
        }
    }

    /// Standard uncertainty of a width of this kind (u, a, a or q), in the unit of the width.
    pub fn standard_uncertainty(self, width: f64) -> f64 {
        match self {
            Self::Normal => width,
            Self::Rectangular => width / 3.0_f64.sqrt(),
            Self::Triangular => width / 6.0_f64.sqrt(),
            Self::Resolution => width / (2.0 * 3.0_f64.sqrt()),
        }
    }
}

/// By how much a standard deviation from so few degrees of freedom is widened so that twice of it holds about 95 %: Student's t over the
/// normal quantile, both at 97.5 % (JCGM 100, G.3, turned round). 1 for less than one degree.
pub fn widened(dof: f64) -> f64 {
    const UPPER: f64 = 0.975;
    if dof < 1.0 {
        return 1.0;
    }
    student_quantile(UPPER, dof).map_or(1.0, |t| t / normal_quantile(UPPER))
}

/// One line of a budget.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Component {
    /// What it is ("repeatability").
    pub name: String,
    /// Width as stated: u, half-width a, or step q, in the unit of the input.
    pub width: f64,
    /// What the width means.
    pub distribution: Distribution,
    /// Standard uncertainty of the input, in its own unit.
    pub u: f64,
    /// Change of the result for a change of one of the input.
    pub sensitivity: f64,
    /// Degrees of freedom; `None` means infinitely many (JCGM 100, G.4.3).
    pub degrees_of_freedom: Option<f64>,
}

impl Component {
    /// A component from a width of any kind, sensitivity 1, known exactly.
    pub fn new(name: impl Into<String>, width: f64, distribution: Distribution) -> Self {
        Self {
            name: name.into(),
            width,
            distribution,
            u: distribution.standard_uncertainty(width).abs(),
            sensitivity: 1.0,
            degrees_of_freedom: None,
        }
    }

    /// A standard uncertainty.
    pub fn normal(name: impl Into<String>, u: f64) -> Self {
        Self::new(name, u, Distribution::Normal)
    }

    /// Limits ± `half_width` without a preference within.
    pub fn rectangular(name: impl Into<String>, half_width: f64) -> Self {
        Self::new(name, half_width, Distribution::Rectangular)
    }

    /// Limits ± `half_width` with the middle preferred.
    pub fn triangular(name: impl Into<String>, half_width: f64) -> Self {
        Self::new(name, half_width, Distribution::Triangular)
    }

    /// A reading rounded to steps of `step`.
    pub fn resolution(name: impl Into<String>, step: f64) -> Self {
        Self::new(name, step, Distribution::Resolution)
    }

    /// The same with a sensitivity.
    #[must_use]
    pub fn sensitivity(mut self, sensitivity: f64) -> Self {
        self.sensitivity = sensitivity;
        self
    }

    /// The same with degrees of freedom.
    #[must_use]
    pub fn dof(mut self, degrees_of_freedom: f64) -> Self {
        self.degrees_of_freedom = Some(degrees_of_freedom);
        self
    }

    /// Its share of the result's standard uncertainty, |c| u, in the unit of the result.
    pub fn contribution(&self) -> f64 {
        (self.sensitivity * self.u).abs()
    }
}

/// A budget with the unit of its result, as results carry it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StatedBudget {
    /// Unit of the result, and of every contribution `sensitivity` times `u`.
    pub unit: String,
    /// The components.
    #[serde(flatten)]
    pub budget: Budget,
    /// Combined standard uncertainty.
    pub combined: f64,
    /// Effective degrees of freedom; null means infinitely many.
    pub effective_degrees_of_freedom: Option<f64>,
    /// Factor on it for [`COVERAGE`]; null below one effective degree of freedom.
    pub coverage_factor: Option<f64>,
    /// Expanded uncertainty: the two-sided interval about the result of this half-width holds it with [`COVERAGE`].
    pub expanded: Option<f64>,
}

/// Coverage of an expanded uncertainty: the usual one of a certificate (JCGM 100, 6.2.2 to 6.3.3).
pub const COVERAGE: f64 = 0.95;

impl StatedBudget {
    /// The budget of a quantity; `None` where that has no uncertainty, or the budget no component.
    pub fn of(quantity: &Quantity, budget: Budget) -> Option<Self> {
        quantity.pair().filter(|_| !budget.components.is_empty())?;
        Some(Self::new(&quantity.unit, budget))
    }

    /// A budget of a result in this unit.
    pub fn new(unit: &str, budget: Budget) -> Self {
        let coverage_factor = budget.coverage_factor(COVERAGE);
        Self {
            unit: unit.to_owned(),
            combined: budget.combined(),
            effective_degrees_of_freedom: budget.effective_dof(),
            coverage_factor,
            expanded: coverage_factor.map(|k| budget.expanded(k)),
            budget,
        }
    }
}

/// A list of uncorrelated components of one result.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Budget {
    /// The components, in the order they were added.
    pub components: Vec<Component>,
}

impl Budget {
    /// An empty budget.
    pub fn new() -> Self {
        Self::default()
    }

    /// The budget with one component more.
    #[must_use]
    pub fn with(mut self, component: Component) -> Self {
        self.push(component);
        self
    }

    /// Adds a component.
    pub fn push(&mut self, component: Component) {
        self.components.push(component);
    }

    /// Combined standard uncertainty √Σ(c u)², in the unit of the result (JCGM 100, eq. 10); NaN where a component is.
    pub fn combined(&self) -> f64 {
        self.components
            .iter()
            .map(|component| component.contribution().powi(2))
            .sum::<f64>()
            .sqrt()
    }

    /// Effective degrees of freedom after Welch and Satterthwaite (JCGM 100, eq. G.2b); `None` means infinitely many.
    pub fn effective_dof(&self) -> Option<f64> {
        let weight: f64 = self
            .components
            .iter()
            .filter_map(|component| {
                let dof = component.degrees_of_freedom.filter(|dof| *dof > 0.0)?;
                Some(component.contribution().powi(4) / dof)
            })
            .sum();
        let dof = self.combined().powi(4) / weight;
        dof.is_finite().then_some(dof)
    }

    /// Expanded uncertainty U = k u.
    pub fn expanded(&self, k: f64) -> f64 {
        k * self.combined()
    }

    /// Coverage factor for a two-sided coverage `probability` (0..1): Student's t at the effective degrees of freedom, cut to the
    /// next lower whole number (JCGM 100, G.4.1). `None` where the probability is out of range or there is less than one degree.
    pub fn coverage_factor(&self, probability: f64) -> Option<f64> {
        if !(probability > 0.0 && probability < 1.0) {
            return None;
        }
        let upper = f64::midpoint(1.0, probability);
        match self.effective_dof().map(f64::floor) {
            Some(dof) => student_quantile(upper, dof).ok(),
            None => Some(normal_quantile(upper)),
        }
    }

    /// Share of each component in the variance, 0..1, in the order of the components; empty where the total is 0.
    pub fn shares(&self) -> Vec<f64> {
        let total = self.combined().powi(2);
        if total.is_nan() || total <= 0.0 {
            return Vec::new();
        }
        self.components
            .iter()
            .map(|component| component.contribution().powi(2) / total)
            .collect()
    }

    /// The result with this budget's standard uncertainty.
    pub fn quantity(&self, value: f64, unit: &str, method: impl Into<String>) -> Quantity {
        Quantity::known(value, self.combined(), unit, method)
    }

    /// The result with a standard uncertainty that allows for few degrees of freedom: twice of it holds about 95 % as the expanded uncertainty
    /// does (see [`widened`]).
    pub fn widened_quantity(&self, value: f64, unit: &str, method: impl Into<String>) -> Quantity {
        let wider = self.effective_dof().map_or(1.0, |dof| widened(dof.floor()));
        Quantity::known(value, wider * self.combined(), unit, method)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008, H.1 (end-gauge calibration): components 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees give
    /// 32 nm, 16 degrees, t99 = 2.92 and U99 = 93 nm.
    #[test]
    fn end_gauge_example() {
        let budget = Budget::new()
            .with(Component::normal("standard", 25.0).dof(18.0))
            .with(Component::normal("difference", 9.7).dof(25.6))
            .with(Component::normal("expansion", 2.9).dof(50.0))
            .with(Component::normal("temperature", 16.6).dof(2.0));
        assert!((budget.combined() - 32.0).abs() < 0.5);
        let dof = budget.effective_dof().unwrap_or(f64::NAN);
        assert_eq!(dof.floor(), 16.0);
        let k = budget.coverage_factor(0.99).unwrap_or(f64::NAN);
        assert!((k - 2.92).abs() < 0.005);
        assert!((budget.expanded(k) - 93.0).abs() < 1.0);
        assert!((budget.shares().iter().sum::<f64>() - 1.0).abs() < 1e-12);
        // Of 16 degrees t95 is 2.12 (JCGM 100, table G.2).
        let stated = StatedBudget::new("nm", budget);
        assert!((stated.coverage_factor.unwrap_or(f64::NAN) - 2.12).abs() < 0.005);
        assert!((stated.expanded.unwrap_or(f64::NAN) - 2.12 * 32.0).abs() < 1.5);
        assert_eq!(stated.effective_degrees_of_freedom, Some(dof));
        // Half a degree of freedom tells no interval.
        let few = Budget::new().with(Component::normal("one", 1.0).dof(0.5));
        let stated = StatedBudget::new("nm", few);
        assert_eq!((stated.coverage_factor, stated.expanded), (None, None));
    }

    /// JCGM 100, 4.3.7, 4.3.9 and F.2.2.1.
    #[test]
    fn widths() {
        assert!((Component::rectangular("a", 3.0).u - 1.732_050_8).abs() < 1e-6);
        assert!((Component::triangular("a", 3.0).u - 1.224_744_9).abs() < 1e-6);
        assert!((Component::resolution("q", 0.01).u - 0.29 * 0.01).abs() < 2e-5);
    }

    /// Five readings with a spread that counts as much as a known input: four degrees for a quarter of the fourth powers, 16 in all, whose t
    /// is 2.120 (JCGM 100, table G.2); without few readings the factor is the normal quantile, 1.959964.
    #[test]
    fn few_degrees_widen_the_whole() {
        let known = Budget::new().with(Component::normal("known", 1.0));
        let both = known
            .clone()
            .with(Component::normal("spread", 1.0).dof(4.0));
        let u = both
            .widened_quantity(0.0, "mm", "test")
            .u
            .unwrap_or(f64::NAN);
        assert!(
            (u - 2.0_f64.sqrt() * 2.119_905 / 1.959_964).abs() < 1e-5,
            "{u}"
        );
        let k = known.coverage_factor(0.95).unwrap_or(f64::NAN);
        assert!((k - 1.959_963_985).abs() < 1e-8, "{k}");
        // A spread far below what is known leaves more degrees than any search ends for.
        let hardly = known.with(Component::normal("spread", 1e-5).dof(1.0));
        assert!(hardly.effective_dof().is_some_and(|dof| dof > 1e15));
        let u = hardly
            .widened_quantity(0.0, "mm", "test")
            .u
            .unwrap_or(f64::NAN);
        assert!((u - 1.0).abs() < 1e-9, "{u}");
    }

    #[test]
    fn empty_budget_gives_no_uncertainty() {
        let quantity = Budget::new().quantity(1.0, "mm", "test");
        assert_eq!(quantity.u, None);
        assert!(quantity.reason.is_some());
        assert_eq!(Budget::new().effective_dof(), None);
    }
}
