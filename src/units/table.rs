//! Units and their factors.
//!
//! Factors are exact by definition (SI, CGPM; 1 atm = 101325 Pa, 1 psi = 1 lbf/in² = 6894.757293168361 Pa, 1 mmHg = 133.322387415 Pa, 1 technical
//! atmosphere = 98066.5 Pa, 1 in = 25.4 mm). Torr (101325/760 Pa) and mmHg are kept apart.

use super::KPA_PER_ATM;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// Time, bench unit s.
    Time,
    /// Length, bench unit mm.
    Length,
    /// Area, bench unit mm².
    Area,
    /// Volume, bench unit mL.
    Volume,
    /// Pressure, bench unit kPa.
    Pressure,
    /// Force, bench unit N.
    Force,
    /// Temperature, bench unit °C.
    Temperature,
    /// Volume flow, bench unit mL/s.
    Flow,
    /// Turns of an inflator screw; a volume once `ml_per_turn` is known.
    Turns,
    /// Mass, bench unit mg.
    Mass,
    /// Angle, bench unit °.
    Angle,
    /// Ratio, bench unit %.
    Ratio,
    /// Electrical or raw reading (V, mV, mA, counts) that a calibration turns into a quantity.
    Raw,
}

impl Dimension {
    /// In a sentence, with its article.
    pub fn word(self) -> &'static str {
        match self {
            Self::Time => "a time",
            Self::Length => "a length",
            Self::Area => "an area",
            Self::Volume => "a volume",
            Self::Pressure => "a pressure",
            Self::Force => "a force",
            Self::Temperature => "a temperature",
            Self::Flow => "a flow",
            Self::Turns => "turns",
            Self::Mass => "a mass",
            Self::Angle => "an angle",
            Self::Ratio => "a percentage",
            Self::Raw => "a count or raw reading",
        }
    }
}

/// One unit: `bench value = factor × value + offset`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Symbol as reports print it.
    pub symbol: &'static str,
    /// Other spellings, compared without regard to case, blanks and dots unless `exact_case`.
    pub aliases: &'static [&'static str],
    /// What it measures.
    pub dimension: Dimension,
    /// Factor to the bench unit.
    pub factor: f64,
    /// Offset to the bench unit (temperature only).
    pub offset: f64,
}

impl Unit {
    /// A value in this unit as a value in the bench unit of its dimension.
    pub fn to_bench(&self, value: f64) -> f64 {
        self.factor * value + self.offset
    }

    /// The bench unit of its dimension; a raw reading stays in its own.
    pub fn bench(&'static self) -> &'static Self {
        let bench = |unit: &&Self| {
            unit.dimension == self.dimension && unit.factor == 1.0 && unit.offset == 0.0
        };
        if self.dimension == Dimension::Raw {
            self
        } else {
            UNITS.iter().find(bench).unwrap_or(self)
        }
    }

    /// A value in the bench unit as a value in this unit.
    pub fn from_bench(&self, value: f64) -> f64 {
        (value - self.offset) / self.factor
    }
}

const fn unit(
    symbol: &'static str,
    aliases: &'static [&'static str],
    dimension: Dimension,
    factor: f64,
) -> Unit {
    Unit {
        symbol,
        aliases,
        dimension,
        factor,
        offset: 0.0,
    }
}

/// Every unit known, one line each.
pub const UNITS: &[Unit] = &[
    unit(
        "s",
        &["sec", "secs", "second", "seconds", "sek", "sekunden"],
        Dimension::Time,
        1.0,
    ),
    unit(
        "ms",
        &["msec", "millisecond", "milliseconds"],
        Dimension::Time,
        1e-3,
    ),
    unit(
        "us",
        &["µs", "μs", "microsecond", "microseconds"],
        Dimension::Time,
        1e-6,
    ),
    unit("min", &["minute", "minutes"], Dimension::Time, 60.0),
    unit("h", &["hour", "hours", "hr"], Dimension::Time, 3600.0),
    unit("kPa", &["kilopascal"], Dimension::Pressure, 1.0),
    unit("Pa", &["pascal"], Dimension::Pressure, 1e-3),
    unit("hPa", &["mbar", "millibar"], Dimension::Pressure, 0.1),
    unit(
        "MPa",
        &["megapascal", "N/mm2", "N/mm²"],
        Dimension::Pressure,
        1e3,
    ),
    unit(
        "bar",
        &["bars", "barg", "bar(g)"],
        Dimension::Pressure,
        100.0,
    ),
    unit(
        "atm",
        &["atmosphere", "atmospheres", "atms"],
        Dimension::Pressure,
        KPA_PER_ATM,
    ),
    unit(
        "at",
        &["technical atmosphere", "kgf/cm2", "kgf/cm²", "kp/cm2"],
        Dimension::Pressure,
        98.0665,
    ),
    unit(
        "psi",
        &["psig", "lbf/in2", "lb/in2", "pounds per square inch"],
        Dimension::Pressure,
        6.894_757_293_168_361,
    ),
    unit("mmHg", &["mm Hg"], Dimension::Pressure, 0.133_322_387_415),
    unit("Torr", &["torr"], Dimension::Pressure, KPA_PER_ATM / 760.0),
    unit("inHg", &["in Hg"], Dimension::Pressure, 3.386_388_640_341),
    unit(
        "cmH2O",
        &["cm H2O", "cmH₂O", "cmWS"],
        Dimension::Pressure,
        0.098_066_5,
    ),
    unit(
        "mmH2O",
        &["mm H2O", "mmH₂O", "mmWS"],
        Dimension::Pressure,
        0.009_806_65,
    ),
    unit(
        "inH2O",
        &["in H2O", "inH₂O"],
        Dimension::Pressure,
        0.249_088_91,
    ),
    unit("ksi", &[], Dimension::Pressure, 6_894.757_293_168_361),
    unit(
        "dyn/cm2",
        &["dyn/cm²", "dyne/cm2"],
        Dimension::Pressure,
        1e-4,
    ),
    unit(
        "mL",
        &["ml", "cc", "cm3", "cm³", "ccm", "milliliter", "millilitre"],
        Dimension::Volume,
        1.0,
    ),
    unit(
        "uL",
        &["µL", "μL", "ul", "mm3", "mm³", "microliter", "microlitre"],
        Dimension::Volume,
        1e-3,
    ),
    unit("L", &["l", "liter", "litre", "dm3"], Dimension::Volume, 1e3),
    unit(
        "fl oz",
        &["US fluid ounce", "fluid ounce"],
        Dimension::Volume,
        29.573_529_562_5,
    ),
    unit(
        "gal",
        &["US gallon", "US gal"],
        Dimension::Volume,
        3_785.411_784,
    ),
    unit(
        "in3",
        &["in³", "in^3", "cu in", "cubic inch"],
        Dimension::Volume,
        16.387_064,
    ),
    unit("mm", &["millimeter", "millimetre"], Dimension::Length, 1.0),
    unit(
        "um",
        &["µm", "μm", "micron", "microns"],
        Dimension::Length,
        1e-3,
    ),
    unit("cm", &["centimeter", "centimetre"], Dimension::Length, 10.0),
    unit("m", &["meter", "metre"], Dimension::Length, 1e3),
    unit("in", &["inch", "inches", "\""], Dimension::Length, 25.4),
    unit("ft", &["foot", "feet"], Dimension::Length, 304.8),
    unit("mil", &["thou", "mils"], Dimension::Length, 0.025_4),
    unit(
        "Fr",
        &["French", "Charriere", "Charrière"],
        Dimension::Length,
        1.0 / 3.0,
    ),
    unit("mm2", &["mm²", "mm^2"], Dimension::Area, 1.0),
    unit("cm2", &["cm²", "cm^2"], Dimension::Area, 100.0),
    unit("m2", &["m²", "m^2"], Dimension::Area, 1e6),
    unit("in2", &["in²", "in^2", "sq in"], Dimension::Area, 645.16),
    unit("N", &["newton", "newtons"], Dimension::Force, 1.0),
    unit("mN", &["millinewton"], Dimension::Force, 1e-3),
    unit("kN", &["kilonewton"], Dimension::Force, 1e3),
    unit(
        "lbf",
        &["lb", "pound-force", "pounds"],
        Dimension::Force,
        4.448_221_615_260_5,
    ),
    unit("kgf", &["kp", "kilopond"], Dimension::Force, 9.806_65),
    unit("gf", &["gram-force"], Dimension::Force, 0.009_806_65),
    unit(
        "ozf",
        &["ounce-force"],
        Dimension::Force,
        0.278_013_850_953_781_2,
    ),
    unit("dyn", &["dyne"], Dimension::Force, 1e-5),
    unit(
        "°C",
        &["degC", "celsius", "C", "grad C"],
        Dimension::Temperature,
        1.0,
    ),
    Unit {
        symbol: "K",
        aliases: &["kelvin"],
        dimension: Dimension::Temperature,
        factor: 1.0,
        offset: -273.15,
    },
    Unit {
        symbol: "°F",
        aliases: &["degF", "fahrenheit"],
        dimension: Dimension::Temperature,
        factor: 5.0 / 9.0,
        offset: -160.0 / 9.0,
    },
    unit("mL/s", &["ml_s", "cc/s", "cm3/s"], Dimension::Flow, 1.0),
    unit("mL/min", &["ml_min"], Dimension::Flow, 1.0 / 60.0),
    unit("L/min", &["l_min", "lpm"], Dimension::Flow, 1000.0 / 60.0),
    unit("L/s", &["l_s"], Dimension::Flow, 1000.0),
    unit("L/h", &["l_h"], Dimension::Flow, 1000.0 / 3600.0),
    unit("mL/h", &["ml_h"], Dimension::Flow, 1.0 / 3600.0),
    unit(
        "gal/min",
        &["gpm", "US gal/min"],
        Dimension::Flow,
        3_785.411_784 / 60.0,
    ),
    unit(
        "cfm",
        &["ft3/min", "ft³/min"],
        Dimension::Flow,
        471.947_443_2,
    ),
    unit(
        "turns",
        &["turn", "rev", "revs", "revolutions"],
        Dimension::Turns,
        1.0,
    ),
    unit("mg", &["milligram", "milligrams"], Dimension::Mass, 1.0),
    unit(
        "ug",
        &["µg", "μg", "microgram", "micrograms"],
        Dimension::Mass,
        1e-3,
    ),
    unit("g", &["gram", "grams"], Dimension::Mass, 1e3),
    unit("kg", &["kilogram"], Dimension::Mass, 1e6),
    unit("deg", &["°", "degree", "degrees"], Dimension::Angle, 1.0),
    unit(
        "rad",
        &["radian", "radians"],
        Dimension::Angle,
        180.0 / std::f64::consts::PI,
    ),
    unit("%", &["percent", "per cent"], Dimension::Ratio, 1.0),
    unit("counts", &["count", "digits", "adc"], Dimension::Raw, 1.0),
    unit("V", &["volt", "volts"], Dimension::Raw, 1.0),
    unit("mV", &["millivolt"], Dimension::Raw, 1.0),
    unit("mA", &["milliamp"], Dimension::Raw, 1.0),
    unit("1", &["-", "a.u.", "au"], Dimension::Raw, 1.0),
];

/// Spelling without blanks and dots, for comparison.
fn plain(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_whitespace() && *c != '.')
        .collect()
}

/// A spelling without the pair of brackets around it; `bar(g)` keeps its own.
fn without_brackets(text: &str) -> &str {
    let text = text.trim();
    [('[', ']'), ('(', ')')]
        .iter()
        .find_map(|(open, close)| text.strip_prefix(*open)?.strip_suffix(*close))
        .unwrap_or(text)
}

/// False for what only observations are in: in a header, `Pressure (g)` is a gauge pressure and not a mass.
fn of_a_channel(unit: &Unit) -> bool {
    !matches!(
        unit.dimension,
        Dimension::Mass | Dimension::Angle | Dimension::Ratio
    )
}

/// The unit of a channel or a table of this spelling; see [`find_any`].
pub fn find(text: &str) -> Option<&'static Unit> {
    find_any(text).filter(|unit| of_a_channel(unit))
}

/// The unit of this spelling, also of what only observations are in: masses, angles, percentages. The exact symbol wins (`mPa` is not
/// `MPa`, `mN` is not `MN`); otherwise case, blanks and dots do not matter. `None` where no unit is spelt so.
pub fn find_any(text: &str) -> Option<&'static Unit> {
    let text = plain(without_brackets(text));
    if text.is_empty() {
        return None;
    }
    let exact = |unit: &&Unit| {
        plain(unit.symbol) == text || unit.aliases.iter().any(|alias| plain(alias) == text)
    };
    if let Some(unit) = UNITS.iter().find(exact) {
        return Some(unit);
    }
    // A wrong case may hide a factor of a billion (mPa against MPa): those are refused, not guessed.
    if matches!(text.as_str(), "mPa" | "MN" | "Mm" | "ML" | "Ms" | "S" | "M") {
        return None;
    }
    let lower = text.to_lowercase();
    UNITS.iter().find(|unit| {
        plain(unit.symbol).to_lowercase() == lower
            || unit
                .aliases
                .iter()
                .any(|alias| plain(alias).to_lowercase() == lower)
    })
}

/// The known spelling nearest to an unknown one, for "did you mean"; `None` where nothing is near.
pub fn nearest(text: &str) -> Option<&'static str> {
    let wanted = plain(text).to_lowercase();
    UNITS
        .iter()
        .filter(|unit| of_a_channel(unit))
        .map(|unit| {
            (
                crate::recording::edit_distance(&wanted, &plain(unit.symbol).to_lowercase()),
                unit.symbol,
            )
        })
        .min()
        .filter(|(distance, symbol)| {
            *distance <= 1.max(symbol.len() / 2) && *distance < symbol.len().max(wanted.len())
        })
        .map(|(_, symbol)| symbol)
}

/// A column header split into name and unit: `P [bar]`, `P (bar)`, `p_bar`, `Pressure, bar`, `P/bar`. The unit is `None` where the
/// header carries none that is known.
pub fn split_header(header: &str) -> (String, Option<&'static Unit>) {
    let header = header.trim();
    for (open, close) in [('[', ']'), ('(', ')')] {
        if let (Some(start), Some(end)) = (header.rfind(open), header.rfind(close))
            && start < end
        {
            let inside = &header[start + open.len_utf8()..end];
            if let Some(unit) = find(inside) {
                return (header[..start].trim().to_owned(), Some(unit));
            }
        }
    }
    for separator in [',', '/', '_', ' '] {
        // `flow_ml_s` ends in a unit with a separator of its own, so the longest tail that is a unit wins.
        for (at, _) in header.match_indices(separator) {
            let tail = &header[at + 1..];
            if !tail.is_empty()
                && at > 0
                && let Some(unit) = find(tail)
                // `Channel_1` is a name, not a pure number.
                && unit.symbol != "1"
            {
                return (header[..at].trim().to_owned(), Some(unit));
            }
        }
    }
    (header.to_owned(), None)
}
