//! Measured quantities against their truth: whether twice the standard uncertainty holds it.

use super::rates::{COVERAGE, Share};
use crate::bench::Plan;
use crate::bench::truth::{TrueRun, Truth};
use crate::recording::{Analysis, RunKind, RunResult};
use crate::rig::Settings;
use crate::uncertain::Quantity;
use crate::units::KPA_PER_ATM;

/// What a quantity is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Family {
    /// Diameters of a frame, and what follows from them.
    Diameters,
    /// Geometric areas.
    Areas,
    /// Flow figures.
    Orifice,
    /// The line.
    Line,
    /// The free balloon.
    Balloon,
    /// The frame under load.
    Frame,
}

impl Family {
    /// Every family, in the order of tables.
    pub const ALL: [Self; 6] = [
        Self::Diameters,
        Self::Areas,
        Self::Orifice,
        Self::Line,
        Self::Balloon,
        Self::Frame,
    ];

    /// The word used in tables.
    pub fn word(self) -> &'static str {
        match self {
            Self::Diameters => "diameters",
            Self::Areas => "areas",
            Self::Orifice => "orifice figures",
            Self::Line => "line figures",
            Self::Balloon => "balloon figures",
            Self::Frame => "frame figures",
        }
    }
}

/// A measured quantity and its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Name of the scenario.
    pub scenario: String,
    /// Name of the study.
    pub study: String,
    /// Name of the run.
    pub run_id: String,
    /// What it is of.
    pub family: Family,
    /// Which quantity.
    pub name: String,
    /// Its truth, in `unit`.
    pub truth: f64,
    /// What was said, in `unit`.
    pub said: f64,
    /// Its standard uncertainty, in `unit`; none where none was given.
    pub u: Option<f64>,
    /// Unit.
    pub unit: String,
}

impl Measured {
    /// Error over the standard uncertainty.
    pub fn z(&self) -> Option<f64> {
        Some((self.said - self.truth) / self.u?)
    }
}

/// How often a quantity holds its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Coverage {
    /// What it is of.
    pub family: Family,
    /// Which quantity; empty for all of the family.
    pub name: String,
    /// Those with an uncertainty that hold the truth within twice of it.
    pub held: Share,
    /// Root mean square of the errors over their uncertainties: 1 where these are right, less where they are too large.
    pub rms_z: f64,
}

/// Coverage of every quantity, and of every family together.
pub fn coverage(all: &[Measured]) -> Vec<Coverage> {
    let mut rows = Vec::new();
    for family in Family::ALL {
        let here: Vec<&Measured> = all.iter().filter(|m| m.family == family).collect();
        let mut names: Vec<&str> = here.iter().map(|m| m.name.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        for name in names {
            rows.push(of(family, name, here.iter().filter(|m| m.name == name)));
        }
        if !here.is_empty() {
            rows.push(of(family, "", here.iter()));
        }
    }
    rows
}

fn of<'m>(family: Family, name: &str, items: impl Iterator<Item = &'m &'m Measured>) -> Coverage {
    let z: Vec<f64> = items.filter_map(|m| m.z()).collect();
    Coverage {
        family,
        name: name.to_owned(),
        held: Share::of(&z, |z| z.abs() <= COVERAGE),
        rms_z: (z.iter().map(|z| z.powi(2)).sum::<f64>() / z.len() as f64).sqrt(),
    }
}

/// Every quantity of a study whose truth is known.
pub(super) fn compare(
    scenario: &str,
    plan: &Plan,
    truth: &Truth,
    analysis: &Analysis,
) -> Vec<Measured> {
    let mut all = Vec::new();
    for run in &truth.runs {
        let Some(result) = analysis.runs.iter().find(|r| r.run_id == run.run_id) else {
            continue;
        };
        let mut add = |family: Family, name: &str, truth: Option<f64>, said: &Quantity| {
            if let (Some(truth), Some(value)) = (truth, said.value) {
                all.push(Measured {
                    scenario: scenario.to_owned(),
                    study: plan.name.clone(),
                    run_id: run.run_id.clone(),
                    family,
                    name: name.to_owned(),
                    truth,
                    said: value,
                    u: said.u,
                    unit: said.unit.clone(),
                });
            }
        };
        match run.kind {
            RunKind::Blank => line(&mut add, truth, result),
            RunKind::Free => balloon(&mut add, plan, result),
            RunKind::Frame => {
                diameters(&mut add, run, result);
                outlines(&mut add, run, result);
                flow(&mut add, run, result);
                super::frame::compare(&mut add, truth, run, result);
            }
        }
    }
    all
}

/// A found event and a true one this near to each other are the same, s.
pub(super) const SAME_EVENT_S: f64 = 0.3;

pub(super) type Add<'a> = dyn FnMut(Family, &str, Option<f64>, &Quantity) + 'a;

fn line(add: &mut Add<'_>, truth: &Truth, result: &RunResult) {
    if let Some(said) = &result.line {
        let true_line = &truth.line;
        let family = Family::Line;
        add(
            family,
            "compliance",
            Some(true_line.compliance_ml_per_kpa),
            &said.compliance,
        );
        add(
            family,
            "trapped air",
            Some(true_line.trapped_air_ml),
            &said.trapped_air,
        );
        let up_to_kpa = Settings::default().line.air_up_to_kpa;
        let air = true_line.trapped_air_ml * up_to_kpa / (up_to_kpa + true_line.ambient_kpa);
        let elastic = true_line.compliance_ml_per_kpa * up_to_kpa;
        add(
            family,
            "part that is air",
            Some(air / (air + elastic)),
            &said.air_share,
        );
    }
}

fn balloon(add: &mut Add<'_>, plan: &Plan, result: &RunResult) {
    let model = plan
        .balloons
        .iter()
        .find(|b| Some(&b.id) == result.balloon_id.as_ref());
    let (Some(said), Some(model)) = (&result.balloon, model) else {
        return;
    };
    let nominal_kpa = KPA_PER_ATM * model.nominal_pressure_atm;
    let rated_kpa = KPA_PER_ATM * model.rated_burst_pressure_atm;
    let (at_nominal, at_rated) = (
        model.balloon.full_diameter(nominal_kpa),
        model.balloon.full_diameter(rated_kpa),
    );
    let family = Family::Balloon;
    add(
        family,
        "diameter at nominal",
        Some(at_nominal),
        &said.diameter_at_nominal,
    );
    add(
        family,
        "diameter at rated",
        Some(at_rated),
        &said.diameter_at_rated,
    );
    add(
        family,
        "growth",
        Some((at_rated - at_nominal) / (rated_kpa - nominal_kpa)),
        &said.compliance,
    );
    let atm = model.rated_burst_pressure_atm - model.nominal_pressure_atm;
    add(
        family,
        "growth per atm",
        Some(100.0 * (at_rated / at_nominal - 1.0) / atm),
        &said.growth_per_atm,
    );
}

fn diameters(add: &mut Add<'_>, run: &TrueRun, result: &RunResult) {
    let family = Family::Diameters;
    if let (Some(truth), Some(said)) = (&run.diameters, &result.diameters) {
        add(family, "before", Some(truth.before_mm), &said.before);
        add(family, "loaded", truth.loaded_mm, &said.loaded);
        add(family, "after", Some(truth.after_mm), &said.after);
        add(family, "set", Some(truth.set_mm), &said.set);
        add(family, "set ratio", Some(truth.set_ratio), &said.set_ratio);
        add(family, "recoil", truth.recoil, &said.recoil);
        add(family, "recovery", truth.recovery, &said.recovery);
        // At the first event that concerns the frame, where what was found is what happened.
        let found = result.events.iter().find_map(|e| Some((e.kind, e.t_s?)));
        let same = run.events.iter().find(|e| {
            found.is_some_and(|(kind, t_s)| {
                kind.word() == e.kind && (t_s - e.t_s).abs() <= SAME_EVENT_S
            })
        });
        add(
            Family::Frame,
            "diameter at event",
            same.filter(|e| e.kind == "fracture")
                .map(|e| e.diameter_before_mm),
            &said.at_event,
        );
    }
    if let (Some(truth), Some(said)) = (&run.areas, &result.areas) {
        let family = Family::Areas;
        add(family, "before", Some(truth.before_mm2), &said.before);
        add(family, "loaded", truth.loaded_mm2, &said.loaded);
        add(family, "after", Some(truth.after_mm2), &said.after);
        add(family, "gain", Some(truth.gain), &said.gain);
    }
}

fn outlines(add: &mut Add<'_>, run: &TrueRun, result: &RunResult) {
    let Some(said) = &result.diameters else {
        return;
    };
    for (stage, truth) in &run.outlines {
        let circle = |area: f64| 2.0 * (area / std::f64::consts::PI).sqrt();
        for (method, name, value) in [
            ("outline_area", "outline, area", circle(truth.area_mm2)),
            (
                "outline_perimeter",
                "outline, perimeter",
                truth.perimeter_mm / std::f64::consts::PI,
            ),
            (
                "outline_largest_inscribed",
                "outline, largest inscribed",
                truth.largest_inscribed_mm,
            ),
            (
                "plug_inscribed",
                "plug, largest inscribed",
                truth.largest_inscribed_mm,
            ),
        ] {
            if let Some(quantity) = said.by_method.get(method).and_then(|m| m.get(*stage)) {
                add(Family::Diameters, name, Some(value), quantity);
            }
        }
    }
}

fn flow(add: &mut Add<'_>, run: &TrueRun, result: &RunResult) {
    for (stage, truth) in &run.flow {
        if let Some(said) = result.flow.get(*stage) {
            let family = Family::Orifice;
            add(
                family,
                "effective orifice area",
                Some(truth.eoa_cm2),
                &said.effective_orifice_area,
            );
            add(
                family,
                "mean gradient",
                Some(truth.mean_gradient_mmhg),
                &said.mean_gradient,
            );
            add(
                family,
                "stroke volume",
                Some(truth.stroke_volume_ml),
                &said.stroke_volume,
            );
            add(
                family,
                "regurgitant fraction",
                Some(truth.regurgitant_percent),
                &said.regurgitant_fraction,
            );
        }
    }
}
