//! Steps of a protocol that no run can keep together.

use super::decision::digits;
use super::protocol::AskedStep;
use super::steps::Claim;
use crate::recording::{Finding, Place};
use crate::units::KPA_PER_ATM;

/// An error for every step that contradicts itself, or one listed before it that holds for some of the same runs.
pub(super) fn contradictions(steps: &[AskedStep]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (at, step) in steps.iter().enumerate() {
        let claims = step.step.claims(&step.asked);
        let itself = claims.iter().find_map(within_itself);
        if let Some(found) = itself {
            findings.push(error(step, &found));
            continue;
        }
        let earlier = steps.iter().take(at);
        let together = earlier.filter(|other| both_hold(step, other));
        let clash = together.into_iter().find_map(|other| {
            let others = other.step.claims(&other.asked);
            let pairs = claims
                .iter()
                .flat_map(|a| others.iter().map(move |b| (a, b)));
            let found = pairs.filter_map(|(a, b)| between(a, b).or_else(|| between(b, a)));
            found.into_iter().next().map(|found| {
                format!(
                    "{found} (the other is the step `{}`{})",
                    other.step.name(),
                    line(&other.at)
                )
            })
        });
        findings.extend(clash.map(|found| error(step, &found)));
    }
    findings
}

/// True where some run must keep both.
fn both_hold(a: &AskedStep, b: &AskedStep) -> bool {
    a.arm.is_none() || b.arm.is_none() || a.arm == b.arm
}

fn line(at: &Place) -> String {
    at.line
        .map_or_else(String::new, |line| format!(" of line {line}"))
}

fn error(step: &AskedStep, found: &str) -> Finding {
    Finding::error(
        "protocol-contradiction",
        format!("[[step]] `{}`: {found}", step.step.name()),
    )
    .at(step.at.clone())
    .help("no run can keep this: correct one of the values, or give the steps arms of their own")
}

fn within_itself(claim: &Claim) -> Option<String> {
    match claim {
        Claim::Between { of, least, most } if least > most => {
            Some(nothing_between(of, *least, *most))
        }
        _ => None,
    }
}

fn nothing_between(of: &str, least: f64, most: f64) -> String {
    format!(
        "found at least {} and at most {} for the {of}; expected the least to be no more than the most",
        digits(least),
        digits(most)
    )
}

/// What nobody can keep of two claims, the first of them giving the lower end.
fn between(a: &Claim, b: &Claim) -> Option<String> {
    match (a, b) {
        (Claim::Between { of, least, .. }, Claim::Between { of: same, most, .. })
            if of == same && least > most =>
        {
            Some(nothing_between(of, *least, *most))
        }
        (Claim::AimsAt(aim), Claim::NeverAbove(most)) if aim > most => {
            let both =
                |kpa: f64| format!("{} atm ({} kPa)", digits(kpa / KPA_PER_ATM), digits(kpa));
            Some(format!(
                "found a pressure of {} to go to and a maximum of {}; expected no target above the maximum",
                both(*aim),
                both(*most)
            ))
        }
        _ => None,
    }
}
