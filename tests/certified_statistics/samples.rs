//! Samples of values: normality, means, ranks, tolerance limits without a distribution, bootstrap.

use hooptrace::stats::{
    Limits, NormalScale, StatsError, bootstrap, bootstrap_difference, hodges_lehmann,
    kruskal_wallis, mann_whitney, normal_plot, normal_quantile, order_confidence, order_limits,
    order_sample_size, paired_shift, paired_t, shapiro_wilk, signed_rank, tolerance_limits, welch,
};
use hooptrace::uncertain::Draws;

use super::{number, outside, printed, relative, rows, sequence};

const A: [f64; 10] = [9.1, 8.8, 9.6, 10.2, 9.4, 8.9, 9.9, 9.3, 9.7, 9.0];
const B: [f64; 12] = [
    9.7, 10.1, 9.2, 10.6, 10.0, 9.8, 10.3, 9.5, 10.9, 9.9, 10.2, 8.7,
];
const GRADES_A: [f64; 9] = [0.0, 1.0, 1.0, 2.0, 0.0, 1.0, 3.0, 2.0, 1.0];
const GRADES_B: [f64; 8] = [2.0, 1.0, 3.0, 3.0, 2.0, 1.0, 2.0, 3.0];
const SKEW: [f64; 14] = [
    0.12, 0.31, 0.33, 0.48, 0.52, 0.77, 0.91, 1.3, 1.42, 1.9, 2.6, 3.3, 4.9, 8.8,
];
const BEFORE: [f64; 9] = [21.4, 21.9, 22.3, 21.1, 22.8, 21.7, 22.0, 21.5, 22.6];
const AFTER: [f64; 9] = [21.9, 21.8, 22.9, 21.6, 23.0, 22.4, 22.0, 21.9, 22.3];
/// Intervals between failures of air conditioning, hours (Proschan 1963; Davison & Hinkley 1997, example 1.1).
const AIRCONDIT: [f64; 12] = [
    3.0, 5.0, 7.0, 18.0, 43.0, 85.0, 91.0, 98.0, 100.0, 130.0, 230.0, 487.0,
];
/// Survival of control mice, days (Efron & Tibshirani 1993, Table 2.1).
const MICE: [f64; 9] = [52.0, 104.0, 146.0, 10.0, 50.0, 31.0, 40.0, 27.0, 46.0];

#[test]
fn normality() {
    let check = |values: &[f64], name: &str| {
        let test = shapiro_wilk(values).unwrap();
        printed(test.w, outside(&format!("shapiro/{name}/w")), 6);
        let p = outside(&format!("shapiro/{name}/p"));
        relative(test.p, p, 2e-4);
    };
    for n in [3, 4, 5, 6, 7, 10, 11, 12, 20, 50, 200, 1000, 5000] {
        check(&sequence(n), &n.to_string());
    }
    check(&A, "a");
    check(&SKEW, "skew");
    // Newcomb's 66 values: W 0.59115, p 2.84e-12 by two packages.
    let newcomb: Vec<f64> = rows("newcomb.csv").iter().map(|r| number(&r[0])).collect();
    let test = shapiro_wilk(&newcomb).unwrap();
    printed(test.w, 0.591154838, 6);
    relative(test.p, 2.84162e-12, 1e-3);
    // In another unit and place the same.
    let moved: Vec<f64> = A.iter().map(|a| 1e6 + 1e-3 * a).collect();
    printed(shapiro_wilk(&moved).unwrap().w, outside("shapiro/a/w"), 5);
    assert!(shapiro_wilk(&A[..2]).is_err());
    assert!(shapiro_wilk(&[4.0; 9]).is_err());
    assert!(shapiro_wilk(&[1.0, f64::NAN, 2.0]).is_err());
    let plot = normal_plot(&[3.0, 1.0, 2.0]).unwrap();
    assert_eq!(
        plot.iter().map(|p| p.0).collect::<Vec<_>>(),
        [1.0, 2.0, 3.0]
    );
    // Blom's first position of three, 0.625/3.25.
    printed(plot[0].1, normal_quantile(0.625 / 3.25), 12);
    assert!(plot[1].1.abs() < 1e-12);
}

#[test]
fn means() {
    let d = welch(&A, &B).unwrap();
    relative(d.t, outside("welch/t"), 1e-10);
    relative(d.p, outside("welch/p"), 1e-9);
    relative(d.dof, outside("welch/df"), 1e-10);
    let limits = d.limits(0.95).unwrap();
    relative(limits.lower, outside("welch/lower"), 1e-9);
    relative(limits.upper, outside("welch/upper"), 1e-9);
    let margins = Limits {
        lower: -0.9,
        upper: 1.2,
    };
    let e = d.equivalence(margins).unwrap();
    relative(e.p, outside("tost/p"), 1e-9);
    relative(e.p_lower, outside("tost/lower"), 1e-8);
    relative(e.p_upper, outside("tost/upper"), 1e-9);
    // Both tests at 5 % are the 90 % interval within the margins.
    let at = d.limits(0.9).unwrap();
    assert_eq!(e.p <= 0.05, at.lower >= -0.9 && at.upper <= 1.2);
    let pairs = paired_t(&BEFORE, &AFTER).unwrap();
    relative(pairs.t, outside("paired/t"), 1e-10);
    relative(pairs.p, outside("paired/p"), 1e-9);
    let e = pairs
        .equivalence(Limits {
            lower: -0.1,
            upper: 0.8,
        })
        .unwrap();
    relative(e.p, outside("tost_paired/p"), 1e-9);
    relative(e.p_lower, outside("tost_paired/lower"), 1e-9);
    relative(e.p_upper, outside("tost_paired/upper"), 1e-9);
    // Student's sleep data: Welch t = -1.8608, df 17.776, p 0.07939; paired t = -4.0621, p 0.002833 (printed in many texts).
    let (one, two) = (
        [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0],
        [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4],
    );
    let d = welch(&two, &one).unwrap();
    printed(d.t, -1.8608, 4);
    printed(d.dof, 17.776, 3);
    printed(d.p, 0.07939, 5);
    let pairs = paired_t(&two, &one).unwrap();
    printed(pairs.t, -4.0621, 4);
    printed(pairs.p, 0.002833, 6);
    assert!(matches!(
        paired_t(&one, &two[1..]),
        Err(StatsError::Unbalanced { .. })
    ));
    assert!(welch(&[1.0], &two).is_err());
    assert!(welch(&[1.0, 1.0], &[2.0, 2.0]).is_err());
    assert!(
        d.equivalence(Limits {
            lower: 1.0,
            upper: 1.0
        })
        .is_err()
    );
}

#[test]
fn two_samples_by_ranks() {
    let (x, y) = (
        [1.5, 2.25, 3.125, 4.0, 8.5],
        [2.0, 5.5, 6.75, 7.0, 9.25, 9.5],
    );
    let test = mann_whitney(&x, &y).unwrap();
    assert!(test.exact);
    relative(test.statistic, outside("mw/untied/u"), 1e-12);
    relative(test.p, outside("mw/untied/two-sided"), 1e-10);
    relative(test.p_greater, outside("mw/untied/greater"), 1e-10);
    relative(test.p_less, outside("mw/untied/less"), 1e-10);
    // With ties, by visiting every division of the values.
    for (name, test) in [
        ("grades", mann_whitney(&GRADES_A, &GRADES_B).unwrap()),
        ("values", mann_whitney(&A, &B).unwrap()),
    ] {
        let expected = |what: &str| outside(&format!("mw/{name}/{what}"));
        relative(test.statistic, expected("u"), 1e-12);
        relative(test.p_greater, expected("greater"), 1e-10);
        relative(test.p_less, expected("less"), 1e-10);
    }
    // Hollander & Wolfe (1973), p. 69: W = 35, one-sided p 0.1272, shift 0.305 with 95 % limits -0.15 and 0.76.
    let (term, early) = (
        [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46],
        [1.15, 0.88, 0.90, 0.74, 1.21],
    );
    let test = mann_whitney(&early, &term).unwrap();
    printed(test.statistic, 35.0, 12);
    printed(test.p_greater, 0.1272, 4);
    let shift = hodges_lehmann(&early, &term, 0.95).unwrap();
    printed(shift.shift, 0.305, 10);
    let limits = shift.limits.unwrap();
    printed(limits.lower, -0.15, 10);
    printed(limits.upper, 0.76, 10);
    // Many values: normal approximation with ties and continuity.
    let tenths = |v: Vec<f64>, off: f64| -> Vec<f64> {
        v.iter()
            .map(|x| ((x + off) * 10.0).round() / 10.0)
            .collect()
    };
    let test = mann_whitney(&tenths(sequence(70), 0.0), &tenths(sequence(60), 0.3)).unwrap();
    assert!(!test.exact);
    relative(test.p, outside("mw/large/two-sided"), 1e-9);
    relative(test.p_greater, outside("mw/large/greater"), 1e-9);
    relative(test.p_less, outside("mw/large/less"), 1e-9);
    // Too few for any interval at 95 %: three against three.
    let few = hodges_lehmann(&[1.0, 2.0, 3.0], &[4.0, 5.0, 6.0], 0.95).unwrap();
    assert_eq!((few.shift, few.limits), (3.0, None));
    assert!(mann_whitney(&[], &[1.0]).is_err());
    // All alike: every division gives the same sum.
    assert_eq!(mann_whitney(&[1.0; 4], &[1.0; 5]).unwrap().p, 1.0);
    assert!(mann_whitney(&[1.0; 90], &[1.0; 50]).is_err());
}

#[test]
fn pairs_by_ranks() {
    // With ties and a pair without difference, by visiting every choice of signs.
    let round = |v: &[f64]| -> Vec<f64> { v.iter().map(|x| (x * 10.0).round()).collect() };
    let test = signed_rank(&round(&BEFORE), &round(&AFTER)).unwrap();
    relative(test.statistic, outside("signed/w"), 1e-12);
    relative(test.p_greater, outside("signed/greater"), 1e-10);
    relative(test.p_less, outside("signed/less"), 1e-10);
    // One pair that falls: the sum of no ranks is 0, not -0.
    let test = signed_rank(&[2.0], &[1.0]).unwrap();
    assert_eq!((test.statistic.to_bits(), test.p), (0.0_f64.to_bits(), 1.0));
    // Depression scores (Hollander & Wolfe 1973, p. 29): V = 40 of first less second, one-sided p 0.01953.
    let x = [1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30];
    let y = [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29];
    let test = signed_rank(&y, &x).unwrap();
    printed(test.statistic, 40.0, 12);
    printed(test.p_greater, 0.01953, 5);
    relative(test.p, outside("signed/hollander/p"), 1e-10);
    // Their shift 0.46, 95 % limits 0.01 and 0.786 (rank 6 of 45 averages from each end; printed by a statistics package, from memory).
    let shift = paired_shift(&y, &x, 0.95).unwrap();
    printed(shift.shift, 0.46, 10);
    let limits = shift.limits.unwrap();
    printed(limits.lower, 0.01, 10);
    printed(limits.upper, 0.786, 10);
    let d: Vec<f64> = sequence(150)
        .iter()
        .map(|v| ((v * 10.0).round() + 2.0) / 10.0)
        .collect();
    let test = signed_rank(&vec![0.0; 150], &d).unwrap();
    assert!(!test.exact);
    relative(test.p, outside("signed/large/two-sided"), 1e-9);
    relative(test.p_greater, outside("signed/large/greater"), 1e-9);
    relative(test.p_less, outside("signed/large/less"), 1e-9);
    assert!(signed_rank(&x, &x).is_err());
    assert!(signed_rank(&x, &y[1..]).is_err());
}

#[test]
fn several_samples_by_ranks() {
    let test = kruskal_wallis(&[&GRADES_A, &GRADES_B, &[3.0, 3.0, 2.0, 3.0, 1.0]]).unwrap();
    relative(test.h, outside("kruskal/grades/h"), 1e-10);
    relative(test.p, outside("kruskal/grades/p"), 1e-9);
    // Hollander & Wolfe (1973), p. 116: H = 0.7714, p 0.68.
    let test = kruskal_wallis(&[
        &[2.9, 3.0, 2.5, 2.6, 3.2],
        &[3.8, 2.7, 4.0, 2.4],
        &[2.8, 3.4, 3.7, 2.2, 2.0],
    ])
    .unwrap();
    printed(test.h, 0.7714, 4);
    printed(test.p, 0.68, 2);
    assert_eq!(test.dof, 2);
    assert!(kruskal_wallis(&[&A]).is_err());
    assert!(kruskal_wallis(&[&[1.0, 1.0], &[1.0]]).is_err());
}

#[test]
fn tolerance_limits_of_a_sample() {
    // Mean 9.39, sd 0.458136: upper 95/95 10.72362, two-sided 7.83535 to 10.94465; upper on logarithms 10.80119 (worked).
    let limits = tolerance_limits(&A, 0.95, 0.95, NormalScale::Values).unwrap();
    printed(limits.upper, 10.72362, 5);
    printed(limits.both.lower, 7.83535, 5);
    printed(limits.both.upper, 10.94465, 5);
    let logs = tolerance_limits(&A, 0.95, 0.95, NormalScale::Logarithms).unwrap();
    printed(logs.upper, 10.80119, 5);
    assert!(logs.lower > 0.0 && logs.lower < limits.both.upper);
    let bad = tolerance_limits(&[1.0, 0.0, 2.0], 0.95, 0.95, NormalScale::Logarithms);
    assert!(matches!(bad, Err(StatsError::BadValue { index: 1, .. })));
}

#[test]
fn tolerance_limits_without_a_distribution() {
    // Wilks (1941): 59 for one value, 93 for both ends at 95/95; the whole table from its closed forms.
    for row in rows("wilks_sample_size.csv") {
        let (p, c) = (number(&row[0]), number(&row[1]));
        for (left_out, cell) in [(1, &row[2]), (2, &row[3])] {
            let n = number(cell) as u64;
            assert_eq!(order_sample_size(p, c, left_out).unwrap(), n, "{row:?}");
        }
    }
    printed(
        order_confidence(59, 1, 0.95).unwrap(),
        1.0 - 0.95_f64.powi(59),
        12,
    );
    let n = 93_i32;
    let both = 1.0 - 93.0 * 0.95_f64.powi(n - 1) + 92.0 * 0.95_f64.powi(n);
    printed(order_confidence(93, 2, 0.95).unwrap(), both, 12);
    let values: Vec<f64> = (1..=93).map(f64::from).rev().collect();
    let limits = order_limits(&values, 0.95, 0.95).unwrap();
    assert_eq!(
        limits.both,
        Some(Limits {
            lower: 1.0,
            upper: 93.0
        })
    );
    assert_eq!(
        (limits.lower, limits.upper, limits.rank),
        (Some(2.0), Some(92.0), 2)
    );
    let few = order_limits(&values[..58], 0.95, 0.95).unwrap();
    assert_eq!((few.lower, few.upper, few.both), (None, None, None));
    let enough = order_limits(&values[..59], 0.95, 0.95).unwrap();
    assert_eq!((enough.upper, enough.both), (Some(93.0), None));
    assert!(order_limits(&[], 0.95, 0.95).is_err());
    assert!(order_sample_size(0.95, 0.95, 0).is_err());
}

#[test]
fn bootstrap_of_known_distributions() {
    let mean = |v: &[f64]| Some(v.iter().sum::<f64>() / v.len() as f64);
    let mut draws = Draws::new(3, "bootstrap");
    let mut uniform = || draws.unit();
    let b = bootstrap(&AIRCONDIT, &mean, 40_000, 0.95, &mut uniform).unwrap();
    // Davison & Hinkley (1997): mean 108.083; ideal standard error sqrt(Σ(x - mean)²)/n = 37.65255; acceleration 0.0937981.
    printed(b.estimate, 108.083, 3);
    relative(
        b.standard_error,
        37.65255235802845,
        5.0 / (2.0 * 40_000_f64).sqrt(),
    );
    printed(b.acceleration.unwrap(), 0.0937980738838676, 10);
    // Skewed to the right: the corrected interval lies higher.
    let bca = b.bca.unwrap();
    assert!(bca.lower > b.percentile.lower && bca.upper > b.percentile.upper);
    // The bootstrap distribution of the median of the mice is known exactly: P(27 or less) 0.030373, P(10) 0.001449, P(104 or less)
    // 0.998551, P(52 or less) 0.969627. So the 95 % percentile limits are 27 and 104.
    let middle = |v: &[f64]| hooptrace::stats::median(v);
    let m = bootstrap(&MICE, &middle, 40_000, 0.95, &mut uniform).unwrap();
    assert_eq!((m.percentile.lower, m.percentile.upper), (27.0, 104.0));
    relative(m.standard_error, 12.86086287467, 0.03);
    // Leaving out one value moves the median hardly at all, but it moves.
    assert_eq!(m.estimate, 46.0);
    // Of a difference of means the variance over all samples that can be drawn is Σ (x - mean)²/n² of both together.
    let d = bootstrap_difference((&MICE, &AIRCONDIT), &mean, 40_000, 0.95, &mut uniform).unwrap();
    let variance = |values: &[f64]| {
        let (n, m) = (values.len() as f64, mean(values).unwrap());
        values.iter().map(|x| (x - m).powi(2)).sum::<f64>() / (n * n)
    };
    let expected = (variance(&MICE) + variance(&AIRCONDIT)).sqrt();
    assert!((d.standard_error / expected - 1.0).abs() < 0.02);
    assert!((d.estimate - (mean(&AIRCONDIT).unwrap() - mean(&MICE).unwrap())).abs() < 1e-9);
    assert!(d.percentile.lower < d.estimate && d.estimate < d.percentile.upper);
    let few = (&MICE[..3], &AIRCONDIT[..]);
    assert!(bootstrap_difference(few, &mean, 1000, 0.95, &mut uniform).is_err());
    assert!(bootstrap(&MICE, &|_| None, 1000, 0.95, &mut uniform).is_err());
    assert!(bootstrap(&MICE[..3], &middle, 1000, 0.95, &mut uniform).is_err());
    assert!(bootstrap(&MICE, &middle, 10, 0.95, &mut uniform).is_err());
    let still = bootstrap(&MICE, &|_| Some(1.0), 1000, 0.95, &mut uniform).unwrap();
    assert_eq!((still.bca, still.acceleration), (None, None));
}
