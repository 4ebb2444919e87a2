//! Scenarios: what runs a bench may see, as ranges and shares. Plans are drawn from them, so that what happens is decided by the physics.

use crate::recording::{Finding, Place, suggest};
use serde::{Deserialize, Serialize};

/// Lowest and highest value; every value between is as likely.
pub type Range = [f64; 2];

/// The scenarios that come with the program. A new one is one file and one line here.
pub const SCENARIOS: &[&str] = &[
    include_str!("scenarios/everyday.toml"),
    include_str!("scenarios/noisy.toml"),
    include_str!("scenarios/slow-clock.toml"),
    include_str!("scenarios/pressure-only.toml"),
    include_str!("scenarios/faulty-logger.toml"),
    include_str!("scenarios/nothing-breaks.toml"),
];

/// What kind of runs to draw. Every key has a default, which is that of an everyday bench.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scenario {
    /// One word, also the name of the study.
    pub name: String,
    /// What it stands for, in one sentence.
    pub title: String,
    /// Share of the default mix of `prove`.
    pub share: f64,
    /// Frame runs of one study: they share a line, a balloon and a recorder, as the runs of a day do.
    pub runs_in_study: usize,
    /// Recorder.
    pub recorder: RecorderMix,
    /// Line.
    pub line: LineMix,
    /// Constructions, drawn by their shares.
    pub frames: Vec<FrameMix>,
    /// Operator.
    pub operator: OperatorMix,
    /// Balloon.
    pub balloon: BalloonMix,
    /// Faults of the recording.
    pub faults: FaultMix,
    /// Share of frames dilated after an inner valve was implanted in them; the others are dilated before.
    pub inner_valve: f64,
    /// Share of runs after which somebody wrote down what the frame looked like.
    pub inspected: f64,
}

/// Recorders. A study has one of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RecorderMix {
    /// Samples a second, Hz, one of these.
    pub rate_hz: Vec<f64>,
    /// White noise, standard deviation, kPa.
    pub white_kpa: Range,
    /// Slow noise, standard deviation, kPa.
    pub slow_kpa: Range,
    /// Mains hum, amplitude, kPa.
    pub hum_kpa: Range,
    /// Drift of zero, kPa/min.
    pub drift_kpa_per_min: Range,
    /// Gain error, standard deviation.
    pub gain_error: f64,
    /// Bits of the converter, one of these.
    pub bits: Vec<i32>,
    /// Highest pressure of the channel, kPa.
    pub range_to_kpa: Range,
    /// Share of studies with a volume counter.
    pub counter: f64,
    /// Share of studies with a camera that measures the waist.
    pub camera: f64,
    /// Share of studies with a microphone.
    pub microphone: f64,
}

/// Lines.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LineMix {
    /// Elastic compliance, mL/kPa.
    pub compliance_ml_per_kpa: Range,
    /// Trapped air at ambient pressure, mL.
    pub trapped_air_ml: Range,
    /// Resistance, kPa s/mL.
    pub resistance_kpa_s_per_ml: Range,
    /// Share of lines that ring.
    pub ringing: f64,
    /// Frequency of the ringing, Hz.
    pub ringing_hz: Range,
    /// Its damping ratio.
    pub ringing_damping: Range,
    /// Share of studies with a blank run, which tells the line.
    pub blank: f64,
}

/// A construction with the spread of its strength.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrameMix {
    /// A construction of [`super::samples::parts::CONSTRUCTIONS`].
    pub construction: String,
    /// Its share.
    pub share: f64,
    /// Strength that 63 % of frames do not reach, N (Weibull scale); of no use where it never breaks.
    #[serde(default)]
    pub strength_n: f64,
    /// Weibull shape of the strength.
    #[serde(default = "usual_shape")]
    pub shape: f64,
}

/// Shape of the strength of a frame (chosen, not measured: a spread of about a tenth).
fn usual_shape() -> f64 {
    10.0
}

/// Operators.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct OperatorMix {
    /// One stroke, mL.
    pub stroke_ml: Range,
    /// Its duration, s.
    pub stroke_s: Range,
    /// Hold after a stroke, s.
    pub hold_s: Range,
    /// Pressure at which they stop, kPa.
    pub target_kpa: Range,
    /// Strokes after something happened.
    pub strokes_after_event: Vec<usize>,
    /// Refills, pauses and partial deflations of a run, on average.
    pub interludes: f64,
}

/// Balloons and how frames sit on them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BalloonMix {
    /// Share of runs whose balloon bursts if it gets to its pressure.
    pub burst: f64,
    /// That pressure, kPa.
    pub burst_kpa: Range,
    /// Share of runs whose balloon leaks from a pressure on.
    pub leak: f64,
    /// That pressure, kPa.
    pub leak_kpa: Range,
    /// Diameter of the pinhole, µm.
    pub leak_um: Range,
    /// Share of runs whose frame sits off the centre, so that it may slip.
    pub off_centre: f64,
}

/// Faults of a recording: how many a run has on average.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct FaultMix {
    /// Gaps, of 0.05 to 1.5 s.
    pub gaps: f64,
    /// Stretches without pressure, of 1 to 30 rows.
    pub dropouts: f64,
    /// Stretches of rows written twice, of 1 to 5.
    pub repeats: f64,
    /// Stretches of held values, of 2 to 10 rows.
    pub held: f64,
    /// Spikes of up to 300 kPa.
    pub spikes: f64,
    /// Knocks of 20 to 80 kPa.
    pub knocks: f64,
    /// Share of runs in which a gap, a dropout or a spike falls onto the break.
    pub at_break: f64,
    /// Share of runs whose recording ends within a second of the break.
    pub ends_at_break: f64,
}

impl Default for Scenario {
    fn default() -> Self {
        let frame = |construction: &str, share, strength_n| FrameMix {
            construction: construction.to_owned(),
            share,
            strength_n,
            shape: usual_shape(),
        };
        Self {
            name: "bench".to_owned(),
            title: String::new(),
            share: 0.0,
            runs_in_study: 12,
            recorder: RecorderMix::default(),
            line: LineMix::default(),
            frames: vec![
                frame("moulded-ring", 0.3, 48.0),
                frame("moulded-double", 0.12, 44.0),
                frame("banded-stent", 0.2, 52.0),
                frame("wire-form", 0.14, 38.0),
                frame("solid-stent", 0.14, 0.0),
                frame("stiff-base", 0.1, 0.0),
            ],
            operator: OperatorMix::default(),
            balloon: BalloonMix::default(),
            faults: FaultMix::default(),
            inner_valve: 0.15,
            inspected: 0.5,
        }
    }
}

impl Default for RecorderMix {
    fn default() -> Self {
        Self {
            rate_hz: vec![50.0, 100.0, 200.0, 1000.0],
            white_kpa: [0.3, 2.0],
            slow_kpa: [0.1, 0.6],
            hum_kpa: [0.0, 0.8],
            drift_kpa_per_min: [-1.0, 1.0],
            gain_error: 0.001,
            bits: vec![12, 16],
            range_to_kpa: [3500.0, 5000.0],
            counter: 1.0,
            camera: 0.3,
            microphone: 0.3,
        }
    }
}

impl Default for LineMix {
    fn default() -> Self {
        Self {
            compliance_ml_per_kpa: [2e-4, 8e-4],
            trapped_air_ml: [0.05, 0.8],
            resistance_kpa_s_per_ml: [1.0, 5.0],
            ringing: 0.25,
            ringing_hz: [12.0, 30.0],
            ringing_damping: [0.15, 0.5],
            blank: 0.7,
        }
    }
}

impl Default for OperatorMix {
    fn default() -> Self {
        Self {
            stroke_ml: [0.1, 0.4],
            stroke_s: [0.5, 2.0],
            hold_s: [0.5, 3.5],
            target_kpa: [900.0, 1500.0],
            strokes_after_event: vec![0, 1, 2, 3],
            interludes: 0.6,
        }
    }
}

impl Default for BalloonMix {
    fn default() -> Self {
        Self {
            burst: 0.08,
            burst_kpa: [700.0, 1300.0],
            leak: 0.08,
            leak_kpa: [300.0, 900.0],
            leak_um: [40.0, 90.0],
            off_centre: 0.1,
        }
    }
}

impl Scenario {
    /// Reads a scenario.
    ///
    /// # Errors
    /// An error finding with the line, where the text is no TOML, a key is unknown or a value cannot be.
    pub fn from_toml(text: &str, shown_as: &str) -> Result<Self, Finding> {
        let scenario: Self = toml::from_str(text).map_err(|error| {
            let line = error.span().map_or(1, |span| {
                1 + text[..span.start.min(text.len())].matches('\n').count()
            });
            let message = error.message().replace('\n', " ");
            Finding::error("scenario-unusable", format!("{shown_as}: {message}"))
                .at(Place::line(shown_as, line as u64))
                .help("the keys stand in README.md under \"Prove it\"; each has a default")
        })?;
        match scenario.fault() {
            Some(fault) => {
                Err(Finding::error("scenario-unusable", fault).at(Place::file(shown_as)))
            }
            None => Ok(scenario),
        }
    }

    /// The scenario in a file, which has an ending, or of a name, which has none.
    ///
    /// # Errors
    /// An error finding where the file cannot be read, or as [`Self::from_toml`] and [`Self::named`].
    pub fn open(word: &str) -> Result<Self, Finding> {
        if std::path::Path::new(word).extension().is_none() {
            return Self::named(word);
        }
        let text = std::fs::read_to_string(word).map_err(|error| {
            Finding::error("file-unreadable", format!("{word}: {error}")).at(Place::file(word))
        })?;
        Self::from_toml(&text, word)
    }

    /// The scenario of this name among those that come with the program.
    ///
    /// # Errors
    /// An error finding with the names there are.
    pub fn named(name: &str) -> Result<Self, Finding> {
        let all = Self::all()?;
        let names: Vec<String> = all.iter().map(|s| s.name.clone()).collect();
        all.into_iter().find(|s| s.name == name).ok_or_else(|| {
            let near = suggest(name, names.iter().map(String::as_str));
            Finding::error(
                "unknown-scenario",
                format!("there is no scenario \"{name}\""),
            )
            .help(near.map_or_else(
                || format!("there are {}; or name a .toml file", names.join(", ")),
                |near| format!("did you mean \"{near}\"?"),
            ))
        })
    }

    /// All scenarios that come with the program.
    ///
    /// # Errors
    /// As [`Self::from_toml`]; never expected.
    pub fn all() -> Result<Vec<Self>, Finding> {
        SCENARIOS
            .iter()
            .map(|text| Self::from_toml(text, "scenario"))
            .collect()
    }

    /// What cannot be, in words; nothing where it can be simulated.
    pub fn fault(&self) -> Option<String> {
        let name = &self.name;
        if name.is_empty() || !name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-') {
            return Some(format!(
                "name = \"{name}\" is no word of letters, digits and hyphens"
            ));
        }
        if !(1..=MOST_RUNS_IN_STUDY).contains(&self.runs_in_study) {
            return Some(format!(
                "runs_in_study is {}; 1 to {MOST_RUNS_IN_STUDY} are simulated",
                self.runs_in_study
            ));
        }
        self.faulty_range()
            .or_else(|| self.faulty_share())
            .or_else(|| self.faulty_list())
    }

    fn faulty_range(&self) -> Option<String> {
        let (r, l, o, b) = (&self.recorder, &self.line, &self.operator, &self.balloon);
        // Lowest value that the physics takes, and highest.
        let ranges = [
            ("recorder.white_kpa", r.white_kpa, 0.0, 1e3),
            ("recorder.slow_kpa", r.slow_kpa, 0.0, 1e3),
            ("recorder.hum_kpa", r.hum_kpa, 0.0, 1e3),
            ("recorder.drift_kpa_per_min", r.drift_kpa_per_min, -1e3, 1e3),
            ("recorder.range_to_kpa", r.range_to_kpa, 100.0, 1e5),
            (
                "line.compliance_ml_per_kpa",
                l.compliance_ml_per_kpa,
                1e-5,
                0.1,
            ),
            ("line.trapped_air_ml", l.trapped_air_ml, 0.0, 20.0),
            (
                "line.resistance_kpa_s_per_ml",
                l.resistance_kpa_s_per_ml,
                0.0,
                10.0,
            ),
            ("line.ringing_hz", l.ringing_hz, 1.0, 100.0),
            ("line.ringing_damping", l.ringing_damping, 0.01, 2.0),
            ("operator.stroke_ml", o.stroke_ml, 0.01, 5.0),
            ("operator.stroke_s", o.stroke_s, 0.1, 20.0),
            ("operator.hold_s", o.hold_s, 0.1, 60.0),
            ("operator.target_kpa", o.target_kpa, 100.0, 4500.0),
            ("balloon.burst_kpa", b.burst_kpa, 50.0, 1e4),
            ("balloon.leak_kpa", b.leak_kpa, 50.0, 1e4),
            ("balloon.leak_um", b.leak_um, 1.0, 500.0),
        ];
        ranges.iter().find_map(|(name, [low, high], least, most)| {
            let sound = low <= high && low >= least && high <= most;
            (!sound)
                .then(|| format!("{name} = [{low}, {high}] is no range between {least} and {most}"))
        })
    }

    fn faulty_share(&self) -> Option<String> {
        let (r, l, o, b) = (&self.recorder, &self.line, &self.operator, &self.balloon);
        let f = &self.faults;
        let shares = [
            ("share", self.share, 1.0),
            ("inner_valve", self.inner_valve, 1.0),
            ("inspected", self.inspected, 1.0),
            ("recorder.counter", r.counter, 1.0),
            ("recorder.camera", r.camera, 1.0),
            ("recorder.microphone", r.microphone, 1.0),
            ("recorder.gain_error", r.gain_error, 0.1),
            ("line.ringing", l.ringing, 1.0),
            ("line.blank", l.blank, 1.0),
            ("operator.interludes", o.interludes, MOST_A_RUN),
            ("balloon.burst", b.burst, 1.0),
            ("balloon.leak", b.leak, 1.0),
            ("balloon.off_centre", b.off_centre, 1.0),
            ("faults.gaps", f.gaps, MOST_A_RUN),
            ("faults.dropouts", f.dropouts, MOST_A_RUN),
            ("faults.repeats", f.repeats, MOST_A_RUN),
            ("faults.held", f.held, MOST_A_RUN),
            ("faults.spikes", f.spikes, MOST_A_RUN),
            ("faults.knocks", f.knocks, MOST_A_RUN),
            ("faults.at_break", f.at_break, 1.0),
            ("faults.ends_at_break", f.ends_at_break, 1.0),
        ];
        shares.iter().find_map(|(name, value, most)| {
            (!(0.0..=*most).contains(value))
                .then(|| format!("{name} = {value} is not in 0 to {most}"))
        })
    }

    fn faulty_list(&self) -> Option<String> {
        let r = &self.recorder;
        if r.rate_hz.is_empty() || r.rate_hz.iter().any(|rate| !RATES_HZ.contains(rate)) {
            return Some(format!(
                "recorder.rate_hz = {:?} is no list of rates between {} and {} Hz",
                r.rate_hz,
                RATES_HZ.start(),
                RATES_HZ.end()
            ));
        }
        if r.bits.is_empty() || r.bits.iter().any(|bits| !(8..=24).contains(bits)) {
            return Some(format!(
                "recorder.bits = {:?} is no list of 8 to 24",
                r.bits
            ));
        }
        let after = &self.operator.strokes_after_event;
        if after.is_empty() || after.iter().any(|n| *n > 20) {
            return Some(format!(
                "operator.strokes_after_event = {after:?} is no list of 0 to 20"
            ));
        }
        let known = super::samples::parts::CONSTRUCTIONS;
        for frame in &self.frames {
            let breaks = known.iter().find(|(name, _)| *name == frame.construction);
            let Some((_, breaks)) = breaks else {
                let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
                return Some(format!(
                    "there is no construction \"{}\"; there are {}",
                    frame.construction,
                    names.join(", ")
                ));
            };
            let strong = !*breaks || (1.0..=1e4).contains(&frame.strength_n);
            if !strong
                || !(0.0..=1.0).contains(&frame.share)
                || !(0.5..=200.0).contains(&frame.shape)
            {
                return Some(format!(
                    "the frames \"{}\" need a share in 0 to 1, a strength_n of 1 to 10000 N and a shape of 0.5 to 200",
                    frame.construction
                ));
            }
        }
        if self.frames.iter().map(|f| f.share).sum::<f64>() <= 0.0 {
            return Some("no frames have a share".to_owned());
        }
        None
    }
}

/// Most runs of one simulated study.
const MOST_RUNS_IN_STUDY: usize = 500;
/// Most interludes or faults of a run, on average.
const MOST_A_RUN: f64 = 10.0;
/// Rates that are simulated, Hz.
const RATES_HZ: std::ops::RangeInclusive<f64> = 1.0..=5000.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scenarios_of_the_program_are_sound_and_their_shares_make_a_whole() {
        let all = Scenario::all().unwrap_or_default();
        assert_eq!(all.len(), SCENARIOS.len());
        let whole: f64 = all.iter().map(|s| s.share).sum();
        assert!((whole - 1.0).abs() < 1e-9, "{whole}");
        for (at, scenario) in all.iter().enumerate() {
            assert!(!scenario.title.is_empty());
            assert!(all[..at].iter().all(|other| other.name != scenario.name));
        }
    }

    #[test]
    fn what_cannot_be_is_told_with_its_place() {
        let of = |text: &str| Scenario::from_toml(text, "s.toml").err();
        assert_eq!(of("name = \"a\""), None);
        let unknown = of("name = \"a\"\n[recorder]\nrate = [1]\n");
        assert_eq!(unknown.and_then(|f| f.line), Some(3));
        for text in [
            "name = \"a b\"",
            "[recorder]\nrate_hz = []",
            "[recorder]\nrate_hz = [1e9]",
            "[recorder]\nwhite_kpa = [2.0, 1.0]",
            "[recorder]\nwhite_kpa = [nan, 1.0]",
            "[faults]\ngaps = -1.0",
            "[[frames]]\nconstruction = \"paper\"\nshare = 1.0",
            "[[frames]]\nconstruction = \"moulded-ring\"\nshare = 1.0",
            "runs_in_study = 0",
        ] {
            assert_eq!(
                of(text).map(|f| f.code),
                Some("scenario-unusable".to_owned()),
                "{text}"
            );
        }
        let near = Scenario::named("everday").err().and_then(|f| f.help);
        assert!(near.is_some_and(|help| help.contains("everyday")));
    }
}
