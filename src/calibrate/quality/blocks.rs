//! Pressure against volume in few points: means of samples spread over each of many blocks.

use crate::recording::Trace;

/// Samples taken of each block.
const TAKEN: usize = 16;

/// Mean pressure and volume of a block.
#[derive(Debug, Clone, Copy)]
pub(super) struct Block {
    /// Pressure, kPa.
    pub p: f64,
    /// Volume, mL.
    pub v: f64,
    /// Samples it is the mean of.
    pub n: f64,
}

/// A trace with both pressure and volume in so many blocks or fewer; empty without a volume channel.
pub(super) fn blocks(trace: &Trace, most: usize) -> Vec<Block> {
    let Some(volume) = &trace.volume_ml else {
        return Vec::new();
    };
    let length = trace.len().div_ceil(most).max(1);
    let stride = length.div_ceil(TAKEN);
    trace
        .pressure_kpa
        .chunks(length)
        .zip(volume.chunks(length))
        .filter_map(|(p, v)| {
            let (mut sum_p, mut sum_v, mut count) = (0.0, 0.0, 0_usize);
            for (p, v) in p.iter().zip(v).step_by(stride) {
                if p.is_finite() && v.is_finite() {
                    sum_p += p;
                    sum_v += v;
                    count += 1;
                }
            }
            let n = count as f64;
            (count > 0).then(|| Block {
                p: sum_p / n,
                v: sum_v / n,
                n,
            })
        })
        .collect()
}

/// Lowest and highest of a number of the blocks.
pub(super) fn span(blocks: &[Block], of: fn(&Block) -> f64) -> (f64, f64) {
    blocks
        .iter()
        .map(of)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        })
}
