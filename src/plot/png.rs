//! From SVG to PNG.

use super::PlotError;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};
use std::sync::{Arc, OnceLock};

/// Most pixels of a PNG: 64 million take 256 MB while drawing.
const MOST_PIXELS: f64 = 64e6;

/// The fonts, loaded once: those inside the program, never the machine's, so that the picture is the same anywhere.
fn fonts() -> Arc<fontdb::Database> {
    static FONTS: OnceLock<Arc<fontdb::Database>> = OnceLock::new();
    FONTS
        .get_or_init(|| {
            let mut fonts = fontdb::Database::new();
            fonts.load_font_data(dejavu::sans::regular().to_vec());
            fonts.load_font_data(dejavu::sans::bold().to_vec());
            fonts.set_sans_serif_family("DejaVu Sans");
            Arc::new(fonts)
        })
        .clone()
}

/// An SVG document as PNG, `scale` pixels for a pixel of its `width` and `height`.
///
/// # Errors
/// Where the text is no SVG, or the picture would have no pixel or more than 64 million.
pub fn png(svg: &str, scale: f32) -> Result<Vec<u8>, PlotError> {
    let options = Options {
        font_family: "DejaVu Sans".to_owned(),
        fontdb: fonts(),
        ..Options::default()
    };
    let tree = Tree::from_str(svg, &options).map_err(|e| PlotError::new(&e))?;
    let size = tree.size();
    let (width, height) = (
        (f64::from(size.width()) * f64::from(scale)).round(),
        (f64::from(size.height()) * f64::from(scale)).round(),
    );
    if !(width >= 1.0 && height >= 1.0 && width * height <= MOST_PIXELS) {
        return Err(PlotError::new(&format!(
            "a picture of {width} by {height} pixels is not made"
        )));
    }
    let mut pixels = Pixmap::new(width as u32, height as u32)
        .ok_or_else(|| PlotError::new(&"no memory for the picture"))?;
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixels.as_mut(),
    );
    pixels.encode_png().map_err(|e| PlotError::new(&e))
}
