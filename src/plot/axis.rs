//! Axes: ranges, ticks at round numbers, and their labels in plain form.

/// A linear scale from data to pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    /// Data at the start.
    pub low: f64,
    /// Data at the end.
    pub high: f64,
    /// Pixel of `low`.
    pub from: f64,
    /// Pixel of `high`.
    pub to: f64,
}

impl Scale {
    /// Pixel of a value.
    pub fn at(&self, v: f64) -> f64 {
        self.from + (v - self.low) / (self.high - self.low) * (self.to - self.from)
    }
}

/// Smallest and largest finite value; `None` where there is none.
pub fn range(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .into_iter()
        .filter(|v| v.is_finite())
        .fold(None, |seen, v| {
            Some(seen.map_or((v, v), |(low, high): (f64, f64)| (low.min(v), high.max(v))))
        })
}

/// A range with a share of its width added at both ends. A range of no width gets one that suits its size.
pub fn padded((low, high): (f64, f64), share: f64) -> (f64, f64) {
    let width = high - low;
    let least = (low.abs().max(high.abs()) * 1e-6).max(1e-9);
    if width < least {
        let half = (low.abs() * 0.05).max(0.5);
        return (low - half, high + half);
    }
    (low - share * width, high + share * width)
}

/// A range widened evenly to at least a width, so that noise is not blown up to fill a panel.
pub fn at_least((low, high): (f64, f64), width: f64) -> (f64, f64) {
    let short = (width - (high - low)).max(0.0) / 2.0;
    (low - short, high + short)
}

/// Distance of ticks: 1, 2 or 5 times a power of ten, so that about `wanted` fit.
fn tick_step(low: f64, high: f64, wanted: f64) -> f64 {
    let raw = ((high - low) / wanted.max(1.0)).max(f64::MIN_POSITIVE);
    let power = 10f64.powf(raw.log10().floor());
    let lead = raw / power;
    // The nearest of them by ratio, so that a low panel never ends up with a single tick.
    let lead = if lead <= 1.4 {
        1.0
    } else if lead <= 3.2 {
        2.0
    } else if lead <= 7.1 {
        5.0
    } else {
        10.0
    };
    lead * power
}

/// Ticks inside a range with their labels, about `wanted` of them.
pub fn ticks(low: f64, high: f64, wanted: f64) -> Vec<(f64, String)> {
    /// More ticks than this are never drawn, whatever the range.
    const MOST: f64 = 40.0;
    if !(low.is_finite() && high.is_finite() && high > low) {
        return Vec::new();
    }
    let step = tick_step(low, high, wanted.min(MOST));
    if !step.is_normal() || low.abs().max(high.abs()) / step > 1e12 {
        return Vec::new();
    }
    let decimals = (-step.log10().floor()).clamp(0.0, 12.0) as usize;
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last)
        .take(2 * MOST as usize)
        .map(|k| {
            let value = k as f64 * step;
            (value, number(value, decimals))
        })
        .collect()
}

/// A number with so many decimals, never `-0`, with a true minus sign; a dash where it is not finite.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }

    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(low: f64, high: f64, wanted: f64) -> Vec<String> {
        ticks(low, high, wanted)
            .into_iter()
            .map(|(_, l)| l)
            .collect()
    }

    #[test]
    fn ticks_are_round_and_plain() {
        assert_eq!(
            labels(-3.0, 1405.0, 8.0),
            ["0", "200", "400", "600", "800", "1000", "1200", "1400"]
        );
        assert_eq!(
            labels(-0.25, 0.25, 5.0),
            ["−0.2", "−0.1", "0.0", "0.1", "0.2"]
        );
        assert_eq!(labels(19.95, 20.05, 3.0), ["19.95", "20.00", "20.05"]);
        assert_eq!(labels(20.0, 23.7, 4.0), ["20", "21", "22", "23"]);
    }

    #[test]
    fn a_broken_range_has_no_ticks() {
        assert!(ticks(f64::NAN, 1.0, 5.0).is_empty());
        assert!(ticks(1.0, 1.0, 5.0).is_empty());
        assert!(ticks(1e300, 1e300 + 1.0, 5.0).is_empty());
    }

    #[test]
    fn no_minus_zero() {
        assert_eq!(number(-0.000_1, 2), "0.00");
        assert_eq!(number(-1.5, 1), "−1.5");
    }
}
