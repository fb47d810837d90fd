use std::io::Cursor;

use image::{GrayImage, Luma, Rgb, RgbImage, Rgba, RgbaImage};

use super::*;

fn judged(bytes: &[u8]) -> Result<Media, String> {
    judge(&mut Cursor::new(bytes)).map_err(|cause| cause.to_string())
}

fn redrawn(bytes: &[u8], media: Media) -> Result<(Redrawn, Vec<u8>, Vec<u8>), String> {
    let (mut whole, mut preview) = (Vec::new(), Vec::new());
    let redrawn = redraw(Cursor::new(bytes), media, &mut whole, &mut preview);
    redrawn.map(|redrawn| (redrawn, whole, preview)).map_err(|cause| cause.to_string())
}

/// White above, black below.
fn halves(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(
        width,
        height,
        |_, y| {
            if y < height / 2 { Rgb([255; 3]) } else { Rgb([0; 3]) }
        },
    )
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, 95)).unwrap();
    bytes
}

fn png(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = Vec::new();
    picture.write_with_encoder(PngEncoder::new(&mut bytes)).unwrap();
    bytes
}

/// A segment put behind the start of a JPEG.
fn with_segment(jpeg: &[u8], marker: u8, content: &[u8]) -> Vec<u8> {
    let length = u16::try_from(content.len() + 2).unwrap().to_be_bytes();
    [&jpeg[..2], &[0xff, marker], &length, content, &jpeg[2..]].concat()
}

/// An Exif block that says how the camera was held and where it was.
// Source: CIPA DC-008 (Exif 2.32), sections 4.5.4 (APP1, “Exif”, TIFF header) and 4.6.4 A (tag
// 0x0112, Orientation), 2019; TIFF 6.0, section 2 (entries of twelve bytes), 1992.
fn exif(orientation: u16) -> Vec<u8> {
    let mut tiff = b"II*\0\x08\0\0\0".to_vec();
    tiff.extend(2_u16.to_le_bytes());
    for (tag, kind, count, value) in
        [(0x0112_u16, 3_u16, 1_u32, u32::from(orientation)), (0x010f, 2, 4, 0x006d_6143)]
    {
        tiff.extend(tag.to_le_bytes());
        tiff.extend(kind.to_le_bytes());
        tiff.extend(count.to_le_bytes());
        tiff.extend(value.to_le_bytes());
    }
    tiff.extend([0; 4]);
    [b"Exif\0\0".as_slice(), &tiff, b"GPS 57.1 N 2.0 W"].concat()
}

/// The check of a chunk.
// Source: ISO/IEC 15948 (PNG), section 5.5 and annex D (CRC), 2004.
fn crc(chunk: &[u8]) -> [u8; 4] {
    let turned = chunk.iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 }
        })
    });
    (!turned).to_be_bytes()
}

/// The head of a PNG of that size, and nothing behind it.
// Source: ISO/IEC 15948 (PNG), sections 5.3, 11.2.2 (IHDR), 2004.
fn png_head(width: u32, height: u32, depth: u8) -> Vec<u8> {
    let mut ihdr = b"IHDR".to_vec();
    ihdr.extend(width.to_be_bytes());
    ihdr.extend(height.to_be_bytes());
    ihdr.extend([depth, 2, 0, 0, 0]);
    let start = b"\x89PNG\r\n\x1a\n\0\0\0\x0d".as_slice();
    let data = b"\0\0\0\x10IDAT0123456789abcdef".as_slice();
    [start, &ihdr, &crc(&ihdr), data].concat()
}

#[test]
fn a_file_is_what_it_holds() {
    let small = halves(8, 8);
    assert_eq!(judged(&jpeg(&small)), Ok(Media::Jpeg));
    assert_eq!(judged(&png(&small)), Ok(Media::Png));
    assert_eq!(judged(b"RIFF\x10\0\0\0WEBPVP8L"), Ok(Media::Webp));
    assert_eq!(judged(b"%PDF-1.7\n1 0 obj\nendobj\n%%EOF\n"), Ok(Media::Pdf));
    assert_eq!(judged("turns,torque N·m\r\n9,12\r\n".as_bytes()), Ok(Media::Text));
}

#[test]
fn what_a_browser_or_a_machine_would_run_is_refused() {
    for bytes in [
        "<!doctype html><script>alert(1)</script>",
        "\u{feff}  <svg xmlns=\"http://www.w3.org/2000/svg\" onload=\"alert(1)\"/>",
        "<?xml version=\"1.0\"?><x/>",
        "#!/bin/sh\nrm -r /",
    ] {
        let why = judged(bytes.as_bytes()).unwrap_err();
        assert!(why.contains("which are not kept"), "{bytes}: {why}");
    }
    for bytes in [
        b"MZ\x90\0\x03\0\0\0".as_slice(),
        b"\x7fELF\x02\x01\x01\0",
        b"PK\x03\x04\x14\0",
        b"GIF89a\x01\0\x01\0\0\0\0;",
        b"latin \xe9 text",
    ] {
        let why = judged(bytes).unwrap_err();
        assert!(why.contains("none of the kinds that are kept"), "{bytes:?}: {why}");
    }
    assert!(judged(b"").unwrap_err().contains("empty"));
}

#[test]
fn a_file_that_is_cut_short_is_refused_wherever_it_was_cut() {
    let whole = jpeg(&halves(64, 48));
    for keep in [whole.len() - 1, whole.len() - 2, whole.len() / 2, 40, 4] {
        assert!(judged(&whole[..keep]).unwrap_err().contains("cut short"), "{keep}");
    }
    let whole = png(&halves(64, 48));
    for keep in [whole.len() - 14, whole.len() / 2, 30] {
        let why = redrawn(&whole[..keep], Media::Png).unwrap_err();
        assert!(why.contains("cut short"), "{keep}: {why}");
    }
    assert!(judged(b"%PDF-1.7\n1 0 obj\n").unwrap_err().contains("cut short"));
}

#[test]
fn a_byte_that_looks_like_the_end_within_a_segment_is_none() {
    let whole = with_segment(&jpeg(&halves(8, 8)), 0xfe, b"\xff\xd9 thumbnail \xff\xd9");
    assert_eq!(judged(&whole), Ok(Media::Jpeg));
    assert!(judged(&whole[..60]).unwrap_err().contains("cut short"));
}

#[test]
fn a_hundred_megapixels_are_refused_by_their_head() {
    let why = redrawn(&png_head(10_000, 10_000, 8), Media::Png).unwrap_err();
    assert!(why.contains("has 100 megapixels; at most 25"), "{why}");
    let why = redrawn(&png_head(5_000, 5_000, 16), Media::Png).unwrap_err();
    assert!(why.contains("with sixteen bits a colour"), "{why}");
    let why = redrawn(&png_head(60_000, 10, 8), Media::Png).unwrap_err();
    assert!(why.contains("longer than 30000 pixels"), "{why}");
    // A smaller head passes, and what is missing behind it is told.
    let why = redrawn(&png_head(5_000, 5_000, 8), Media::Png).unwrap_err();
    assert!(why.contains("cut short or damaged"), "{why}");
}

/// The head of a JPEG of that size, whose frame is of that sort, and nothing behind it.
// Source: ITU-T T.81, B.2.2 (frame header), 1992.
fn jpeg_head(frame: u8, width: u16, height: u16) -> Vec<u8> {
    let mut head = vec![0xff, 0xd8, 0xff, frame, 0, 17, 8];
    head.extend(height.to_be_bytes());
    head.extend(width.to_be_bytes());
    head.extend([3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0]);
    // A scan of all three, empty.
    head.extend([0xff, 0xda, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 63, 0, 0xff, 0xd9]);
    head
}

#[test]
fn a_large_picture_in_passes_is_refused_by_its_head() {
    let why = redrawn(&jpeg_head(0xc2, 5_000, 4_000), Media::Jpeg).unwrap_err();
    assert!(why.contains("progressive JPEG of 20 megapixels"), "{why}");
    for head in [jpeg_head(0xc0, 5_000, 4_000), jpeg_head(0xc2, 4_000, 3_000)] {
        let told = redrawn(&head, Media::Jpeg).err().unwrap_or_default();
        assert!(!told.contains("progressive"), "{told}");
    }
    let why = redrawn(&jpeg_head(0xc0, 10_000, 10_000), Media::Jpeg).unwrap_err();
    assert!(why.contains("has 100 megapixels"), "{why}");
}

#[test]
fn a_picture_stands_upright_and_says_nothing_but_its_pixels() {
    // Held on its side: the top of the scene is at the left of the picture as it is stored.
    let sideways = image::imageops::rotate270(&halves(40, 60));
    let stored = with_segment(&jpeg(&sideways), 0xe1, &exif(6));
    let stored = with_segment(&stored, 0xfe, b"taken by somebody");
    assert!(stored.windows(4).any(|four| four == b"Exif"));

    let (redrawn, whole, _) = redrawn(&stored, Media::Jpeg).unwrap();

    assert_eq!((redrawn.width, redrawn.height), (40, 60));
    for word in [b"Exif".as_slice(), b"GPS ", b"Camm", b"somebody"] {
        assert!(!whole.windows(word.len()).any(|part| part == word), "{word:?}");
    }
    let seen = image::load_from_memory(&whole).unwrap().into_luma8();
    assert!(seen.get_pixel(20, 5).0[0] > 200 && seen.get_pixel(20, 55).0[0] < 50);
}

#[test]
fn text_that_a_png_carries_is_left_out() {
    let mut stored = png(&halves(20, 20));
    // Source: ISO/IEC 15948 (PNG), section 11.3.4.3 (tEXt), 2004.
    let text = b"tEXtAuthor\0somebody";
    let chunk = [&15_u32.to_be_bytes(), text.as_slice(), &crc(text)].concat();
    stored.splice(33..33, chunk);
    let (_, whole, _) = redrawn(&stored, Media::Png).unwrap();
    assert!(!whole.windows(8).any(|part| part == b"somebody"));
}

#[test]
fn a_large_picture_has_a_small_preview_and_a_small_one_is_its_own() {
    let (large, whole, preview) = redrawn(&png(&halves(1_200, 900)), Media::Png).unwrap();
    assert_eq!((large.width, large.height, large.is_own_preview), (1_200, 900, false));
    let small = image::load_from_memory(&preview).unwrap();
    assert_eq!((small.width(), small.height()), (480, 360));
    assert_eq!(image::load_from_memory(&whole).unwrap().width(), 1_200);

    let (small, _, preview) = redrawn(&png(&halves(480, 300)), Media::Png).unwrap();
    assert!(small.is_own_preview && preview.is_empty());
}

#[test]
fn webp_becomes_a_kind_that_everything_reads() {
    let webp = |picture: DynamicImage| {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, ImageFormat::WebP).unwrap();
        bytes.into_inner()
    };
    let (solid, whole, _) = redrawn(&webp(halves(30, 20).into()), Media::Webp).unwrap();
    assert_eq!((solid.media, judged(&whole)), (Media::Jpeg, Ok(Media::Jpeg)));
    let clear = RgbaImage::from_pixel(30, 20, Rgba([10, 20, 30, 40]));
    let (clear, whole, _) = redrawn(&webp(clear.into()), Media::Webp).unwrap();
    assert_eq!((clear.media, judged(&whole)), (Media::Png, Ok(Media::Png)));
}

#[test]
fn grey_and_sixteen_bits_are_read() {
    let grey = GrayImage::from_pixel(9, 9, Luma([80]));
    let mut bytes = Vec::new();
    grey.write_with_encoder(PngEncoder::new(&mut bytes)).unwrap();
    assert!(redrawn(&bytes, Media::Png).is_ok());
    let deep = DynamicImage::ImageRgb8(halves(9, 9)).into_rgb16();
    let mut bytes = Vec::new();
    deep.write_with_encoder(PngEncoder::new(&mut bytes)).unwrap();
    let (_, whole, _) = redrawn(&bytes, Media::Png).unwrap();
    assert_eq!(image::load_from_memory(&whole).unwrap().color(), ColorType::Rgb8);
}

proptest::proptest! {
    /// Whatever comes in: an answer, and no more.
    #[test]
    fn any_bytes_are_answered(mut bytes: Vec<u8>, as_picture: u8) {
        let start: &[u8] = match as_picture % 4 {
            0 => b"\x89PNG\r\n\x1a\n",
            1 => b"\xff\xd8\xff",
            2 => b"RIFF\x10\0\0\0WEBP",
            _ => b"",
        };
        bytes.splice(0..0, start.iter().copied());
        if let Ok(media) = judged(&bytes) && media.is_picture() {
            let _ = redrawn(&bytes, media);
        }
    }

    /// A picture with some bytes turned is refused or read, and never more than that.
    #[test]
    fn damaged_pictures_are_answered(at: proptest::sample::Index, byte: u8, which in 0..2_u8) {
        let picture = halves(24, 16);
        let mut bytes = if which == 0 { jpeg(&picture) } else { png(&picture) };
        let at = at.index(bytes.len());
        bytes[at] = byte;
        if let Ok(media) = judged(&bytes) && media.is_picture() {
            let _ = redrawn(&bytes, media);
        }
    }
}
