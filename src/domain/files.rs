//! Photographs and files: what shows how an attempt went, why it failed, what was left outside.

use crate::cells::Line;
use crate::codes::{AttemptCode, FileCode, FindingCode, OutsideCode, Own};
use crate::kinds::Kind;
use crate::records::record;
use crate::words::words;

#[cfg(test)]
mod tests;

record! {
    /// One photograph or file. Its bytes stand beside the database under their hash; the columns
    /// that describe them are written once, when they come in.
    File is File {
        code: Own<FileCode> = "Code" also ["file"],
        attempt: Option<AttemptCode> = "Of attempt" hint "A file belongs to one record: an attempt, a finding or an outside item.",
        finding: Option<FindingCode> = "Of finding",
        outside_item: Option<OutsideCode> = "Of outside item",
        caption: Option<Line> = "Caption" hint "What it shows, and from where.",
        on_paper: bool = "Picked for print" hint "Only pictures that are picked stand on paper.",
        name: Line = "File name" op "sent",
        media: Media = "Type" op "sent",
        bytes: i64 = "Bytes" op "sent",
        width: Option<i64> = "Width, px" op "sent",
        height: Option<i64> = "Height, px" op "sent",
        hash: Line = "SHA-256" op "sent",
        preview: Option<Line> = "SHA-256 of the preview" op "sent",
    }
}

words! {
    /// What a file is, as its content says.
    Media {
        Jpeg = "JPEG picture", Png = "PNG picture", Webp = "WebP picture", Pdf = "PDF",
        Text = "plain text"
    }
}

impl Media {
    /// How the names of such files end; the first one is used for what is sent out.
    pub const fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Jpeg => &["jpg", "jpeg"],
            Self::Png => &["png"],
            Self::Webp => &["webp"],
            Self::Pdf => &["pdf"],
            Self::Text => &["txt", "csv", "tsv", "log", "md"],
        }
    }

    // Source: IANA, media types registry: image/jpeg, image/png, image/webp, application/pdf,
    // text/plain.
    pub const fn mime(self) -> &'static str {
        match self {
            Self::Jpeg => "image/jpeg",
            Self::Png => "image/png",
            Self::Webp => "image/webp",
            Self::Pdf => "application/pdf",
            Self::Text => "text/plain; charset=utf-8",
        }
    }

    pub const fn is_picture(self) -> bool {
        matches!(self, Self::Jpeg | Self::Png | Self::Webp)
    }

    /// Whether a name ends as the names of such files do, or has no ending.
    pub fn agrees_with(self, name: &str) -> Result<(), String> {
        let Some(ending) = ending(name) else { return Ok(()) };
        if self.endings().contains(&ending.as_str()) {
            return Ok(());
        }
        let usual = self.endings().iter().map(|ending| format!(".{ending}"));
        Err(format!(
            "Its name ends in .{ending}, but what it holds is a {self}. If that is right, let the \
             name end in {} and send it again.",
            usual.collect::<Vec<_>>().join(" or ")
        ))
    }
}

impl File {
    /// The record to which it belongs.
    pub fn belongs_to(&self) -> Option<(Kind, &str)> {
        let of = [
            self.attempt.as_ref().map(|code| (Kind::Attempt, code.as_str())),
            self.finding.as_ref().map(|code| (Kind::Finding, code.as_str())),
            self.outside_item.as_ref().map(|code| (Kind::OutsideItem, code.as_str())),
        ];
        let mut named = of.into_iter().flatten();
        named.next().filter(|_| named.next().is_none())
    }

    /// The name under which it is saved elsewhere: the one it came with, ending as its content does.
    pub fn name_outside(&self) -> String {
        let own = self.media.endings();
        match ending(self.name.as_str()) {
            Some(ending) if own.contains(&ending.as_str()) => self.name.as_str().to_owned(),
            _ => format!("{}.{}", self.name, own[0]),
        }
    }
}

/// What follows the last dot of a name, in small letters.
fn ending(name: &str) -> Option<String> {
    let (stem, ending) = name.rsplit_once('.')?;
    let is_one = !stem.is_empty()
        && (1..=8).contains(&ending.len())
        && ending.bytes().all(|b| b.is_ascii_alphanumeric());
    is_one.then(|| ending.to_ascii_lowercase())
}

/// The longest name that is kept, in characters.
const MAX_NAME_LETTERS: usize = 120;

/// A name as a browser sent it, without folders and without characters that nobody sees. The end
/// of a long name stays: it says what the file is.
pub fn shown_name(sent: &str) -> Line {
    let unseen = |c: &char| {
        !c.is_control()
            && !matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{2069}' | '\u{feff}')
    };
    let last = sent.rsplit(['/', '\\']).next().unwrap_or("");
    let seen: String = last.chars().filter(unseen).collect();
    let folded = seen.split_whitespace().collect::<Vec<_>>().join(" ");
    let name = folded.trim_matches('.').trim();
    let long = name.chars().count().saturating_sub(MAX_NAME_LETTERS);
    let name: String = name.chars().skip(long).collect();
    Line::known(if name.is_empty() { "file".to_owned() } else { name })
}

/// The longest side of a preview, in pixels.
pub const PREVIEW: u32 = 480;

/// A width and a height, reduced so that neither side is longer than `most`; at least one pixel.
pub fn reduced((width, height): (u32, u32), most: u32) -> (u32, u32) {
    let longest = width.max(height).max(1);
    if longest <= most {
        return (width.max(1), height.max(1));
    }
    let part = |side: u32| {
        let side = u64::from(side) * u64::from(most) / u64::from(longest);
        u32::try_from(side).unwrap_or(most).max(1)
    };
    (part(width), part(height))
}

/// A size in bytes as people say it.
pub fn size_words(bytes: i64) -> String {
    const KIB: i64 = 1024;
    const MIB: i64 = KIB * KIB;
    match bytes {
        less if less < KIB => format!("{bytes} bytes"),
        less if less < MIB => format!("{} kB", (bytes + KIB / 2) / KIB),
        _ => format!("{}.{} MB", bytes / MIB, bytes % MIB * 10 / MIB),
    }
}
