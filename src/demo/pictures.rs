//! The photographs and files of the scenario: sketches that are drawn when they are asked for, and
//! readings as a table of text.

use image::codecs::png::PngEncoder;
use image::{ImageError, Rgb, RgbImage};

use domain::kinds::Kind;

/// One file of the scenario.
pub struct DemoFile {
    pub code: &'static str,
    pub of: (Kind, &'static str),
    pub name: &'static str,
    pub caption: &'static str,
    pub on_paper: bool,
    content: Content,
}

enum Content {
    Sketch(fn(&mut Sheet)),
    Text(&'static str),
}

impl DemoFile {
    /// The bytes as they would be sent in.
    ///
    /// # Errors
    /// Where a sketch could not be written as a picture.
    pub fn bytes(&self) -> Result<Vec<u8>, ImageError> {
        let draw = match self.content {
            Content::Text(text) => return Ok(text.as_bytes().to_vec()),
            Content::Sketch(draw) => draw,
        };
        let mut sheet = Sheet::new();
        draw(&mut sheet);
        let mut bytes = Vec::new();
        sheet.0.write_with_encoder(PngEncoder::new(&mut bytes))?;
        Ok(bytes)
    }
}

/// Every file, in the order of the codes.
pub const FILES: &[DemoFile] = &[
    DemoFile {
        code: "FI-001",
        of: (Kind::Attempt, "A-0047"),
        name: "E-33.2 cassette C-14 bound.png",
        caption: "C-14 a third of the way out, canted between its rails. Seen from nadir.",
        on_paper: true,
        content: Content::Sketch(cassette),
    },
    DemoFile {
        code: "FI-002",
        of: (Kind::Attempt, "A-0067"),
        name: "E-34.1 photograph 3.png",
        caption: "The bracket that no drawing shows, and the wrist below it.",
        on_paper: true,
        content: Content::Sketch(bracket),
    },
    DemoFile {
        code: "FI-003",
        of: (Kind::Finding, "N-007"),
        name: "pull against rails.png",
        caption: "Pull 8 degrees off the rails from nadir; along them from zenith.",
        on_paper: true,
        content: Content::Sketch(pull),
    },
    DemoFile {
        code: "FI-004",
        of: (Kind::OutsideItem, "O-12"),
        name: "cover on C-14.png",
        caption: "Three ties hold; the fourth was cut on E-34.1.",
        on_paper: false,
        content: Content::Sketch(cover),
    },
    DemoFile {
        code: "FI-005",
        of: (Kind::Attempt, "A-0018"),
        name: "wrench readings V-3.csv",
        caption: "Wrench readings at V-3 over the second try.",
        on_paper: false,
        content: Content::Text(
            "pet,turns,torque N·m\n3:06,0.00,28\n3:11,0.10,34\n3:17,0.20,39\n3:22,0.25,41\n\
             3:27,0.25,44\n3:31,0.25,46\n3:34,0.25,0\n",
        ),
    },
];

const WIDTH: u32 = 720;
const HEIGHT: u32 = 480;

const SKY: Rgb<u8> = Rgb([24, 30, 40]);
const PANEL: Rgb<u8> = Rgb([196, 198, 194]);
const SHADE: Rgb<u8> = Rgb([120, 124, 124]);
const DARK: Rgb<u8> = Rgb([38, 40, 44]);
const FOIL: Rgb<u8> = Rgb([206, 172, 96]);
const GLOVE: Rgb<u8> = Rgb([232, 232, 226]);
const SIGN: Rgb<u8> = Rgb([214, 92, 24]);

type Point = (f32, f32);

/// The sheet on which a sketch is drawn.
struct Sheet(RgbImage);

impl Sheet {
    fn new() -> Self {
        Self(RgbImage::from_pixel(WIDTH, HEIGHT, SKY))
    }

    /// Colours every point within `reach` of a middle for which `inside` gives more than nothing,
    /// by that share.
    fn paint(
        &mut self,
        colour: Rgb<u8>,
        middle: Point,
        reach: Point,
        inside: impl Fn(Point) -> f32,
    ) {
        let rows = span(middle.1, reach.1, HEIGHT);
        for (x, y) in rows.flat_map(|y| span(middle.0, reach.0, WIDTH).map(move |x| (x, y))) {
            let share = inside((place(x), place(y))).clamp(0.0, 1.0);
            if share > 0.0 {
                for (own, new) in self.0.get_pixel_mut(x, y).0.iter_mut().zip(colour.0) {
                    *own = mixed(*own, new, share);
                }
            }
        }
    }

    /// A box with its middle, half its width and height, turned by some degrees.
    fn block(&mut self, middle: Point, half: Point, degrees: f32, colour: Rgb<u8>) {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let reach = half.0.hypot(half.1) + 1.0;
        self.paint(colour, middle, (reach, reach), |(x, y)| {
            let (dx, dy) = (x - middle.0, y - middle.1);
            let (along, across) = (dx * cos + dy * sin, dy * cos - dx * sin);
            (half.0 - along.abs()).min(half.1 - across.abs()) + 0.5
        });
    }

    fn disc(&mut self, middle: Point, radius: f32, colour: Rgb<u8>) {
        let reach = (radius + 1.0, radius + 1.0);
        self.paint(colour, middle, reach, |(x, y)| {
            radius + 0.5 - (x - middle.0).hypot(y - middle.1)
        });
    }

    /// A stroke with round ends.
    fn stroke(&mut self, from: Point, to: Point, thick: f32, colour: Rgb<u8>) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = (dx * dx + dy * dy).max(1.0);
        let middle = (from.0 + dx / 2.0, from.1 + dy / 2.0);
        let reach = (dx.abs() / 2.0 + thick, dy.abs() / 2.0 + thick);
        self.paint(colour, middle, reach, |(x, y)| {
            let along = (((x - from.0) * dx + (y - from.1) * dy) / length).clamp(0.0, 1.0);
            let off = (x - from.0 - along * dx).hypot(y - from.1 - along * dy);
            thick / 2.0 + 0.5 - off
        });
    }

    fn arrow(&mut self, from: Point, to: Point, colour: Rgb<u8>) {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy).max(1.0);
        let (ux, uy) = (dx / length * 26.0, dy / length * 26.0);
        self.stroke(from, to, 8.0, colour);
        self.stroke(to, (to.0 - ux - uy * 0.6, to.1 - uy + ux * 0.6), 8.0, colour);
        self.stroke(to, (to.0 - ux + uy * 0.6, to.1 - uy - ux * 0.6), 8.0, colour);
    }
}

/// The points of a row or a column that lie within `reach` of its middle.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "what lies off the sheet is cut"
)]
fn span(middle: f32, reach: f32, most: u32) -> std::ops::Range<u32> {
    let until = ((middle + reach).ceil().max(0.0) as u32).min(most);
    ((middle - reach).floor().max(0.0) as u32)..until
}

#[expect(clippy::cast_precision_loss, reason = "a sheet is small")]
fn place(at: u32) -> f32 {
    at as f32 + 0.5
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "between two colours lies a colour"
)]
fn mixed(own: u8, new: u8, share: f32) -> u8 {
    (f32::from(own) + (f32::from(new) - f32::from(own)) * share).round() as u8
}

/// Rails and housing, as two of the sketches have them.
fn housing(sheet: &mut Sheet) {
    sheet.block((360.0, 240.0), (330.0, 200.0), 0.0, PANEL);
    sheet.block((300.0, 240.0), (210.0, 120.0), 0.0, DARK);
    sheet.block((300.0, 112.0), (210.0, 8.0), 0.0, SHADE);
    sheet.block((300.0, 368.0), (210.0, 8.0), 0.0, SHADE);
    for corner in [(60.0, 70.0), (660.0, 70.0), (60.0, 410.0), (660.0, 410.0)] {
        sheet.disc(corner, 12.0, SHADE);
        sheet.stroke((corner.0 - 7.0, corner.1), (corner.0 + 7.0, corner.1), 3.0, DARK);
    }
}

fn cassette(sheet: &mut Sheet) {
    housing(sheet);
    sheet.block((386.0, 236.0), (196.0, 98.0), -8.0, FOIL);
    sheet.block((386.0, 236.0), (180.0, 82.0), -8.0, PANEL);
    for fold in 0..9_u8 {
        let x = 226.0 + f32::from(fold) * 40.0;
        let lift = (x - 386.0) * -0.14;
        sheet.stroke((x - 10.0, 160.0 + lift), (x + 12.0, 312.0 + lift), 4.0, SHADE);
    }
    sheet.stroke((596.0, 176.0), (612.0, 246.0), 14.0, DARK);
    sheet.arrow((180.0, 60.0), (210.0, 138.0), SIGN);
    sheet.arrow((560.0, 440.0), (552.0, 318.0), SIGN);
}

fn bracket(sheet: &mut Sheet) {
    sheet.block((360.0, 90.0), (360.0, 90.0), 0.0, PANEL);
    sheet.block((430.0, 190.0), (120.0, 26.0), 0.0, SHADE);
    sheet.block((530.0, 250.0), (20.0, 84.0), 0.0, SHADE);
    sheet.disc((350.0, 190.0), 9.0, DARK);
    sheet.disc((430.0, 190.0), 9.0, DARK);
    sheet.stroke((40.0, 470.0), (330.0, 300.0), 120.0, GLOVE);
    sheet.disc((390.0, 276.0), 64.0, GLOVE);
    for finger in 0..4_u8 {
        let y = 232.0 + f32::from(finger) * 30.0;
        sheet.stroke((420.0, y), (492.0, y - 14.0), 24.0, GLOVE);
        sheet.stroke((446.0, y - 4.0), (448.0, y + 8.0), 3.0, SHADE);
    }
    sheet.stroke((262.0, 262.0), (322.0, 366.0), 7.0, SHADE);
    sheet.arrow((640.0, 420.0), (556.0, 330.0), SIGN);
}

fn pull(sheet: &mut Sheet) {
    sheet.block((360.0, 240.0), (360.0, 240.0), 0.0, GLOVE);
    sheet.stroke((70.0, 150.0), (650.0, 150.0), 10.0, DARK);
    sheet.stroke((70.0, 330.0), (650.0, 330.0), 10.0, DARK);
    sheet.block((300.0, 240.0), (190.0, 78.0), -8.0, FOIL);
    sheet.block((300.0, 240.0), (190.0, 78.0), 0.0, PANEL);
    sheet.stroke((300.0, 240.0), (690.0, 240.0), 4.0, SHADE);
    sheet.arrow((490.0, 213.0), (668.0, 188.0), SIGN);
    sheet.arrow((490.0, 240.0), (668.0, 240.0), DARK);
    sheet.disc((300.0, 240.0), 10.0, DARK);
}

fn cover(sheet: &mut Sheet) {
    sheet.block((360.0, 240.0), (340.0, 215.0), 0.0, PANEL);
    sheet.block((360.0, 240.0), (240.0, 150.0), 0.0, FOIL);
    for (at, across) in [(200.0, 1.0), (360.0, -1.0), (520.0, 1.0)] {
        sheet.stroke((at, 100.0), (at + 14.0 * across, 380.0), 3.0, SHADE);
    }
    for corner in [(120.0, 90.0), (600.0, 90.0), (120.0, 390.0)] {
        sheet.stroke(corner, (corner.0 * 0.75 + 90.0, corner.1 * 0.75 + 60.0), 12.0, DARK);
        sheet.disc(corner, 16.0, SHADE);
    }
    sheet.disc((600.0, 390.0), 16.0, SHADE);
    sheet.stroke((600.0, 390.0), (588.0, 372.0), 12.0, DARK);
    sheet.stroke((540.0, 352.0), (552.0, 336.0), 12.0, DARK);
    sheet.disc((572.0, 366.0), 44.0, SIGN);
    sheet.disc((572.0, 366.0), 37.0, FOIL);
    sheet.stroke((590.0, 380.0), (582.0, 370.0), 12.0, DARK);
    sheet.stroke((548.0, 350.0), (556.0, 344.0), 12.0, DARK);
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::files::shown_name;

    #[test]
    fn each_file_has_a_code_of_its_own_and_its_name_is_kept_as_it_is() {
        for (number, file) in (1..).zip(FILES) {
            assert_eq!(file.code, format!("FI-{number:03}"));
            assert_eq!(shown_name(file.name).as_str(), file.name);
            assert!(file.caption.len() > 10, "{}", file.code);
        }
    }

    #[test]
    fn each_sketch_has_something_on_it() {
        for file in FILES.iter().filter(|file| matches!(file.content, Content::Sketch(_))) {
            let drawn = image::load_from_memory(&file.bytes().unwrap()).unwrap().into_rgb8();
            assert_eq!(drawn.dimensions(), (WIDTH, HEIGHT), "{}", file.code);
            for colour in [PANEL, SIGN] {
                let there = drawn.pixels().filter(|pixel| **pixel == colour).count();
                assert!(there > 400, "{}: {colour:?} {there}", file.code);
            }
        }
    }
}
