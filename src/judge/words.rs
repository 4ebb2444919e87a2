//! Numbers and names as reasons and remarks print them.

/// Names listed before "and n more".
const MOST_NAMES: usize = 8;

/// `0.95` as `95 %`, without needless decimals.
pub(super) fn percent(share: f64) -> String {
    percent_to(share, 4)
}

/// A share in per cent with at most so many decimals; what is not all is never rounded to it.
pub fn percent_to(share: f64, decimals: i32) -> String {
    const MOST_DECIMALS: i32 = 12;
    let rounded = |decimals: i32| {
        let scale = 10.0_f64.powi(decimals);
        (100.0 * share * scale).round() / scale
    };
    let percent = (decimals..MOST_DECIMALS)
        .map(rounded)
        .find(|percent| *percent != 100.0 || share == 1.0);
    format!("{} %", percent.unwrap_or(100.0 * share))
}

/// A probability with four decimals, or what it is below.
pub(super) fn probability(p: f64) -> String {
    const LEAST: f64 = 0.0001;
    if p < LEAST {
        format!("below {LEAST}")
    } else {
        format!("{p:.4}")
    }
}

/// `1 run`, `2 runs`.
pub(super) fn runs(n: usize) -> String {
    if n == 1 {
        "1 run".to_owned()
    } else {
        format!("{n} runs")
    }
}

/// Names, the first few spelt out.
pub(super) fn names<'a>(all: impl IntoIterator<Item = &'a str>) -> String {
    let all: Vec<&str> = all.into_iter().collect();
    let listed = all
        .iter()
        .take(MOST_NAMES)
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    match all.len().saturating_sub(MOST_NAMES) {
        0 => listed,
        more => format!("{listed} and {more} more"),
    }
}
