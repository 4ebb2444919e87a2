//! Analyses of variance and gauge studies: NIST data, the reference study of a handbook, a worked example, coverage by simulation.

use hooptrace::stats::{GaugeModel, chi_squared_quantile, f_quantile, f_upper_tail};
use hooptrace::stats::{gauge_rr, one_way, poisson_limits};
use std::collections::BTreeMap;

use super::agreement::Normal;
use super::{number, printed, read, relative, rows};

/// Certified values of a file: sum of squares between and within, F, R², residual standard deviation.
fn certified(text: &str) -> [f64; 5] {
    let numbers = |label: &str| -> Vec<f64> {
        let line = text.lines().find(|l| l.starts_with(label)).unwrap();
        let cells = line.split_whitespace();
        cells.filter_map(|cell| cell.parse().ok()).collect()
    };
    let last = |label: &str| -> f64 {
        let line = text.lines().find(|l| l.trim().starts_with(label)).unwrap();
        number(line.split_whitespace().last().unwrap())
    };
    let (between, within) = (numbers("Between"), numbers("Within"));
    [
        between[1],
        within[1],
        *between.last().unwrap(),
        last("Certified R-Squared"),
        last("Standard Deviation"),
    ]
}

/// Digits of the certified values that 64-bit numbers can reach: 7 or 13 leading digits of every value are the same in the last sets.
#[test]
fn nist_one_way() {
    for (name, digits) in [
        ("SiRstv", 12.0),
        ("SmLs01", 14.0),
        ("SmLs02", 14.0),
        ("SmLs04", 8.5),
        ("SmLs05", 8.5),
        ("SmLs07", 2.5),
        ("SmLs08", 2.5),
    ] {
        let text = read("nist", &format!("{name}.dat"));
        let mut groups: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
        for line in text.lines().skip(60) {
            let cells: Vec<&str> = line.split_whitespace().collect();
            if let [group, value] = cells[..] {
                let group: u32 = group.parse().unwrap();
                groups.entry(group).or_default().push(number(value));
            }
        }
        check(name, &groups, certified(&text), digits);
    }
    // The large set by its recipe: tests/data/nist/SmLs03_recipe.csv; certified values as printed by NIST.
    let mut groups = BTreeMap::new();
    for line in read("nist", "SmLs03_recipe.csv").lines().skip(3) {
        let cells: Vec<f64> = line.split(',').map(number).collect();
        let tenths = (cells[1] * 10.0).round() as i64;
        let values = (1..=cells[2] as i64).map(|i| {
            let step = match i {
                1 => 0,
                i if i % 2 == 0 => -1,
                _ => 1,
            };
            (tenths + step) as f64 / 10.0
        });
        groups.insert(cells[0] as u32, values.collect());
    }
    let values = [160.08, 180.0, 2001.0, 0.470712773465067, 0.1];
    check("SmLs03", &groups, values, 14.0);
}

fn check(name: &str, groups: &BTreeMap<u32, Vec<f64>>, certified: [f64; 5], digits: f64) {
    let lists: Vec<&[f64]> = groups.values().map(Vec::as_slice).collect();
    let a = one_way(&lists).unwrap();
    let found = [a.ss_between, a.ss_within, a.f, a.r_squared, a.residual_sd];
    for (value, c) in found.into_iter().zip(certified) {
        let error = ((value - c) / c).abs();
        assert!(error <= 10f64.powf(-digits), "{name}: {value} is not {c}");
    }
}

/// NIST/SEMATECH e-Handbook, GEAR.DAT; F and p by a statistics package.
#[test]
fn gear_batches() {
    let mut groups: BTreeMap<u32, Vec<f64>> = BTreeMap::new();
    for row in rows("nist_gear.csv") {
        let batch: u32 = row[0].parse().unwrap();
        groups.entry(batch).or_default().push(number(&row[1]));
    }
    let lists: Vec<&[f64]> = groups.values().map(Vec::as_slice).collect();
    let a = one_way(&lists).unwrap();
    assert_eq!((a.df_between, a.df_within), (9, 90));
    relative(a.f, 2.296912413358539, 1e-11);
    relative(a.p, 0.02266081927864117, 1e-10);
    assert!(one_way(&[&[1.0, 2.0]]).is_err());
    assert!(one_way(&[&[1.0], &[2.0]]).is_err());
    assert!(one_way(&[&[1.0, 1.0], &[2.0, 2.0]]).is_err());
    assert!(one_way(&[&[], &[2.0, 2.1]]).is_err());
}

#[test]
fn quantiles_of_chi_squared_and_f() {
    let mut seen = 0;
    for row in rows("quantiles.csv") {
        let (p, expected) = (number(&row[2]), number(&row[3]));
        let parameters: Vec<f64> = row[1]
            .split(';')
            .filter_map(|part| part.split_once('=')?.1.parse().ok())
            .collect();
        let value = match (row[0].as_str(), &parameters[..]) {
            ("chi2", [dof]) => chi_squared_quantile(p, *dof).unwrap(),
            ("f", [first, second]) => {
                let f = f_quantile(p, *first, *second).unwrap();
                relative(f_upper_tail(f, *first, *second).unwrap(), 1.0 - p, 1e-9);
                f
            }
            _ => continue,
        };
        seen += 1;
        relative(value, expected, 1e-9);
    }
    assert_eq!(seen, 91 + 65);
    assert!(chi_squared_quantile(0.5, 0.0).is_err() && f_quantile(1.0, 2.0, 2.0).is_err());
    assert!(f_upper_tail(-1.0, 2.0, 2.0).is_err());
}

/// Exact limits of a Poisson mean (Garwood 1936) by an independent package; none: -ln 0.025.
#[test]
fn counts() {
    for (events, lower, upper) in [
        (0, 0.0, 3.6888794541139354),
        (1, 0.025317807984289876, 5.571643390938898),
        (3, 0.6186721228956014, 8.767273069742323),
        (10, 4.7953886961324335, 18.39035604201778),
        (100, 81.36399125092314, 121.62679379242638),
    ] {
        let limits = poisson_limits(events, 0.95).unwrap();
        assert!((limits.lower - lower).abs() <= 1e-9 * upper, "{limits:?}");
        relative(limits.upper, upper, 1e-10);
    }
    assert!(poisson_limits(3, 1.0).is_err() && poisson_limits(u64::MAX, 0.95).is_err());
}

fn aiag() -> Vec<Vec<Vec<f64>>> {
    let mut parts: BTreeMap<u32, BTreeMap<String, Vec<f64>>> = BTreeMap::new();
    for row in rows("gauge_aiag.csv") {
        let part = parts.entry(row[0].parse().unwrap()).or_default();
        part.entry(row[1].clone())
            .or_default()
            .push(number(&row[3]));
    }
    parts
        .into_values()
        .map(|operators| operators.into_values().collect())
        .collect()
}

/// Raw estimates, as they come.
fn raw(model: &GaugeModel, name: &str) -> f64 {
    model.component(name).unwrap().raw
}

fn sd(model: &GaugeModel, name: &str) -> f64 {
    model.component(name).unwrap().variance.sqrt()
}

/// The reference study of the AIAG handbook, 10 parts, 3 appraisers, 3 trials. Printed: sums of squares 88.3619, 3.1673, 0.3590, 2.7589;
/// pooled sd 0.199933, 0.226838, 0.302373, 1.042327. Further digits in exact rational arithmetic.
#[test]
fn handbook_study() {
    let study = gauge_rr(&aiag(), 0.95).unwrap();
    assert_eq!((study.parts, study.operators, study.repeats), (10, 3, 3));
    let with = &study.with_interaction;
    for (row, (ss, df, ms)) in with.rows.iter().zip([
        (88.3619344444, 9, 9.81799271605),
        (3.16726222222, 2, 1.58363111111),
        (0.358982222222, 18, 0.0199434567901),
        (2.75893333333, 60, 0.0459822222222),
    ]) {
        assert_eq!(row.df, df, "{}", row.source);
        relative(row.ss, ss, 1e-9);
        relative(row.ms, ms, 1e-9);
    }
    let tests = [
        (492.291422664, 1.16306399493e-19),
        (79.4060492008, 1.17447760634e-9),
        (0.433721030135, 0.974106404329),
    ];
    for (row, (f, p)) in with.rows.iter().zip(tests) {
        relative(row.f.unwrap(), f, 1e-9);
        relative(row.p.unwrap(), p, 1e-8);
    }
    relative(raw(with, "repeatability"), 0.0459822222222, 1e-9);
    relative(raw(with, "part by operator"), -0.00867958847737, 1e-9);
    relative(raw(with, "operator"), 0.0521229218107, 1e-9);
    relative(raw(with, "part"), 1.08867213992, 1e-9);
    // A negative component counts as 0.
    assert_eq!(sd(with, "part by operator"), 0.0);
    relative(sd(with, "reproducibility"), 0.228304449827, 1e-9);
    relative(sd(with, "gauge"), 0.313217406976, 1e-9);
    relative(sd(with, "total"), 1.08939308055, 1e-9);
    relative(
        100.0 * sd(with, "gauge") / sd(with, "total"),
        28.7515509845,
        1e-9,
    );
    relative(with.categories.unwrap(), 4.71104944605, 1e-9);

    assert!(study.pool, "p 0.97 is above 0.25");
    let pooled = study.used();
    assert!(!pooled.interaction);
    let last = pooled.rows.last().unwrap();
    assert_eq!(last.df, 78);
    relative(last.ms, 0.0399732763533, 1e-9);
    relative(pooled.rows[0].f.unwrap(), 245.613910386, 1e-9);
    relative(pooled.rows[1].f.unwrap(), 39.6172457097, 1e-9);
    for (name, value, six_digits) in [
        ("repeatability", 0.199933179721, 0.199933),
        ("reproducibility", 0.226837521496, 0.226838),
        ("gauge", 0.302371522323, 0.302373),
        ("part", 1.04232749384, 1.042327),
    ] {
        relative(sd(pooled, name), value, 1e-9);
        // The handbook's own last digit of the gauge is off by 1.5 units.
        printed(sd(pooled, name), six_digits, 5);
    }
    relative(
        100.0 * sd(pooled, "gauge") / sd(pooled, "total"),
        27.8606508811,
        1e-9,
    );
    relative(pooled.categories.unwrap(), 4.87504136268, 1e-9);
    // Exact limits of a mean square: 78 × 0.0399733 over the chi-squared quantiles 104.3159 and 55.4656 (an independent package).
    let repeat = pooled.component("repeatability").unwrap().limits;
    relative(repeat.lower, 78.0 * 0.0399732763533 / 104.31593784, 1e-6);
    relative(repeat.upper, 78.0 * 0.0399732763533 / 55.46562498, 1e-6);
    for component in pooled.components.iter().chain(&with.components) {
        let l = component.limits;
        assert!(l.lower >= 0.0 && l.lower <= l.upper, "{component:?}");
        assert!(
            component.raw < 0.0 || l.lower <= component.raw && component.raw <= l.upper,
            "{component:?}"
        );
    }
}

/// Three rings, two operators, two repeats (mm), by the definitions.
#[test]
fn three_rings() {
    let study = gauge_rr(
        &[
            vec![vec![21.50, 21.52], vec![21.53, 21.55]],
            vec![vec![22.01, 22.00], vec![22.05, 22.04]],
            vec![vec![21.80, 21.81], vec![21.82, 21.84]],
        ],
        0.95,
    )
    .unwrap();
    let with = &study.with_interaction;
    printed(with.rows[0].ms, 0.25240833, 8);
    printed(with.rows[1].ms, 0.00300833, 8);
    printed(with.rows[2].ms, 5.8333e-5, 9);
    printed(with.rows[3].ms, 1.25e-4, 9);
    printed(raw(with, "repeatability"), 1.25e-4, 12);
    printed(raw(with, "operator"), 4.91667e-4, 9);
    assert!(raw(with, "part by operator") < 0.0);
    printed(raw(with, "part"), 0.0630875, 7);
    printed(sd(with, "gauge"), 0.0248328, 7);
    printed(100.0 * sd(with, "gauge") / sd(with, "total"), 9.8388, 4);
    printed(100.0 * 6.0 * sd(with, "gauge") / 0.6, 24.83, 2);
    assert_eq!(with.categories.unwrap().floor(), 14.0);
    let pooled = &study.pooled;
    printed(raw(pooled, "repeatability"), 1.08333e-4, 9);
    printed(raw(pooled, "operator"), 4.83333e-4, 9);
    printed(sd(pooled, "gauge"), 0.0243242, 7);
    printed(100.0 * sd(pooled, "gauge") / sd(pooled, "total"), 9.6401, 4);
    assert_eq!(pooled.categories.unwrap().floor(), 14.0);
    assert!(study.pool);
}

#[test]
fn no_gauge_study() {
    let cell = || vec![1.0, 1.1];
    let said = |readings: &[Vec<Vec<f64>>]| gauge_rr(readings, 0.95).unwrap_err().to_string();
    assert!(said(&[]).contains("parts"));
    assert!(said(&[vec![cell()], vec![cell()]]).contains("operators"));
    let once = || vec![vec![1.0], vec![1.1]];
    assert!(said(&[once(), once()]).contains("repeats"));
    let uneven = [vec![cell(), cell()], vec![cell(), vec![1.0]]];
    assert!(said(&uneven).contains("2 in one place, 1 in another"));
    let uneven = [vec![cell(), cell()], vec![cell(), cell(), cell()]];
    assert!(said(&uneven).contains("operators"));
    assert!(gauge_rr(&vec![vec![vec![f64::NAN, 1.0]; 2]; 2], 0.95).is_err());
    // Readings that never differ: no scatter, no number of categories, and no panic.
    let flat = gauge_rr(&vec![vec![vec![2.0, 2.0]; 2]; 3], 0.95).unwrap();
    assert!(flat.used().categories.is_none());
    assert_eq!(sd(flat.used(), "total"), 0.0);
}

/// Intervals of 95 % hold the true components in about 95 of 100 studies, with an interaction and without.
#[test]
fn intervals_hold_the_components() {
    let (parts, operators, repeats) = (8, 4, 2);
    let studies = 1500;
    for crossed in [0.02_f64, 0.0] {
        let mut draw = Normal(5);
        let (part, operator, repeat) = (0.3_f64, 0.03_f64, 0.02_f64);
        let reproducibility = operator.powi(2) + crossed.powi(2);
        let gauge = reproducibility + repeat.powi(2);
        let truth = [
            ("repeatability", repeat.powi(2)),
            ("part by operator", crossed.powi(2)),
            ("operator", operator.powi(2)),
            ("reproducibility", reproducibility),
            ("gauge", gauge),
            ("part", part.powi(2)),
            ("total", gauge + part.powi(2)),
        ];
        let mut hits: BTreeMap<&str, usize> = BTreeMap::new();
        for _ in 0..studies {
            let hands: Vec<f64> = (0..operators).map(|_| operator * draw.next()).collect();
            let readings: Vec<Vec<Vec<f64>>> = (0..parts)
                .map(|_| {
                    let own = 22.0 + part * draw.next();
                    hands
                        .iter()
                        .map(|hand| {
                            let both = own + hand + crossed * draw.next();
                            (0..repeats).map(|_| both + repeat * draw.next()).collect()
                        })
                        .collect()
                })
                .collect();
            let study = gauge_rr(&readings, 0.95).unwrap();
            let model = if crossed > 0.0 {
                study.with_interaction
            } else {
                study.pooled
            };
            for component in &model.components {
                let (_, value) = truth
                    .iter()
                    .find(|(name, _)| *name == component.name)
                    .unwrap();
                let l = component.limits;
                *hits.entry(component.name).or_default() +=
                    usize::from(l.lower <= *value && *value <= l.upper);
            }
        }
        for (name, hits) in hits {
            let share = hits as f64 / f64::from(studies);
            assert!((0.93..=0.985).contains(&share), "{name} {crossed}: {share}");
        }
    }
}
