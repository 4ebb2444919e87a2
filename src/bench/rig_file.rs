//! The rig file of a simulated logger.

use super::dialect::{Dialect, PREAMBLE_LINES};
use super::gauge::{CALIPER_SPREAD_MM, CALIPER_STEP_MM, OPERATOR_SPREAD_MM};
use super::plan::Plan;
use super::pulse::{DENSITY_U, DP_GAIN_U, DP_ZERO_U_MMHG, FLOW_GAIN_U, FLOW_ZERO_U_ML_S};
use super::recorder::{COUNTER_U_REL, Logger};
use crate::recording::RunKind;
use std::fmt::Write as _;

/// Path of a logger's rig file in the study folder.
pub fn rig_path(logger: &Logger) -> String {
    format!("rigs/{}.toml", logger.name)
}

/// The text of a logger's rig file.
pub fn rig_text(plan: &Plan, logger: &Logger) -> String {
    let mut text = format!(
        "name = \"{}\"\n\n[ambient]\npressure_kpa = {:.2}\n\n[transducer]\nside = \"inflator\"\n",
        logger.name, plan.line.ambient_kpa
    );
    text.push_str(&dialect_section(logger));
    channels(&mut text, logger);
    let blanks: Vec<String> = plan
        .runs
        .iter()
        .filter(|run| run.kind() == RunKind::Blank)
        .map(|run| format!("\"{}\"", run.id))
        .collect();
    let caliper_u = CALIPER_SPREAD_MM.hypot(OPERATOR_SPREAD_MM);
    // Writing into a String cannot fail.
    let _ = write!(
        text,
        "\n[line]\nblank_runs = [{}]\n\n[geometry]\ncaliper_resolution_mm = {CALIPER_STEP_MM}\ncaliper_u_mm = {caliper_u:.4}\n\n[fluid]\ndensity_g_per_ml = {:.3}\n\n[flow]\nu_flow_rel = {FLOW_GAIN_U}\nu_flow_ml_s = {FLOW_ZERO_U_ML_S}\nu_dp_rel = {DP_GAIN_U}\nu_dp_mmhg = {DP_ZERO_U_MMHG}\nu_density_rel = {DENSITY_U}\n",
        blanks.join(", "),
        plan.density_g_per_ml
    );
    text
}

fn dialect_section(logger: &Logger) -> String {
    match logger.dialect {
        Dialect::Comma => "\n[dialect]\nmode = \"given\"\ndelimiter = \",\"\ndecimal = \".\"\nthousands = \"\"\nencoding = \"utf-8\"\nskip_lines = 0\nheader_rows = 1\ncomment = \"\"\n\n[clock]\nkind = \"relative\"\ncolumn = \"Time [s]\"\nunit = \"s\"\n".to_owned(),
        Dialect::Semicolon => format!(
            "\n[dialect]\nmode = \"given\"\ndelimiter = \";\"\ndecimal = \",\"\nthousands = \"\"\nencoding = \"latin-1\"\nskip_lines = {PREAMBLE_LINES}\nheader_rows = 2\ncomment = \"\"\n\n[clock]\nkind = \"local\"\ncolumn = \"Zeit\"\nformat = \"dd.mm.yyyy hh:mm:ss,fff\"\n"
        ),
    }
}

fn channels(text: &mut String, logger: &Logger) {
    let (pressure, unit, volume, waist, bath, sound) = match logger.dialect {
        Dialect::Comma => (
            "Pressure [kPa]",
            "kPa",
            "Volume [mL]",
            "Waist [mm]",
            "Bath [°C]",
            "Sound [V]",
        ),
        Dialect::Semicolon => (
            "Druck",
            "bar",
            "Volumen",
            "Durchmesser",
            "Badtemperatur",
            "Schall",
        ),
    };
    let _ = write!(
        text,
        "\n[[channel]]\nquantity = \"pressure\"\ncolumn = \"{pressure}\"\nunit = \"{unit}\"\nreference = \"gauge\"\nrange_kpa = [{:.1}, {:.1}]\nresolution_kpa = {:.4}\nu_kpa = {}\nu_rel = {}\ncalibrated_on = \"{}\"\ndue_on = \"{}\"\n",
        logger.range_kpa.0,
        logger.range_kpa.1,
        logger.pressure_step(),
        logger.u_kpa,
        logger.u_rel,
        logger.calibrated_on,
        logger.due_on
    );
    if logger.counter {
        let _ = write!(
            text,
            "\n[[channel]]\nquantity = \"volume\"\ncolumn = \"{volume}\"\nunit = \"mL\"\nresolution_ml = {}\nu_ml = 0.004\nu_rel = {COUNTER_U_REL}\n",
            logger.volume_resolution_ml
        );
    }
    if let Some(camera) = logger.camera {
        let _ = write!(
            text,
            "\n[[channel]]\nquantity = \"diameter\"\ncolumn = \"{waist}\"\nunit = \"mm\"\nresolution_mm = {}\nu_mm = {}\ndelay_s = {}\n",
            camera.resolution_mm,
            camera.noise_mm.hypot(camera.set_up_mm),
            camera.delay_s
        );
    }
    if logger.thermometer {
        let _ = write!(
            text,
            "\n[[channel]]\nquantity = \"temperature\"\ncolumn = \"{bath}\"\nunit = \"°C\"\n"
        );
    }
    if logger.microphone.is_some() {
        let _ = write!(
            text,
            "\n[[channel]]\nquantity = \"sound\"\ncolumn = \"{sound}\"\nunit = \"V\"\n"
        );
    }
}
