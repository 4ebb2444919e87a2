//! A small copy of a picture with its outline, to look at.

use crate::recording::{PhotographDrawing, Picture};

/// Longest side of the copy, px.
const LONGEST: usize = 480;
/// Most points of the outline drawn.
const MOST_POINTS: usize = 1500;

/// The copy: means of square blocks.
pub fn small(picture: &Picture) -> (PhotographDrawing, usize) {
    let block = picture.width.max(picture.height).div_ceil(LONGEST).max(1);
    let (width, height) = (picture.width / block, picture.height / block);
    let mut grey = Vec::with_capacity(width * height);
    let mut sums = vec![0_u64; width];
    let whole = (block * block) as f64 * f64::from(picture.white);
    for y in 0..height {
        sums.fill(0);
        for row in y * block..(y + 1) * block {
            for (sum, pixels) in sums.iter_mut().zip(picture.row(row).chunks(block)) {
                *sum += pixels.iter().map(|level| u64::from(*level)).sum::<u64>();
            }
        }
        grey.extend(
            sums.iter()
                .map(|sum| (255.0 * *sum as f64 / whole).round() as u8),
        );
    }
    let drawing = PhotographDrawing {
        width,
        height,
        grey,
        outline: Vec::new(),
    };
    (drawing, block)
}

/// The copy with the outline, given in pixels of the picture.
pub fn with_outline(
    (mut drawing, block): (PhotographDrawing, usize),
    outline: &[(f64, f64)],
) -> PhotographDrawing {
    let every = outline.len().div_ceil(MOST_POINTS).max(1);
    let at = |v: f64| (v + 0.5) / block as f64;
    let points = outline.iter().step_by(every);
    drawing.outline = points.map(|(x, y)| (at(*x), at(*y))).collect();
    drawing
}
