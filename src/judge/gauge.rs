//! What operators and repeats add to the scatter of diameters: crossed gauge studies from the readings of a study.
//!
//! Only what can be measured twice has one. A fracture pressure cannot: the frame is gone.

use super::rounds::{Part, Rounds, rounds};
use super::strength::interval;
use super::words::names;
use crate::recording::{
    AnovaRow, CaliperRow, ComponentResult, GaugeMethod, GaugeModelResult, GaugeStudy,
};
use crate::stats::{GaugeModel, POOL_ABOVE_P, gauge_rr};
use std::collections::BTreeSet;

/// Methods that operators read.
const METHODS: [GaugeMethod; 3] = [
    GaugeMethod::Caliper,
    GaugeMethod::Plug,
    GaugeMethod::Optical,
];
/// Standard deviations in the spread of a gauge that is set against a tolerance (AIAG, from memory: common practice).
const SPREAD_SDS: f64 = 6.0;
/// Fewer parts or operators than this make a component very uncertain (common practice: 10 parts, 3 operators).
const USUAL: (usize, usize) = (10, 3);

const DESTRUCTIVE: &str = "Fracture pressures have no gauge study: a frame breaks once, so operators cannot repeat it. What repeats is the reading of diameters.";

/// A gauge study of every method that was read. `tolerance_mm` is the declared width of the tolerance of the diameter.
pub fn gauge_studies(
    readings: &[CaliperRow],
    tolerance_mm: Option<f64>,
    confidence: f64,
) -> Vec<GaugeStudy> {
    METHODS
        .into_iter()
        .filter(|method| readings.iter().any(|row| row.method == *method))
        .map(|method| {
            let mut study = GaugeStudy {
                method: method.word().to_owned(),
                tolerance_mm: tolerance_mm.filter(|t| *t > 0.0),
                ..GaugeStudy::default()
            };
            let rounds = rounds(readings, method);
            study.remarks.extend(slipped(&rounds));
            match crossed(&rounds, &mut study) {
                Ok(values) => analyse(&values, confidence, &mut study),
                Err(reason) => study.reason = Some(reason),
            }
            study.remarks.push(DESTRUCTIVE.to_owned());
            study
        })
        .collect()
}

/// Says which parts are left out for a reading that stands off.
fn slipped(rounds: &Rounds) -> Option<String> {
    let parts: Vec<String> = rounds.slipped.iter().map(name).collect();
    (!parts.is_empty()).then(|| {
        format!(
            "Left out, because a reading there stands off from the others: {}.",
            names(parts.iter().map(String::as_str))
        )
    })
}

fn name((run, stage): &Part) -> String {
    format!("{run} {}", stage.word())
}

/// Readings `[part][operator][repeat]` of the parts that several operators read; the reason where they are not crossed and balanced.
fn crossed(rounds: &Rounds, study: &mut GaugeStudy) -> Result<Vec<Vec<Vec<f64>>>, String> {
    let shared: Vec<_> = rounds
        .cells
        .iter()
        .filter(|(_, operators)| operators.len() > 1)
        .collect();
    let alone = rounds.cells.len() - shared.len();
    let Some((first, operators)) = shared.first() else {
        return Err(format!(
            "no run and stage was read by two named operators ({alone} by one): without that, operator and part cannot be told apart"
        ));
    };
    if alone > 0 {
        study.remarks.push(format!(
            "{alone} runs and stages that one operator read alone are not in the study."
        ));
    }
    if rounds.left_over > 0 {
        study.remarks.push(format!(
            "{} readings without a partner at the other orientations of their round were left out.",
            rounds.left_over
        ));
    }
    let hands: Vec<&String> = operators.keys().collect();
    let repeats = operators.values().map(Vec::len).next().unwrap_or(0);
    let mut values = Vec::new();
    for (part, operators) in &shared {
        let unlike = |what: String| {
            Err(format!(
                "the readings are not balanced: {what}; every operator must read every shared run and stage equally often"
            ))
        };
        if operators.keys().collect::<Vec<_>>() != hands {
            let said = |hands: Vec<&String>| {
                hands
                    .into_iter()
                    .map(String::as_str)
                    .collect::<Vec<_>>()
                    .join(", ")
            };
            return unlike(format!(
                "{} was read by {}, {} by {}",
                name(first),
                said(hands),
                name(part),
                said(operators.keys().collect())
            ));
        }
        if let Some((operator, rounds)) = operators.iter().find(|(_, r)| r.len() != repeats) {
            return unlike(format!(
                "{} has {repeats} rounds of an operator, {} has {} of {operator}",
                name(first),
                name(part),
                rounds.len()
            ));
        }
        let angles: BTreeSet<_> = rounds
            .orientations
            .get(*part)
            .into_iter()
            .flat_map(|operators| operators.values())
            .collect();
        if angles.len() > 1 {
            return unlike(format!(
                "the operators read {} at different orientations, so that what the ring is out of round would count as theirs",
                name(part)
            ));
        }
        let recorded = |angles: &&BTreeSet<Option<i64>>| angles.iter().flatten().count();
        study.orientations = angles.first().map_or(0, recorded);
        values.push(operators.values().cloned().collect());
    }
    study.parts = shared.iter().map(|(part, _)| name(part)).collect();
    study.operators = hands.into_iter().cloned().collect();
    study.repeats = repeats;
    Ok(values)
}

fn analyse(values: &[Vec<Vec<f64>>], confidence: f64, study: &mut GaugeStudy) {
    let found = match gauge_rr(values, confidence) {
        Ok(found) => found,
        Err(error) => {
            study.reason = Some(format!("no gauge study: {error}"));
            return;
        }
    };
    let all = [
        (&found.with_interaction, !found.pool),
        (&found.pooled, found.pool),
    ];
    study.models = all
        .into_iter()
        .map(|(model, used)| model_result(model, used, study.tolerance_mm, confidence))
        .collect();
    study.remarks.push(if found.pool {
        format!(
            "The interaction of part and operator is pooled with the repeats, as its p is above {POOL_ABOVE_P}."
        )
    } else {
        format!(
            "The interaction of part and operator is kept, as its p is not above {POOL_ABOVE_P}."
        )
    });
    if found.parts < USUAL.0 || found.operators < USUAL.1 {
        study.remarks.push(format!(
            "{} parts and {} operators; {} and {} are usual: see how wide the intervals are.",
            found.parts, found.operators, USUAL.0, USUAL.1
        ));
    }
    let categories = found.used().categories;
    if categories.is_none() {
        study.remarks.push(
            "The readings do not scatter at all: the step of the gauge is wider than its scatter, which is therefore not known.".to_owned(),
        );
    }
    if study.tolerance_mm.is_none() {
        study.remarks.push(
            "No tolerance of the diameter is declared (diameter_tolerance_mm in study.toml), so there is no share of it.".to_owned(),
        );
    }
    study.remarks.push(
        "Stages of one frame are parts of one family, not a random sample: the part component holds for this study.".to_owned(),
    );
}

fn model_result(
    model: &GaugeModel,
    used: bool,
    tolerance_mm: Option<f64>,
    confidence: f64,
) -> GaugeModelResult {
    let total = model.component("total").map_or(0.0, |c| c.variance);
    let share = |value: f64| (total > 0.0).then_some(100.0 * value);
    let components = model.components.iter().map(|c| {
        let sd = c.variance.sqrt();
        ComponentResult {
            name: c.name.to_owned(),
            variance: interval(c.variance, Ok(c.limits), confidence, "mm2", method(c.name)),
            raw_mm2: c.raw,
            sd_mm: sd,
            contribution_percent: share(c.variance / total),
            study_variation_percent: share(sd / total.sqrt()),
            tolerance_percent: tolerance_mm.map(|t| 100.0 * SPREAD_SDS * sd / t),
        }
    });
    GaugeModelResult {
        interaction: model.interaction,
        used,
        anova: model
            .rows
            .iter()
            .map(|row| AnovaRow {
                source: row.source.to_owned(),
                df: row.df,
                ss_mm2: row.ss,
                ms_mm2: row.ms,
                f: row.f,
                p: row.p,
            })
            .collect(),
        components: components.collect(),
        categories: model.categories.map(|c| c.floor() as u32),
    }
}

/// How the limits of a component are made.
fn method(name: &str) -> &'static str {
    match name {
        "repeatability" => "mean square; exact chi-squared limits",
        "gauge" | "total" => {
            "sum of mean squares (random model); modified large-sample limits (Graybill-Wang)"
        }
        _ => {
            "difference of mean squares (random model); modified large-sample limits (Ting et al.)"
        }
    }
}
