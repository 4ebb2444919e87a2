//! What is doubtful about the samples of a pressure channel: one question to a file, one line of [`QUALITY`].
//!
//! Each check looks at the columns where they lie and says what it found, where and how often, what it did to the numbers, and which
//! samples are to be left out; nothing is repaired. Most look at excerpts ([`excerpts`]), so that a long recording costs no more than a
//! short one; those that must see every sample go over it once.

mod blocks;
mod codes;
mod dead;
mod excerpts;
mod flat;
mod hum;
mod out_of_range;
mod quantised;
mod range_splice;
mod sign;
mod spikes;
mod swap;
mod unit;

use super::noise::median;
use crate::recording::{Extent, Finding, Trace};
use crate::rig::{ChannelSpec, Rig, Settings};
use crate::units::Unit;

/// The pressure channel whose samples are looked at, and all that is declared about it.
pub(super) struct Channel<'a> {
    /// As the rig declares it.
    pub spec: &'a ChannelSpec,
    /// Unit of its numbers.
    pub unit: &'static Unit,
    /// Its column in the file.
    pub column: &'a str,
    /// Column of the volume, if there is one.
    pub volume_column: Option<&'a str>,
    /// The file.
    pub file: &'a str,
    /// The rig.
    pub rig: &'a Rig,
    /// Thresholds.
    pub settings: &'a Settings,
}

/// What a check says.
#[derive(Default)]
struct Said {
    findings: Vec<Finding>,
    /// Stretches of samples that are no measurement: first, and one past the last.
    left_out: Vec<(usize, usize)>,
    /// Stretches at the upper limit of the channel, where the true pressure was higher.
    at_limit: Vec<(usize, usize)>,
    /// The noise of a sample is at least this, kPa.
    noise_at_least: f64,
}

impl Said {
    /// One finding, and nothing changed.
    fn only(finding: Finding) -> Self {
        Self {
            findings: vec![finding],
            ..Self::default()
        }
    }
}

impl Channel<'_> {
    /// A finding about stretches of samples of the pressure column.
    fn over(&self, finding: Finding, trace: &Trace, stretches: &[(usize, usize)]) -> Finding {
        finding.over(self.file, Some(self.column), Extent::of(trace, stretches))
    }
}

/// When a check is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum When {
    /// In bench units, before anything else.
    Converted,
    /// The noise of the recording is known.
    NoiseKnown,
    /// The zero is taken out.
    Zeroed,
}

/// One question about the samples.
pub struct Quality {
    /// Its name, in kebab-case.
    pub name: &'static str,
    /// The findings it may give.
    pub codes: &'static [&'static str],
    when: When,
    look: fn(&Trace, &Channel<'_>) -> Said,
}

/// Every check, in the order in which they are made: a later one sees no sample that an earlier one left out.
pub const QUALITY: &[Quality] = &[
    Quality {
        name: "codes",
        codes: &["missing-code"],
        when: When::Converted,
        look: codes::look,
    },
    Quality {
        name: "unit",
        codes: &["implausible-unit", "unscaled-signal"],
        when: When::Converted,
        look: unit::look,
    },
    Quality {
        name: "out-of-range",
        codes: &["out-of-range"],
        when: When::Converted,
        look: out_of_range::look,
    },
    Quality {
        name: "flat",
        codes: &["pressure-held", "pressure-clipped", "pressure-floor"],
        when: When::Converted,
        look: flat::look,
    },
    Quality {
        name: "quantised",
        codes: &["quantised"],
        when: When::NoiseKnown,
        look: quantised::look,
    },
    Quality {
        name: "spikes",
        codes: &["spikes"],
        when: When::NoiseKnown,
        look: spikes::look,
    },
    Quality {
        name: "dead",
        codes: &["pressure-never-moves"],
        when: When::NoiseKnown,
        look: dead::look,
    },
    Quality {
        name: "hum",
        codes: &["hum"],
        when: When::Zeroed,
        look: hum::look,
    },
    Quality {
        name: "sign",
        codes: &["sign-flip"],
        when: When::Zeroed,
        look: sign::look,
    },
    Quality {
        name: "swap",
        codes: &["channel-swap"],
        when: When::Zeroed,
        look: swap::look,
    },
    Quality {
        name: "range-splice",
        codes: &["range-splice"],
        when: When::Zeroed,
        look: range_splice::look,
    },
];

/// Makes the checks that are due, and leaves out what they say is no measurement.
pub(super) fn check(
    when: When,
    trace: &mut Trace,
    channel: &Channel<'_>,
    findings: &mut Vec<Finding>,
) {
    for quality in QUALITY.iter().filter(|quality| quality.when == when) {
        let said = (quality.look)(trace, channel);
        for (start, end) in said.left_out {
            trace.pressure_kpa[start..end].fill(f64::NAN);
        }
        for (start, end) in said.at_limit {
            trace.clipped[start..end].fill(true);
        }
        trace.noise_kpa = trace.noise_kpa.max(said.noise_at_least);
        findings.extend(said.findings);
    }
}

/// "1 sample", "3 samples".
fn counted(count: usize, what: &str) -> String {
    if count == 1 {
        format!("1 {what}")
    } else {
        format!("{count} {what}s")
    }
}
