//! Set, recoil, recovery, expansion and area gain of a ring, each under its own name and denominator.

use super::super::geometry::circle_area;
use crate::uncertain::{Budget, Component, Propagated, Quantity, StatedBudget, propagate};
use std::f64::consts::PI;

/// A denominator must exceed so many of its standard uncertainties before anything is divided by it: nearer to zero the quotient
/// has no meaningful standard uncertainty.
const DENOMINATOR_SIGMAS: f64 = 3.0;

/// What the errors of the diameters of a ring have in common, two by two, and how well each uncertainty is known.
///
/// Diameters read by the same operators with the same caliper share their bias, which then falls out of a set and most of a recoil. Each
/// is the standard uncertainty of the common part, mm; 0 treats the two as independent, which is the safe side for differences. No more
/// than the smaller of the two uncertainties can be shared; more is cut to it. See [`super::super::caliper::CaliperMean::shared_with`].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Correlation {
    /// Before and under load.
    pub before_loaded_mm: f64,
    /// Under load and after.
    pub loaded_after_mm: f64,
    /// Before and after.
    pub before_after_mm: f64,
    /// Degrees of freedom of the uncertainties before, under load and after; `None` means infinitely many.
    pub degrees_of_freedom: [Option<f64>; 3],
}

impl Correlation {
    /// The same part in all three, mm.
    pub fn of_all(shared_u_mm: f64) -> Self {
        Self {
            before_loaded_mm: shared_u_mm,
            loaded_after_mm: shared_u_mm,
            before_after_mm: shared_u_mm,
            ..Self::default()
        }
    }

    fn dof(self, name: &str) -> Option<f64> {
        let [before, loaded, after] = self.degrees_of_freedom;
        match name {
            "before" => before,
            "loaded" => loaded,
            "after" => after,
            _ => None,
        }
    }

    fn of(self, one: &str, other: &str) -> f64 {
        match (one, other) {
            ("before", "loaded") | ("loaded", "before") => self.before_loaded_mm,
            ("loaded", "after") | ("after", "loaded") => self.loaded_after_mm,
            ("before", "after") | ("after", "before") => self.before_after_mm,
            _ => 0.0,
        }
    }
}

/// Changes of the inner diameter D0 before, D1 under load, D2 after.
#[derive(Debug, Clone, PartialEq)]
pub struct DiameterChanges {
    /// Set D2 − D0, mm.
    pub set: Quantity,
    /// Set over D0.
    pub set_ratio: Quantity,
    /// Recoil (D1 − D2)/D1 (definition of ASTM F2079, there for outer diameters of stents).
    pub recoil: Quantity,
    /// Recovery (D1 − D2)/(D1 − D0).
    pub recovery: Quantity,
    /// Greatest expansion (D1 − D0)/D0.
    pub expansion: Quantity,
    /// Area gain (D2/D0)² − 1.
    pub area_gain: Quantity,
    /// What the uncertainty of each is made of, by where it stands in a run.
    pub budgets: Vec<(&'static str, StatedBudget)>,
}

/// Changes from the diameters before, under load and after, all in mm. `after_when` says when "after" was taken ("24 h after")
/// and goes into the method. A missing diameter makes what needs it missing, with the reason; a diameter without uncertainty makes
/// results without uncertainty.
pub fn diameter_changes(
    before: &Quantity,
    loaded: &Quantity,
    after: &Quantity,
    correlation: Correlation,
    after_when: Option<&str>,
) -> DiameterChanges {
    let when = after_when.map_or(String::new(), |when| format!(", after taken {when}"));
    let method = |text: &str| format!("{text}{when}");
    let both = [("before", before), ("after", after)];
    let pulled = [("before", before), ("loaded", loaded)];
    let let_go = [("loaded", loaded), ("after", after)];
    let all = [("before", before), ("loaded", loaded), ("after", after)];
    let mut budgets = Vec::new();
    let mut change = |path: &'static str,
                      parts: &[(&str, &Quantity)],
                      unit,
                      text: &str,
                      f: fn(&[f64]) -> f64| {
        let (quantity, budget) = derived(parts, correlation, unit, text, f);
        budgets.extend(StatedBudget::of(&quantity, budget).map(|stated| (path, stated)));
        quantity
    };
    let set = method("D_after − D_before");
    let set_ratio = method("(D_after − D_before)/D_before");
    let recoil = method("(D_loaded − D_after)/D_loaded");
    let expansion = "(D_loaded − D_before)/D_before";
    let gain = method("(D_after/D_before)² − 1");
    let set = change("diameters.set", &both, "mm", &set, |d| at(d, 1) - at(d, 0));
    let set_ratio = change("diameters.set_ratio", &both, "1", &set_ratio, |d| {
        at(d, 1) / at(d, 0) - 1.0
    });
    let recoil = change("diameters.recoil", &let_go, "1", &recoil, |d| {
        1.0 - at(d, 1) / at(d, 0)
    });
    let expansion = change("diameters.expansion", &pulled, "1", expansion, |d| {
        at(d, 1) / at(d, 0) - 1.0
    });
    let area_gain = change("areas.gain", &both, "1", &gain, |d| {
        (at(d, 1) / at(d, 0)).powi(2) - 1.0
    });
    let (recovery, budget) = recovery(&all, before, loaded, correlation, &method(RECOVERY));
    let stated = StatedBudget::of(&recovery, budget);
    budgets.extend(stated.map(|stated| ("diameters.recovery", stated)));
    DiameterChanges {
        set,
        set_ratio,
        recoil,
        recovery,
        expansion,
        area_gain,
        budgets,
    }
}

const RECOVERY: &str = "(D_loaded − D_after)/(D_loaded − D_before)";

/// Area π D²/4, mm², of a diameter in mm.
pub fn area_quantity(diameter: &Quantity) -> Quantity {
    let parts = [("", diameter)];
    let none = Correlation::default();
    derived(&parts, none, "mm2", "π D²/4, geometric", |d| {
        circle_area(at(d, 0))
    })
    .0
}

/// The budget of that area from the budget of the diameter.
pub fn area_budget(diameter_mm: f64, of_diameter: &Budget) -> Budget {
    let mut budget = of_diameter.clone();
    for component in &mut budget.components {
        component.sensitivity *= PI / 2.0 * diameter_mm;
    }
    budget
}

fn at(d: &[f64], i: usize) -> f64 {
    d.get(i).copied().unwrap_or(f64::NAN)
}

fn recovery(
    all: &[(&str, &Quantity)],
    before: &Quantity,
    loaded: &Quantity,
    correlation: Correlation,
    method: &str,
) -> (Quantity, Budget) {
    let (stretch, _) = derived(
        &[("before", before), ("loaded", loaded)],
        correlation,
        "mm",
        "stretch",
        |d| at(d, 1) - at(d, 0),
    );
    if let (Some(value), u) = (stretch.value, stretch.u.unwrap_or(0.0))
        && value <= DENOMINATOR_SIGMAS * u
    {
        let reason = Quantity::missing(
            "1",
            format!(
                "the stretch under load, {value:.3} mm, is not above {DENOMINATOR_SIGMAS} times its standard uncertainty {u:.3} mm: nothing to recover from"
            ),
        );
        return (reason, Budget::new());
    }
    derived(all, correlation, "1", method, |d| {
        (at(d, 1) - at(d, 2)) / (at(d, 1) - at(d, 0))
    })
}

/// A function of diameters, with uncertainty by propagation and what that is made of.
fn derived(
    parts: &[(&str, &Quantity)],
    correlation: Correlation,
    unit: &str,
    method: &str,
    f: fn(&[f64]) -> f64,
) -> (Quantity, Budget) {
    let without_budget = |quantity| (quantity, Budget::new());
    let mut x = Vec::new();
    let mut u = Vec::new();
    let mut without = None;
    for (name, part) in parts {
        // The only diameter needs no name.
        let diameter = format!("diameter {name}");
        let diameter = diameter.trim_end();
        match part.value {
            Some(value) if value > 0.0 => x.push(value),
            Some(value) => {
                let reason = format!("the {diameter} is {value} mm");
                return without_budget(Quantity::missing(unit, reason));
            }
            None => {
                let why = part.reason.as_deref().unwrap_or("not measured");
                let reason = format!("no {diameter}: {why}");
                return without_budget(Quantity::missing(unit, reason));
            }
        }
        match part.u {
            Some(width) => u.push(width),
            None => without = Some(diameter.to_owned()),
        }
    }
    if let Some(diameter) = without {
        let reason = format!("the {diameter} has no uncertainty");
        return without_budget(Quantity::without_u(f(&x), unit, method, reason));
    }
    let shared = |i: usize, j: usize| {
        let name = |k: usize| parts.get(k).map_or("", |(name, _)| *name);
        // No more than the smaller uncertainty can be common to both.
        let most = at(&u, i).min(at(&u, j)).max(0.0);
        correlation.of(name(i), name(j)).clamp(0.0, most)
    };
    let coefficient = |i: usize, j: usize| shared(i, j).powi(2) / (at(&u, i) * at(&u, j));
    match propagate(f, &x, &u, Some(&coefficient)) {
        Some(result) => {
            let names: Vec<&str> = parts.iter().map(|(name, _)| *name).collect();
            let budget = parted(&result, &names, &u, &shared, correlation);
            (
                Quantity::known(result.value, result.u, unit, method),
                budget,
            )
        }
        None => without_budget(Quantity::missing(
            unit,
            "the diameters give no finite result",
        )),
    }
}

/// A propagated uncertainty in parts that have nothing in common: what each diameter errs by alone, and what two of them err by together.
fn parted(
    result: &Propagated,
    names: &[&str],
    u: &[f64],
    shared: &dyn Fn(usize, usize) -> f64,
    correlation: Correlation,
) -> Budget {
    let mut budget = Budget::new();
    let slope = |i: usize| at(&result.sensitivities, i);
    for (i, name) in names.iter().enumerate() {
        let others = (0..names.len()).filter(|j| *j != i);
        let alone = at(u, i).powi(2) - others.map(|j| shared(i, j).powi(2)).sum::<f64>();
        if alone < 0.0 {
            // More in common with each of the others than it has: no parts tell that.
            let whole = Component::normal("diameters, with what they have in common", result.u);
            return Budget::new().with(whole);
        }
        let mut own =
            Component::normal(format!("diameter {name}"), alone.sqrt()).sensitivity(slope(i));
        // What is shared is known for sure, so that few readings tell of what is left only.
        own.degrees_of_freedom = correlation
            .dof(name)
            .map(|dof| dof * (alone / at(u, i).powi(2)).powi(2));
        budget.push(own);
        for (j, other) in names.iter().enumerate().skip(i + 1) {
            let both = shared(i, j);
            if both > 0.0 {
                let name = format!("hands that read {name} and {other}");
                budget.push(Component::normal(name, both).sensitivity(slope(i) + slope(j)));
            }
        }
    }
    budget
}
