//! A photograph with the outline that was measured in it.

use super::PlotError;
use super::figure::{clean, escape};
use crate::recording::{PhotographResult, RunResult, Stage};
use base64::Engine as _;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder};
use std::fmt::Write as _;

/// Width of the drawing, px: the longest side of the copy.
const WIDTH: f64 = 480.0;
/// Colours of the outline: seen on dark, bright and coloured grounds alike.
const OUTLINE: &str = "#FF2D95";
const REJECTED: &str = "#8A8F98";

/// A photograph as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotographFigure {
    /// Its place among the photographs of the run.
    pub photograph: usize,
    /// The drawing.
    pub svg: String,
}

/// The photographs of a run, each with its outline.
pub fn figures(run: &RunResult) -> Vec<PhotographFigure> {
    let drawn = run
        .photographs
        .iter()
        .enumerate()
        .filter_map(|(photograph, result)| {
            let svg = figure(run, result).ok().flatten()?;
            Some(PhotographFigure { photograph, svg })
        });
    drawn.collect()
}

fn figure(run: &RunResult, result: &PhotographResult) -> Result<Option<String>, PlotError> {
    let Some(drawing) = &result.drawing else {
        return Ok(None);
    };
    let mut bytes = Vec::new();
    let size = |side: usize| u32::try_from(side).map_err(|e| PlotError::new(&e));
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Best, FilterType::Adaptive)
        .write_image(
            &drawing.grey,
            size(drawing.width)?,
            size(drawing.height)?,
            ExtendedColorType::L8,
        )
        .map_err(|e| PlotError::new(&e))?;
    let data = base64::engine::general_purpose::STANDARD.encode(&bytes);
    let (width, height) = (drawing.width as f64, drawing.height as f64);
    let shown = (WIDTH, WIDTH * height / width);
    let mut path = String::new();
    for (i, (x, y)) in drawing.outline.iter().enumerate() {
        let _ = write!(path, "{}{x:.2} {y:.2}", if i == 0 { 'M' } else { 'L' });
    }
    let used = if result.used { "" } else { ", rejected" };
    let title = escape(&clean(&format!(
        "Run {}: photograph {}{used}",
        run.run_id,
        stage_word(result.stage)
    )));
    let (ink, dash) = if result.used {
        (OUTLINE, "")
    } else {
        (REJECTED, " stroke-dasharray=\"6 4\"")
    };
    Ok(Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{:.0}\" height=\"{:.0}\" role=\"img\" \
         aria-label=\"{title}\">\n<title>{title}</title>\n\
         <image width=\"{width}\" height=\"{height}\" href=\"data:image/png;base64,{data}\"/>\n\
         <path d=\"{path}Z\" fill=\"none\" stroke=\"{ink}\" stroke-width=\"1.5\" vector-effect=\"non-scaling-stroke\"{dash}/>\n</svg>\n",
        shown.0, shown.1
    )))
}

/// Word of a stage.
pub fn stage_word(stage: Stage) -> &'static str {
    match stage {
        Stage::Before => "before",
        Stage::Loaded => "loaded",
        Stage::After => "after",
    }
}
