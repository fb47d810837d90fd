//! A paper as markup: one body for the page and for the file that opens without a network. A table
//! around it repeats the running head and the caution on every sheet.

use std::fmt::{self, Write as _};

use super::{Bit, CAUTION, Job, Line, Paper, Part, Picture, Table};
use crate::drawings::markup::escaped;
use crate::frame::PageFrame;

/// Finished markup; every text in it was escaped.
#[derive(Debug, Default)]
pub(crate) struct Body(pub String);

impl fmt::Display for Body {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl askama::filters::HtmlSafe for Body {}

/// `source` gives the address of a picture.
pub(crate) fn body(paper: &Paper, frame: &PageFrame, source: &impl Fn(&Picture) -> String) -> Body {
    let mut out = String::new();
    let who = frame.who.as_ref().map(|who| who.name.as_str()).unwrap_or_default();
    let stamp = stamp(frame);
    let _ = write!(
        out,
        "<table class=\"run\" role=\"presentation\"><thead><tr><td><div class=\"run-head\"><p>{}</p>\
         <p>{}</p></div></td></tr></thead><tfoot><tr><td><div class=\"run-foot\"><p>{CAUTION}</p>\
         <p>{}</p></div></td></tr></tfoot><tbody><tr><td>",
        escaped(&heading_above(frame, paper)),
        escaped(&stamp),
        escaped(&paper.heading),
    );
    let _ = write!(
        out,
        "<header class=\"headline\"><h1>{}</h1><p class=\"second\">printed by {}</p></header>",
        escaped(&paper.heading),
        escaped(who)
    );
    parts(&mut out, &paper.parts, Room::Whole, source);
    out.push_str("</td></tr></tbody></table>");
    Body(out)
}

fn heading_above(frame: &PageFrame, paper: &Paper) -> String {
    let place = if frame.outpost.is_empty() { "Holdover" } else { frame.outpost.as_str() };
    if paper.above.is_empty() { place.to_owned() } else { format!("{place} · {}", paper.above) }
}

/// `as of 2030-325 14:20 UTC`, with the version of the record that is shown.
pub(crate) fn stamp(frame: &PageFrame) -> String {
    let version = frame.version.map_or_else(String::new, |version| format!(", version {version}"));
    format!("as of {}{version}", frame.as_of_words())
}

/// How much of the sheet's width a part has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Room {
    Whole,
    Half,
}

fn parts(out: &mut String, all: &[Part], room: Room, source: &impl Fn(&Picture) -> String) {
    for part in all {
        match part {
            Part::Words(words) => paragraph(out, "prose", words),
            Part::Heading(words) => {
                let _ = write!(out, "<h2>{}</h2>", escaped(words));
            }
            Part::OwnSheet(words) => {
                let _ = write!(out, "<h2 class=\"own-sheet\">{}</h2>", escaped(words));
            }
            Part::Table(made) => table(out, made),
            Part::Pair(left, right) => {
                // Drawings beside one another stand at one scale.
                let is_drawn =
                    |parts: &[Part]| parts.iter().any(|part| matches!(part, Part::Drawing(_)));
                let even = if is_drawn(left) && is_drawn(right) { " even" } else { "" };
                let _ = write!(out, "<div class=\"two{even}\"><div>");
                parts(out, left, Room::Half, source);
                out.push_str("</div><div>");
                parts(out, right, Room::Half, source);
                out.push_str("</div></div>");
            }
            Part::Drawing(drawing) => {
                let drawn = unlinked(&drawing.to_string());
                let _ = write!(out, "<div class=\"drawn\">{drawn}</div>");
            }
            Part::Bars(rows) => bars(out, rows, room),
            Part::Job(made) => job(out, made),
            Part::Pictures(pictures) => {
                out.push_str("<div class=\"shots\">");
                for picture in pictures {
                    shot(out, picture, &source(picture));
                }
                out.push_str("</div>");
            }
            Part::Sign(roles) => {
                out.push_str("<div class=\"sign\">");
                for role in roles {
                    let _ = write!(out, "<p>{}, date</p>", escaped(role));
                }
                out.push_str("</div>");
            }
        }
    }
}

/// One bar a row, the longest as wide as the drawing allows. Words have so many letters' room.
fn bars(out: &mut String, rows: &[(String, i64)], room: Room) {
    const LINE: usize = 16;
    let longest = rows.iter().map(|(word, _)| word.chars().count()).max().unwrap_or(0);
    let (class, width, begin, letters, most_wide) = match room {
        Room::Whole if longest > 30 => ("drawn bars across", 680, 420, 72, 150),
        Room::Whole | Room::Half => ("drawn bars", 340, 184, 30, 120),
    };
    let most = rows.iter().map(|(_, count)| *count).max().unwrap_or(0).max(1);
    let high = rows.len() * LINE;
    let _ = write!(
        out,
        "<div class=\"{class}\"><svg viewBox=\"0 0 {width} {high}\" role=\"img\" aria-label=\"{}\">",
        escaped(
            &rows
                .iter()
                .map(|(word, count)| format!("{word}: {count}"))
                .collect::<Vec<_>>()
                .join(", ")
        )
    );
    for (at, (word, count)) in rows.iter().enumerate() {
        let (y, wide) = (at * LINE, count * most_wide / most);
        let _ = write!(
            out,
            "<text class=\"t11\" x=\"0\" y=\"{}\">{}</text><path class=\"used\" d=\"M{begin} {}h{wide}v10h-{wide}z\"/>\
             <text class=\"t11 tb\" x=\"{}\" y=\"{}\">{count}</text>",
            y + 12,
            escaped(&crate::shortened::shortened(word, letters)),
            y + 3,
            begin + 4 + wide,
            y + 12
        );
    }
    out.push_str("</svg></div>");
}

/// A drawing without its links: paper leads nowhere.
fn unlinked(drawing: &str) -> String {
    let mut out = String::with_capacity(drawing.len());
    for (at, rest) in drawing.split("<a ").enumerate() {
        if at == 0 {
            out.push_str(rest);
            continue;
        }
        out.push_str("<g>");
        out.push_str(rest.split_once('>').map_or("", |(_, rest)| rest));
    }
    out.replace("</a>", "</g>")
}

fn shot(out: &mut String, picture: &Picture, address: &str) {
    let _ = write!(
        out,
        "<figure><img src=\"{}\" alt=\"{}\" width=\"{}\" height=\"{}\"><figcaption>\
         <span class=\"code\">{}</span> {}</figcaption></figure>",
        escaped(address),
        escaped(&picture.caption),
        picture.width,
        picture.height,
        escaped(&picture.file),
        escaped(&picture.caption)
    );
}

fn paragraph(out: &mut String, class: &str, words: &[Bit]) {
    let _ = write!(out, "<p class=\"{class}\">");
    line(out, words);
    out.push_str("</p>");
}

fn line(out: &mut String, bits: &[Bit]) {
    for bit in bits {
        let _ = match bit {
            Bit::Text(words) => {
                together(out, words);
                Ok(())
            }
            Bit::Code(code) => write!(out, "<span class=\"code\">{}</span>", escaped(code)),
            Bit::Bold(words) => write!(out, "<b>{}</b>", escaped(words)),
            Bit::Mark(mark, words) => write!(
                out,
                "<span class=\"badge\"><svg class=\"i{}\" viewBox=\"{}\" aria-hidden=\"true\">\
                 <use href=\"#{mark}\"/></svg>{}</span>",
                if mark.starts_with("v-") { " wide" } else { "" },
                if mark.starts_with("v-") { "-10 -8 20 16" } else { "-8 -8 16 16" },
                escaped(words)
            ),
            Bit::Warn(words) => write!(out, "<b>▲ {}</b>", escaped(words)),
            Bit::Blank => {
                write!(out, "<span class=\"fill\"><span class=\"unseen\">blank</span></span>")
            }
            Bit::Box(words) => write!(out, "<b class=\"boxed\">{}</b>", escaped(words)),
            Bit::Link(address, words) => {
                write!(out, "<a href=\"{}\">{}</a>", escaped(address), escaped(words))
            }
        };
    }
}

/// Text in which dates and times are not broken at the end of a line.
fn together(out: &mut String, words: &str) {
    for piece in words.split_inclusive(' ') {
        let bare = piece.trim_end();
        let is_figure = bare.len() <= 16
            && bare.starts_with(|letter: char| letter.is_ascii_alphanumeric())
            && bare.contains(|letter: char| letter.is_ascii_digit())
            && bare.contains(['-', '–', ':']);
        let _ = if is_figure {
            let rest = &piece[bare.len()..];
            write!(out, "<span class=\"onepiece\">{}</span>{rest}", escaped(bare))
        } else {
            write!(out, "{}", escaped(piece))
        };
    }
}

fn table(out: &mut String, table: &Table) {
    if table.rows.is_empty() {
        let _ = write!(out, "<p class=\"second\">{}</p>", escaped(table.empty));
        return;
    }
    out.push_str("<table class=\"list paper-list\"><thead><tr>");
    for head in &table.heads {
        let number = if head.is_number { " num" } else { "" };
        let _ = write!(
            out,
            "<th scope=\"col\" class=\"w{}{number}\">{}</th>",
            head.width,
            escaped(head.label)
        );
    }
    out.push_str("</tr></thead><tbody>");
    for row in &table.rows {
        out.push_str("<tr>");
        for (cell, head) in row.iter().zip(&table.heads) {
            let number = if head.is_number { " class=\"num\"" } else { "" };
            let _ = write!(out, "<td{number} data-label=\"{}\">", escaped(head.label));
            line(out, cell);
            out.push_str("</td>");
        }
        out.push_str("</tr>");
    }
    out.push_str("</tbody></table>");
}

fn job(out: &mut String, job: &Job) {
    out.push_str("<section class=\"job\"><div class=\"job-head\"><div><h3>");
    line(out, &job.title);
    out.push_str("</h3>");
    paragraph(out, "second", &job.under);
    out.push_str("</div>");
    out.push_str("<div class=\"stops\">");
    for (label, figure, words) in &job.boxes {
        let _ = write!(
            out,
            "<div class=\"stop\"><p>{} <b>{}</b></p><p class=\"second\">{}</p></div>",
            escaped(label),
            escaped(figure),
            escaped(words)
        );
    }
    out.push_str("</div></div><div class=\"job-body\">");
    for column in [&job.left, &job.right] {
        out.push_str("<dl>");
        terms(out, column);
        out.push_str("</dl>");
    }
    out.push_str("</div>");
    if !job.wide.is_empty() {
        out.push_str("<dl class=\"job-wide\">");
        terms(out, &job.wide);
        out.push_str("</dl>");
    }
    out.push_str("</section>");
}

fn terms(out: &mut String, all: &[(&'static str, Line)]) {
    for (label, words) in all {
        let _ = write!(out, "<div><dt>{}</dt><dd>", escaped(label));
        line(out, words);
        out.push_str("</dd></div>");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_on_paper_has_no_links() {
        let drawn = "<svg><a class=\"code\" href=\"/tasks/T-1\"><text>T-1</text></a><path/></svg>";
        assert_eq!(unlinked(drawn), "<svg><g><text>T-1</text></g><path/></svg>");
        assert_eq!(unlinked("<svg/>"), "<svg/>");
    }
}
