//! Ranks with ties, and the exact distribution of sums of ranks.

/// Ranks from 1, equal values sharing the mean of theirs, with the sizes of the groups of equal values.
pub(super) fn mid_ranks(values: &[f64]) -> (Vec<f64>, Vec<usize>) {
    let mut order: Vec<(f64, usize)> = values
        .iter()
        // -0 and 0 are one value.
        .map(|v| if *v == 0.0 { 0.0 } else { *v })
        .zip(0..)
        .collect();
    order.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut ranks = vec![0.0; values.len()];
    let mut ties = Vec::new();
    let mut before = 0;
    for same in order.chunk_by(|a, b| a.0 == b.0) {
        let rank = before as f64 + 0.5 * (same.len() as f64 + 1.0);
        for &(_, index) in same {
            if let Some(slot) = ranks.get_mut(index) {
                *slot = rank;
            }
        }
        before += same.len();
        ties.push(same.len());
    }
    (ranks, ties)
}

/// `Σ (t³ - t)` over groups of equal values.
pub(super) fn tie_sum(ties: &[usize]) -> f64 {
    ties.iter().map(|&t| (t as f64).powi(3) - t as f64).sum()
}

/// Probabilities of the sum of `m` of the whole scores, drawn without replacement, by the sum: numbers of subsets over all of them.
pub(super) fn drawn_sums(scores: &[usize], m: usize) -> Vec<f64> {
    let most: usize = scores.iter().sum();
    let width = most + 1;
    // by_size[k][s]: subsets of k of the scores seen that sum to s.
    let mut by_size = vec![vec![0.0_f64; width]; m + 1];
    by_size[0][0] = 1.0;
    let mut reach = 0;
    for (seen, &score) in scores.iter().enumerate() {
        reach += score;
        for k in (1..=m.min(seen + 1)).rev() {
            let (lower, upper) = by_size.split_at_mut(k);
            if let (Some(from), Some(to)) = (lower.last(), upper.first_mut()) {
                let reached = to.iter_mut().take(reach + 1).skip(score);
                for (sum, subsets) in reached.zip(from) {
                    *sum += subsets;
                }
            }
        }
    }
    let weights = by_size.pop().unwrap_or_default();
    let all: f64 = weights.iter().sum();
    weights.into_iter().map(|w| w / all).collect()
}

/// Probabilities of the sum of whole scores each of which is taken or not with equal chance.
pub(super) fn halved_sums(scores: &[usize]) -> Vec<f64> {
    let mut weights = vec![0.0_f64; scores.iter().sum::<usize>() + 1];
    weights[0] = 1.0;
    let mut reach = 0;
    for &score in scores {
        reach += score;
        for s in (0..=reach).rev() {
            let shifted = if s >= score { weights[s - score] } else { 0.0 };
            weights[s] = 0.5 * (weights[s] + shifted);
        }
    }
    weights
}

/// Probabilities of a sum at most and at least `seen`.
pub(super) fn tails(probabilities: &[f64], seen: usize) -> (f64, f64) {
    let lower: f64 = probabilities.iter().take(seen + 1).sum();
    let upper: f64 = probabilities.iter().skip(seen).sum();
    (lower.min(1.0), upper.min(1.0))
}
