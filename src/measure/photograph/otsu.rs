//! The threshold that splits the grey levels of a picture best in two.

use crate::recording::Picture;

/// A threshold and how well it splits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Otsu {
    /// A pixel above this level is bright.
    pub level: u16,
    /// Share of the variance of the levels that lies between the two classes, 0..1.
    pub separation: f64,
}

/// Number of pixels at each level.
pub fn histogram(picture: &Picture) -> Vec<u64> {
    let mut counts = vec![0; usize::from(picture.white) + 1];
    for level in &picture.grey {
        if let Some(count) = counts.get_mut(usize::from(*level)) {
            *count += 1;
        }
    }
    counts
}

/// The level t whose classes "up to t" and "above t" have the largest variance between them, the lowest of equals (N. Otsu, IEEE
/// Trans. Syst. Man Cybern. 9 (1979) 62-66). One bin a level, whether 256 or 65536. `None` where all pixels are alike.
pub fn otsu(counts: &[u64]) -> Option<Otsu> {
    let total: f64 = counts.iter().map(|n| *n as f64).sum();
    let moment = |power: i32| -> f64 {
        let terms = counts.iter().enumerate();
        terms
            .map(|(level, n)| (level as f64).powi(power) * *n as f64)
            .sum()
    };
    let (sum, squares) = (moment(1), moment(2));
    let (mut below, mut sum_below) = (0.0, 0.0);
    let mut best: Option<(f64, u16)> = None;
    for (level, n) in counts.iter().enumerate() {
        below += *n as f64;
        sum_below += level as f64 * *n as f64;
        let above = total - below;
        if below == 0.0 || above == 0.0 {
            continue;
        }
        let apart = sum_below / below - (sum - sum_below) / above;
        let between = below * above * apart * apart;
        if best.is_none_or(|(most, _)| between > most) {
            best = Some((between, u16::try_from(level).ok()?));
        }
    }
    let (between, level) = best?;
    let spread = total * squares - sum * sum;
    Some(Otsu {
        level,
        separation: between / spread,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_levels_split_at_the_lower_and_one_level_not_at_all() {
        let mut counts = vec![0; 256];
        counts[20] = 5;
        assert_eq!(otsu(&counts), None);
        counts[220] = 3;
        let found = otsu(&counts);
        assert_eq!(found.map(|o| o.level), Some(20));
        assert!(found.is_some_and(|o| (o.separation - 1.0).abs() < 1e-12));
        assert_eq!(otsu(&[]), None);
    }
}
