//! The signs of the map, each with its words.

use crate::drawings::lanes::LegendEntry;
use crate::drawings::markup::{Drawing, path};

/// The legend of a map; the two marks only where something is marked.
pub fn legend(marked: bool) -> Vec<LegendEntry> {
    let way = "M0 8H20";
    let dot = "M7 10m-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z";
    let ring = "M10 8m-7 0a7 7 0 1 0 14 0a7 7 0 1 0 -14 0z";
    let plain: [(&[(&str, &str)], &str); 4] = [
        (&[("way", way)], "route, minutes there / back"),
        (&[("way aided", way)], "needs an aid that is outside"),
        (&[("way cut", way)], "cut, its aid is not in place"),
        (&[("site", dot), ("tag", "M12 1h7v7h-7z")], "something is left outside here"),
    ];
    let marks: [(&[(&str, &str)], &str); 2] = [
        (&[("way-mark", way), ("way aided", way)], "needs this item"),
        (&[("site-mark", ring)], "this item is here"),
    ];
    let shown = plain.into_iter().chain(marks.into_iter().filter(|_| marked));
    shown.map(|(paths, words)| entry(paths, words)).collect()
}

fn entry(paths: &[(&str, &str)], words: &str) -> LegendEntry {
    let mut sign =
        String::from("<svg class=\"i wide\" viewBox=\"0 0 20 16\" aria-hidden=\"true\">");
    for (class, d) in paths {
        path(&mut sign, class, d);
    }
    sign.push_str("</svg>");
    LegendEntry { sign: Drawing::new(sign), words: words.to_owned() }
}
