//! The protocol of a study: its steps and criteria, read and judged.
//!
//! ```toml
//! title = "Ring protocol"
//! decision_rule = "guarded"       # "simple" where the key is missing
//!
//! [[step]]
//! step = "maximum"                # see STEPS
//! at_most_rated = 1.0
//!
//! [[criterion]]
//! rule = "fractured_share"        # see RULES
//! arm = "moulded"                 # left out: every arm, each by itself
//! at_least = 0.9
//! confidence = 0.95
//!
//! [[criterion]]
//! rule = "fracture_pressure_below"
//! limit_atm = 16                  # a quantity carries its unit in the key
//! coverage = 0.9
//! confidence = 0.95
//! ```

use super::contradictions::contradictions;
use super::decision::{Decision, GUARD_FACTOR};
use super::key::settings;
use super::limit::Side;
use super::quantity::Target;
use super::rules::{Asked, Judgement, RULES, Rule};
use super::sample::{Sample, samples};
use super::steps::{STEPS, Step};
use super::words::{names, runs as so_many};
use crate::recording::{
    Finding, Group, Outcome, Place, RunResult, Severity, StepVerdict, Verdict, suggest,
};
use crate::rig::Series;
use crate::rig::document::{Document, Section, read_text};
use std::path::Path;

/// Guard factors taken: 0 is simple acceptance, and nobody guards by more than this.
const GUARD_FACTORS: (f64, f64) = (0.0, 10.0);

/// A protocol, checked.
#[derive(Debug, Clone)]
pub struct Protocol {
    /// Title; empty where none is given.
    pub title: String,
    /// File as messages name it.
    pub file: String,
    /// Steps in the order of the file.
    pub steps: Vec<AskedStep>,
    /// Criteria in the order of the file.
    pub criteria: Vec<Criterion>,
}

/// One step of a protocol.
#[derive(Debug, Clone)]
pub struct AskedStep {
    /// The step.
    pub step: &'static dyn Step,
    /// Arm whose runs it holds for; `None` for every run.
    pub arm: Option<String>,
    /// Values of its keys.
    pub asked: Asked,
    /// Where it stands in the protocol.
    pub at: Place,
}

/// One criterion of a protocol.
#[derive(Debug, Clone)]
pub struct Criterion {
    /// The rule.
    pub rule: &'static dyn Rule,
    /// Arm to judge; `None` for every arm, each by itself.
    pub arm: Option<String>,
    /// True where runs that deviated from a step are left out.
    pub only_adherent: bool,
    /// Values of the rule's keys.
    pub asked: Asked,
    /// Where it stands in the protocol.
    pub at: Place,
}

impl Criterion {
    /// What it asks, with its values.
    pub fn asks(&self) -> String {
        self.asked.sentence(self.rule.asks(), self.rule.keys())
    }
}

/// Reads and checks a protocol file; `shown_as` is how messages name it.
///
/// # Errors
/// All faults found, each with line, column and advice.
pub fn load_protocol(path: &Path, shown_as: &str) -> Result<Protocol, Vec<Finding>> {
    let text = read_text(path, shown_as).map_err(|finding| vec![finding])?;
    protocol_from_text(&text, shown_as)
}

/// Reads and checks the text of a protocol file.
///
/// # Errors
/// As [`load_protocol`].
pub fn protocol_from_text(text: &str, shown_as: &str) -> Result<Protocol, Vec<Finding>> {
    let doc = Document::new(shown_as, text);
    let root = doc.parse();
    let top = Section::new(&doc, root.get_ref(), root.span(), "");
    let title = top.text("title").map(|(title, _)| title);
    let usual = decision(&top, Decision::Simple);
    let (steps, criteria) = (top.sections("step"), top.sections("criterion"));
    let none = steps.is_empty() && criteria.is_empty();
    let steps: Vec<AskedStep> = steps.into_iter().filter_map(step).collect();
    let criteria = criteria
        .into_iter()
        .filter_map(|section| criterion(section, usual))
        .collect();
    top.finish();
    let mut findings = doc.into_findings();
    findings.extend(contradictions(&steps));
    if none && findings.is_empty() {
        findings.push(
            Finding::error("protocol-empty", "the protocol has no step and no criterion")
                .at(Place::line(shown_as, 1))
                .help(
                    "add a [[criterion]] with rule = \"…\" or a [[step]] with step = \"…\", or leave `protocol` out of study.toml",
                ),
        );
    }
    if findings.iter().any(|f| f.severity == Severity::Error) {
        return Err(findings);
    }
    Ok(Protocol {
        title: title.unwrap_or_default(),
        file: shown_as.to_owned(),
        steps,
        criteria,
    })
}

/// The decision rule of a section; `usual` where it names none.
fn decision(section: &Section<'_, '_>, usual: Decision) -> Decision {
    let guarded = section.word("decision_rule", &[("simple", false), ("guarded", true)]);
    let factor = section.within("guard_factor", GUARD_FACTORS, "");
    let of_usual = match usual {
        Decision::Guarded(factor) => factor,
        Decision::Simple => GUARD_FACTOR,
    };
    let is_guarded = guarded.unwrap_or(usual != Decision::Simple);
    if !is_guarded && factor.is_some() {
        section.doc.error(
            &section.span,
            "protocol-key",
            format!(
                "{} `guard_factor` needs decision_rule = \"guarded\"",
                section.name
            )
            .trim_start()
            .to_owned(),
            Some("simple acceptance has no guard band".to_owned()),
        );
    }
    if is_guarded {
        Decision::Guarded(factor.unwrap_or(of_usual))
    } else {
        Decision::Simple
    }
}

/// The entry of a list that a section names with `key`; a fault goes to the document.
fn named<T: ?Sized>(
    section: &Section<'_, '_>,
    key: &str,
    list: &[&'static T],
    name: impl Fn(&T) -> &'static str,
) -> Option<&'static T> {
    let code = format!("protocol-{key}");
    let known = || list.iter().map(|item| name(item));
    if section.get(key).is_none() {
        section.doc.error(
            &section.span,
            &code,
            format!("{} names no {key}", section.name),
            Some(format!("add {key} = \"…\", one of {}", all(known()))),
        );
        return None;
    }
    let (given, span) = section.text(key)?;
    let found = list.iter().find(|item| name(item) == given.trim());
    if found.is_none() {
        // Which keys belong to it cannot be told, so none is called unknown.
        section.doc.error(
            &span,
            &code,
            format!(
                "{} `{key}` is \"{given}\"; expected one of {}",
                section.name,
                all(known())
            ),
            suggest(&given, known()).map(|near| format!("did you mean \"{near}\"?")),
        );
    }
    found.copied()
}

/// Every name, none left to "and n more".
fn all<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.collect::<Vec<_>>().join(", ")
}

fn arm(section: &Section<'_, '_>) -> Option<String> {
    section.text("arm").map(|(arm, _)| arm.trim().to_owned())
}

fn step(section: Section<'_, '_>) -> Option<AskedStep> {
    let step = named(&section, "step", STEPS, Step::name)?;
    let arm = arm(&section);
    let mut asked = Asked::default();
    let complete = settings(&section, step.keys(), step.name(), &mut asked);
    if complete && let Err((message, help)) = step.consistent(&asked) {
        section.doc.error(
            &section.span,
            "protocol-key",
            format!("{} `{}` {message}", section.name, step.name()),
            Some(help),
        );
    }
    let at = section.doc.place(&section.span);
    section.finish();
    complete.then_some(AskedStep {
        step,
        arm,
        asked,
        at,
    })
}

fn criterion(section: Section<'_, '_>, usual: Decision) -> Option<Criterion> {
    let rule = named(&section, "rule", RULES, Rule::name)?;
    let arm = arm(&section);
    let only_adherent = section.flag("only_adherent").unwrap_or(false);
    let mut asked = Asked {
        decision: decision(&section, usual),
        ..Asked::default()
    };
    let complete = settings(&section, rule.keys(), rule.name(), &mut asked);
    let at = section.doc.place(&section.span);
    section.finish();
    complete.then_some(Criterion {
        rule,
        arm,
        only_adherent,
        asked,
        at,
    })
}

/// Judges every criterion: one verdict for its arm, or one for each group where it names none. Runs carry their adherence already.
pub fn verdicts(
    protocol: &Protocol,
    runs: &[RunResult],
    series: &Series,
    groups: &[Group],
) -> Vec<Verdict> {
    let mut samples = samples(runs, series);
    samples.retain(|sample| groups.iter().any(|group| group.name == sample.name));
    let judged = |criterion| judge(criterion, &samples);
    protocol.criteria.iter().flat_map(judged).collect()
}

/// True where some step of the run has this verdict.
fn has(run: &RunResult, verdict: StepVerdict) -> bool {
    run.adherence.iter().any(|step| step.verdict == verdict)
}

fn deviated(run: &RunResult) -> bool {
    has(run, StepVerdict::Deviated)
}

/// A judgement as the results hold it.
fn told(criterion: &Criterion, group: &str, judgement: Judgement) -> Verdict {
    let decision_rule = if judgement.decision_rule.is_empty() {
        criterion.asked.decision.unused()
    } else {
        judgement.decision_rule
    };
    Verdict {
        rule: criterion.rule.name().to_owned(),
        group: group.to_owned(),
        verdict: judgement.verdict.to_owned(),
        reason: judgement.reason,
        asks: criterion.asks(),
        decision_rule,
        estimate: judgement.estimate,
        limit: judgement.limit,
        n: judgement.n,
        more_runs: judgement.more_runs,
        more_runs_reason: judgement.more_runs_reason,
        failing_runs: judgement.failing,
    }
}

fn judge(criterion: &Criterion, samples: &[Sample<'_>]) -> Vec<Verdict> {
    let verdict = |group: &str, judgement: Judgement| told(criterion, group, judgement.complete());
    let wanted = |sample: &&Sample<'_>| criterion.arm.as_ref().is_none_or(|a| *a == sample.name);
    let judged: Vec<Verdict> = samples
        .iter()
        .filter(wanted)
        .map(|sample| verdict(&sample.name, of_sample(criterion, sample)))
        .collect();
    if !judged.is_empty() {
        return judged;
    }
    let known = || samples.iter().map(|sample| sample.name.as_str());
    let reason = match &criterion.arm {
        _ if samples.is_empty() => "no frame run counts".to_owned(),
        Some(arm) => match suggest(arm, known()) {
            Some(near) => {
                format!("no frame run of group \"{arm}\" counts; did you mean \"{near}\"?")
            }
            None => format!(
                "no frame run of group \"{arm}\" counts; groups here: {}",
                names(known())
            ),
        },
        None => "no frame run counts".to_owned(),
    };
    let group = criterion.arm.as_deref().unwrap_or("all");
    let mut judgement = Judgement::undecided(reason);
    judgement.more_runs_reason = Some("not known without runs".to_owned());
    vec![verdict(group, judgement)]
}

/// A pass that the sample cannot bear, whatever the rule says: of frames counted twice, and of a strength that the frames which held have not
/// shown.
fn withheld(judgement: Judgement, criterion: &Criterion, sample: &Sample<'_>) -> Judgement {
    let again = sample.frames_again();
    let frames: Vec<&str> = again.iter().map(|(frame, _)| *frame).collect();
    if !frames.is_empty() {
        let frames = names(frames.iter().copied());
        return judgement.withheld(&format!(
            "frames are used in more than one run ({frames}), and runs of one frame are not independent"
        ));
    }
    let asked = &criterion.asked;
    let path = asked.target.as_ref().map(Target::path).unwrap_or_default();
    let at_most = asked
        .limit
        .as_ref()
        .is_some_and(|limit| limit.side == Side::AtMost);
    let whole = sample.count(|run| run.outcome != Outcome::Fractured);
    if at_most && whole > 0 && OF_A_FRACTURE.contains(&path.as_str()) {
        return judgement.withheld(&format!(
            "{} without a fracture, which held at least their highest load, are left out: judge strengths with `fracture_pressure_below`, which counts them as censored",
            so_many(whole)
        ));
    }
    judgement
}

/// Quantities that only a frame has that broke.
const OF_A_FRACTURE: [&str; 2] = ["frame.fracture_load", "frame.fracture_tension"];

/// One group, without the runs that deviated where the criterion says so; those are named.
fn of_sample(criterion: &Criterion, sample: &Sample<'_>) -> Judgement {
    if !criterion.only_adherent {
        return withheld(
            criterion.rule.judge(&criterion.asked, sample),
            criterion,
            sample,
        );
    }
    let kept = sample.only(|run| !deviated(run));
    let judgement = criterion.rule.judge(&criterion.asked, &kept);
    let mut judgement = withheld(judgement, criterion, &kept);
    let named = |runs: &[&RunResult], is: &dyn Fn(&RunResult) -> bool| -> Vec<String> {
        let those = runs.iter().filter(|run| is(run));
        those.map(|run| run.run_id.clone()).collect()
    };
    let left_out = named(&sample.runs, &deviated);
    let not_known = named(&kept.runs, &|run| has(run, StepVerdict::NotKnown));
    let mut told = if left_out.is_empty() {
        "no run deviated from the protocol, so none was left out".to_owned()
    } else {
        format!(
            "left out, because they deviated from the protocol: {}",
            left_out.join(", ")
        )
    };
    if !not_known.is_empty() {
        told = format!(
            "{told}; counted, though whether they kept every step is not known: {}",
            not_known.join(", ")
        );
    }
    judgement.reason = format!("{}; {told}", judgement.reason);
    judgement
}
