//! How the methods of measuring a diameter agree, over all frames of a study.
//!
//! A pair is the diameter of one run at one stage by both methods, each as it stands in the results: the mean of all its readings.

use super::rounds::{Part, rounds};
use super::stated_line::stated_line;
use super::strength::interval;
use super::words::probability;
use crate::recording::{
    AgreementPoint, CaliperRow, DemingResult, FrameAgreement, GaugeMethod, MethodAgreement,
    PairAgreement, RoundScatter, RunKind, RunResult, SingleRounds,
};
use crate::stats::{
    Agreement, AgreementLimit, LIMIT_SDS, Limits, agreement, deming_fit, one_way,
    repeated_agreement, single_reading_sd,
};
use std::collections::{BTreeMap, BTreeSet};

/// Pairs of methods that are set beside each other, with what each of them measures. Two figures of one outline are not: they err alike.
const PAIRS: &[(&str, &str, &str)] = &[
    (
        "caliper",
        "outline_area",
        "both estimate the mean diameter; an outline also sees an odd number of lobes, a caliper does not",
    ),
    (
        "caliper",
        "optical",
        "both estimate the mean two-point diameter",
    ),
    (
        "caliper",
        "optical_channel",
        "a caliper is read in several directions, the optical channel looks in one",
    ),
    (
        "caliper",
        "plug_inscribed",
        "a plug finds the largest circle inside, which is less than the mean diameter of any ring out of round: a bias is to be expected",
    ),
    (
        "plug_inscribed",
        "outline_largest_inscribed",
        "both estimate the largest circle inside",
    ),
    (
        "plug_inscribed",
        "outline_area",
        "a plug finds the largest circle inside, which is less than the mean diameter of any ring out of round: a bias is to be expected",
    ),
    ("optical", "outline_area", "both estimate the mean diameter"),
];
const STAGES: [&str; 3] = ["before", "loaded", "after"];

/// A pair with what it belongs to and how sure either side is.
struct Pair {
    point: AgreementPoint,
    frame: String,
    u: (Option<f64>, Option<f64>),
}

/// How many pairs of methods are compared.
pub const METHOD_PAIRS: usize = PAIRS.len();

/// Agreement of every pair of methods that share a run and stage.
pub fn agreements(
    runs: &[RunResult],
    readings: &[CaliperRow],
    confidence: f64,
) -> Vec<MethodAgreement> {
    (0..METHOD_PAIRS)
        .filter_map(|pair| agreement_of_pair(pair, runs, readings, confidence))
        .collect()
}

/// Agreement of one pair of methods, by its number below [`METHOD_PAIRS`]; none where no run and stage has both.
pub fn agreement_of_pair(
    pair: usize,
    runs: &[RunResult],
    readings: &[CaliperRow],
    confidence: f64,
) -> Option<MethodAgreement> {
    let (first, second, measurands) = PAIRS.get(pair)?;
    let mut pairs = pairs(runs, first, second);
    if pairs.is_empty() {
        return None;
    }
    let scatters = scatters(readings);
    let slipped = [first, second].map(|method| scatters.get(*method).map(|s| &s.slipped));
    let all = pairs.len();
    pairs.retain(|pair| {
        let part = (pair.point.run_id.clone(), pair.point.stage.clone());
        !slipped.iter().flatten().any(|parts| parts.contains(&part))
    });
    let left_out = all - pairs.len();
    let mut result = MethodAgreement {
        first: (*first).to_owned(),
        second: (*second).to_owned(),
        measurands: (*measurands).to_owned(),
        n: pairs.len(),
        frames: 0,
        points: pairs.iter().map(|pair| pair.point.clone()).collect(),
        pairs: None,
        by_frame: None,
        single_rounds: None,
        deming: None,
        stated_line: None,
        remarks: Vec::new(),
    };
    if left_out > 0 {
        result.remarks.push(format!(
            "{left_out} of {all} pairs are left out, because a reading there stands off from the others."
        ));
    }
    fill(&mut result, &pairs, &scatters, confidence);
    Some(result)
}

fn pairs(runs: &[RunResult], first: &str, second: &str) -> Vec<Pair> {
    let mut pairs = Vec::new();
    for run in runs.iter().filter(|run| run.kind == RunKind::Frame) {
        let Some(methods) = run.diameters.as_ref().map(|d| &d.by_method) else {
            continue;
        };
        let (Some(a), Some(b)) = (methods.get(first), methods.get(second)) else {
            continue;
        };
        for stage in STAGES {
            let (Some(a), Some(b)) = (a.get(stage), b.get(stage)) else {
                continue;
            };
            if let (Some(first_mm), Some(second_mm)) = (a.value, b.value) {
                pairs.push(Pair {
                    point: AgreementPoint {
                        run_id: run.run_id.clone(),
                        stage: stage.to_owned(),
                        first_mm,
                        second_mm,
                    },
                    frame: run.frame_id.clone().unwrap_or_else(|| run.run_id.clone()),
                    u: (a.u, b.u),
                });
            }
        }
    }
    pairs
}

fn fill(
    result: &mut MethodAgreement,
    pairs: &[Pair],
    scatters: &BTreeMap<&str, Scatter>,
    confidence: f64,
) {
    let first: Vec<f64> = pairs.iter().map(|p| p.point.first_mm).collect();
    let second: Vec<f64> = pairs.iter().map(|p| p.point.second_mm).collect();
    let mut by_frame: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for pair in pairs {
        let difference = pair.point.second_mm - pair.point.first_mm;
        by_frame.entry(&pair.frame).or_default().push(difference);
    }
    result.frames = by_frame.len();
    let differences: Vec<Vec<f64>> = by_frame.values().cloned().collect();
    match agreement(&first, &second, confidence) {
        Ok(found) => {
            result.single_rounds = single_rounds(result, &found, pairs, scatters);
            result.pairs = Some(pair_agreement(&found, confidence));
        }
        Err(error) => result
            .remarks
            .push(format!("No limits of agreement: {error}.")),
    }
    match repeated_agreement(&differences, confidence) {
        Ok(f) => {
            let of =
                |value, limits, method: &str| interval(value, Ok(limits), confidence, "mm", method);
            let limit =
                "mean less or plus 1.96 standard deviations; limits by recovered variances (Zou)";
            result.by_frame = Some(FrameAgreement {
                bias: of(
                    f.bias,
                    f.bias_limits,
                    "mean over frames of their mean difference; t-interval over frames",
                ),
                sd: of(
                    f.sd,
                    f.sd_limits,
                    "variance between the means of frames and within frames (Bland & Altman 2007)",
                ),
                sd_between_mm: f.sd_between,
                sd_within_mm: f.sd_within,
                lower: of(f.lower, f.lower_limits, limit),
                upper: of(f.upper, f.upper_limits, limit),
            });
        }
        Err(error) => result
            .remarks
            .push(format!("No limits of agreement by frame: {error}.")),
    }
    if result.n > result.frames {
        result.remarks.push(format!(
            "{} pairs of {} frames: stages of one frame share what the frame does to either method, so intervals from pairs as if independent may be too narrow, and those by frame hold.",
            result.n, result.frames
        ));
    }
    dependence(result, pairs, confidence);
    result.remarks.push(
        "Every diameter is the mean of all its readings at that run and stage; single readings scatter more.".to_owned(),
    );
    let names: Vec<&str> = by_frame.keys().copied().collect();
    let group = |pair: &Pair| {
        names
            .iter()
            .position(|name| *name == pair.frame)
            .unwrap_or(0)
    };
    let groups: Vec<usize> = pairs.iter().map(group).collect();
    match line(&first, &second, &groups, pairs, confidence) {
        Ok(line) => result.deming = Some(line),
        Err(reason) => result.remarks.push(format!("No Deming line: {reason}.")),
    }
    by_stated_uncertainty(result, (&first, &second), pairs, confidence);
}

/// The line by what every diameter states, and whether that explains how the methods differ.
fn by_stated_uncertainty(
    result: &mut MethodAgreement,
    (first, second): (&[f64], &[f64]),
    pairs: &[Pair],
    confidence: f64,
) {
    let stated = |u: fn(&Pair) -> Option<f64>| -> Option<Vec<f64>> {
        let known = |pair| u(pair).filter(|u| *u > 0.0);
        pairs.iter().map(known).collect()
    };
    let (Some(u_first), Some(u_second)) = (stated(|p| p.u.0), stated(|p| p.u.1)) else {
        return;
    };
    match stated_line((first, &u_first), (second, &u_second), confidence) {
        Ok(line) => {
            if line.p < 1.0 - confidence {
                result.remarks.push(format!(
                    "About the line the methods differ by more than their stated uncertainties explain (χ² {:.1} for {} degrees of freedom, p {}): one of them is worse than it states, or they do not measure the same.",
                    line.chi_squared, line.dof, probability(line.p)
                ));
            }
            result.stated_line = Some(line);
        }
        Err(reason) => result
            .remarks
            .push(format!("No line by the stated uncertainties: {reason}.")),
    }
}

/// Says where the difference depends on the stage or on the size: one pair of limits then does not describe it.
fn dependence(result: &mut MethodAgreement, pairs: &[Pair], confidence: f64) {
    let stages: Vec<(&str, Vec<f64>)> = STAGES
        .into_iter()
        .map(|stage| {
            let of = pairs.iter().filter(|pair| pair.point.stage == stage);
            let difference = |pair: &Pair| pair.point.second_mm - pair.point.first_mm;
            (stage, of.map(difference).collect())
        })
        .filter(|(_, differences): &(&str, Vec<f64>)| !differences.is_empty())
        .collect();
    let lists: Vec<&[f64]> = stages.iter().map(|(_, d)| d.as_slice()).collect();
    if let Ok(found) = one_way(&lists)
        && found.p < 1.0 - confidence
    {
        let means = stages.iter().map(|(stage, differences)| {
            let mean = differences.iter().sum::<f64>() / differences.len() as f64;
            format!("{stage} {mean:.3} mm")
        });
        result.remarks.push(format!(
            "The bias depends on the stage ({}; p {}): limits over all stages mix them.",
            means.collect::<Vec<_>>().join(", "),
            probability(found.p)
        ));
    }
    let slope = result.pairs.as_ref().and_then(|p| p.slope.as_ref());
    let limits = slope.and_then(|slope| slope.lower.zip(slope.upper));
    if limits.is_some_and(|(lower, upper)| lower > 0.0 || upper < 0.0) {
        result.remarks.push(
            "The difference changes with the diameter: the limits are too wide at one end and too narrow at the other.".to_owned(),
        );
    }
}

fn pair_agreement(found: &Agreement, confidence: f64) -> PairAgreement {
    let of = |value, limits, unit: &str, method: &str| {
        interval(value, Ok(limits), confidence, unit, method)
    };
    let limit = |limit: &AgreementLimit| {
        let how = "bias less or plus 1.96 standard deviations";
        (
            of(
                limit.value,
                limit.exact,
                "mm",
                &format!("{how}; exact limits for normal differences (noncentral t)"),
            ),
            of(
                limit.value,
                limit.approximate,
                "mm",
                &format!("{how}; limits by the standard error sd √(3/n) and t"),
            ),
        )
    };
    let (lower, lower_approximate) = limit(&found.lower);
    let (upper, upper_approximate) = limit(&found.upper);
    PairAgreement {
        bias: of(
            found.bias,
            found.bias_limits,
            "mm",
            "mean difference, second less first method; t-interval",
        ),
        sd: of(
            found.sd,
            found.sd_limits,
            "mm",
            "standard deviation of the differences; exact chi-squared limits",
        ),
        lower,
        upper,
        lower_approximate,
        upper_approximate,
        both: of(
            found.bias,
            found.both,
            "mm",
            "bias and two-sided tolerance limits: 95 % of all differences lie within, with this confidence",
        ),
        slope: found.trend.map(|trend| {
            of(
                trend.slope,
                trend.limits,
                "1",
                "slope of the difference on the mean of both methods, least squares; t-interval",
            )
        }),
    }
}

/// Scatter between the rounds of one operator, how many rounds each part has, and which parts are left out.
struct Scatter {
    sd: f64,
    dof: usize,
    rounds: BTreeMap<(String, String), usize>,
    /// Runs and stages with a reading that stands off.
    slipped: BTreeSet<(String, String)>,
}

/// Of the methods that are read in rounds, by their key in the results.
fn scatters(readings: &[CaliperRow]) -> BTreeMap<&'static str, Scatter> {
    [
        ("caliper", GaugeMethod::Caliper),
        ("optical", GaugeMethod::Optical),
        ("plug_inscribed", GaugeMethod::Plug),
    ]
    .into_iter()
    .filter_map(|(key, method)| {
        let made = rounds(readings, method);
        let cells: Vec<&[f64]> = made
            .cells
            .values()
            .flat_map(|operators| operators.values().map(Vec::as_slice))
            .collect();
        let found = one_way(&cells).ok();
        if found.is_none() && made.slipped.is_empty() {
            return None;
        }
        let words = |(run, stage): &Part| (run.clone(), stage.word().to_owned());
        let count = |operators: &BTreeMap<String, Vec<f64>>| operators.values().map(Vec::len).sum();
        Some((
            key,
            Scatter {
                sd: found.as_ref().map_or(f64::NAN, |found| found.residual_sd),
                dof: found.as_ref().map_or(0, |found| found.df_within),
                rounds: made
                    .cells
                    .iter()
                    .map(|(part, operators)| (words(part), count(operators)))
                    .collect(),
                slipped: made.slipped.iter().map(words).collect(),
            },
        ))
    })
    .collect()
}

fn single_rounds(
    result: &MethodAgreement,
    found: &Agreement,
    pairs: &[Pair],
    scatters: &BTreeMap<&str, Scatter>,
) -> Option<SingleRounds> {
    let within: Vec<RoundScatter> = [&result.first, &result.second]
        .into_iter()
        .filter_map(|method| {
            let scatter = scatters.get(method.as_str()).filter(|s| s.dof > 0)?;
            let inverse: f64 = pairs
                .iter()
                .map(|pair| {
                    let part = (pair.point.run_id.clone(), pair.point.stage.clone());
                    1.0 / scatter.rounds.get(&part).copied().unwrap_or(1).max(1) as f64
                })
                .sum();
            Some(RoundScatter {
                method: method.clone(),
                sd_mm: scatter.sd,
                dof: scatter.dof,
                rounds: pairs.len() as f64 / inverse,
            })
        })
        .collect();
    if within.is_empty() {
        return None;
    }
    let methods: Vec<(f64, f64)> = within.iter().map(|w| (w.sd_mm, w.rounds)).collect();
    let sd = single_reading_sd(found.sd, &methods);
    Some(SingleRounds {
        sd_mm: sd,
        lower_mm: found.bias - LIMIT_SDS * sd,
        upper_mm: found.bias + LIMIT_SDS * sd,
        within,
    })
}

/// The line of the second on the first method, with the ratio of error variances from their stated uncertainties.
fn line(
    first: &[f64],
    second: &[f64],
    groups: &[usize],
    pairs: &[Pair],
    confidence: f64,
) -> Result<DemingResult, String> {
    let mean_square = |u: fn(&Pair) -> Option<f64>| {
        let squares: Option<Vec<f64>> = pairs.iter().map(|p| u(p).map(|u| u * u)).collect();
        squares.map(|squares| squares.iter().sum::<f64>())
    };
    let (Some(a), Some(b)) = (mean_square(|p| p.u.0), mean_square(|p| p.u.1)) else {
        return Err("a method states no uncertainty for some diameter, so the ratio of error variances is not known".to_owned());
    };
    let ratio = b / a;
    let fit = deming_fit(first, second, groups, ratio, confidence).map_err(|e| e.to_string())?;
    let of = |value, limits: Limits, unit: &str| {
        let method = "Deming regression; jackknife over frames, t with two degrees of freedom fewer than frames";
        interval(value, Ok(limits), confidence, unit, method)
    };
    Ok(DemingResult {
        slope: of(fit.line.slope, fit.slope_limits, "1"),
        intercept: of(fit.line.intercept, fit.intercept_limits, "mm"),
        error_variance_ratio: ratio,
    })
}
