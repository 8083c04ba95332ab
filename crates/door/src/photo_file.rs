//! A photo of the face from the bytes of a JPEG or PNG file: grey, upright, small enough.
//!
//! In: the bytes. Out: grey values with their size, or a fault. A phone writes which way it was held beside the picture (EXIF
//! orientation); the picture is turned by it, as every viewer does, so that places tapped in a viewer are the same places here.

use crate::Fault;
use image::{DynamicImage, GrayImage, ImageFormat, ImageReader, Limits};
use std::io::Cursor;

/// Largest file, bytes.
pub const MOST_BYTES: usize = 12 * 1024 * 1024;
/// Longest side and most pixels of the picture in the file.
const MOST_SIDE: u32 = 16_000;
/// See above.
const MOST_PIXELS: u64 = 64_000_000;
/// Longest side of what is handed on: marks that an eye sees are still many pixels apart.
pub const LONGEST_SIDE: u32 = 1200;

/// A photo, upright and grey.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// Pixels across.
    pub width_px: u32,
    /// Pixels down.
    pub height_px: u32,
    /// Grey values, row by row from the top.
    pub grey: Vec<u8>,
    /// Size of the picture in the file once it is upright, pixels.
    pub full_px: [u32; 2],
}

/// Read a photo.
///
/// # Errors
/// A [`Fault`] for a file that is too large, no JPEG or PNG, broken, or of a picture too large or too small (32 pixels).
pub fn read_photo(bytes: &[u8]) -> Result<Photo, Fault> {
    if bytes.len() > MOST_BYTES {
        let allowed = format!("at most {MOST_BYTES} bytes");
        return Err(Fault::new("photo", format!("{} bytes", bytes.len()), allowed, "take the photo with fewer pixels"));
    }
    let unread = |value: &str, why: String| Fault::new("photo", value, "a JPEG or PNG picture", why);
    let format = match image::guess_format(bytes) {
        Ok(f @ (ImageFormat::Jpeg | ImageFormat::Png)) => f,
        _ if bytes.is_empty() => return Err(unread("empty", "choose a photo first".into())),
        _ => {
            return Err(unread(
                "another kind of file",
                "set the phone's camera to JPEG (\u{201c}most compatible\u{201d}), or save the picture as PNG".into(),
            ));
        }
    };
    // The size first: a small file may hold a picture that would fill the memory.
    let (width, height) =
        ImageReader::with_format(Cursor::new(bytes), format).into_dimensions().map_err(|e| unread("a broken picture", e.to_string()))?;
    if width > MOST_SIDE || height > MOST_SIDE || u64::from(width) * u64::from(height) > MOST_PIXELS {
        let allowed = format!("at most {MOST_PIXELS} pixels");
        return Err(Fault::new("photo", format!("{width} × {height} pixels"), allowed, "take the photo with fewer pixels"));
    }
    if width < 32 || height < 32 {
        return Err(Fault::new("photo", format!("{width} × {height} pixels"), "at least 32 × 32 pixels", "so few pixels show no marks"));
    }
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_alloc = Some(8 * MOST_PIXELS);
    reader.limits(limits);
    let whole = reader.decode().map_err(|e| unread("a broken picture", e.to_string()))?;
    let grey = upright(DynamicImage::ImageLuma8(whole.into_luma8()), orientation(bytes)).into_luma8();
    let full_px = [grey.width(), grey.height()];
    let small = reduced(grey);
    Ok(Photo { width_px: small.width(), height_px: small.height(), grey: small.into_raw(), full_px })
}

/// EXIF orientation, 1 to 8; 1 where nothing is said.
fn orientation(bytes: &[u8]) -> u32 {
    let found = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).ok();
    let value = found.and_then(|e| e.get_field(exif::Tag::Orientation, exif::In::PRIMARY).and_then(|f| f.value.get_uint(0)));
    value.filter(|v| (1..=8).contains(v)).unwrap_or(1)
}

/// Turned and mirrored as EXIF 2.3, tag 0x0112, says: how row 0 and column 0 of the file lie in the scene.
fn upright(picture: DynamicImage, orientation: u32) -> DynamicImage {
    match orientation {
        2 => picture.fliph(),
        3 => picture.rotate180(),
        4 => picture.flipv(),
        5 => picture.rotate90().fliph(),
        6 => picture.rotate90(),
        7 => picture.rotate270().fliph(),
        8 => picture.rotate270(),
        _ => picture,
    }
}

/// By the mean of the pixels that fall together, so that nothing finer folds back as something coarser.
fn reduced(grey: GrayImage) -> GrayImage {
    let longest = grey.width().max(grey.height());
    if longest <= LONGEST_SIDE {
        return grey;
    }
    let scaled = |side: u32| (f64::from(side) * f64::from(LONGEST_SIDE) / f64::from(longest)).round().max(1.0) as u32;
    let (w, h) = (scaled(grey.width()), scaled(grey.height()));
    image::imageops::resize(&grey, w, h, image::imageops::FilterType::Triangle)
}

impl Photo {
    /// As a JPEG file, to be shown and read again.
    ///
    /// # Errors
    /// A [`Fault`] when the grey values are no picture of that size.
    pub fn jpeg(&self) -> Result<Vec<u8>, Fault> {
        jpeg_of(&self.picture()?)
    }

    /// A square piece around a place (shares of width and height), `share` of the width wide, enlarged to `side` pixels, as a JPEG
    /// file; with where it lies: left, top, width, height in shares of the whole.
    ///
    /// # Errors
    /// A [`Fault`] when the grey values are no picture of that size.
    pub fn piece_jpeg(&self, around: [f64; 2], share: f64, side: u32) -> Result<(Vec<u8>, [f64; 4]), Fault> {
        let picture = self.picture()?;
        let (w, h) = (picture.width(), picture.height());
        let wide = ((f64::from(w) * share) as u32).clamp(8, w.min(h));
        let start = |at: f64, whole: u32| ((at * f64::from(whole)) as i64 - i64::from(wide) / 2).clamp(0, i64::from(whole - wide)) as u32;
        let (x, y) = (start(around[0], w), start(around[1], h));
        let piece = image::imageops::crop_imm(&picture, x, y, wide, wide).to_image();
        let large = image::imageops::resize(&piece, side, side, image::imageops::FilterType::Triangle);
        let [w, h] = [f64::from(w), f64::from(h)];
        Ok((jpeg_of(&large)?, [f64::from(x) / w, f64::from(y) / h, f64::from(wide) / w, f64::from(wide) / h]))
    }

    fn picture(&self) -> Result<GrayImage, Fault> {
        GrayImage::from_raw(self.width_px, self.height_px, self.grey.clone())
            .filter(|p| p.width() >= 32 && p.height() >= 32)
            .ok_or_else(|| Fault::new("photo", self.grey.len(), "width times height grey values", "this is no picture"))
    }
}

fn jpeg_of(picture: &GrayImage) -> Result<Vec<u8>, Fault> {
    let mut out = Vec::new();
    // At 90 the steps of its greys stay below the grain of any photo.
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 90);
    picture.write_with_encoder(encoder).map_err(|e| Fault::new("photo", "this picture", "a picture that can be shown", e.to_string()))?;
    Ok(out)
}
