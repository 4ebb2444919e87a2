//! Plans in words, for the terminal: every number with its unit, every assumption told.

use super::columns::columns;
use crate::plan::{
    Attribute, Counted, GroupSeen, Limits, Power, PowerPoint, Step, Steps, Variable,
};
use crate::uncertain::Quantity;
use crate::units::KPA_PER_ATM;
use std::fmt::Write as _;

/// Mark of what lies beyond the rated burst pressure, as in the report.
const BEYOND: &str = "▲";

fn head(cells: &[&str]) -> Vec<String> {
    cells.iter().map(|cell| (*cell).to_owned()).collect()
}

fn percent(share: f64) -> String {
    crate::judge::percent_to(share, 2)
}

fn assumed<S: AsRef<str>>(text: &mut String, assumptions: &[S]) {
    text.push_str("\nassumed:\n");
    for assumption in assumptions {
        let _ = writeln!(text, "  - {}", assumption.as_ref());
    }
}

pub(super) fn attribute(plan: &Attribute) -> String {
    let mut text = format!(
        "runs that show a reliability of {} with {} confidence\nmethod: {}\n\n",
        percent(plan.reliability),
        percent(plan.confidence),
        plan.method
    );
    let mut rows = vec![head(&["failures allowed", "runs", "reliability shown"])];
    for row in &plan.rows {
        let runs = row.runs.map(|runs| runs.to_string());
        let shown = row.shown_reliability.map(|r| format!("{:.3} %", 100.0 * r));
        rows.push(vec![
            row.failures.to_string(),
            runs.unwrap_or_else(|| "none".to_owned()),
            shown.unwrap_or_else(|| "not computed".to_owned()),
        ]);
    }
    text.push_str(&columns(&rows));
    for (failures, reason) in plan
        .rows
        .iter()
        .filter_map(|r| Some((r.failures, r.reason.as_ref()?)))
    {
        let _ = writeln!(text, "  {failures} failures: {reason}");
    }
    text.push_str("\nreliability shown: the classical lower limit if exactly so many fail\n");
    assumed(&mut text, &plan.assumptions);
    text
}

pub(super) fn variable(plan: &Variable) -> String {
    let asked = &plan.asked;
    let unit = &asked.unit;
    let (side, sign, keeps) = match asked.limits {
        Limits::Upper { .. } => ("upper ", "+", "keeps"),
        Limits::Lower { .. } => ("lower ", "-", "keeps"),
        Limits::Both { .. } => ("", "±", "keep"),
    };
    let mut text = format!(
        "{n} values: with them mean {sign} {k:.4} s {keeps} the {side}{limits} in {power} of all studies\n\
         asked: {coverage} of the population within the {limit_word}, {confidence} confidence, in at least {least} of all studies\n\
         expected: mean {mean} {unit}, standard deviation {sd} {unit}; of such a population {share:.4} % keep the {limit_word}\n\n",
        n = plan.plan.n,
        k = plan.plan.k,
        limits = asked.limits_in_words(),
        limit_word = if side.is_empty() { "limits" } else { "limit" },
        power = percent(plan.plan.power),
        coverage = percent(asked.coverage),
        confidence = percent(asked.confidence),
        least = percent(asked.power),
        mean = asked.mean,
        sd = asked.sd,
        share = 100.0 * plan.true_share,
    );
    let mut rows = vec![head(&["values", "factor k", "studies that meet it"])];
    rows.extend(plan.curve.iter().map(|point: &PowerPoint| {
        vec![
            point.n.to_string(),
            format!("{:.4}", point.k),
            format!("{:.2} %", 100.0 * point.power),
        ]
    }));
    text.push_str(&columns(&rows));
    assumed(&mut text, &plan.assumptions);
    text
}

pub(super) fn power(plan: &Power) -> String {
    let mut text = format!(
        "{} studies of {} frame runs, scenario {}, seed {}\nframes: {}\nthe analysis says: {}\n\n",
        plan.studies,
        plan.frames,
        plan.scenario,
        plan.seed,
        list(
            plan.constructions
                .iter()
                .map(|(name, share)| format!("{name} {}", percent(*share)))
        ),
        list(plan.outcomes.iter().map(|(word, n)| format!("{n} {word}"))),
    );
    let mut rows = vec![head(&["criterion", "pass", "fail", "undecided"])];
    for (number, c) in (1..).zip(&plan.criteria) {
        let arm = c
            .arm
            .as_ref()
            .map_or_else(String::new, |arm| format!(" of arm {arm}"));
        let _ = writeln!(text, "{number} {}{arm}: {}", c.rule, c.asked);
        rows.push(vec![
            format!("{number} {}", c.rule),
            counted(&c.pass),
            counted(&c.fail),
            counted(&c.undecided),
        ]);
    }
    text.push('\n');
    text.push_str(&columns(&rows));
    let _ = writeln!(
        text,
        "\nshares of all studies; in brackets exact limits at {} confidence (Clopper-Pearson)",
        percent(plan.confidence)
    );
    for (number, c) in (1..).zip(&plan.criteria) {
        if let Some(reason) = &c.undecided_because {
            let _ = writeln!(text, "{number} {} undecided, as in: {reason}", c.rule);
        }
    }
    assumed(&mut text, &plan.assumptions);
    text
}

fn list(words: impl Iterator<Item = String>) -> String {
    words.collect::<Vec<_>>().join(", ")
}

fn counted(counted: &Counted) -> String {
    let limits = counted.lower.zip(counted.upper);
    let limits = limits.map_or_else(
        || "no limits".to_owned(),
        |(low, high)| format!("{:.1} to {:.1} %", 100.0 * low, 100.0 * high),
    );
    format!("{:.1} % ({limits})", 100.0 * counted.share)
}

pub(super) fn steps(plan: &Steps) -> String {
    let mut text = format!(
        "steps for balloon {} in a frame of {} {} mm (analysis of \"{}\")\n\
         free balloon: {}; nominal pressure {:.2} atm, rated burst pressure {:.2} atm ({:.1} kPa)\n\n",
        plan.balloon_id,
        plan.bore.what,
        plan.bore.mm,
        plan.study,
        plan.diameters_from,
        plan.nominal_kpa / KPA_PER_ATM,
        plan.rated_kpa / KPA_PER_ATM,
        plan.rated_kpa
    );
    let mut rows = vec![head(&[
        "atm",
        "kPa",
        "balloon mm",
        "u mm",
        "oversize mm",
        "u mm",
        "oversize %",
        "u %",
        "to rated atm",
        "to rated %",
        "volume mL",
        "frames seen at mm",
        "among fractures of",
    ])];
    rows.extend(plan.steps.iter().map(step));
    text.push_str(&columns(&rows));
    let _ = writeln!(text, "\nends: {}", plan.ends);
    if plan.steps.iter().any(|step| step.beyond_rated) {
        let _ = writeln!(
            text,
            "{BEYOND}: above the rated burst pressure, outside the labelling of the balloon"
        );
    }
    if let Some(volume) = plan.steps.first().map(|step| &step.volume) {
        let reason = volume.reason.as_deref().unwrap_or_default();
        let _ = writeln!(text, "volume: {} (no u: {reason})", volume.method);
    }
    text.push_str("\nfrom frames on this balloon so far (pressures at the onset):\n");
    if plan.seen.is_empty() {
        text.push_str("  none\n");
    }
    for group in &plan.seen {
        let _ = writeln!(text, "  {}", seen(group));
    }
    assumed(&mut text, &plan.assumptions);
    let _ = writeln!(text, "\n{}", plan.caution);
    text
}

fn step(step: &Step) -> Vec<String> {
    let number = |value: Option<f64>, decimals: usize| {
        value.map_or_else(|| "none".to_owned(), |v| format!("{v:.decimals$}"))
    };
    let both = |quantity: &Quantity, decimals| {
        let value = number(quantity.value, decimals);
        [value, number(quantity.u, decimals + 1)]
    };
    let mark = if step.beyond_rated { BEYOND } else { "" };
    let mut cells = vec![
        format!("{mark}{:.2}", step.pressure_atm),
        format!("{:.1}", step.pressure_kpa),
    ];
    cells.extend(both(&step.diameter, 2));
    cells.extend(both(&step.oversize, 2));
    cells.extend(both(&step.oversize_percent, 1));
    cells.extend([
        format!("{:.2}", step.margin_atm),
        format!("{:.1}", step.margin_percent),
        number(step.volume.value, 2),
        step.waist_seen.map_or_else(
            || "none".to_owned(),
            |seen| match seen.frames {
                1 => format!("{:.2} (n = 1)", seen.lowest_mm),
                n => format!("{:.2} to {:.2} (n = {n})", seen.lowest_mm, seen.highest_mm),
            },
        ),
        match step.among_fractures_of.as_slice() {
            [] => "-".to_owned(),
            groups => groups.join(", "),
        },
    ]);
    cells
}

/// `moulded: 5 of 7 fractured at 7.90 to 9.20 atm (800 to 932 kPa, u up to 3.4 kPa); ...`.
fn seen(group: &GroupSeen) -> String {
    let atm = |kpa: f64| format!("{:.2} atm ({kpa:.0} kPa)", kpa / KPA_PER_ATM);
    let mut text = format!(
        "{}: {} of {} runs fractured",
        group.group, group.fractured, group.runs
    );
    if let (Some(low), Some(high)) = (group.lowest_kpa, group.highest_kpa) {
        let _ = if low == high {
            write!(text, ", at {}", atm(low))
        } else {
            write!(text, ", from {} to {}", atm(low), atm(high))
        };
        if let Some(u) = group.largest_u_kpa {
            let _ = write!(text, ", u at most {u:.1} kPa");
        }
    }
    for quantile in &group.quantiles {
        let _ = match (quantile.pressure_kpa, &quantile.reason) {
            (Some(kpa), _) => write!(text, "; {} by {}", percent(quantile.share), atm(kpa)),
            (None, Some(reason)) => write!(text, "; {}: {reason}", percent(quantile.share)),
            (None, None) => Ok(()),
        };
    }
    if let Some(held) = group.held_kpa {
        let _ = write!(text, "; highest pressure without a fracture {}", atm(held));
    }
    text
}
