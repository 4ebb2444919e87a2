//! The settings on the page, and the rule by which verdicts were given.

use super::made_up::study;
use super::page;

/// A reason beside every setting that has one, groups folded, and what is not the default told even where the group is folded.
#[test]
fn settings_stand_with_their_reasons_and_what_was_changed() {
    let (analysis, made) = study(1);
    let page = page(&analysis, &made);
    assert!(page.contains("<summary>leak: Leaks at rest. (1 setting changed)</summary>"));
    assert!(page.contains("default 0.25") && !page.contains("default 0.004"));
    assert!(page.contains("Shortest rest that tells a leak from noise, s."));
    // Results of another version may have others.
    assert!(page.contains("<summary>window</summary>") && page.contains("window.before_s"));
}

/// A fail needs the limit on the wrong side too, and the page says so.
#[test]
fn the_decision_rule_is_the_one_that_judges() {
    let (analysis, made) = study(1);
    let page = page(&analysis, &made);
    assert!(page.contains("so is its limit on the other side with the same confidence"));
    assert!(page.contains("undecided: too few runs"));
}
