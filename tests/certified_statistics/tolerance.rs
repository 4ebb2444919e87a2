//! Normal tolerance factors.

use hooptrace::stats::{
    StatsError, normal_quantile, tolerance_one_sided, tolerance_one_sided_natrella,
    tolerance_two_sided, tolerance_two_sided_howe,
};

use super::{number, printed, relative, rows};

#[test]
fn tolerance_factor_table() {
    let table = rows("tolerance_factors.csv");
    assert_eq!(table.len(), 243);
    let mut printed_in_standard = 0;
    for row in table {
        let (n, p, c) = (number(&row[0]) as u64, number(&row[1]), number(&row[2]));
        relative(tolerance_one_sided(n, p, c).unwrap(), number(&row[3]), 1e-9);
        let two_sided = tolerance_two_sided(n, p, c).unwrap();
        relative(two_sided, number(&row[4]), 1e-9);
        relative(
            tolerance_two_sided_howe(n, p, c).unwrap(),
            number(&row[5]),
            1e-9,
        );
        if let Some(cell) = row.get(7).filter(|c| !c.is_empty()) {
            // ISO 16269-6 rounds its four decimals up.
            printed_in_standard += 1;
            let up = number(cell) - two_sided;
            assert!((-1e-9..1.0001e-4).contains(&up), "{row:?} {two_sided}");
        }
    }
    assert!(printed_in_standard > 40, "{printed_in_standard}");
}

#[test]
fn tolerance_factors_four_decimals() {
    // n, one-sided 95/90, 95/95, 95/99, 95/99.9 (confidence/coverage), two-sided exact 95/95, Howe 95/95, two-sided 95/90.
    for (n, one, exact, howe, exact90) in [
        (5, [3.4066, 4.2027, 5.7411, 7.5019], 5.0769, 5.0935, 4.2906),
        (10, [2.3546, 2.9110, 3.9811, 5.2033], 3.3934, 3.3819, 2.8563),
        (15, [2.0684, 2.5660, 3.5201, 4.6074], 2.9649, 2.9548, 2.4922),
        (20, [1.9260, 2.3960, 3.2952, 4.3182], 2.7603, 2.7523, 2.3188),
        (30, [1.7773, 2.2198, 3.0639, 4.0222], 2.5549, 2.5496, 2.1451),
        (59, [1.6121, 2.0259, 2.8119, 3.7014], 2.3391, 2.3368, 1.9633),
    ] {
        for (k, p) in one.into_iter().zip([0.90, 0.95, 0.99, 0.999]) {
            printed(tolerance_one_sided(n, p, 0.95).unwrap(), k, 4);
        }
        printed(tolerance_two_sided(n, 0.95, 0.95).unwrap(), exact, 4);
        printed(tolerance_two_sided_howe(n, 0.95, 0.95).unwrap(), howe, 4);
        printed(tolerance_two_sided(n, 0.90, 0.95).unwrap(), exact90, 4);
    }
}

#[test]
fn tolerance_handbook_case() {
    // NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, mean 97.07, sd 0.0268, coverage 0.90, confidence 0.99.
    let howe = tolerance_two_sided_howe(43, 0.90, 0.99).unwrap();
    printed(howe, 2.217316, 6);
    printed(
        tolerance_one_sided_natrella(43, 0.90, 0.99).unwrap(),
        1.875190,
        6,
    );
    printed(tolerance_one_sided(43, 0.90, 0.99).unwrap(), 1.873954, 6);
    printed(tolerance_two_sided(43, 0.90, 0.99).unwrap(), 2.222825, 6);
    printed(97.07 - howe * 0.0268, 97.01058, 5);
    printed(97.07 + howe * 0.0268, 97.12942, 5);
}

#[test]
fn tolerance_of_a_burst_rating() {
    // n = 30, mean 18.4, sd 0.62 (atm), 99.9 % of the balloons with 95 % confidence: 15.9062.
    let k = tolerance_one_sided(30, 0.999, 0.95).unwrap();
    printed(18.4 - k * 0.62, 15.9062, 4);
}

#[test]
fn tolerance_factors_hold_at_the_ends() {
    // For very many values the factor becomes the quantile of the population.
    let k = tolerance_one_sided(1_000_000, 0.95, 0.95).unwrap();
    let z = normal_quantile(0.95);
    assert!(k > z && k < z + 0.005, "{k}");
    // Large-sample formula with the same first-order term: z + z_c sqrt(1/n + z²/(2n)).
    printed(k, z + z * ((1.0 + 0.5 * z * z) / 1e6).sqrt(), 4);
    assert!(matches!(
        tolerance_one_sided(1, 0.95, 0.95),
        Err(StatsError::TooFew { .. })
    ));
    assert!(tolerance_two_sided(10, 0.0, 0.95).is_err());
    assert!(tolerance_two_sided(10, 0.95, 1.0).is_err());
    assert!(tolerance_one_sided(u64::MAX, 0.95, 0.95).is_err());
    // A coverage and a confidence below one half are allowed: the factor may then be negative.
    assert!(tolerance_one_sided(10, 0.05, 0.05).unwrap() < 0.0);
}

#[test]
fn tolerance_factors_at_every_number() {
    // Noncentral t of scipy, and the two-sided integral by another quadrature: every n from 2 to 1000, at three coverages and confidences.
    let table = rows("tolerance_every_n.csv");
    assert_eq!(table.len(), 999);
    for (row, n) in table.iter().zip(2..) {
        assert_eq!(number(&row[0]) as u64, n);
        for (at, (coverage, confidence)) in [(1, (0.95, 0.95)), (3, (0.99, 0.9)), (5, (0.9, 0.99))]
        {
            let one = tolerance_one_sided(n, coverage, confidence).unwrap();
            relative(one, number(&row[at]), 2e-8);
            let two = tolerance_two_sided(n, coverage, confidence).unwrap();
            relative(two, number(&row[at + 1]), 2e-8);
        }
    }
}
