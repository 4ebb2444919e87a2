//! The diameters of one frame: every method apart, the one the changes are computed from, and what follows from it.

use super::budgets::{self, ByMethod};
use super::caliper::{CaliperMean, GaugeWorth, mean_diameter};
use super::contradictions::contradictions;
use super::mechanics::{Correlation, area_quantity, diameter_changes};
use super::open_ring::{OpenRingInput, open_ring};
use super::plug::largest_plug;
use super::section::{Gap, by_resampling, measure_contour};
use super::trials::{self, Used};
use crate::recording::{
    Areas, ByTrials, CaliperRow, Contour, Diameters, Finding, GaugeMethod, PhotographResult, Place,
    Shows, Stage,
};
use crate::uncertain::{Quantity, StatedBudget, Trials};
use std::collections::BTreeMap;

/// Stages with the words results use.
const STAGES: [(Stage, &str); 3] = [
    (Stage::Before, "before"),
    (Stage::Loaded, "loaded"),
    (Stage::After, "after"),
];
/// Methods in the order they are trusted as a mean diameter; plugs and inscribed circles are no mean.
const MEAN_METHODS: [&str; 4] = ["caliper", "optical", "outline_area", PHOTOGRAPH];
/// The diameter of the area in a photograph: one of the frame only where it is said to show the ring.
const PHOTOGRAPH: &str = "photograph_area";

/// Standard uncertainty of the size of a plug, mm: a tolerance of ± 0.01 mm as a rectangle (common practice, no source).
const PLUG_U_MM: f64 = 0.005_77;

/// What was measured on the frame of a run.
pub struct SpecimenInput<'a> {
    /// Readings of the run.
    pub readings: &'a [&'a CaliperRow],
    /// Outlines of the run.
    pub contours: &'a [&'a Contour],
    /// Photographs of the run.
    pub photographs: &'a [PhotographResult],
    /// What the caliper is worth.
    pub gauge: GaugeWorth,
    /// Step between plugs over the whole study, mm, if it can be told.
    pub plug_step_mm: Option<f64>,
    /// Optical diameter at the end of the last hold, mm with its standard uncertainty, if the recording has one.
    pub optical_loaded: Option<(f64, f64)>,
    /// True inner diameter as listed, mm.
    pub true_id_mm: Option<f64>,
    /// When "after" was taken, if somebody wrote it down.
    pub after_when: Option<&'a str>,
    /// What may tell that the ring is open.
    pub ring: OpenRingInput<'a>,
    /// Name of the run, and how many trials are made of its quantities, if any.
    pub trials: Option<(&'a str, Trials)>,
}

/// Diameters and areas of a frame.
pub struct Specimen {
    /// Diameters; `at_event` is left to the caller, who knows the event.
    pub diameters: Diameters,
    /// Areas.
    pub areas: Areas,
    /// What the uncertainty of each is made of, by where it stands in a run.
    pub budgets: BTreeMap<String, StatedBudget>,
    /// The same by trials, where they were asked for.
    pub by_trials: Vec<ByTrials>,
    /// Doubts.
    pub findings: Vec<Finding>,
}

/// True for a photograph in mm that nobody rejected.
fn counts(result: &PhotographResult) -> bool {
    result.used && result.area_diameter.unit == "mm"
}

/// Measures the frame of a run.
pub fn specimen(input: &SpecimenInput<'_>) -> Specimen {
    let mut by_method: BTreeMap<String, BTreeMap<String, Quantity>> = BTreeMap::new();
    let mut findings = Vec::new();
    let mut calipers: BTreeMap<&str, CaliperMean> = BTreeMap::new();
    let mut three_lobe_amplitude = BTreeMap::new();
    let mut outline_fits = BTreeMap::new();
    let mut gap_after: Option<Gap> = None;
    let mut parts = ByMethod::new();
    let mut add = |method: &str, stage: &str, quantity: Quantity| {
        by_method
            .entry(method.to_owned())
            .or_default()
            .insert(stage.to_owned(), quantity);
    };
    for (stage, word) in STAGES {
        let of = |method: GaugeMethod| -> Vec<&CaliperRow> {
            input
                .readings
                .iter()
                .copied()
                .filter(|r| r.stage == stage && r.method == method)
                .collect()
        };
        for method in [GaugeMethod::Caliper, GaugeMethod::Optical] {
            let readings = of(method);
            if readings.is_empty() {
                continue;
            }
            let mut gauge = input.gauge;
            if method == GaugeMethod::Optical {
                gauge.repeat = None;
            }
            let mean = mean_diameter(&readings, &gauge);
            if method == GaugeMethod::Caliper {
                let ovality = match mean.ovality.u {
                    Some(_) => mean.ovality.clone(),
                    None => Quantity::missing(
                        "1",
                        "too few repeats to tell how sure an ovality would be",
                    ),
                };
                add("caliper_ovality", word, ovality);
            }
            add(method.word(), word, mean.diameter.clone());
            findings.extend(mean.findings.iter().cloned());
            parts.insert((method.word(), word), mean.budget.clone());
            if method == GaugeMethod::Caliper {
                calipers.insert(word, mean);
            }
        }
        let plugs = of(GaugeMethod::Plug);
        if !plugs.is_empty() {
            let plug = largest_plug(&plugs, input.plug_step_mm, Some(PLUG_U_MM));
            add("plug_largest_passing", word, plug.largest_passing);
            add("plug_inscribed", word, plug.inscribed_diameter);
            parts.insert(("plug_inscribed", word), plug.budget);
            findings.extend(plug.findings);
        }
        for contour in input.contours.iter().filter(|c| c.stage == stage) {
            match measure_contour(contour) {
                Ok(section) => {
                    add("outline_area", word, section.area_diameter);
                    parts.insert(("outline_area", word), section.budget);
                    add("outline_perimeter", word, section.perimeter_diameter);
                    add("outline_two_point", word, section.mean_two_point_diameter);
                    add(
                        "outline_largest_inscribed",
                        word,
                        section.largest_inscribed_circle,
                    );
                    add(
                        "outline_circumscribed",
                        word,
                        section.smallest_circumscribed_circle,
                    );
                    add("outline_circle", word, section.fitted_circle);
                    add("outline_feret_max", word, section.feret_max);
                    add("outline_feret_min", word, section.feret_min);
                    outline_fits.insert(word.to_owned(), section.fits);
                    three_lobe_amplitude.insert(word.to_owned(), section.three_lobe_amplitude);
                    if stage == Stage::After {
                        gap_after = section.gap;
                    }
                    findings.extend(section.findings);
                }
                Err(error) => findings.push(
                    Finding::doubt(
                        "outline-unusable",
                        format!("the outline {word} cannot be measured: {error}"),
                    )
                    .at(Place::line("contours.csv", contour.line)),
                ),
            }
        }
    }
    for result in input.photographs.iter().filter(|result| counts(result)) {
        let word = STAGES.iter().find(|(stage, _)| *stage == result.stage);
        for (method, quantity) in [
            (PHOTOGRAPH, &result.area_diameter),
            ("photograph_perimeter", &result.perimeter_diameter),
            ("photograph_inscribed", &result.largest_inscribed_circle),
            ("photograph_feret_max", &result.feret_max),
            ("photograph_feret_min", &result.feret_min),
            ("photograph_circle", &result.fitted_circle),
        ] {
            add(method, word.map_or("", |(_, word)| word), quantity.clone());
        }
        parts.extend(word.map(|(_, word)| ((PHOTOGRAPH, *word), result.budget.clone())));
    }
    if let Some((d, u)) = input.optical_loaded {
        let text = "optical channel at the end of the last hold";
        let quantity = if u > 0.0 {
            Quantity::known(d, u, "mm", text)
        } else {
            Quantity::without_u(
                d,
                "mm",
                text,
                "the rig states no uncertainty for the optical channel",
            )
        };
        add("optical_channel", "loaded", quantity);
    }
    let shows_ring = |word: &str| {
        let of_ring = |result: &&PhotographResult| counts(result) && result.shows == Shows::Ring;
        let mut rings = input.photographs.iter().filter(of_ring);
        rings.any(|result| STAGES.contains(&(result.stage, word)))
    };
    let best = |stage: &'static str, methods: &[&'static str]| {
        methods
            .iter()
            .filter(|method| **method != PHOTOGRAPH || shows_ring(stage))
            .filter_map(|method| Some((*method, by_method.get(*method)?.get(stage)?)))
            .find(|(_, quantity)| quantity.value.is_some())
            .map_or_else(
                || Used {
                    quantity: Quantity::missing(
                        "mm",
                        format!("nobody measured the diameter {stage}"),
                    ),
                    method: "",
                    caliper: None,
                },
                |(method, quantity)| Used {
                    quantity: quantity.clone(),
                    method,
                    caliper: calipers
                        .get(stage)
                        .filter(|_| method == GaugeMethod::Caliper.word()),
                },
            )
    };
    let before = best("before", &MEAN_METHODS);
    let loaded = best(
        "loaded",
        &[
            "caliper",
            "optical",
            "optical_channel",
            "outline_area",
            PHOTOGRAPH,
        ],
    );
    let after = best("after", &MEAN_METHODS);
    // Stages read by the same hand share its bias; what another method measured shares nothing.
    let shared = |one: &Used<'_>, other: &Used<'_>| match (one.caliper, other.caliper) {
        (Some(one), Some(other)) => one.shared_with(other),
        _ => 0.0,
    };
    let changes = diameter_changes(
        &before.quantity,
        &loaded.quantity,
        &after.quantity,
        Correlation {
            before_loaded_mm: shared(&before, &loaded),
            loaded_after_mm: shared(&loaded, &after),
            before_after_mm: shared(&before, &after),
            degrees_of_freedom: [("before", &before), ("loaded", &loaded), ("after", &after)]
                .map(|(stage, used)| budgets::of_used(used, stage, &parts).effective_dof()),
        },
        input.after_when,
    );
    let areas = Areas {
        before: area_quantity(&before.quantity),
        loaded: area_quantity(&loaded.quantity),
        after: area_quantity(&after.quantity),
        gain: changes.area_gain,
        surrogate: BTreeMap::new(),
    };
    let stages = [before, loaded, after];
    let [before, loaded, after] = stages.each_ref().map(|used| used.quantity.clone());
    let open_ring = open_ring(&input.ring, gap_after.as_ref(), &before);
    let diameters = Diameters {
        open_ring,
        three_lobe_amplitude,
        outline_fits,
        before,
        loaded,
        after,
        at_event: Quantity::missing("mm", "no event"),
        set: changes.set,
        set_ratio: changes.set_ratio,
        recoil: changes.recoil,
        recovery: changes.recovery,
        expansion: changes.expansion,
        after_measured: input.after_when.unwrap_or("not written down").to_owned(),
        by_method,
    };
    let by_trials = input.trials.map_or_else(Vec::new, |(run_id, order)| {
        let mut said = trials::diameters(&stages, (&diameters, &areas), run_id, order);
        said.extend(resampled(input.contours, &diameters, run_id, order));
        said
    });
    let [of_before, of_loaded, of_after] = &stages;
    let named = [
        ("before", of_before),
        ("loaded", of_loaded),
        ("after", of_after),
    ];
    findings.extend(contradictions(&diameters, input.true_id_mm));
    let budgets = budgets::budgets(&named, &parts, changes.budgets, (&diameters, &areas));
    Specimen {
        diameters,
        areas,
        budgets,
        by_trials,
        findings,
    }
}

/// The diameters of every outline by resampling.
fn resampled(
    contours: &[&Contour],
    diameters: &Diameters,
    run_id: &str,
    order: Trials,
) -> Vec<ByTrials> {
    let mut said = Vec::new();
    for contour in contours {
        let stage = contour.stage.word();
        let label = format!("{run_id}: outline {stage}");
        // An outline that cannot be measured was told already.
        let found = by_resampling(contour, &label, order.seed).unwrap_or_default();
        for (method, found) in found {
            let of = diameters.by_method.get(method);
            if let Some(quantity) = of.and_then(|stages| stages.get(stage)) {
                let name = format!("diameters.by_method.{method}.{stage}");
                said.push(ByTrials::new(name, quantity, found));
            }
        }
    }
    said
}
