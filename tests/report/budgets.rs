//! Budgets and fits through outlines on the page.

use crate::made_up::study;
use crate::page;
use hooptrace::uncertain::{Budget, Component, StatedBudget};

/// Under its components a budget says what they make: 3 and 4 µm make 5 µm; of infinitely many degrees of freedom k is 1.96 and U 9.80 µm.
#[test]
fn a_budget_ends_in_its_combined_and_expanded_uncertainty() {
    let (mut analysis, made) = study(1);
    let budget = Budget::new()
        .with(Component::normal("gauge", 0.003))
        .with(Component::normal("hand", 0.004));
    let run = analysis.runs.last_mut().unwrap();
    let stated = StatedBudget::new("mm", budget);
    run.budgets.insert("diameters.before".to_owned(), stated);
    let page = page(&analysis, &made);
    for words in [
        "combined",
        "0.00500",
        "expanded (k = 1.96): ± 0.00980 holds 95 %",
    ] {
        assert!(page.contains(words), "{words}");
    }
}

/// Every fit through an outline with its diameters and what the points stand off it.
#[test]
fn fits_through_an_outline_are_shown() {
    let (analysis, made) = study(1);
    let page = page(&analysis, &made);
    let (_, table) = page
        .split_once("Circles and ellipses through the outlines")
        .unwrap();
    for words in [
        "circle hyper",
        "21.400",
        "ellipse geometric",
        "21.830",
        "20.980",
        "0.31",
        "0.045",
    ] {
        assert!(table.contains(words), "{words}");
    }
}
