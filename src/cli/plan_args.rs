//! What may be typed after `plan`.

use super::args::{positive, runs};
use crate::plan::{Limits, MOST_FAILURES};
use crate::rig::settings::EVEN;
use clap::{Subcommand, ValueEnum};
use std::path::PathBuf;

/// What to plan.
#[derive(Debug, Subcommand)]
pub enum Plan {
    /// How many runs, of which so many may fail, show a reliability with a confidence.
    #[command(
        after_help = "Example:\n  hooptrace plan attribute --confidence 0.95 --reliability 0.9"
    )]
    Attribute(Attribute),
    /// How many values it takes until mean and scatter show that a limit is kept.
    #[command(
        after_help = "Example:\n  hooptrace plan variable --limit 16 --mean 11 --sd 1.5 --unit atm --coverage 0.9 --confidence 0.95\n  hooptrace plan variable --lower 20 --upper 24 --mean 22.1 --sd 0.4 --unit mm --coverage 0.9 --confidence 0.95"
    )]
    Variable(Variable),
    /// How often each criterion of a protocol passes, fails or stays undecided on the simulated bench.
    #[command(
        after_help = "Example:\n  hooptrace plan power --protocol protocol.toml --scenario everyday --construction moulded-ring --frames 12 --studies 50"
    )]
    Power(Power),
    /// Which pressures to step through with a balloon in a frame, from an analysis of your own.
    #[command(
        after_help = "Example:\n  hooptrace plan steps --from out --balloon HB-23 --true-id 20.5\n\nA plan for the bench only: no advice for a patient."
    )]
    Steps(Steps),
}

/// Options of `plan attribute`.
#[derive(Debug, clap::Args)]
pub struct Attribute {
    /// Confidence, at least a half and below 1.
    #[arg(long, value_name = "C", value_parser = confidence)]
    pub confidence: f64,
    /// Reliability to be shown, above 0 and below 1.
    #[arg(long, value_name = "R", value_parser = share)]
    pub reliability: f64,
    /// Most failures that may be allowed: the table goes up to it, up to 3 without it.
    #[arg(long, value_name = "F", value_parser = clap::value_parser!(u64).range(..=MOST_FAILURES))]
    pub failures: Option<u64>,
    /// Take every reliability as equally likely before the first run, which saves one run; classical without it.
    #[arg(long)]
    pub bayes: bool,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `plan variable`.
#[derive(Debug, clap::Args)]
pub struct Variable {
    /// The limit that values must keep.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = finite, required_unless_present = "lower", conflicts_with = "lower")]
    pub limit: Option<f64>,
    /// Two limits instead: the lower one.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = finite, requires = "upper", conflicts_with = "side")]
    pub lower: Option<f64>,
    /// Two limits instead: the upper one.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = finite, requires = "lower")]
    pub upper: Option<f64>,
    /// Mean expected of the population.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = finite)]
    pub mean: f64,
    /// Standard deviation expected of the population.
    #[arg(long, value_name = "X", allow_negative_numbers = true, value_parser = positive)]
    pub sd: f64,
    /// Unit of limits, mean and standard deviation, as atm, kPa or mm; 1 for a ratio.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    pub unit: String,
    /// Part of the population that must keep the limits, above 0 and below 1.
    #[arg(long, value_name = "P", value_parser = share)]
    pub coverage: f64,
    /// Confidence, at least a half and below 1.
    #[arg(long, value_name = "C", value_parser = confidence)]
    pub confidence: f64,
    /// How often the criterion shall be met, above 0 and below 1.
    #[arg(long, value_name = "POWER", default_value_t = 0.9, value_parser = share)]
    pub power: f64,
    /// Values must stay below an upper limit, or above a lower one.
    #[arg(long, value_enum, default_value_t = SideWord::Upper)]
    pub side: SideWord,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SideWord {
    /// An upper limit.
    Upper,
    /// A lower limit.
    Lower,
}

impl Variable {
    /// The limits asked for; `None` where there are none, which the parser refuses beforehand.
    pub fn limits(&self) -> Option<Limits> {
        match (self.lower, self.upper, self.limit) {
            (Some(lower), Some(upper), _) => Some(Limits::Both { lower, upper }),
            (_, _, Some(limit)) => Some(match self.side {
                SideWord::Upper => Limits::Upper { limit },
                SideWord::Lower => Limits::Lower { limit },
            }),
            _ => None,
        }
    }
}

/// Options of `plan power`.
#[derive(Debug, clap::Args)]
pub struct Power {
    /// The protocol.
    #[arg(long, value_name = "PROTOCOL")]
    pub protocol: PathBuf,
    /// A scenario of the program by name, or a scenario file.
    #[arg(long, value_name = "SCENARIO", default_value = "everyday")]
    pub scenario: String,
    /// Only frames of this construction of the scenario.
    #[arg(long, value_name = "NAME")]
    pub construction: Option<String>,
    /// Only criteria of this arm, and those that name none.
    #[arg(long, value_name = "ARM")]
    pub arm: Option<String>,
    /// Frame runs of a study.
    #[arg(long, value_name = "N", value_parser = runs)]
    pub frames: usize,
    /// Studies to simulate.
    #[arg(long, value_name = "M", default_value_t = 50, value_parser = runs)]
    pub studies: usize,
    /// Seed of everything random.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// Options of `plan steps`.
#[derive(Debug, clap::Args)]
pub struct Steps {
    /// Output folder of an analysis with free runs of the balloon (holds results.json).
    #[arg(long, value_name = "OUT")]
    pub from: PathBuf,
    /// The balloon, as that study names it.
    #[arg(long, value_name = "ID")]
    pub balloon: String,
    /// Measured true inner diameter of the frame, mm.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = positive, conflicts_with = "stent_id")]
    pub true_id: Option<f64>,
    /// Inner diameter of its bare stent instead, mm.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = positive)]
    pub stent_id: Option<f64>,
    /// Standard uncertainty of that diameter, mm.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = positive)]
    pub u_id: Option<f64>,
    /// Refused: a label size is no diameter.
    #[arg(long, value_name = "MM", hide = true)]
    pub label_size: Option<String>,
    /// Stop where the free balloon has this diameter, mm.
    #[arg(long, value_name = "MM", allow_negative_numbers = true, value_parser = positive)]
    pub to_diameter: Option<f64>,
    /// From step to step, atm.
    #[arg(long, value_name = "ATM", default_value_t = 1.0, allow_negative_numbers = true, value_parser = positive)]
    pub step_atm: f64,
    /// Go no further than this share of the rated burst pressure.
    #[arg(long, value_name = "SHARE", default_value_t = 0.9, allow_negative_numbers = true, value_parser = positive)]
    pub max_share_of_rated: f64,
    /// Only what was seen of frames of this group of the study.
    #[arg(long, value_name = "GROUP")]
    pub group: Option<String>,
    /// Print as JSON.
    #[arg(long)]
    pub json: bool,
}

/// A share or probability.
fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number > 0.0 && number < 1.0 => Ok(number),
        _ => Err("expected a share above 0 and below 1; for 95 % write 0.95".to_owned()),
    }
}

/// A confidence: below an even chance it is none.
fn confidence(text: &str) -> Result<f64, String> {
    match share(text) {
        Ok(number) if number < EVEN => Err(format!(
            "expected a confidence of at least {EVEN}: below it is wrong more often than right"
        )),
        other => other,
    }
}

/// A number.
fn finite(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err("expected a number".to_owned()),
    }
}

/// A unit by its symbol or another spelling.
fn unit(text: &str) -> Result<String, String> {
    if text == "1" {
        return Ok(text.to_owned());
    }
    match crate::units::find(text) {
        Some(unit) => Ok(unit.symbol.to_owned()),
        None => Err(match crate::units::nearest(text) {
            Some(near) => format!("no known unit; did you mean \"{near}\"?"),
            None => "no known unit; expected one as atm, kPa, mm or %".to_owned(),
        }),
    }
}
