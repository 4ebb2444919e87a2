//! Probit fits and staircases.

use hooptrace::stats::{
    Counted, DoseCurve, DoseEstimate, DoseFit, Level, StatsError, dose_fit, up_and_down,
};

use super::{number, printed, relative, rows};

pub fn levels(file: &str) -> Vec<Level> {
    rows(file)
        .iter()
        .map(|r| Level {
            level: number(&r[0]),
            n: number(&r[1]) as usize,
            failures: number(&r[2]) as usize,
        })
        .collect()
}

fn probit(levels: &[Level]) -> Result<DoseFit, StatsError> {
    dose_fit(levels, DoseCurve::Probit, DoseEstimate::MaximumLikelihood)
}

#[test]
fn probit_of_pass_and_fail() {
    let frames: Vec<Level> = [(8.0, 1), (9.0, 3), (10.0, 5), (11.0, 8), (12.0, 9)]
        .map(|(level, failures)| Level {
            level,
            n: 10,
            failures,
        })
        .to_vec();
    let fit = probit(&frames).unwrap();
    printed(fit.ed50, 9.891788, 6);
    printed(fit.spread, 1.534267, 6);
    printed(fit.level(0.9).unwrap(), 11.858030, 6);
    printed(fit.ln_likelihood, -24.62474, 5);
    // Bliss (1935) beetles (Dobson: -34.94, 19.73) and Collett (1991) budworms: intercept -mean/sd and slope 1/sd by two packages.
    for (file, intercept, slope, ed50) in [
        (
            "dose_bliss_beetle.csv",
            -34.9352588992,
            19.7279342113,
            1.77085236219,
        ),
        (
            "dose_budworm_male.csv",
            -1.64592296181,
            0.736886515155,
            2.23361796961,
        ),
    ] {
        let fit = probit(&levels(file)).unwrap();
        relative(-fit.ed50 / fit.spread, intercept, 1e-8);
        relative(1.0 / fit.spread, slope, 1e-8);
        relative(fit.ed50, ed50, 1e-8);
    }
    // Complete separation has no finite spread; failures that fall with the level have no finite one either.
    let separated = [
        Level {
            level: 8.0,
            n: 5,
            failures: 0,
        },
        Level {
            level: 9.0,
            n: 5,
            failures: 5,
        },
    ];
    assert!(matches!(
        probit(&separated),
        Err(StatsError::NoMaximum { .. })
    ));
    let falling = [
        Level {
            level: 8.0,
            n: 5,
            failures: 4,
        },
        Level {
            level: 9.0,
            n: 5,
            failures: 1,
        },
    ];
    assert!(probit(&falling).is_err());
    assert!(probit(&[]).is_err());
    assert!(
        probit(&[Level {
            level: 8.0,
            n: 1,
            failures: 2
        }])
        .is_err()
    );
}

#[test]
fn staircase_of_dixon_and_mood() {
    // Formula of Dixon & Mood (1948) worked by hand: N 7, A 7, B 11, ratio 0.571429.
    let fit = up_and_down(9.0, 1.0, &[2, 3, 2], Counted::Failures).unwrap();
    printed(fit.mean, 9.5, 12);
    printed(fit.ratio, 0.571429, 6);
    printed(fit.sd.unwrap(), 0.972694, 5);
    printed(
        up_and_down(9.0, 1.0, &[2, 3, 2], Counted::Passes)
            .unwrap()
            .mean,
        10.5,
        12,
    );
    // All at one level: the formula for the sd does not hold.
    assert_eq!(
        up_and_down(9.0, 1.0, &[0, 5], Counted::Passes).unwrap().sd,
        None
    );
    assert!(up_and_down(9.0, 0.0, &[2, 3], Counted::Passes).is_err());
    assert!(up_and_down(9.0, 1.0, &[], Counted::Passes).is_err());
}
