//! The signs of the lanes, each with its word.

use super::super::markup::{Drawing, identifier};

/// A sign and what it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LegendEntry {
    pub sign: Drawing,
    pub words: &'static str,
}

/// The legend of the drawing with that id, whose hatches it uses.
pub fn legend(id: &str) -> Vec<LegendEntry> {
    let id = identifier(id);
    let filled = |class: &str, name: &str, d: &str| {
        format!("<path class=\"{class}\" fill=\"url(#{id}{name})\" d=\"{d}\"/>")
    };
    let shape = |class: &str, d: &str| format!("<path class=\"{class}\" d=\"{d}\"/>");
    let entries = [
        (shape("work", "M2 2H18V14H2z"), "work, set"),
        (shape("work pencil", "M2 2H18V14H2z"), "work, pencilled"),
        ("<text class=\"t11 t2 mid\" x=\"10\" y=\"12\">≤</text>".to_owned(), "start by"),
        (filled("setup", "h", "M6 1H14V15H6z"), "setup, cleanup"),
        (shape("go", "M10 0V16M6 6l4 4 4-4"), "travel"),
        (shape("wait", "M10 1V15"), "waiting"),
        (
            format!("{}{}", shape("night-deep", "M0 0H6V16H0z"), shape("night", "M8 0H20V16H8z")),
            "orbital night",
        ),
        (shape("arm", "M7 1H13V15H7z"), "arm window"),
        (filled("", "m", "M2 1H18V15H2z"), "margin at P80"),
        (filled("", "p", "M2 1H18V15H2z"), "past the limit at P80"),
    ];
    let entry = |(shape, words): (String, &'static str)| LegendEntry {
        sign: Drawing::new(format!(
            "<svg class=\"i wide\" viewBox=\"0 0 20 16\" aria-hidden=\"true\">{shape}</svg>"
        )),
        words,
    };
    entries.into_iter().map(entry).collect()
}
