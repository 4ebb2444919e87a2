//! The table of units against exact factors (NIST SP 811, Appendix B; `tests/data/units/SOURCE.md`) and headers as files write them.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::units::{Dimension, UNITS, find, find_any, nearest, split_header};
use std::collections::BTreeSet;

fn convert(value: f64, from: &str, to: &str) -> f64 {
    let (from, to) = (find(from).unwrap(), find(to).unwrap());
    assert_eq!(from.dimension, to.dimension);
    to.from_bench(from.to_bench(value))
}

fn near(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "{got} against {want}"
    );
}

/// Worked pressures to the printed digits.
#[test]
fn pressures() {
    near(convert(1.0, "atm", "Pa"), 101_325.0, 1e-15);
    near(convert(1.0, "atm", "bar"), 1.013_25, 1e-15);
    near(convert(1.0, "atm", "psi"), 14.695_948_78, 4e-10);
    near(convert(1.0, "atm", "Torr"), 760.0, 1e-15);
    near(convert(1.0, "bar", "atm"), 0.986_923_27, 5e-9);
    near(convert(1.0, "bar", "psi"), 14.503_773_77, 4e-10);
    near(convert(1.0, "psi", "Pa"), 6_894.757_293_168, 1e-13);
    near(convert(1.0, "mmHg", "Pa"), 133.322_387_415, 1e-14);
    near(convert(1.0, "at", "Pa"), 98_066.5, 1e-15);
    near(convert(20.0, "atm", "MPa"), 2.0265, 1e-14);
    near(convert(20.0, "atm", "bar"), 20.265, 1e-14);
    near(convert(20.0, "atm", "psi"), 293.918_98, 2e-8);
    near(convert(20.0, "atm", "Torr"), 15_200.0, 1e-14);
    near(convert(20.0, "atm", "at"), 20.664_55, 2e-7);
    near(convert(300.0, "psi", "atm"), 20.413_789, 2e-8);
    near(convert(1.0, "atm", "mmHg"), 759.999_891_725_611_3, 1e-14);
    near(convert(120.0, "mmHg", "kPa"), 15.998_686_489_8, 1e-12);
    // A technical atmosphere taken for a standard one: −3.216 %; bar for atm: 1.325 % high.
    near(convert(1.0, "at", "atm") - 1.0, -0.032_16, 2e-4);
    near(convert(16.0, "atm", "bar") / 16.0 - 1.0, 0.013_25, 1e-9);
    // 308.614 psi absolute at a barometer of 14.6959 psi: 20.0000 atm gauge.
    near(convert(308.614 - 14.6959, "psi", "atm"), 20.0, 1e-5);
}

#[test]
fn temperatures() {
    near(convert(37.0, "°C", "°F"), 98.6, 1e-14);
    near(convert(37.0, "degC", "K"), 310.15, 1e-14);
    near(convert(-40.0, "°F", "°C"), -40.0, 1e-13);
    near(convert(98.6, "degF", "celsius"), 37.0, 1e-13);
}

/// How the reference file spells units that the table spells otherwise. The empty spelling marks dimensions the bench has no use
/// for (torque, energy, mass, viscosity, stiffness, angle, frequency).
const SPELLINGS: &[(&str, &str)] = &[
    ("psi (lbf/in^2)", "psi"),
    ("standard atmosphere", "atm"),
    ("technical atmosphere (kgf/cm^2)", "at"),
    ("mmHg (conventional)", "mmHg"),
    ("inHg (conventional)", "inHg"),
    ("cmH2O (conventional)", "cmH2O"),
    ("inH2O (conventional)", "inH2O"),
    ("dyn/cm^2", "dyn/cm2"),
    ("N/mm^2", "N/mm2"),
    ("mil (0.001 in)", "mil"),
    ("French (Charriere) outer diameter", "French"),
    ("US fluid ounce", "fl oz"),
    ("US gallon", "gal"),
    ("cubic inch", "in3"),
    ("cm^3", "cm3"),
    ("US gal/min", "gal/min"),
];
const NOT_ON_THE_BENCH: &[&str] = &[
    "stiffness",
    "torque",
    "energy",
    "mass",
    "viscosity",
    "angle",
    "frequency",
];

#[test]
fn factors() {
    let path = format!(
        "{}/tests/data/units/factors.csv",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(path).unwrap();
    let spelt = |name: &str| {
        SPELLINGS
            .iter()
            .find(|(given, _)| *given == name)
            .map_or(name.to_owned(), |(_, ours)| (*ours).to_owned())
    };
    let (mut checked, mut skipped) = (0, 0);
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let (quantity, from, to) = (cells[0], cells[1], cells[2]);
        // A pixel size is a rig's scale, not a unit.
        if NOT_ON_THE_BENCH.contains(&quantity) || from.starts_with("pixel") {
            skipped += 1;
            continue;
        }
        let factor: f64 = cells[3].parse().unwrap();
        let (from, to) = (spelt(from), spelt(to));
        let (Some(a), Some(b)) = (find(&from), find(&to)) else {
            panic!("`{from}` or `{to}` is no unit of the table");
        };
        assert_eq!(a.dimension, b.dimension, "{line}");
        near(convert(1.0, &from, &to), factor, 4e-15);
        checked += 1;
    }
    assert_eq!((checked, skipped), (34, 13));
}

/// No two units share a spelling, and every spelling finds its unit.
#[test]
fn spellings_are_unique() {
    let mut seen = BTreeSet::new();
    for unit in UNITS {
        for spelling in std::iter::once(&unit.symbol).chain(unit.aliases) {
            let found = find_any(spelling).unwrap_or_else(|| panic!("`{spelling}` not found"));
            assert_eq!(found.symbol, unit.symbol, "`{spelling}`");
            assert!(seen.insert(*spelling), "`{spelling}` twice");
        }
        near(unit.from_bench(unit.to_bench(7.25)), 7.25, 1e-13);
    }
}

/// Observations have units of their own, which no header states: `(g)` is gauge.
#[test]
fn units_of_observations() {
    let bench = |value: f64, unit: &str| {
        let unit = find_any(unit).unwrap();
        (unit.to_bench(value), unit.bench().symbol)
    };
    assert_eq!(bench(2.0, "g"), (2000.0, "mg"));
    assert_eq!(bench(5.0, "µg"), (0.005, "mg"));
    assert_eq!(bench(1.5, "kg"), (1.5e6, "mg"));
    assert_eq!(bench(12.0, "%"), (12.0, "%"));
    assert_eq!(bench(3.0, "count"), (3.0, "counts"));
    assert_eq!(bench(2.0, "mV"), (2.0, "mV"));
    assert_eq!(bench(1.0, "in"), (25.4, "mm"));
    // NIST SP 811, Appendix B: a degree is 1.745329E-02 rad.
    let (degrees, unit) = bench(0.017_453_292_519_943_295, "rad");
    assert_eq!(unit, "deg");
    near(degrees, 1.0, 1e-15);
    for symbol in ["g", "mg", "kg", "deg", "rad", "%"] {
        assert!(find(symbol).is_none(), "{symbol}");
        assert!(split_header(&format!("Pressure ({symbol})")).1.is_none());
    }
}

/// Milli is not mega.
#[test]
fn prefixes_keep_their_case() {
    assert!(find("mPa").is_none());
    assert!(split_header("p [mPa]").1.is_none());
    assert_eq!(find("MPa").unwrap().symbol, "MPa");
    assert_eq!(find("mpa").unwrap().symbol, "MPa");
    assert_eq!(find("MPA").unwrap().symbol, "MPa");
    assert_eq!(find("mN").unwrap().symbol, "mN");
    for refused in ["MN", "Mm", "ML", "S", "M", "Ms"] {
        assert!(find(refused).is_none(), "{refused}");
    }
    for (spelling, symbol) in [
        ("PSI", "psi"),
        ("Bar", "bar"),
        ("ATM", "atm"),
        ("KPA", "kPa"),
        ("mmhg", "mmHg"),
        ("MMHG", "mmHg"),
        ("ML/MIN", "mL/min"),
        ("[ml]", "mL"),
        ("(µL)", "uL"),
        ("μl", "uL"),
        ("Ul", "uL"),
    ] {
        assert_eq!(find(spelling).map(|u| u.symbol), Some(symbol), "{spelling}");
    }
}

/// Headers as loggers and people write them.
#[test]
fn headers() {
    for (header, name, unit) in [
        ("P [bar]", "P", "bar"),
        ("P (bar)", "P", "bar"),
        ("pressure_kpa", "pressure", "kPa"),
        ("flow_ml_s", "flow", "mL/s"),
        ("Druck, bar", "Druck", "bar"),
        ("Volume [µL]", "Volume", "uL"),
        ("Volume [μL]", "Volume", "uL"),
        ("Pressure (psi)", "Pressure", "psi"),
        ("time (ms)", "time", "ms"),
        ("dp_mmhg", "dp", "mmHg"),
        ("P/bar", "P", "bar"),
        ("t/s", "t", "s"),
        ("flow_l_min", "flow", "L/min"),
        ("Flow [L/min]", "Flow", "L/min"),
        ("balloon pressure atm", "balloon pressure", "atm"),
        ("Temperature [°C]", "Temperature", "°C"),
        ("temperature_degc", "temperature", "°C"),
        ("optical_mm", "optical", "mm"),
        ("  Druck [bar]  ", "Druck", "bar"),
        ("Pressure (inflator) [kPa]", "Pressure (inflator)", "kPa"),
        ("p (kPa) filtered", "p", "kPa"),
        ("sensor [mV]", "sensor", "mV"),
        ("ADC [counts]", "ADC", "counts"),
        ("ratio [1]", "ratio", "1"),
    ] {
        let (got, found) = split_header(header);
        assert_eq!(found.map(|u| u.symbol), Some(unit), "{header}");
        assert_eq!(got, name, "{header}");
    }
    for header in [
        "Volumen",
        "pressure",
        "time",
        "Channel_1",
        "Kanal 2",
        "p_1",
        "sensor/1",
        "",
        "[]",
        "()",
        "][",
        ")(",
        "µ",
        "_",
        "a_",
        "flow -",
        "P [furlongs]",
        "marker",
        "index",
    ] {
        let (name, found) = split_header(header);
        assert_eq!(found.map(|u| u.symbol), None, "{header}");
        assert_eq!(name, header, "{header}");
    }
}

#[test]
fn suggestions() {
    assert_eq!(nearest("kpaa"), Some("kPa"));
    assert_eq!(nearest("mmhgs"), Some("mmHg"));
    assert_eq!(nearest("furlongs"), None);
    assert_eq!(find("kPa").unwrap().dimension, Dimension::Pressure);
}
