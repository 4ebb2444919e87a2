//! Pressure and volume in each other's column.

use super::blocks::{Block, blocks, span};
use super::{Channel, Said};
use crate::calibrate::convert::BEYOND_SYRINGES_ML;
use crate::recording::{Finding, Trace};

/// A balloon fills first and presses later. Where the pressure has come this share of its way ...
const PRESSED_SHARE: f64 = 0.3;
/// ... before the volume has come this share of its own, they stand in each other's place.
const FILLED_SHARE: f64 = 0.05;
/// What stands still stays within this share of its range from block to block.
const STILL_SHARE: f64 = 0.002;
/// A volume that no run moves tells nothing of its column unless the pressure stays below this meanwhile, kPa (an atmosphere).
const PRESSURE_LEAST_KPA: f64 = 101.325;
/// Blocks of a recording: a hold of one that lasts a minute has thirty of them.
const BLOCKS: usize = 1000;
/// Fewest blocks that show a fill and holds.
const FEWEST: usize = 40;

/// Pressure that rises before anything is filled in and stands still while the volume creeps and falls; or a volume of litres at no
/// pressure.
pub(super) fn look(trace: &Trace, channel: &Channel<'_>) -> Said {
    let blocks = blocks(trace, BLOCKS);
    if blocks.len() < FEWEST {
        return Said::default();
    }
    let (p_low, p_high) = span(&blocks, |block| block.p);
    let (v_low, v_high) = span(&blocks, |block| block.v);
    let litres = v_high - v_low > BEYOND_SYRINGES_ML && p_high - p_low < PRESSURE_LEAST_KPA;
    let why = if litres {
        format!(
            "{:.0} mL move while the pressure spans {:.1} kPa",
            v_high - v_low,
            p_high - p_low
        )
    } else if presses_first(&blocks, p_high, v_high)
        && volume_creeps(&blocks, p_high - p_low, v_high - v_low)
    {
        "the pressure rises before volume goes in, and stands still while the volume creeps and falls".to_owned()
    } else {
        return Said::default();
    };
    let column = channel.volume_column.unwrap_or("volume");
    let finding = Finding::doubt(
        "channel-swap",
        format!(
            "columns {} and {column} behave like each other: {why}",
            channel.column
        ),
    )
    .effect("nothing is swapped: pressures, volumes, phases and events of the run do not stand")
    .help("exchange the columns of pressure and volume in the rig, or the cables at the recorder");
    Said::only(channel.over(finding, trace, &[(0, trace.len())]))
}

/// True where the pressure has come far before the volume has left its start.
fn presses_first(blocks: &[Block], p_high: f64, v_high: f64) -> bool {
    let Some(start) = blocks.first() else {
        return false;
    };
    let (p_range, v_range) = (p_high - start.p, v_high - start.v);
    if p_range <= 0.0 || v_range <= 0.0 {
        return false;
    }
    blocks
        .iter()
        .take_while(|block| block.v - start.v < FILLED_SHARE * v_range)
        .any(|block| block.p - start.p > PRESSED_SHARE * p_range)
}

/// True where the volume moves more while the pressure stands still than the other way round, once both are up.
fn volume_creeps(blocks: &[Block], p_range: f64, v_range: f64) -> bool {
    let (mut volume_alone, mut pressure_alone) = (0.0, 0.0);
    let filled = |block: &&Block| block.v < FILLED_SHARE * v_range;
    let rest = blocks.len() - blocks.iter().skip_while(filled).count();
    for w in blocks[rest..].windows(2) {
        let (dp, dv) = (
            (w[1].p - w[0].p).abs() / p_range,
            (w[1].v - w[0].v).abs() / v_range,
        );
        if dp < STILL_SHARE {
            volume_alone += dv;
        }
        if dv < STILL_SHARE {
            pressure_alone += dp;
        }
    }
    volume_alone > pressure_alone
}
