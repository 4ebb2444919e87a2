//! Standard uncertainties taken out of each other.

/// Root of a variance, 0 where rounding makes it negative. What is not known (NaN) stays so: `max(0.0)` would take it for nothing.
pub fn root_of_variance(variance: f64) -> f64 {
    if variance < 0.0 { 0.0 } else { variance.sqrt() }
}

/// What is left of a standard uncertainty without a part that is independent of the rest (JCGM 100, 5.1.2), in their unit; 0 where the part is
/// larger.
pub fn less(whole: f64, part: f64) -> f64 {
    root_of_variance(whole * whole - part * part)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 3, 4, 5; and nothing is made of what is not known.
    #[test]
    fn parts_of_a_whole() {
        assert!((less(5.0, 3.0) - 4.0).abs() < 1e-12);
        assert!(less(3.0, 5.0).abs() < 1e-12);
        assert!(less(f64::NAN, 1.0).is_nan() && less(1.0, f64::NAN).is_nan());
    }
}
