//! Agreement of methods: published analyses, worked examples, values by an independent package, and coverage by simulation.

use hooptrace::stats::{
    agreement, deming, deming_fit, describe, normal_quantile, one_way, repeated_agreement,
    single_reading_sd,
};

use super::{number, printed, relative, rows};

/// Columns of a file.
fn columns(file: &str) -> Vec<Vec<f64>> {
    let rows = rows(file);
    (0..rows[0].len())
        .map(|at| rows.iter().map(|row| number(&row[at])).collect())
        .collect()
}

/// Bland & Altman (1986), Table 1, first readings. Printed: bias -2.1, sd 38.8, limits -79.7 and 75.5 (2 sd), 95 % of the bias -22.0 to
/// 17.8, of the lower limit -114.3 to -45.1, of the upper 40.9 to 110.1. Further digits by an independent package.
#[test]
fn peak_flow_meters() {
    let data = columns("agreement_pefr_first.csv");
    // The paper takes large less mini meter.
    let a = agreement(&data[1], &data[0], 0.95).unwrap();
    assert_eq!(a.n, 17);
    relative(a.bias, -2.117647058824, 1e-12);
    relative(a.sd, 38.76512987361, 1e-12);
    relative(a.lower.value, -78.0973016111, 1e-11);
    relative(a.upper.value, 73.8620074934, 1e-11);
    relative(a.bias_limits.lower, -22.0488376966, 1e-10);
    relative(a.bias_limits.upper, 17.813543579, 1e-10);
    printed(a.bias, -2.1, 1);
    printed(a.sd, 38.8, 1);
    printed(a.bias - 2.0 * a.sd, -79.7, 0);
    printed(a.bias + 2.0 * a.sd, 75.5, 0);
    // The paper stands two standard deviations off; the width of its interval is ours: (-45.12607197 + 114.1697416) / 2.
    let half = 34.52183481;
    for limit in [a.lower, a.upper] {
        relative(limit.value - limit.approximate.lower, half, 1e-9);
        relative(limit.approximate.upper - limit.value, half, 1e-9);
    }
    // Noncentral t at 16 degrees of freedom and 1.96 sqrt(17), by an independent package.
    relative(a.upper.exact.lower, a.bias + 1.31505852 * a.sd, 1e-8);
    relative(a.upper.exact.upper, a.bias + 3.14832379 * a.sd, 1e-8);
    relative(a.lower.exact.lower, a.bias - 3.14832379 * a.sd, 1e-8);
    relative(a.sd_limits.lower, 28.87109945, 1e-9);
    relative(a.sd_limits.upper, 58.99777336, 1e-9);
    let trend = a.trend.unwrap();
    // Of large less mini: the slope of mini less large turned round.
    relative(trend.slope, 0.02868744515254922, 1e-11);
    relative(trend.limits.lower, -0.15932006368395663, 1e-10);
    relative(trend.limits.upper, 0.21669495398905508, 1e-10);
    // The band for both limits at once is the two-sided tolerance interval, wider than the limits themselves.
    assert!(a.both.lower < a.lower.value && a.both.upper > a.upper.value);
}

/// Both readings of both meters: scatter within subjects and the limits for single readings (Bland & Altman 1986, there 15.3, 19.9 and 37.7).
#[test]
fn peak_flow_replicates() {
    let data = columns("agreement_pefr_replicates.csv");
    let subjects = |a: usize, b: usize| -> Vec<Vec<f64>> {
        data[a]
            .iter()
            .zip(&data[b])
            .map(|(x, y)| vec![*x, *y])
            .collect()
    };
    let within = |a, b| {
        let list = subjects(a, b);
        let groups: Vec<&[f64]> = list.iter().map(Vec::as_slice).collect();
        one_way(&groups).unwrap().residual_sd
    };
    let (large, mini) = (within(0, 1), within(2, 3));
    relative(large, 15.3066690579, 1e-11);
    relative(mini, 19.9108306324, 1e-11);
    let means = |a, b| -> Vec<f64> {
        let list = subjects(a, b);
        list.iter().map(|v| describe(v).unwrap().mean).collect()
    };
    let a = agreement(&means(2, 3), &means(0, 1), 0.95).unwrap();
    relative(a.bias, -6.02941176471, 1e-11);
    relative(a.sd, 33.204136879, 1e-11);
    let single = single_reading_sd(a.sd, &[(large, 2.0), (mini, 2.0)]);
    relative(single, 37.6547786203, 1e-11);
    relative(a.bias - 2.0 * single, -81.3389690052, 1e-10);
    relative(a.bias + 2.0 * single, 69.2801454758, 1e-10);
    // Without repeats nothing is added.
    assert_eq!(single_reading_sd(2.0, &[(large, 1.0)]), 2.0);
}

/// A caliper and an image, mm, by the definitions: bias, sd, limits, interval of the bias, standard error of a limit.
#[test]
fn caliper_and_image() {
    let caliper = [
        21.42, 21.55, 22.10, 21.88, 22.31, 21.60, 21.95, 22.05, 21.71, 22.20,
    ];
    let image = [
        21.50, 21.71, 22.12, 22.05, 22.40, 21.66, 22.12, 22.08, 21.80, 22.35,
    ];
    let a = agreement(&caliper, &image, 0.95).unwrap();
    printed(a.bias, 0.102, 10);
    printed(a.sd, 0.0571159, 7);
    printed(a.lower.value, -0.009947, 6);
    printed(a.upper.value, 0.213947, 6);
    printed(a.bias_limits.lower, 0.061142, 6);
    printed(a.bias_limits.upper, 0.142858, 6);
    // Student's t of 9 degrees of freedom is 2.262157 (printed tables).
    printed(
        (a.upper.approximate.upper - a.upper.value) / 2.262157,
        0.031284,
        6,
    );
    // By an independent package: noncentral t, least squares.
    printed(a.upper.exact.lower, 0.16843768, 8);
    printed(a.upper.exact.upper, 0.3190954, 7);
    let trend = a.trend.unwrap();
    printed(trend.slope, 0.005214040, 9);
    printed(trend.limits.lower, -0.151504515, 9);
    printed(trend.limits.upper, 0.161932595, 9);
}

#[test]
fn too_little_to_agree() {
    assert!(agreement(&[1.0, 2.0], &[1.1, 2.2], 0.95).is_err());
    assert!(agreement(&[1.0, 2.0, 3.0], &[1.1, 2.2], 0.95).is_err());
    assert!(agreement(&[1.0, 2.0, 3.0], &[2.0, 3.0, 4.0], 0.95).is_err());
    assert!(agreement(&[1.0, f64::NAN, 3.0], &[2.0, 3.1, 4.0], 0.95).is_err());
    // All means alike: limits, but no slope.
    let flat = agreement(&[1.0, 2.0, 3.0], &[3.0, 2.0, 1.0], 0.95).unwrap();
    assert!(flat.trend.is_none());
    assert!(repeated_agreement(&[vec![1.0, 2.0], vec![1.5]], 0.95).is_err());
    assert!(repeated_agreement(&[vec![1.0], vec![1.0], vec![1.0]], 0.95).is_err());
    assert!(repeated_agreement(&[vec![1.0], vec![], vec![2.0], vec![f64::NAN]], 0.95).is_err());
}

/// With one pair a subject both ways are one; with equally many pairs the variance is that of the analysis of variance:
/// (MSB - MSW)/m + MSW (Bland & Altman 2007).
#[test]
fn subjects_with_several_pairs() {
    let data = columns("agreement_pefr_first.csv");
    let a = agreement(&data[0], &data[1], 0.95).unwrap();
    let alone: Vec<Vec<f64>> = data[1]
        .iter()
        .zip(&data[0])
        .map(|(b, a)| vec![b - a])
        .collect();
    let r = repeated_agreement(&alone, 0.95).unwrap();
    relative(r.bias, a.bias, 1e-12);
    relative(r.sd, a.sd, 1e-12);
    relative(r.sd_limits.upper, a.sd_limits.upper, 1e-9);
    assert!(r.sd_within.is_none());

    let subjects: Vec<Vec<f64>> = vec![
        vec![0.3, 0.5, 0.1],
        vec![-0.2, 0.4, 0.0],
        vec![0.9, 0.7, 1.1],
        vec![0.2, -0.1, 0.3],
    ];
    let groups: Vec<&[f64]> = subjects.iter().map(Vec::as_slice).collect();
    let anova = one_way(&groups).unwrap();
    let (between, within) = (
        anova.ss_between / anova.df_between as f64,
        anova.ss_within / anova.df_within as f64,
    );
    let r = repeated_agreement(&subjects, 0.95).unwrap();
    relative(r.sd.powi(2), (between - within) / 3.0 + within, 1e-12);
    relative(r.sd_between.powi(2), (between - within) / 3.0, 1e-12);
    relative(r.sd_within.unwrap().powi(2), within, 1e-12);
}

/// Pseudo-random normal numbers, the same every time.
pub struct Normal(pub u64);

impl Normal {
    pub fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        normal_quantile(((self.0 >> 11) as f64 + 0.5) / (1u64 << 53) as f64)
    }
}

/// Intervals of 95 % of limits by frame hold the true limits in about 95 of 100 studies; those that take pairs as independent do not.
#[test]
fn intervals_by_subject_hold_the_truth() {
    let mut draw = Normal(11);
    let (bias, between, within) = (0.05, 0.08, 0.04);
    let truth = bias - 1.96 * f64::hypot(between, within);
    let studies = 3000;
    let (mut limit, mut sd, mut mean, mut naive) = (0, 0, 0, 0);
    for study in 0..studies {
        let subjects: Vec<Vec<f64>> = (0..10)
            .map(|k| {
                let own = bias + between * draw.next();
                let pairs = 1 + (k + study) % 3;
                (0..pairs).map(|_| own + within * draw.next()).collect()
            })
            .collect();
        let r = repeated_agreement(&subjects, 0.95).unwrap();
        let holds = |l: hooptrace::stats::Limits, v: f64| usize::from(l.lower <= v && v <= l.upper);
        limit += holds(r.lower_limits, truth);
        sd += holds(r.sd_limits, between.hypot(within));
        mean += holds(r.bias_limits, bias);
        let all: Vec<f64> = subjects.concat();
        naive += holds(describe(&all).unwrap().mean_interval(0.95).unwrap(), bias);
    }
    let share = |hits: usize| hits as f64 / f64::from(studies);
    for (name, hits) in [("limit", limit), ("sd", sd), ("bias", mean)] {
        assert!(
            (0.93..=0.975).contains(&share(hits)),
            "{name}: {}",
            share(hits)
        );
    }
    assert!(share(naive) < 0.90, "{}", share(naive));
}

/// Deming lines with equal errors: closed form at 40 digits. Errors in another ratio, and the jackknife, by an independent program.
#[test]
fn deming_lines() {
    for (file, x, y, slope, intercept) in [
        (
            "methodcomp_arsenate.csv",
            0,
            1,
            0.875948142123,
            0.429399427024,
        ),
        (
            "agreement_pefr_first.csv",
            0,
            1,
            0.970880819765,
            15.2315555223,
        ),
        ("methodcomp_sen1968.csv", 0, 1, 4.02985858021, 5.64386728422),
    ] {
        let data = columns(file);
        let line = deming(&data[x], &data[y], 1.0).unwrap();
        relative(line.slope, slope, 1e-11);
        relative(line.intercept, intercept, 1e-11);
        // The other way round it is the inverse line.
        let back = deming(&data[y], &data[x], 1.0).unwrap();
        relative(back.slope, 1.0 / slope, 1e-11);
    }
    let data = columns("methodcomp_arsenate.csv");
    let line = deming(&data[0], &data[1], 2.5).unwrap();
    relative(line.slope, 0.8612358343898708, 1e-12);
    relative(line.intercept, 0.4833298430715294, 1e-11);
    let groups: Vec<usize> = (0..data[0].len()).collect();
    let fit = deming_fit(&data[0], &data[1], &groups, 1.0, 0.95).unwrap();
    relative(fit.u_slope, 0.11578379427955002, 1e-10);
    relative(fit.u_intercept, 0.3021009306884077, 1e-10);
    relative(
        fit.slope_limits.upper,
        fit.line.slope + 2.0484071417952454 * fit.u_slope,
        1e-12,
    );
    let other = deming_fit(&data[0], &data[1], &groups, 2.5, 0.95).unwrap();
    relative(other.u_slope, 0.10262505330171535, 1e-10);
    // Points without a slope, too few points, a ratio that is none.
    assert!(deming(&[1.0, 2.0, 3.0], &[1.0, 0.0, 1.0], 1.0).is_ok_and(|l| l.slope.abs() < 1e-12));
    assert!(deming(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0], 1.0).is_err());
    assert!(deming(&[1.0, 2.0], &[1.0, 2.0], 1.0).is_err());
    assert!(deming(&[1.0, 2.0, 3.0], &[1.0, 2.0, 3.0], 0.0).is_err());
    assert!(deming_fit(&data[0], &data[1], &groups[1..], 1.0, 0.95).is_err());
    assert!(deming_fit(&data[0], &data[1], &vec![0; 30], 1.0, 0.95).is_err());
}
