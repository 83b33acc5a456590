//! A photo as a grey picture, however it came; and the same picture smaller, or in another light.
//!
//! The size that a file states is looked at before anything is decoded. Brightness is all a code
//! needs; which way up the camera was held means nothing to it.

use super::LARGEST_PHOTO;
use super::MOST_PIXELS;
use super::PhotoError;
use super::guarded;
use std::io::Cursor;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::colorspace::ColorSpace;
use zune_jpeg::zune_core::options::DecoderOptions;

/// Longest side of a picture; a strip of a pixel's height is no photo.
const LONGEST_SIDE: usize = 20_000;

/// Most scans of a JPEG that comes in several; each costs as much as the whole.
const MOST_SCANS: usize = 64;

/// A picture, 0 is black.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grey {
    /// Pixels in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Row after row.
    pub luma: Vec<u8>,
}

impl Grey {
    /// Reads a JPEG or a PNG.
    pub fn of(bytes: &[u8]) -> Result<Self, PhotoError> {
        if bytes.len() > LARGEST_PHOTO {
            return Err(PhotoError::TooLarge {
                size: format!("{} MB", bytes.len() >> 20),
                most: "20 MB",
            });
        }
        let read = match bytes {
            [0xff, 0xd8, 0xff, ..] => guarded(|| of_jpeg(bytes)),
            [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => guarded(|| of_png(bytes)),
            _ => return Err(PhotoError::NoPicture),
        };
        let fault = || damaged("the decoder has a fault here");
        read.unwrap_or_else(|| Err(fault()))
    }

    /// The picture with no side longer than `side`, each pixel the mean of those it stands for;
    /// None if it is no larger than that.
    pub fn within(&self, side: usize) -> Option<Self> {
        let longest = self.width.max(self.height);
        if longest <= side {
            return None;
        }
        let small = |length: usize| (length * side / longest).max(1);
        let (width, height) = (small(self.width), small(self.height));
        let mut luma = Vec::with_capacity(width * height);
        for y in 0..height {
            let rows = y * self.height / height..((y + 1) * self.height / height);
            for x in 0..width {
                let columns = x * self.width / width..((x + 1) * self.width / width);
                let n = rows.len() * columns.len();
                let sum: u32 = rows
                    .clone()
                    .map(|row| row * self.width)
                    .flat_map(|start| &self.luma[start + columns.start..start + columns.end])
                    .map(|&pixel| u32::from(pixel))
                    .sum();
                luma.push((sum / n.max(1) as u32) as u8);
            }
        }
        Some(Self {
            width,
            height,
            luma,
        })
    }

    /// A row of pixels.
    pub fn row(&self, y: usize) -> &[u8] {
        &self.luma[y * self.width..(y + 1) * self.width]
    }

    /// Black (0) and white: each pixel against the mean of its surroundings, `reach` pixels each
    /// way. What is darker than that by `step`, and by `percent` of it, is black, whatever light
    /// falls on it.
    pub fn against_surroundings(&self, reach: usize, step: i64, percent: i64) -> Self {
        let stride = self.width + 1;
        // Sums from the corner on. They may go round; what lies between four of them does not.
        let mut sums = vec![0_u32; stride * (self.height + 1)];
        for y in 0..self.height {
            let mut row = 0_u32;
            for x in 0..self.width {
                row += u32::from(self.luma[y * self.width + x]);
                sums[(y + 1) * stride + x + 1] = sums[y * stride + x + 1].wrapping_add(row);
            }
        }
        let mut luma = Vec::with_capacity(self.luma.len());
        for y in 0..self.height {
            let (top, bottom) = (y.saturating_sub(reach), (y + reach + 1).min(self.height));
            for x in 0..self.width {
                let (left, right) = (x.saturating_sub(reach), (x + reach + 1).min(self.width));
                let sum = sums[bottom * stride + right]
                    .wrapping_add(sums[top * stride + left])
                    .wrapping_sub(sums[top * stride + right])
                    .wrapping_sub(sums[bottom * stride + left]);
                let mean = i64::from(sum) / ((bottom - top) * (right - left)) as i64;
                let below = step.max(mean * percent / 100);
                let is_dark = i64::from(self.luma[y * self.width + x]) + below < mean;
                luma.push(if is_dark { 0 } else { 255 });
            }
        }
        Self {
            luma,
            ..Self::sized(self)
        }
    }

    /// Dark is light and light is dark.
    pub fn inverted(&self) -> Self {
        Self {
            luma: self.luma.iter().map(|pixel| 255 - pixel).collect(),
            ..Self::sized(self)
        }
    }

    fn sized(of: &Self) -> Self {
        Self {
            width: of.width,
            height: of.height,
            luma: Vec::new(),
        }
    }
}

fn of_jpeg(bytes: &[u8]) -> Result<Grey, PhotoError> {
    let options = DecoderOptions::default()
        .set_max_width(LONGEST_SIDE)
        .set_max_height(LONGEST_SIDE)
        .jpeg_set_max_scans(MOST_SCANS)
        .jpeg_set_out_colorspace(ColorSpace::Luma);
    let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
    decoder.decode_headers().map_err(damaged)?;
    let info = decoder.info().ok_or_else(|| damaged("it has no head"))?;
    let (width, height) = (usize::from(info.width), usize::from(info.height));
    is_within(width, height)?;
    // Four inks go to grey by way of colour.
    let is_ink = matches!(
        decoder.input_colorspace(),
        Some(ColorSpace::CMYK | ColorSpace::YCCK)
    );
    if is_ink {
        decoder.set_options(options.jpeg_set_out_colorspace(ColorSpace::RGB));
    }
    let pixels = decoder.decode().map_err(damaged)?;
    let luma = match is_ink {
        true => pixels.chunks_exact(3).map(brightness).collect(),
        false => pixels,
    };
    whole(width, height, luma)
}

fn of_png(bytes: &[u8]) -> Result<Grey, PhotoError> {
    let mut decoder = png::Decoder::new(Cursor::new(bytes));
    // Grey or colour, eight bits each; beside the picture nothing of it is kept.
    decoder.set_transformations(png::Transformations::normalize_to_color8());
    decoder.set_ignore_text_chunk(true);
    let mut reader = decoder.read_info().map_err(damaged)?;
    let (width, height) = reader.info().size();
    let (width, height) = (width as usize, height as usize);
    is_within(width, height)?;
    let n_bytes = reader.output_buffer_size();
    let mut pixels = vec![0; n_bytes.ok_or_else(|| damaged("its size is none"))?];
    let frame = reader.next_frame(&mut pixels).map_err(damaged)?;
    pixels.truncate(frame.buffer_size());
    let n_samples = frame.color_type.samples();
    let luma = match n_samples {
        1 => pixels,
        _ => pixels.chunks_exact(n_samples).map(brightness).collect(),
    };
    whole(width, height, luma)
}

/// Brightness of a pixel of grey and clearness, of colour, or of colour and clearness; on white.
fn brightness(pixel: &[u8]) -> u8 {
    let part = |value: u8, weight: u32| u32::from(value) * weight;
    // Weights of ITU-R BT.601, of 256.
    let of_colour = |c: &[u8]| ((part(c[0], 77) + part(c[1], 150) + part(c[2], 29)) >> 8) as u8;
    let (grey, clear) = match pixel {
        [grey, clear] => (*grey, *clear),
        [r, g, b, clear] => (of_colour(&[*r, *g, *b]), *clear),
        colour => (of_colour(colour), 255),
    };
    let clear = u32::from(clear);
    ((u32::from(grey) * clear + 255 * (255 - clear)) / 255) as u8
}

fn is_within(width: usize, height: usize) -> Result<(), PhotoError> {
    let n_pixels = width.saturating_mul(height);
    if width == 0 || height == 0 {
        return Err(damaged("it has no pixels"));
    }
    match n_pixels > MOST_PIXELS || width.max(height) > LONGEST_SIDE {
        true => Err(PhotoError::TooLarge {
            size: format!("{width} × {height} pixels"),
            most: "50 million, 20 000 a side,",
        }),
        false => Ok(()),
    }
}

fn whole(width: usize, height: usize, luma: Vec<u8>) -> Result<Grey, PhotoError> {
    match luma.len() == width * height {
        true => Ok(Grey {
            width,
            height,
            luma,
        }),
        false => Err(damaged("pixels are missing")),
    }
}

fn damaged(what: impl std::fmt::Display) -> PhotoError {
    PhotoError::Damaged {
        what: what.to_string(),
    }
}
