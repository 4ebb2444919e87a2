//! Photographs of an opening: the rows that list them, their pixels, and what was measured.

use super::Stage;
use crate::uncertain::{Budget, Quantity};
use serde::Serialize;

/// A picture as grey levels, row by row from the top. Pixel centres lie at whole coordinates: x is the column, y the row downwards.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Grey level of each pixel, 0 to `white`.
    pub grey: Vec<u16>,
    /// Level of white: 255 or 65535.
    pub white: u16,
    /// How colours became grey, in words.
    pub formula: &'static str,
}

impl Picture {
    /// The row of a number; empty below the picture.
    pub fn row(&self, y: usize) -> &[u16] {
        let start = y.saturating_mul(self.width);
        self.grey
            .get(start..start.saturating_add(self.width))
            .unwrap_or_default()
    }
}

/// Which side of the edge the opening is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum OpeningSide {
    /// Darker than what is around it.
    Dark,
    /// Brighter than what is around it: lit from behind.
    Bright,
    /// As the pixels about the centre are.
    #[default]
    Auto,
}

/// How light became grey levels.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Tone {
    /// Levels are proportional to light.
    Linear,
    /// Levels follow the curve of IEC 61966-2-1 (sRGB), as those of most cameras do.
    Srgb,
    /// Nobody said.
    #[default]
    Undeclared,
}

/// What the opening is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Shows {
    /// The inner edge of the ring: its diameter may stand for that of the frame.
    Ring,
    /// The orifice between the leaflets, or not stated: no diameter of the frame.
    #[default]
    Orifice,
}

/// Where the scale of a photograph comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct ImageScale {
    /// One pixel in mm.
    pub mm_per_px: f64,
    /// Its relative standard uncertainty; `None` where nobody declared one.
    pub u_rel: Option<f64>,
    /// In words.
    pub source: String,
}

/// A row of `images.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotographRow {
    /// Run.
    pub run_id: String,
    /// When.
    pub stage: Stage,
    /// Picture, relative to the study folder.
    pub file: String,
    /// Scale; `None` where none was declared: the picture is measured in pixels.
    pub scale: Option<ImageScale>,
    /// Threshold chosen: up to 1 as share of white, above as grey level.
    pub threshold: Option<f64>,
    /// Which side of the edge the opening is.
    pub side: OpeningSide,
    /// How light became grey levels.
    pub tone: Tone,
    /// What the opening is.
    pub shows: Shows,
    /// A point inside the opening, px; `None` for the middle of the picture.
    pub centre_x: Option<f64>,
    /// See [`Self::centre_x`].
    pub centre_y: Option<f64>,
    /// False where somebody looked at the picture and rejected it.
    pub used: bool,
    /// File (table or workbook) of the row.
    pub table: String,
    /// Line of the row, counted from 1.
    pub line: u64,
}

/// A free edge of a leaflet as marked, in order from post to centre or from post to post.
#[derive(Debug, Clone, PartialEq)]
pub struct LeafletRow {
    /// Run.
    pub run_id: String,
    /// When.
    pub stage: Stage,
    /// Name of the leaflet.
    pub leaflet: String,
    /// Points in order; in `unit`.
    pub points: Vec<(f64, f64)>,
    /// `px` or `mm`.
    pub unit: String,
    /// Standard uncertainty of each coordinate of a point, in `unit`; `None` where nobody declared one.
    pub u_point: Option<f64>,
    /// Table of the row.
    pub table: String,
    /// First line in the table.
    pub line: u64,
}

/// What one photograph says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotographResult {
    /// When it was taken.
    pub stage: Stage,
    /// Picture, relative to the study folder.
    pub file: String,
    /// False where somebody rejected it: measured and shown, used for nothing.
    pub used: bool,
    /// What the opening is.
    pub shows: Shows,
    /// Columns of the picture.
    pub width_px: usize,
    /// Rows of the picture.
    pub height_px: usize,
    /// How colours became grey, and what was taken as the tone curve.
    pub grey: String,
    /// Otsu's threshold, grey level: a pixel above it is bright.
    pub otsu_level: u16,
    /// Level of the outline.
    pub level: f64,
    /// How the level was had.
    pub level_method: String,
    /// True where the opening is brighter than what is around it.
    pub bright: bool,
    /// One pixel in mm with its uncertainty.
    pub scale: Quantity,
    /// Area of the opening.
    pub area: Quantity,
    /// 2 √(A/π).
    pub area_diameter: Quantity,
    /// Length of the outline.
    pub perimeter: Quantity,
    /// Length over π.
    pub perimeter_diameter: Quantity,
    /// Diameter of the largest circle inside.
    pub largest_inscribed_circle: Quantity,
    /// Largest width between parallel jaws.
    pub feret_max: Quantity,
    /// Smallest width between parallel jaws.
    pub feret_min: Quantity,
    /// Diameter of the circle nearest to the outline (geometric least squares).
    pub fitted_circle: Quantity,
    /// Area over that of the convex hull: 1 for a round opening, less for a star.
    pub solidity: Quantity,
    /// Centroid of the opening, px.
    pub centroid_px: (f64, f64),
    /// Points of the outline.
    pub points: usize,
    /// Where the uncertainty of the area diameter comes from.
    pub budget: Budget,
    /// What is drawn of it.
    #[serde(skip)]
    pub drawing: Option<PhotographDrawing>,
}

/// A small copy of a photograph with the outline in its pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotographDrawing {
    /// The copy, 8 bit.
    pub width: usize,
    /// Rows of the copy.
    pub height: usize,
    /// Levels from 0 to 255, row by row.
    pub grey: Vec<u8>,
    /// The outline; corner of the first pixel at 0, 0.
    pub outline: Vec<(f64, f64)>,
}

/// The free edges of the leaflets of a run at one stage: (length along the edge − chord) / chord for each leaflet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LeafletResult {
    /// When.
    pub stage: Stage,
    /// Each leaflet with its pin-wheeling index, in the order of the table.
    pub leaflets: Vec<(String, Quantity)>,
    /// Mean of the leaflets.
    pub mean: Quantity,
    /// Largest of the leaflets.
    pub max: Quantity,
}
