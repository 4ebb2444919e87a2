//! Proportions side by side, trends, rates, and causes that compete.

use hooptrace::stats::{
    CauseObservation, Observation, TrendGroup, cumulative_incidence, fisher_exact, kaplan_meier,
    poisson_ratio, proportion_trend,
};

use super::{outside, printed, relative};

#[test]
fn two_proportions() {
    for (a, n1, c, n2) in [
        (8, 15, 1, 12),
        (3, 10, 7, 10),
        (0, 30, 4, 30),
        (12, 400, 30, 380),
    ] {
        let test = fisher_exact((a, n1), (c, n2)).unwrap();
        relative(test.p, outside(&format!("fisher/{a}/two-sided")), 1e-10);
        relative(
            test.p_greater,
            outside(&format!("fisher/{a}/greater")),
            1e-10,
        );
        relative(test.p_less, outside(&format!("fisher/{a}/less")), 1e-10);
    }
    // Fisher's tea: four cups of four told right, p = 1/70 one-sided, 2/70 two-sided.
    let tea = fisher_exact((4, 4), (0, 4)).unwrap();
    relative(tea.p_greater, 1.0 / 70.0, 1e-12);
    relative(tea.p, 2.0 / 70.0, 1e-12);
    assert_eq!(tea.odds_ratio, None);
    relative(
        fisher_exact((3, 4), (1, 4)).unwrap().odds_ratio.unwrap(),
        9.0,
        1e-12,
    );
    // Nothing anywhere: one table only.
    relative(fisher_exact((0, 9), (0, 4)).unwrap().p, 1.0, 1e-12);
    // Large numbers keep their digits: the tails cover everything, the table seen twice.
    let large = fisher_exact((100_000, 400_000), (101_000, 400_000)).unwrap();
    assert!(large.p > 0.0 && large.p_less < 0.01 && large.p_greater > 0.99);
    assert!(fisher_exact((5, 4), (0, 4)).is_err());
    assert!(fisher_exact((0, 0), (0, 4)).is_err());
    assert!(fisher_exact((u64::MAX, u64::MAX), (0, 4)).is_err());
}

fn group(score: f64, events: u64, n: u64) -> TrendGroup {
    TrendGroup { score, events, n }
}

#[test]
fn trend_of_proportions() {
    let groups = [
        group(0.0, 1, 10),
        group(1.0, 3, 10),
        group(2.0, 4, 9),
        group(4.0, 6, 8),
    ];
    let test = proportion_trend(&groups).unwrap();
    relative(test.z, outside("trend/z"), 1e-10);
    relative(test.p, outside("trend/p"), 1e-9);
    // Every table with the same sums visited.
    relative(test.p_exact.unwrap(), outside("trend/exact"), 1e-9);
    relative(test.p_exact_rising.unwrap(), outside("trend/rising"), 1e-9);
    // Scores in another unit and from another start: the same.
    let moved = groups.map(|g| group(100.0 + 0.25 * g.score, g.events, g.n));
    let again = proportion_trend(&moved).unwrap();
    relative(again.z, test.z, 1e-9);
    relative(again.p_exact.unwrap(), test.p_exact.unwrap(), 1e-9);
    // Two groups: the exact trend is Fisher's one-sided test.
    let two = proportion_trend(&[group(0.0, 1, 12), group(1.0, 8, 15)]).unwrap();
    relative(
        two.p_exact_rising.unwrap(),
        fisher_exact((8, 15), (1, 12)).unwrap().p_greater,
        1e-10,
    );
    assert!(proportion_trend(&groups[..1]).is_err());
    assert!(proportion_trend(&[group(0.0, 0, 5), group(1.0, 0, 5)]).is_err());
    assert!(proportion_trend(&[group(1.0, 1, 5), group(1.0, 3, 5)]).is_err());
    assert!(proportion_trend(&[group(0.0, 6, 5), group(1.0, 3, 5)]).is_err());
    let many = [0.0, 1.0, 2.0].map(|s| group(s, 500, 1000));
    assert_eq!(proportion_trend(&many).unwrap().p_exact, None);
}

#[test]
fn two_rates() {
    for (a, t1, b, t2) in [
        (11, 800.0, 3, 900.0),
        (0, 50.0, 5, 60.0),
        (7, 20.0, 9, 20.0),
    ] {
        let test = poisson_ratio((a, t1), (b, t2), 0.95).unwrap();
        let expected = |what: &str| outside(&format!("rates/{a}/{what}"));
        let p = (2.0 * expected("less").min(expected("greater"))).min(1.0);
        relative(test.p, p, 1e-9);
        relative(test.lower, expected("lower"), 1e-8);
        if test.upper.is_finite() {
            relative(test.upper, expected("upper"), 1e-8);
        } else {
            assert_eq!((a, test.ratio, expected("upper")), (0, None, f64::INFINITY));
        }
        // The interval leaves out 1 where p is below 5 %.
        assert_eq!(test.p < 0.05, !(test.lower..=test.upper).contains(&1.0));
    }
    printed(
        poisson_ratio((10, 2.0), (30, 3.0), 0.95)
            .unwrap()
            .ratio
            .unwrap(),
        2.0,
        12,
    );
    assert!(poisson_ratio((0, 1.0), (0, 1.0), 0.95).is_err());
    assert!(poisson_ratio((1, 0.0), (0, 1.0), 0.95).is_err());
}

#[test]
fn competing_causes() {
    let values = [3.1, 4.0, 4.4, 5.2, 6.1, 6.3, 7.0, 7.7, 8.2, 9.9, 10.4, 11.8];
    let causes = [1, 2, 0, 1, 1, 2, 0, 1, 2, 0, 1, 0];
    let units: Vec<CauseObservation> = values
        .into_iter()
        .zip(causes)
        .map(|(value, cause)| CauseObservation {
            value,
            cause: usize::checked_sub(cause, 1),
        })
        .collect();
    let curve = cumulative_incidence(&units, 2).unwrap();
    assert_eq!(curve.failures, vec![5, 3]);
    for step in &curve.steps {
        for cause in [1, 2] {
            let key = format!("lifelines/incidence/{cause}/{:?}", step.value);
            relative(step.incidence[cause - 1], outside(&key), 1e-9);
            let variance = outside(&format!("{key}/variance"));
            assert!(
                (step.u[cause - 1].powi(2) - variance).abs() < 1e-9,
                "{key}: {} is not {variance}",
                step.u[cause - 1].powi(2)
            );
        }
        relative(
            step.survival + step.incidence.iter().sum::<f64>(),
            1.0,
            1e-12,
        );
    }
    // One cause only: one less the product-limit estimate, with Greenwood's uncertainty.
    let all: Vec<CauseObservation> = units
        .iter()
        .map(|u| CauseObservation {
            cause: u.cause.map(|_| 0),
            ..*u
        })
        .collect();
    let plain: Vec<Observation> = units
        .iter()
        .map(|u| Observation {
            value: u.value,
            censored: u.cause.is_none(),
        })
        .collect();
    let (one, km) = (
        cumulative_incidence(&all, 1).unwrap(),
        kaplan_meier(&plain).unwrap(),
    );
    assert_eq!(one.steps.len(), km.steps.len());
    for (a, b) in one.steps.iter().zip(&km.steps) {
        relative(1.0 - a.incidence[0], b.survival, 1e-12);
        relative(a.u[0], b.u.unwrap(), 1e-9);
    }
    assert!(cumulative_incidence(&[], 2).is_err());
    assert!(cumulative_incidence(&units, 1).is_err());
    assert!(cumulative_incidence(&units, 0).is_err());
}
