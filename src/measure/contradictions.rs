//! Diameters of one ring that cannot all be right: units mixed up, stages swapped, another ring.

use crate::recording::{Diameters, Finding};
use crate::uncertain::Quantity;

/// Two means by different methods, or a mean and the listed inner diameter, differ by no more than this share of the smaller: a ring stretched
/// out of round stops a plug a few per cent earlier than a caliper or an outline (an estimate of ours).
const APART_SHARE: f64 = 0.1;
/// A ring that was dilated is not smaller afterwards by so many standard uncertainties, ...
const SMALLER_SIGMAS: f64 = 5.0;
/// ... and by this share of its diameter.
const SMALLER_SHARE: f64 = 0.005;
/// The stages, and the methods whose diameter is about a mean of the ring.
const STAGES: [&str; 3] = ["before", "loaded", "after"];
const METHODS: [&str; 4] = ["caliper", "plug_inscribed", "outline_area", "optical"];

/// A doubt for every stage whose diameters lie apart, and where the ring shrank.
pub(super) fn contradictions(diameters: &Diameters, true_id_mm: Option<f64>) -> Vec<Finding> {
    let mut findings: Vec<Finding> = STAGES
        .iter()
        .filter_map(|stage| apart(diameters, stage, true_id_mm.filter(|_| *stage == "before")))
        .collect();
    findings.extend(smaller("after", &diameters.before, &diameters.after));
    findings.extend(smaller("loaded", &diameters.before, &diameters.loaded));
    findings
}

fn apart(diameters: &Diameters, stage: &str, listed: Option<f64>) -> Option<Finding> {
    let by_method = METHODS.iter().filter_map(|method| {
        let quantity = diameters.by_method.get(*method)?.get(stage)?;
        Some((method.replace('_', " "), quantity.value?))
    });
    let listed = listed.map(|mm| ("the list of frames (true inner diameter)".to_owned(), mm));
    let mut all: Vec<(String, f64)> = by_method
        .chain(listed)
        .filter(|(_, mm)| *mm > 0.0)
        .collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    let (least, most) = (all.first()?, all.last()?);
    if most.1 <= (1.0 + APART_SHARE) * least.1 {
        return None;
    }
    let finding = Finding::doubt(
        "diameters-contradict",
        format!(
            "{stage}: {:.2} mm by {} and {:.2} mm by {} are not one ring",
            least.1, least.0, most.1, most.0
        ),
    );
    Some(
        finding
            .effect(
                "every diameter, area and load that follows from the wrong one is wrong with it",
            )
            .help("check units, run and stage of the rows"),
    )
}

fn smaller(stage: &str, before: &Quantity, later: &Quantity) -> Option<Finding> {
    let ((d0, u0), (d1, u1)) = (before.pair()?, later.pair()?);
    let by = d0 - d1;
    if by <= SMALLER_SIGMAS * u0.hypot(u1) || by <= SMALLER_SHARE * d0 {
        return None;
    }
    let finding = Finding::doubt(
        "ring-smaller",
        format!(
            "the ring is {d1:.2} mm wide {stage} and was {d0:.2} mm before: dilation does not make it smaller"
        ),
    );
    Some(
        finding
            .effect("set, recoil and outcome follow from these diameters")
            .help("check whether stages or runs were swapped in the tables"),
    )
}
