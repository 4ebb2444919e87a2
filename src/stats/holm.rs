//! Probabilities of several tests of one question, adjusted so that all together err as seldom as one (Holm 1979, Scand. J. Stat. 6:65).

/// Adjusted probabilities, in the order given: with them below α somewhere, at least one true "no difference" is rejected in at most α of all
/// studies, however the tests depend on each other. The smallest of `m` is taken `m` times, the next `m − 1` times, and so on; none becomes
/// smaller than one before it, and none larger than 1.
///
/// What is no probability (`NaN`, below 0, above 1) is no test: it stays as it is and does not count.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let sound = |p: f64| (0.0..=1.0).contains(&p);
    let mut order: Vec<usize> = (0..p.len()).filter(|&i| sound(p[i])).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut adjusted = p.to_vec();
    let (tests, mut least) = (order.len(), 0.0_f64);
    for (rank, at) in order.into_iter().enumerate() {
        least = least.max((tests - rank) as f64 * p[at]).min(1.0);
        adjusted[at] = least;
    }
    adjusted
}
