//! The tables of a simulated study as CSV text.

use super::dialect::fixed;
use super::pulse::FlowSample;
use super::recorder::Logger;
use super::rig_file::rig_path;
use super::{plan::Plan, plan::RunPlan};
use crate::units::KPA_PER_ATM;
use std::fmt::Write as _;

/// File of the protocol in the study folder.
pub const PROTOCOL_FILE: &str = "protocol.toml";

/// `frames.csv`.
pub fn frames(plan: &Plan) -> String {
    let mut text = String::from(
        "frame_id,construction,label_size_mm,true_id_mm,stent_id_mm,outer_diameter_mm,band_height_mm\n",
    );
    for frame in plan.runs.iter().filter_map(|run| run.frame.as_ref()) {
        // Writing into a String cannot fail (here and below).
        let _ = writeln!(
            text,
            "{},{},{},{:.1},{:.1},{:.1},{:.1}",
            frame.id,
            frame.construction.name,
            frame.label_size_mm,
            frame.true_id_mm,
            frame.stent_id_mm,
            frame.outer_diameter_mm,
            frame.band_height_mm
        );
    }
    text
}

/// `balloons.csv`.
pub fn balloons(plan: &Plan) -> String {
    let mut text = String::from(
        "balloon_id,nominal_diameter_mm,working_length_mm,nominal_pressure_atm,rated_burst_pressure_atm,lot\n",
    );
    for balloon in &plan.balloons {
        let _ = writeln!(
            text,
            "{},{},{},{},{},{}",
            balloon.id,
            balloon.nominal_diameter_mm,
            balloon.balloon.working_length_mm,
            balloon.nominal_pressure_atm,
            balloon.rated_burst_pressure_atm,
            balloon.lot
        );
    }
    text
}

/// `charts.csv`: the maker's chart, true to a hundredth of a millimetre.
pub fn charts(plan: &Plan) -> String {
    let mut text = String::from("balloon_id,pressure_atm,diameter_mm\n");
    for balloon in &plan.balloons {
        let last = balloon.rated_burst_pressure_atm as u32;
        for atm in 1..=last {
            let d = (1.0 + balloon.chart_error)
                * balloon.balloon.full_diameter(f64::from(atm) * KPA_PER_ATM);
            let _ = writeln!(text, "{},{atm},{d:.2}", balloon.id);
        }
    }
    text
}

/// `runs.csv`; `inspections` in the order of the runs. The column `rig` is there only if there is more than one recorder.
pub fn runs(plan: &Plan, inspections: &[String]) -> String {
    let several = plan.loggers.len() > 1;
    let mut text = String::from(
        "run_id,kind,frame_id,balloon_id,arm,trace,operator,started_at,inspection,note",
    );
    text.push_str(if several { ",rig" } else { "" });
    text.push_str(",inner_valve\n");
    for (run, inspection) in plan.runs.iter().zip(inspections) {
        let kind = match run.kind() {
            crate::recording::RunKind::Blank => "blank",
            crate::recording::RunKind::Free => "free",
            crate::recording::RunKind::Frame => "frame",
        };
        let frame = run.frame.as_ref().map_or("", |frame| frame.id.as_str());
        let balloon = run
            .balloon
            .and_then(|at| plan.balloons.get(at))
            .map_or("", |balloon| balloon.id.as_str());
        let _ = write!(
            text,
            "{},{kind},{frame},{balloon},{},{},{},{},{inspection},{}",
            run.id,
            run.arm,
            trace_path(run),
            run.operator,
            started_at(plan, run),
            run.note
        );
        if several {
            let rig = plan.loggers.get(run.logger).filter(|_| run.logger > 0);
            text.push(',');
            text.push_str(&rig.map_or_else(String::new, rig_path));
        }
        let inner = run.frame.as_ref().and_then(|frame| frame.inner.as_ref());
        text.push_str(if inner.is_some() {
            ",inner valve\n"
        } else {
            ",\n"
        });
    }
    text
}

/// Path of a run's recording in the study folder.
pub fn trace_path(run: &RunPlan) -> String {
    format!("traces/{}.csv", run.id)
}

/// Start as ISO 8601 local time.
fn started_at(plan: &Plan, run: &RunPlan) -> String {
    let (year, month, day) = plan.day;
    let s = run.start_s;
    format!(
        "{year:04}-{month:02}-{day:02}T{:02}:{:02}:{:02}",
        s / 3600,
        s / 60 % 60,
        s % 60
    )
}

/// `study.toml`.
pub fn study(plan: &Plan) -> String {
    let rig = plan.loggers.first().map_or_else(String::new, rig_path);
    let mut text = format!("title = \"{}\"\nrig = \"{rig}\"\n", plan.title);
    if plan.protocol.is_some() {
        let _ = writeln!(text, "protocol = \"{PROTOCOL_FILE}\"");
    }
    if !plan.settings.is_empty() {
        text.push_str("\n[settings]\n");
    }
    for (name, value) in &plan.settings {
        let _ = writeln!(text, "{name} = {value}");
    }
    text
}

/// Head of `calipers.csv`.
pub const CALIPER_HEAD: &str = "run_id,stage,method,orientation_deg,repeat,operator,value,unit\n";
/// Head of `contours.csv`.
pub const CONTOUR_HEAD: &str = "run_id,stage,x,y,unit,scale_mm_per_px\n";
/// Head of `flow.csv`.
pub const FLOW_HEAD: &str = "run_id,stage,time_s,flow_ml_s,dp_mmhg\n";
/// Head of `observations.csv`.
pub const OBSERVATION_HEAD: &str = "run_id,stage,what,value,unit,observer\n";

/// Rows of an outline, in mm where `scale` (mm for a pixel) is zero, else in pixels.
pub fn contour_rows(text: &mut String, run: &str, stage: &str, points: &[(f64, f64)], scale: f64) {
    for (x, y) in points {
        let _ = if scale > 0.0 {
            // The image's origin is its corner: the frame sits somewhere in the middle of 1600 × 1200 pixels.
            let (u, v) = (800.0 + x / scale, 600.0 + y / scale);
            writeln!(text, "{run},{stage},{u:.2},{v:.2},px,{scale}")
        } else {
            writeln!(text, "{run},{stage},{},{},mm,", fixed(*x, 3), fixed(*y, 3))
        };
    }
}

/// Rows of a duplicator recording.
pub fn flow_rows(text: &mut String, run: &str, stage: &str, samples: &[FlowSample]) {
    for sample in samples {
        let _ = writeln!(
            text,
            "{run},{stage},{},{},{}",
            fixed(sample.t, 2),
            fixed(sample.flow, 1),
            fixed(sample.dp, 2)
        );
    }
}

/// The recorder of a run.
pub fn logger_of<'a>(plan: &'a Plan, run: &RunPlan) -> Option<&'a Logger> {
    plan.loggers
        .get(run.logger)
        .or_else(|| plan.loggers.first())
}
