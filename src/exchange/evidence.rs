//! What people send in as a photograph or a file: what it is by its content, whether it is whole,
//! and pictures anew without anything but their pixels.

use std::io::{self, BufRead, BufReader, BufWriter, Read, Seek, SeekFrom, Write};

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::metadata::Orientation;
use image::{
    ColorType, DynamicImage, ImageDecoder as _, ImageError, ImageFormat, ImageReader, Limits,
};

use domain::files::{Media, PREVIEW, reduced};

#[cfg(test)]
mod tests;

/// A picture has at most so many pixels, a large camera's: read, turned and written anew it takes
/// six bytes a pixel beside the file itself.
pub(crate) const MAX_PIXELS: u64 = 25_000_000;
/// Sixteen-bit colours and pictures in passes take more a pixel: they are held to so many bytes.
const MAX_DECODED: u64 = 128 * 1024 * 1024;
/// Neither side is longer; a panorama may be wide.
const MAX_SIDE: u32 = 30_000;
/// What a reader may take beside the pixels themselves.
const MAX_ALLOCATED: u64 = 192 * 1024 * 1024;
/// Hardly told from the original; a quarter less than 95.
// common practice
const QUALITY: u8 = 90;

/// Why a file is not taken, in a sentence that says what to do.
#[derive(Debug, thiserror::Error)]
pub enum Unfit {
    #[error("{0}")]
    Refused(String),
    #[error("the file could not be read or written")]
    Io(#[from] io::Error),
}

fn refused<T>(why: impl Into<String>) -> Result<T, Unfit> {
    Err(Unfit::Refused(why.into()))
}

/// What a file is by its first bytes.
// Source: ISO/IEC 15948 (PNG), section 5.2, 2004; ITU-T T.81 (JPEG), B.1.1.3, 1992; Google, WebP
// Container Specification, “WebP file header”; ISO 32000-1 (PDF), section 7.5.2, 2008.
fn media_of(head: &[u8]) -> Option<Media> {
    match head {
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some(Media::Png),
        [0xff, 0xd8, 0xff, ..] => Some(Media::Jpeg),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some(Media::Webp),
        [b'%', b'P', b'D', b'F', b'-', ..] => Some(Media::Pdf),
        _ => None,
    }
}

/// Says what a file is, and refuses what is neither whole nor of a kind that is kept.
pub fn judge(file: &mut (impl Read + Seek)) -> Result<Media, Unfit> {
    let mut head = [0; 16];
    file.rewind()?;
    let read = read_up_to(file, &mut head)?;
    if read == 0 {
        return refused("This file is empty. Choose another.");
    }
    let media = media_of(&head[..read]);
    match media {
        Some(Media::Pdf) => ends_as_pdf(file)?,
        Some(Media::Jpeg) => ends_as_jpeg(file)?,
        Some(_) => {}
        None => is_text(file)?,
    }
    file.rewind()?;
    Ok(media.unwrap_or(Media::Text))
}

fn read_up_to(file: &mut impl Read, into: &mut [u8]) -> io::Result<usize> {
    let mut filled = 0;
    while filled < into.len() {
        match file.read(&mut into[filled..])? {
            0 => break,
            read => filled += read,
        }
    }
    Ok(filled)
}

const CUT_SHORT: &str = "This file is cut short or damaged, so it was not saved. Send the whole \
                         file; if it is, open it in another program and save it anew.";

/// The end mark stands in the last kilobyte.
// Source: ISO 32000-1, section 7.5.5 (`%%EOF`), 2008; the last 1,024 bytes are common practice.
fn ends_as_pdf(file: &mut (impl Read + Seek)) -> Result<(), Unfit> {
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(length.saturating_sub(1024)))?;
    let mut tail = Vec::new();
    file.read_to_end(&mut tail)?;
    if tail.windows(5).any(|five| five == b"%%EOF") { Ok(()) } else { refused(CUT_SHORT) }
}

/// Walks the markers to the one that ends the picture: a reader of JPEG fills what is missing with
/// grey and says nothing.
// Source: ITU-T T.81, B.1.1.2 to B.1.1.5 (markers, entropy-coded data, EOI), 1992.
fn ends_as_jpeg(file: &mut (impl Read + Seek)) -> Result<(), Unfit> {
    file.seek(SeekFrom::Start(2))?;
    let mut bytes = BufReader::new(file);
    match find_marker(&mut bytes, |marker| marker == END_OF_PICTURE) {
        Ok(_) => Ok(()),
        Err(cause) if cause.kind() == io::ErrorKind::UnexpectedEof => refused(CUT_SHORT),
        Err(cause) => Err(cause.into()),
    }
}

const END_OF_PICTURE: u8 = 0xd9;

/// Whether all of a JPEG comes coarse first and then finer: its reader holds every coefficient, six
/// bytes a pixel, before the pixels themselves.
// Source: ITU-T T.81, table B.1 (SOF2, progressive; C4, C8 and CC are no frames), 1992.
fn is_in_passes(picture: &mut (impl BufRead + Seek)) -> io::Result<bool> {
    picture.seek(SeekFrom::Start(2))?;
    let is_frame = |marker| matches!(marker, 0xc0..=0xcf) && ![0xc4, 0xc8, 0xcc].contains(&marker);
    let found = find_marker(picture, is_frame)?;
    picture.rewind()?;
    Ok(found == 0xc2)
}

/// The first marker of that sort, or the end of the picture.
fn find_marker(bytes: &mut impl BufRead, wanted: impl Fn(u8) -> bool) -> io::Result<u8> {
    loop {
        skip_to_ff(bytes)?;
        let mut marker = next(bytes)?;
        while marker == 0xff {
            marker = next(bytes)?;
        }
        match marker {
            found if found == END_OF_PICTURE || wanted(found) => return Ok(found),
            // A stuffed 0xff of the data, and markers without a length.
            0x00 | 0x01 | 0xd0..=0xd8 => {}
            _ => {
                let length = u16::from_be_bytes([next(bytes)?, next(bytes)?]);
                skip(bytes, u64::from(length.saturating_sub(2)))?;
            }
        }
    }
}

fn next(bytes: &mut impl BufRead) -> io::Result<u8> {
    let mut one = [0];
    bytes.read_exact(&mut one)?;
    Ok(one[0])
}

fn skip(bytes: &mut impl BufRead, most: u64) -> io::Result<()> {
    let skipped = io::copy(&mut bytes.take(most), &mut io::sink())?;
    if skipped == most { Ok(()) } else { Err(io::ErrorKind::UnexpectedEof.into()) }
}

fn skip_to_ff(bytes: &mut impl BufRead) -> io::Result<()> {
    loop {
        let buffer = bytes.fill_buf()?;
        if buffer.is_empty() {
            return Err(io::ErrorKind::UnexpectedEof.into());
        }
        let at = buffer.iter().position(|byte| *byte == 0xff);
        let read = at.map_or(buffer.len(), |at| at + 1);
        bytes.consume(read);
        if at.is_some() {
            return Ok(());
        }
    }
}

/// Text in UTF-8 without control characters, and no markup: a browser would run that.
fn is_text(file: &mut (impl Read + Seek)) -> Result<(), Unfit> {
    const KNOWN: &str = "Pictures (JPEG, PNG, WebP), PDF and plain text are kept";
    file.rewind()?;
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes)?;
    let Ok(text) = std::str::from_utf8(&bytes) else {
        return refused(format!(
            "What this file holds is none of the kinds that are kept. {KNOWN}; save a text as UTF-8."
        ));
    };
    let control = |c: char| c.is_control() && !matches!(c, '\t' | '\n' | '\r' | '\x0c');
    if text.contains(control) {
        return refused(format!(
            "What this file holds is none of the kinds that are kept. {KNOWN}."
        ));
    }
    let start = text.trim_start_matches('\u{feff}').trim_start();
    if start.starts_with('<') || start.starts_with("#!") {
        return refused(format!(
            "This file holds a web page, a drawing as SVG or a script, which are not kept. {KNOWN}; \
             save it as one of those."
        ));
    }
    Ok(())
}

/// What became of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Redrawn {
    /// What it is now: WebP becomes one of the other two.
    pub media: Media,
    pub width: u32,
    pub height: u32,
    /// Whether the picture is small enough to be its own preview; nothing is written there then.
    pub is_own_preview: bool,
}

/// Draws a picture anew, upright, with nothing but its pixels, and its preview.
pub fn redraw(
    picture: impl BufRead + Seek,
    media: Media,
    whole: &mut impl Write,
    preview: &mut impl Write,
) -> Result<Redrawn, Unfit> {
    let mut upright = decoded(picture, media)?;
    let kept = match media {
        Media::Png => Media::Png,
        Media::Webp if upright.color().has_alpha() => Media::Png,
        _ => Media::Jpeg,
    };
    if kept == Media::Jpeg && upright.color().has_alpha() {
        upright = DynamicImage::ImageRgb8(upright.into_rgb8());
    }
    let (width, height) = (upright.width(), upright.height());
    encode(&upright, kept, whole)?;
    let small = reduced((width, height), PREVIEW);
    let is_own_preview = small == (width, height);
    if !is_own_preview {
        encode(&upright.thumbnail_exact(small.0, small.1), kept, preview)?;
    }
    Ok(Redrawn { media: kept, width, height, is_own_preview })
}

/// The pixels of a picture in eight bits a colour, upright. Its size is refused by its head,
/// before any of it is decoded.
fn decoded(mut picture: impl BufRead + Seek, media: Media) -> Result<DynamicImage, Unfit> {
    let in_passes = media == Media::Jpeg && is_in_passes(&mut picture)?;
    let format = match media {
        Media::Png => ImageFormat::Png,
        Media::Webp => ImageFormat::WebP,
        _ => ImageFormat::Jpeg,
    };
    let mut limits = Limits::default();
    limits.max_image_width = Some(MAX_SIDE);
    limits.max_image_height = Some(MAX_SIDE);
    limits.max_alloc = Some(MAX_ALLOCATED);
    let mut reader = ImageReader::with_format(picture, format);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(of_image)?;
    let (width, height) = decoder.dimensions();
    let pixels = u64::from(width) * u64::from(height);
    if pixels > MAX_PIXELS || decoder.total_bytes() > MAX_DECODED {
        return refused(too_large(pixels));
    }
    if in_passes && 3 * decoder.total_bytes() > MAX_DECODED {
        return refused(format!(
            "This picture is a progressive JPEG of {} megapixels, which takes too much memory to \
             read. Save it as an ordinary (baseline) JPEG and send it again.",
            pixels.div_ceil(1_000_000)
        ));
    }
    let turned = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut upright = in_eight_bits(DynamicImage::from_decoder(decoder).map_err(of_image)?);
    upright.apply_orientation(turned);
    Ok(upright)
}

fn in_eight_bits(picture: DynamicImage) -> DynamicImage {
    match picture.color() {
        ColorType::L8 | ColorType::La8 | ColorType::Rgb8 | ColorType::Rgba8 => picture,
        color if color.has_alpha() => DynamicImage::ImageRgba8(picture.into_rgba8()),
        _ => DynamicImage::ImageRgb8(picture.into_rgb8()),
    }
}

fn too_large(pixels: u64) -> String {
    format!(
        "This picture has {} megapixels; at most {} can be taken ({} with sixteen bits a colour). \
         Make it smaller and send it again.",
        pixels.div_ceil(1_000_000),
        MAX_PIXELS / 1_000_000,
        MAX_DECODED / 6 / 1_000_000,
    )
}

fn encode(picture: &DynamicImage, media: Media, out: &mut impl Write) -> Result<(), Unfit> {
    let mut out = BufWriter::new(out);
    let written = match media {
        Media::Png => picture.write_with_encoder(PngEncoder::new(&mut out)),
        _ => picture.write_with_encoder(JpegEncoder::new_with_quality(&mut out, QUALITY)),
    };
    written.map_err(of_image)?;
    Ok(out.flush()?)
}

fn of_image(cause: ImageError) -> Unfit {
    match cause {
        ImageError::IoError(cause) if cause.kind() != io::ErrorKind::UnexpectedEof => {
            Unfit::Io(cause)
        }
        ImageError::Limits(_) => Unfit::Refused(format!(
            "This picture is too large to be read here: neither side may be longer than \
             {MAX_SIDE} pixels, and the whole at most {} megapixels. Make it smaller and send \
             it again.",
            MAX_PIXELS / 1_000_000
        )),
        ImageError::Unsupported(_) => Unfit::Refused(
            "This picture is written in a way that cannot be read here. Save it as an ordinary \
             JPEG or PNG and send it again."
                .to_owned(),
        ),
        _ => Unfit::Refused(CUT_SHORT.to_owned()),
    }
}
