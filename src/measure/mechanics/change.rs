//! Set, recoil, recovery, expansion and area gain of a ring, each under its own name and denominator.

use super::super::geometry::circle_area;
use crate::uncertain::{Quantity, propagate};

/// A denominator must exceed so many of its standard uncertainties before anything is divided by it: nearer to zero the quotient
/// has no meaningful standard uncertainty.
const DENOMINATOR_SIGMAS: f64 = 3.0;

/// What the errors of the diameters of a ring have in common, two by two.
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
}

impl Correlation {
    /// The same part in all three, mm.
    pub fn of_all(shared_u_mm: f64) -> Self {
        Self {
            before_loaded_mm: shared_u_mm,
            loaded_after_mm: shared_u_mm,
            before_after_mm: shared_u_mm,
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
    let change = |parts: &[(&str, &Quantity)], unit, text: &str, f: fn(&[f64]) -> f64| {
        derived(parts, correlation, unit, &method(text), f)
    };
    DiameterChanges {
        set: change(&both, "mm", "D_after − D_before", |d| at(d, 1) - at(d, 0)),
        set_ratio: change(&both, "1", "(D_after − D_before)/D_before", |d| {
            at(d, 1) / at(d, 0) - 1.0
        }),
        recoil: change(&let_go, "1", "(D_loaded − D_after)/D_loaded", |d| {
            1.0 - at(d, 1) / at(d, 0)
        }),
        recovery: recovery(&all, before, loaded, correlation, &method(RECOVERY)),
        expansion: derived(
            &pulled,
            correlation,
            "1",
            "(D_loaded − D_before)/D_before",
            |d| at(d, 1) / at(d, 0) - 1.0,
        ),
        area_gain: change(&both, "1", "(D_after/D_before)² − 1", |d| {
            (at(d, 1) / at(d, 0)).powi(2) - 1.0
        }),
    }
}

const RECOVERY: &str = "(D_loaded − D_after)/(D_loaded − D_before)";

/// Area π D²/4, mm², of a diameter in mm.
pub fn area_quantity(diameter: &Quantity) -> Quantity {
    derived(
        &[("", diameter)],
        Correlation::default(),
        "mm2",
        "π D²/4, geometric",
        |d| circle_area(at(d, 0)),
    )
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
) -> Quantity {
    let stretch = derived(
        &[("before", before), ("loaded", loaded)],
        correlation,
        "mm",
        "stretch",
        |d| at(d, 1) - at(d, 0),
    );
    if let (Some(value), u) = (stretch.value, stretch.u.unwrap_or(0.0))
        && value <= DENOMINATOR_SIGMAS * u
    {
        return Quantity::missing(
            "1",
            format!(
                "the stretch under load, {value:.3} mm, is not above {DENOMINATOR_SIGMAS} times its standard uncertainty {u:.3} mm: nothing to recover from"
            ),
        );
    }
    derived(all, correlation, "1", method, |d| {
        (at(d, 1) - at(d, 2)) / (at(d, 1) - at(d, 0))
    })
}

/// A function of diameters, with uncertainty by propagation.
fn derived(
    parts: &[(&str, &Quantity)],
    correlation: Correlation,
    unit: &str,
    method: &str,
    f: fn(&[f64]) -> f64,
) -> Quantity {
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
                return Quantity::missing(unit, format!("the {diameter} is {value} mm"));
            }
            None => {
                let why = part.reason.as_deref().unwrap_or("not measured");
                return Quantity::missing(unit, format!("no {diameter}: {why}"));
            }
        }
        match part.u {
            Some(width) => u.push(width),
            None => without = Some(diameter.to_owned()),
        }
    }
    if let Some(diameter) = without {
        let reason = format!("the {diameter} has no uncertainty");
        return Quantity::without_u(f(&x), unit, method, reason);
    }
    let coefficient = |i: usize, j: usize| {
        let name = |k: usize| parts.get(k).map_or("", |(name, _)| *name);
        // No more than the smaller uncertainty can be common to both.
        let most = at(&u, i).min(at(&u, j)).max(0.0);
        let shared = correlation.of(name(i), name(j)).clamp(0.0, most);
        shared * shared / (at(&u, i) * at(&u, j))
    };
    match propagate(f, &x, &u, Some(&coefficient)) {
        Some(result) => Quantity::known(result.value, result.u, unit, method),
        None => Quantity::missing(unit, "the diameters give no finite result"),
    }
}
