//! Indexed areas of a hypothetical patient, and studies that declare one.

use super::{near, value};
use hooptrace::orifice::{
    BODY_SURFACES, CUT_OFFS, FlowInstruments, OBESE_BMI, body_mass_index, body_surface, class_of,
};
use hooptrace::pipeline::{Options, analyse, open_study};
use hooptrace::recording::{Analysis, HYPOTHETICAL};
use hooptrace::rig::{BodySurface, FlowSpec, rig_from_text, study_from_text};
use hooptrace::uncertain::Quantity;
use std::fmt::Write as _;
use std::path::Path;

fn surface(formula: BodySurface, height_cm: f64, weight_kg: f64) -> f64 {
    body_surface(formula).unwrap().area_m2(height_cm, weight_kg)
}

/// Worked by the printed equations (Du Bois 0.007184 W^0.425 H^0.725, Mosteller √(HW/3600)): 165 cm, 95 kg: BMI 34.894, 2.016391 m²;
/// 170 cm, 80 kg: BMI 27.682, 1.915380 and 1.943651 m².
#[test]
fn body_surfaces() {
    near(body_mass_index(165.0, 95.0), 34.894, 6e-4);
    near(surface(BodySurface::DuBois, 165.0, 95.0), 2.016_391, 6e-7);
    near(body_mass_index(170.0, 80.0), 27.682, 6e-4);
    near(surface(BodySurface::DuBois, 170.0, 80.0), 1.915_380, 6e-7);
    near(
        surface(BodySurface::Mosteller, 170.0, 80.0),
        1.943_651,
        6e-7,
    );
    for formula in BODY_SURFACES {
        assert!(!formula.name.is_empty() && !formula.source.is_empty());
    }
}

/// 1.20 cm² over 2.016391 m² is 0.595123 cm²/m²: moderate by the cut-offs from 30 kg/m² on, severe by those below (VARC-3).
#[test]
fn the_class_depends_on_the_body_mass() {
    let surface = surface(BodySurface::DuBois, 165.0, 95.0);
    let indexed = value("indexed-area", &[1.20, surface]);
    near(indexed, 0.595_123, 6e-7);
    let class = class_of(body_mass_index(165.0, 95.0));
    assert_eq!(CUT_OFFS[class].mismatch(indexed), "moderate");
    assert_eq!(CUT_OFFS[1 - class].mismatch(indexed), "severe");
    near(
        value("energy-loss-index", &[1.904_052, 2.0]),
        0.952_026,
        1e-9,
    );
    assert_eq!((class_of(OBESE_BMI), class_of(29.999)), (1, 0));
}

/// VARC-3 (Eur Heart J 2021, 42:1825): below 30 kg/m² none above 0.85, severe up to 0.65; from 30 kg/m² on 0.70 and 0.55. Upper bounds
/// are closed. Where ± 2 u crosses one, both classes are named.
#[test]
fn cut_offs_are_closed_above() {
    for (class, severe, moderate) in [(0, 0.65, 0.85), (1, 0.55, 0.70)] {
        let cut_offs = CUT_OFFS[class];
        for (indexed, word) in [
            (severe - 0.01, "severe"),
            (severe, "severe"),
            (severe + 1e-9, "moderate"),
            (moderate, "moderate"),
            (moderate + 1e-9, "none"),
        ] {
            assert_eq!(cut_offs.mismatch(indexed), word);
        }
        let said = |v: f64, u: f64| {
            cut_offs
                .said(&Quantity::known(v, u, "cm2/m2", "x"))
                .unwrap()
        };
        assert_eq!(said(severe - 0.05, 0.02), "severe");
        assert_eq!(said(severe - 0.03, 0.02), "between severe and moderate");
        assert_eq!(said(moderate + 0.03, 0.02), "between moderate and none");
        assert_eq!(said(moderate, 0.2), "between severe and none");
        assert_eq!(cut_offs.said(&Quantity::missing("cm2/m2", "x")), None);
    }
}

const RUNS: &str = "run_id,kind,frame_id,trace,inspection\na,frame,F,,intact\nb,frame,G,,intact\n";
const FRAMES: &str = "frame_id,true_id_mm\nF,21.0\nG,21.0\n";
const CALIPERS: &str = "run_id,stage,method,orientation_deg,repeat,value,unit\na,before,caliper,0,1,21.00,mm\na,before,caliper,90,1,21.02,mm\na,before,caliper,0,2,21.01,mm\na,before,caliper,90,2,20.99,mm\nb,before,caliper,0,1,21.00,mm\nb,before,caliper,90,1,21.02,mm\n";

/// A study of two runs without recordings, the first with a flow record before: half-sine of 80 mL in 0.3 s at 12 mmHg.
fn study(folder: &Path, toml: &str, rig: &str) -> Analysis {
    let mut flow = "run_id,stage,time_s,flow_ml_s,dp_mmhg\n".to_owned();
    let record = super::record(500.0, 6.0, |_| 12.0);
    for ((t, q), p) in record
        .time_s
        .iter()
        .zip(&record.flow_ml_s)
        .zip(&record.dp_mmhg)
    {
        writeln!(flow, "a,before,{t},{},{p}", 80.0 / 70.0 * q).unwrap();
    }
    for (name, text) in [
        ("study.toml", format!("rig = \"rig.toml\"\n{toml}").as_str()),
        ("rig.toml", rig),
        ("runs.csv", RUNS),
        ("frames.csv", FRAMES),
        ("calipers.csv", CALIPERS),
        ("flow.csv", &flow),
    ] {
        std::fs::write(folder.join(name), text).unwrap();
    }
    let study = open_study(folder).unwrap_or_else(|findings| panic!("{findings:?}"));
    analyse(&study, &Options::default(), &|_, _| {})
        .unwrap_or_else(|findings| panic!("{findings:?}"))
        .analysis
}

const FLUID: &str = "[fluid]\ndensity_g_per_ml = 1.005\n";
const CALIPER: &str = "[geometry]\ncaliper_u_mm = 0.02\n";
const FLOW: &str = "[flow]\nu_flow_rel = 0.02\nu_flow_l_min = 0.03\nu_dp_rel = 0.01\nu_dp_kpa = 0.01\nu_density_rel = 0.002\naorta_diameter_mm = 28.0\n";
const PATIENT: &str = "[hypothetical_patient]\nheight_cm = 165\nweight_kg = 95\n";

#[test]
fn a_study_sets_its_areas_against_a_hypothetical_patient() {
    let folder = tempfile::tempdir().unwrap();
    let analysis = study(folder.path(), PATIENT, &format!("{FLUID}{FLOW}"));
    let flow = &analysis.runs[0].flow["before"];
    let (area, u_area) = flow.effective_orifice_area.pair().unwrap();
    let patient = flow.hypothetical_patient.as_ref().unwrap();
    assert_eq!(patient.note, HYPOTHETICAL);
    assert!(patient.body_surface.method.contains("Du Bois"));
    let (indexed, u) = patient.indexed_area.pair().unwrap();
    near(indexed, area / 2.016_391, 1e-6);
    near(u / indexed, u_area / area, 1e-6);
    assert_eq!(
        patient
            .mismatch
            .iter()
            .map(|row| row.applies)
            .collect::<Vec<_>>(),
        [false, true]
    );
    // The tube of the rig, and an index of it.
    let tube = std::f64::consts::PI / 400.0 * 28.0 * 28.0;
    let loss = flow.energy_loss.value.unwrap();
    near(loss, area * tube / (tube - area), 1e-9);
    near(
        patient.energy_loss_index.value.unwrap(),
        loss / 2.016_391,
        1e-6,
    );
    assert!(flow.energy_loss.u.unwrap() > u_area);
    // The patient's aorta goes before the tube, and another formula is named.
    let other = format!("{PATIENT}bsa_formula = \"mosteller\"\naorta_diameter_mm = 24.0\n");
    let analysis = study(folder.path(), &other, &format!("{FLUID}{FLOW}"));
    let flow = &analysis.runs[0].flow["before"];
    assert!(flow.energy_loss.method.contains("24 mm"), "{flow:?}");
    let patient = flow.hypothetical_patient.as_ref().unwrap();
    assert!(patient.body_surface.method.contains("Mosteller"));
    // Nobody supposed, nothing said.
    let analysis = study(folder.path(), "", FLUID);
    let flow = &analysis.runs[0].flow["before"];
    assert_eq!(flow.hypothetical_patient, None);
    assert!(
        flow.energy_loss
            .reason
            .as_ref()
            .unwrap()
            .contains("aorta_diameter_mm")
    );
    let json = serde_json::to_string(&analysis).unwrap();
    assert!(!json.contains("hypothetical_patient"));
}

/// Gorlin and Hakki of the record: 80 mL in beats of 0.85 s, 0.3 s of forward flow, 12 mmHg.
#[test]
fn other_areas_stand_beside_the_effective_one() {
    let folder = tempfile::tempdir().unwrap();
    let analysis = study(folder.path(), "", &format!("{FLUID}{FLOW}"));
    let flow = &analysis.runs[0].flow["before"];
    near(flow.stroke_volume.value.unwrap(), 80.0, 0.1);
    let rate = 60.0 / 0.85;
    let gorlin = 80.0 * rate / (rate * 0.3 * 44.3 * 12.0_f64.sqrt());
    near(flow.gorlin.value.unwrap() / gorlin, 1.0, 0.01);
    near(
        flow.hakki.value.unwrap() / (0.08 * rate / 12.0_f64.sqrt()),
        1.0,
        0.01,
    );
    assert!(flow.gorlin.u.unwrap() > 0.0 && flow.gorlin.method.contains("comparison"));
    // The closed valve of this record leaks nothing.
    assert!(
        flow.regurgitant_fraction
            .reason
            .as_ref()
            .unwrap()
            .contains("no reverse flow")
    );
}

/// Where nothing flowed there is a surrogate with the range of its coefficient, and it never is an effective area.
#[test]
fn a_bore_without_a_flow_record_has_a_surrogate() {
    let folder = tempfile::tempdir().unwrap();
    let analysis = study(folder.path(), "", &format!("{FLUID}{CALIPER}"));
    assert!(
        analysis.runs[0]
            .areas
            .as_ref()
            .unwrap()
            .surrogate
            .is_empty()
    );
    let run = &analysis.runs[1];
    assert!(run.flow.is_empty());
    let bore = run.diameters.as_ref().unwrap().before.value.unwrap();
    let range = &run.areas.as_ref().unwrap().surrogate["before"];
    let circle = std::f64::consts::PI / 400.0 * bore * bore;
    near(range.low.value.unwrap(), 0.6 * circle, 1e-9);
    near(range.high.value.unwrap(), 0.93 * circle, 1e-9);
    assert!(range.low.u.unwrap() > 0.0);
    assert!(range.low.method.contains("no effective orifice area"));
    // Nobody measured the bore after.
    assert_eq!(run.areas.as_ref().unwrap().surrogate.len(), 1);
}

/// What the rig declares counts, and what it leaves open is a doubt that names it.
#[test]
fn a_rig_declares_its_flow_loop() {
    let rig = rig_from_text(FLOW, "r.toml").unwrap().0;
    let (instruments, assumed) = FlowInstruments::declared(&rig.flow);
    assert!(assumed.is_empty());
    near(instruments.u_flow_rel, 0.02, 1e-15);
    // 0.03 L/min = 0.5 mL/s; 0.01 kPa = 0.0750062 mmHg.
    near(instruments.u_flow_zero_ml_s, 0.5, 1e-12);
    near(instruments.u_dp_zero_mmhg, 0.075_006_2, 1e-6);
    let (usual, assumed) = FlowInstruments::declared(&FlowSpec::default());
    assert_eq!(usual, FlowInstruments::default());
    assert_eq!(assumed.len(), 5);

    let folder = tempfile::tempdir().unwrap();
    let u = |rig: &str| {
        let analysis = study(folder.path(), "", rig);
        let run = &analysis.runs[0];
        let assumed: Vec<String> = run
            .findings
            .iter()
            .filter(|f| f.code == "flow-instruments-assumed")
            .map(|f| f.message.clone())
            .collect();
        (
            run.flow["before"].effective_orifice_area.u.unwrap(),
            assumed,
        )
    };
    let (declared, doubts) = u(&format!("{FLUID}{FLOW}"));
    assert!(doubts.is_empty());
    let (usual, doubts) = u(FLUID);
    assert_eq!(doubts.len(), 1);
    assert!(doubts[0].contains("u_flow_rel") && doubts[0].contains("u_dp_mmhg"));
    assert!(declared > 2.0 * usual, "{declared} {usual}");
    let (_, doubts) = u(&format!(
        "{FLUID}[flow]\nu_flow_rel = 0.01\nu_flow_ml_s = 0.3\nu_dp_rel = 0.003\nu_dp_mmhg = 0.02\n"
    ));
    assert!(doubts[0].contains("declare u_density_rel of"), "{doubts:?}");

    for (text, word) in [
        ("[flow]\nu_flow_relative = 0.01\n", "no unit"),
        ("[flow]\nu_dp_ml = 0.01\n", "u_dp_mmhg"),
        ("[flow]\nu_dp_mmhg = -1\n", "at least 0"),
        ("[flow]\naorta_diameter_mm = 2.8\n", "5 to 60 mm"),
        ("[flow]\ndensity = 1\n", "unknown key"),
    ] {
        let findings = rig_from_text(text, "r.toml").expect_err(text);
        assert!(findings[0].to_string().contains(word), "{findings:?}");
        assert_eq!(findings[0].line, Some(2));
    }
}

#[test]
fn a_patient_needs_height_and_weight() {
    let folder = Path::new(".");
    let (study, _) = study_from_text(PATIENT, folder).unwrap();
    let patient = study.hypothetical_patient.unwrap();
    assert_eq!(patient.bsa_formula, BodySurface::DuBois);
    for (text, word) in [
        ("[hypothetical_patient]\nheight_cm = 165\n", "weight_kg"),
        (
            "[hypothetical_patient]\nheight_cm = 1.65\nweight_kg = 95\n",
            "50 to 250 cm",
        ),
        (
            "[hypothetical_patient]\nheight_cm = 165\nweight_kg = 950\n",
            "2 to 400 kg",
        ),
        (
            "[hypothetical_patient]\nheight_cm = 165\nweight_kg = 95\nbsa_formula = \"dubois\"\n",
            "du_bois",
        ),
        (
            "[hypothetical_patient]\nheight_cm = 165\nweight_kg = 95\nage = 80\n",
            "unknown key",
        ),
    ] {
        let findings = study_from_text(text, folder).expect_err(text);
        assert_eq!(findings.len(), 1, "{findings:?}");
        assert!(findings[0].to_string().contains(word), "{findings:?}");
    }
}
