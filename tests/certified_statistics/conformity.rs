//! Decisions with a guard band.

use hooptrace::stats::{Conformity, Tolerance, guarded_decision, normal_cdf};

use super::{printed, relative};

#[test]
fn worked_examples() {
    // JCGM 106:2012, 7.2.2 and 7.3, from memory: breakdown voltage of a diode, limit -5.40 V, measured -5.47 V with u = 0.05 V: 0.92;
    // viscosity of an oil, 12.5 to 16.3 mm²/s, measured 13.6 with u = 1.8: 0.66.
    let diode = Tolerance {
        lower: f64::NEG_INFINITY,
        upper: -5.40,
    };
    let d = guarded_decision(diode, -5.47, 0.05, 2.0).unwrap();
    printed(d.conformance, 0.92, 2);
    assert_eq!(
        (d.simple, d.guarded),
        (Conformity::Accepted, Conformity::Guarded)
    );
    printed(d.guard_band, 0.10, 12);
    let oil = Tolerance {
        lower: 12.5,
        upper: 16.3,
    };
    printed(
        guarded_decision(oil, 13.6, 1.8, 0.0).unwrap().conformance,
        0.66,
        2,
    );
    // A value on the acceptance limit of w = 2 u is wrong in 2.3 % (8.3.2), of w = 1.645 u in 5 %.
    let limit = Tolerance {
        lower: 20.0,
        upper: f64::INFINITY,
    };
    for (multiple, wrong) in [(2.0, 0.023), (1.645, 0.050), (0.0, 0.5)] {
        let d = guarded_decision(limit, 20.0 + multiple * 0.25, 0.25, multiple).unwrap();
        printed(d.non_conformance, wrong, 3);
        assert_eq!(d.guarded, Conformity::Accepted);
    }
    let out = guarded_decision(limit, 19.9, 0.25, 2.0).unwrap();
    assert_eq!(
        (out.simple, out.guarded),
        (Conformity::Rejected, Conformity::Rejected)
    );
}

#[test]
fn far_tails_keep_their_digits() {
    let limit = Tolerance {
        lower: 20.0,
        upper: 21.0,
    };
    let far = guarded_decision(limit, 10.0, 1.0, 0.0).unwrap();
    relative(
        far.conformance,
        normal_cdf(-10.0) - normal_cdf(-11.0),
        1e-12,
    );
    let far = guarded_decision(limit, 31.0, 1.0, 0.0).unwrap();
    relative(
        far.conformance,
        normal_cdf(-10.0) - normal_cdf(-11.0),
        1e-12,
    );
    let sure = guarded_decision(limit, 20.5, 0.05, 0.0).unwrap();
    relative(sure.non_conformance, 2.0 * normal_cdf(-10.0), 1e-9);
    for (t, value, u, multiple) in [
        (limit, f64::NAN, 1.0, 0.0),
        (limit, 20.5, 0.0, 0.0),
        (limit, 20.5, 1.0, -1.0),
        (
            Tolerance {
                lower: 21.0,
                upper: 20.0,
            },
            20.5,
            1.0,
            0.0,
        ),
        (
            Tolerance {
                lower: f64::NEG_INFINITY,
                upper: f64::INFINITY,
            },
            20.5,
            1.0,
            0.0,
        ),
    ] {
        assert!(guarded_decision(t, value, u, multiple).is_err());
    }
}
