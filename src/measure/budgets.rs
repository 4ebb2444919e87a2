//! What the uncertainties of the diameters and areas of a frame are made of, by where they stand in a run.

use super::mechanics::area_budget;
use super::trials::Used;
use crate::recording::{Areas, Diameters};
use crate::uncertain::{Budget, Component, StatedBudget};
use std::collections::BTreeMap;

/// Budgets of diameters by method and stage.
pub(super) type ByMethod = BTreeMap<(&'static str, &'static str), Budget>;

/// Methods with a budget of their own beside that of the diameter that stands for the frame.
const APART: [&str; 2] = ["outline_area", "plug_inscribed"];

/// The budget of the diameter that stands for a stage: that of its method, or all of it in one where that has none.
pub(super) fn of_used(used: &Used<'_>, stage: &'static str, by_method: &ByMethod) -> Budget {
    let found = by_method.get(&(used.method, stage));
    found.cloned().unwrap_or_else(|| {
        let u = used.quantity.u.unwrap_or(f64::NAN);
        Budget::new().with(Component::normal(used.method.replace('_', " "), u))
    })
}

/// Every budget of diameters and areas; `changes` are those of what follows from several.
pub(super) fn budgets(
    stages: &[(&'static str, &Used<'_>); 3],
    by_method: &ByMethod,
    changes: Vec<(&'static str, StatedBudget)>,
    (diameters, areas): (&Diameters, &Areas),
) -> BTreeMap<String, StatedBudget> {
    let named = |(path, stated): (&str, StatedBudget)| (path.to_owned(), stated);
    let mut all: BTreeMap<String, StatedBudget> = changes.into_iter().map(named).collect();
    for ((method, stage), budget) in by_method {
        let quantity = diameters.by_method.get(*method);
        let quantity = quantity.and_then(|stages| stages.get(*stage));
        if let Some(quantity) = quantity.filter(|_| APART.contains(method)) {
            let stated = StatedBudget::of(quantity, budget.clone());
            let path = format!("diameters.by_method.{method}.{stage}");
            all.extend(stated.map(|stated| (path, stated)));
        }
    }
    for ((stage, used), area) in stages
        .iter()
        .zip([&areas.before, &areas.loaded, &areas.after])
    {
        let Some((diameter_mm, _)) = used.quantity.pair() else {
            continue;
        };
        let of_diameter = of_used(used, stage, by_method);
        let of_area = StatedBudget::of(area, area_budget(diameter_mm, &of_diameter));
        all.extend(of_area.map(|stated| (format!("areas.{stage}"), stated)));
        let of_diameter = StatedBudget::of(&used.quantity, of_diameter);
        all.extend(of_diameter.map(|stated| (format!("diameters.{stage}"), stated)));
    }
    all
}
