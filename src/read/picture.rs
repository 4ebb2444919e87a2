//! A photograph as grey levels, from PNG, TIFF or JPEG.

use super::bytes::{input, read_bytes};
use super::guard::guarded;
use crate::recording::{Finding, Input, Picture, Place};
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use std::io::Cursor;
use std::path::Path;

/// A picture with more pixels is refused, by its header: cameras of a bench have up to 60 million, and decoding holds at most 8 bytes
/// a pixel beside the 2 of the grey levels.
pub const MAX_PIXELS: u64 = 64_000_000;
/// Longest side, px.
pub const MAX_SIDE: u32 = 30_000;
/// Bytes of a pixel while decoding: four channels of 16 bit.
const PIXEL_BYTES: u64 = 8;
/// Room of a decoder beside the pixels, bytes.
const DECODER_BYTES: u64 = 64 << 20;
/// Fewest columns and rows in which an opening can be seen.
const LEAST_SIDE: u32 = 16;
/// Weights of red, green and blue in the luma of ITU-R BT.709, of the levels as they stand.
const LUMA: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// A picture of the study, turned upright as its file says (EXIF), with its fingerprint. Of a file with several pictures the first is
/// taken; transparency counts for nothing.
///
/// # Errors
/// An error finding where the file is missing, no PNG, TIFF or JPEG, damaged, too large or too small; with its fingerprint where it could
/// be read.
pub fn read_picture(
    path: &Path,
    shown_as: &str,
) -> Result<(Picture, Input), (Finding, Option<Input>)> {
    let bytes = read_bytes(path, shown_as).map_err(|finding| (finding, None))?;
    let input = input(&bytes, shown_as);
    match picture_from_bytes(&bytes, shown_as) {
        Ok(picture) => Ok((picture, input)),
        Err(finding) => Err((finding, Some(input))),
    }
}

/// The same of bytes in memory.
///
/// # Errors
/// As [`read_picture`].
pub fn picture_from_bytes(bytes: &[u8], shown_as: &str) -> Result<Picture, Finding> {
    // Damaged pictures have made decoders panic.
    guarded(|| decode(bytes))
        .unwrap_or_else(|| Err("the decoder gave up on it".to_owned()))
        .map_err(|reason| {
            Finding::error("picture-unreadable", format!("{shown_as}: {reason}"))
                .at(Place::file(shown_as))
                .help("export it anew as PNG, TIFF or JPEG")
        })
}

fn decode(bytes: &[u8]) -> Result<Picture, String> {
    let format = image::guess_format(bytes)
        .ok()
        .filter(|f| matches!(f, ImageFormat::Png | ImageFormat::Tiff | ImageFormat::Jpeg))
        .ok_or("it is no PNG, TIFF or JPEG; one of these was expected")?;
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_image_width = Some(MAX_SIDE);
    limits.max_image_height = Some(MAX_SIDE);
    limits.max_alloc = Some(MAX_PIXELS * PIXEL_BYTES + DECODER_BYTES);
    reader.limits(limits);
    let broken = |error: image::ImageError| format!("it cannot be decoded: {error}");
    let mut decoder = reader.into_decoder().map_err(broken)?;
    let (width, height) = decoder.dimensions();
    let pixels = u64::from(width) * u64::from(height);
    if pixels > MAX_PIXELS {
        return Err(format!(
            "it has {width} × {height} pixels; at most {MAX_PIXELS} are read"
        ));
    }
    if width < LEAST_SIDE || height < LEAST_SIDE {
        return Err(format!(
            "it has {width} × {height} pixels; at least {LEAST_SIDE} × {LEAST_SIDE} were expected"
        ));
    }
    let turned = decoder.orientation().map_err(broken)?;
    let mut image = DynamicImage::from_decoder(decoder).map_err(broken)?;
    image.apply_orientation(turned);
    grey(image)
}

/// The grey levels; the coloured picture is let go.
fn grey(image: DynamicImage) -> Result<Picture, String> {
    const GREY: &str = "grey levels of the file";
    const COLOUR: &str = "0.2126 R + 0.7152 G + 0.0722 B of the levels of the file, rounded";
    let (width, height) = (image.width() as usize, image.height() as usize);
    let small = u16::from(u8::MAX);
    let wide8 =
        |levels: &[u8], step: usize| levels.iter().step_by(step).map(|l| u16::from(*l)).collect();
    let (grey, white, formula): (Vec<u16>, u16, &str) = match image {
        DynamicImage::ImageLuma8(i) => (wide8(i.as_raw(), 1), small, GREY),
        DynamicImage::ImageLumaA8(i) => (wide8(i.as_raw(), 2), small, GREY),
        DynamicImage::ImageRgb8(i) => (luma(i.as_raw(), 3), small, COLOUR),
        DynamicImage::ImageRgba8(i) => (luma(i.as_raw(), 4), small, COLOUR),
        DynamicImage::ImageLuma16(i) => (i.into_raw(), u16::MAX, GREY),
        DynamicImage::ImageLumaA16(i) => {
            let levels = i.as_raw().iter().step_by(2).copied();
            (levels.collect(), u16::MAX, GREY)
        }
        DynamicImage::ImageRgb16(i) => (luma(i.as_raw(), 3), u16::MAX, COLOUR),
        DynamicImage::ImageRgba16(i) => (luma(i.as_raw(), 4), u16::MAX, COLOUR),
        _ => {
            return Err(
                "its pixels are floating-point numbers; 8 or 16 bits a channel were expected"
                    .to_owned(),
            );
        }
    };
    if grey.len() != width * height {
        return Err("it has fewer pixels than its header says".to_owned());
    }
    Ok(Picture {
        width,
        height,
        grey,
        white,
        formula,
    })
}

/// Luma of pixels of `channels` levels each.
fn luma<T: Copy + Into<f64>>(levels: &[T], channels: usize) -> Vec<u16> {
    levels
        .chunks_exact(channels)
        .map(|pixel| {
            let parts = pixel.iter().zip(LUMA);
            let sum: f64 = parts.map(|(level, weight)| weight * (*level).into()).sum();
            sum.round() as u16
        })
        .collect()
}
