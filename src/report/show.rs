//! How numbers are written: uncertainty to two significant digits, value to the same place.
//!
//! The rule of the two digits is common practice after JCGM 100 (7.2.6). A missing number is an en dash with its reason, never 0.

use crate::uncertain::Quantity;

/// Kilopascals in a standard atmosphere (exact by definition).
pub use crate::units::KPA_PER_ATM;
/// A ratio is shown in %.
pub const PERCENT: f64 = 0.01;

pub use crate::plot::capital;

/// What stands where a number is missing.
pub const MISSING: &str = "–";

/// Significant digits of a value whose uncertainty is not known.
const DIGITS_WITHOUT_U: i32 = 4;

/// Numbers beyond this, or smaller than its inverse, are written with a power of ten.
const PLAIN_LIMIT: f64 = 1e9;

/// A number ready to print.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Shown {
    /// The value, or an en dash.
    pub value: String,
    /// The standard uncertainty, empty where unknown.
    pub u: String,
    /// Why value or uncertainty is missing, empty where neither is.
    pub reason: String,
}

impl Shown {
    /// True where there is no value.
    pub fn missing(&self) -> bool {
        self.value == MISSING
    }

    /// `value ± u unit` as it stands in a table, or the value alone, or the dash.
    pub fn phrase(&self, unit: &str) -> String {
        match (self.missing(), self.u.is_empty()) {
            (true, _) => MISSING.to_owned(),
            (false, true) => format!("{} {unit}", self.value),
            (false, false) => format!("{} ± {} {unit}", self.value, self.u),
        }
    }

    /// `value ± u unit`, or the value alone, or the dash with its reason in brackets.
    pub fn sentence(&self, unit: &str) -> String {
        let unit = if unit.is_empty() || unit == "%" {
            unit.to_owned()
        } else {
            format!(" {unit}")
        };
        match (self.missing(), self.u.is_empty()) {
            (true, _) => format!("{MISSING} ({})", self.reason),
            (false, true) => format!("{}{unit}", self.value),
            (false, false) if unit.is_empty() => format!("{} ± {}", self.value, self.u),
            (false, false) => format!("({} ± {}){unit}", self.value, self.u),
        }
    }
}

/// A quantity in a unit `unit` times smaller than its own: kPa in atm with 101.325, a ratio in % with 0.01.
pub fn quantity(quantity: &Quantity, unit: f64) -> Shown {
    let reason = quantity.reason.clone().unwrap_or_default();
    let Some(value) = quantity.value.filter(|v| v.is_finite()) else {
        return Shown {
            value: MISSING.to_owned(),
            u: String::new(),
            reason: if reason.is_empty() {
                "no reason given".to_owned()
            } else {
                reason
            },
        };
    };
    let (value, u) = pair(value / unit, quantity.u.map(|u| u / unit));
    Shown { value, u, reason }
}

/// A value and its standard uncertainty, both rounded to the place of the uncertainty's second digit. Without a usable uncertainty
/// the value has four significant digits and the second text is empty.
pub fn pair(value: f64, u: Option<f64>) -> (String, String) {
    let Some(u) = u.filter(|u| u.is_finite() && *u > 0.0) else {
        return (digits(value, DIGITS_WITHOUT_U), String::new());
    };
    let mut place = 1 - exponent(u);
    // 0.0996 rounds to 0.10, not 0.100.
    if exponent(round(u, place)) > exponent(u) {
        place -= 1;
    }
    (at_place(value, place), at_place(u, place))
}

/// Smallest probability that is written out: what is below it hangs on the tails of a model.
const LEAST_P: f64 = 0.0001;

/// A probability, as tests give it.
pub fn probability(p: f64) -> String {
    if p < LEAST_P {
        format!("< {LEAST_P}")
    } else {
        fixed(p, 4)
    }
}

/// A value with so many significant digits.
pub fn digits(value: f64, wanted: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return at_place(value, 0);
    }
    at_place(value, (wanted - 1 - exponent(value)).max(0))
}

/// Power of ten of the first digit.
fn exponent(value: f64) -> i32 {
    if value == 0.0 {
        return 0;
    }
    value.abs().log10().floor() as i32
}

fn round(value: f64, place: i32) -> f64 {
    let scale = 10f64.powi(place);
    (value * scale).round() / scale
}

/// A value rounded at a decimal place (negative: at tens, hundreds, ...), with a true minus sign and no `-0`.
fn at_place(value: f64, place: i32) -> String {
    if !value.is_finite() {
        return MISSING.to_owned();
    }
    let text = if value != 0.0 && (value.abs() >= PLAIN_LIMIT || place > 9) {
        let e = exponent(value);
        let lead = (place + e).clamp(0, 9) as usize;
        format!("{:.lead$}×10^{e}", value / 10f64.powi(e))
    } else if place > 0 {
        format!("{value:.*}", place as usize)
    } else {
        format!("{:.0}", round(value, place))
    };
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A share as a percentage without needless digits.
pub fn percent(share: f64) -> String {
    let text = fixed(share * 100.0, 1);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// Blanks as wide as the digits a number lacks behind the point, so that points stand under each other in tabular figures.
pub fn padding(number: &str, most_decimals: usize) -> String {
    let have = decimals(number);
    let mut pad = String::new();
    if have == 0 && most_decimals > 0 {
        // As wide as the point.
        pad.push('\u{2008}');
    }
    // As wide as a digit.
    pad.extend(std::iter::repeat_n(
        '\u{2007}',
        most_decimals.saturating_sub(have),
    ));
    pad
}

/// Digits behind the point.
pub fn decimals(number: &str) -> usize {
    number.split_once('.').map_or(0, |(_, rest)| {
        rest.chars().filter(char::is_ascii_digit).count()
    })
}

/// A number with so many decimals, a dash where it is not finite.
pub fn fixed(value: f64, decimals: i32) -> String {
    at_place(value, decimals)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(value: f64, u: f64) -> (String, String) {
        pair(value, Some(u))
    }

    /// Examples by hand after the rule; the first is the mass of JCGM 100, 7.2.2 with its u = 0.35 mg.
    #[test]
    fn the_uncertainty_decides_the_place() {
        let both = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(shown(100.021_47, 0.000_35), both("100.02147", "0.00035"));
        assert_eq!(shown(1327.4, 12.3), both("1327", "12"));
        assert_eq!(shown(13.0996, 0.1214), both("13.10", "0.12"));
        assert_eq!(shown(13.0996, 0.0996), both("13.10", "0.10"));
        assert_eq!(shown(1234.0, 123.0), both("1230", "120"));
        assert_eq!(shown(-0.0042, 0.012), both("−0.004", "0.012"));
        assert_eq!(shown(-0.0002, 0.012), both("0.000", "0.012"));
        assert_eq!(shown(0.0, 9.96), both("0", "10"));
    }

    #[test]
    fn without_uncertainty_four_digits() {
        assert_eq!(pair(20.123_456, None).0, "20.12");
        assert_eq!(pair(0.001_234_56, None).0, "0.001235");
        assert_eq!(pair(123_456.7, None).0, "123457");
        assert_eq!(pair(f64::NAN, None).0, MISSING);
    }

    #[test]
    fn huge_and_tiny_numbers_stay_short() {
        assert!(pair(1.5e300, Some(1e299)).0.chars().count() < 12);
        assert!(pair(1.5e-200, Some(1e-201)).0.chars().count() < 16);
    }

    #[test]
    fn a_missing_value_keeps_its_reason() {
        let s = quantity(&Quantity::missing("mm", "no caliper reading"), 1.0);
        assert_eq!(s.sentence("mm"), "– (no caliper reading)");
        let s = quantity(&Quantity::known(1327.4, 12.3, "kPa", "m"), KPA_PER_ATM);
        assert_eq!(s.sentence("atm"), "(13.10 ± 0.12) atm");
    }

    #[test]
    fn padding_lines_points_up() {
        assert_eq!(padding("12", 2), "\u{2008}\u{2007}\u{2007}");
        assert_eq!(padding("12.3", 2), "\u{2007}");
        assert_eq!(padding("12.34", 2), "");
    }
}
