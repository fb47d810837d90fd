//! The signs of the lanes, each with its word.

use super::super::markup::{Drawing, identifier};

/// A sign and what it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LegendEntry {
    pub sign: Drawing,
    pub words: String,
}

/// The legend of the drawing with that id, whose hatches it uses.
pub fn legend(id: &str) -> Vec<LegendEntry> {
    let signs = Signs(identifier(id));
    let mut entries = vec![
        entry(&shape("work", BLOCK), "work, set"),
        entry(&shape("work pencil", BLOCK), "work, pencilled"),
        entry("<text class=\"t11 t2 mid\" x=\"10\" y=\"12\">≤</text>", "start by"),
    ];
    entries.extend(signs.beside_work());
    entries.push(signs.hatched("m", "margin at P80"));
    entries.push(signs.hatched("p", "past the limit at P80"));
    entries
}

/// The same of a day on which tasks are at risk below that chance.
pub fn legend_of_the_day(id: &str, bound: &str) -> Vec<LegendEntry> {
    let signs = Signs(identifier(id));
    let mut entries = vec![
        entry(&shape("done-block", BLOCK), "worked"),
        entry(&shape("left-block", BLOCK), "still to come"),
        entry(&shape("risk-block", BLOCK), &format!("at risk: reached with under {bound}")),
        entry(&shape("planned-bar", "M10 1V15"), "as planned"),
    ];
    entries.extend(signs.beside_work());
    entries.push(signs.hatched("m", "margin at P80"));
    entries.push(signs.hatched("p", "past the limit at P80"));
    entries
}

const BLOCK: &str = "M2 2H18V14H2z";

fn shape(class: &str, d: &str) -> String {
    format!("<path class=\"{class}\" d=\"{d}\"/>")
}

fn entry(shape: &str, words: &str) -> LegendEntry {
    LegendEntry {
        sign: Drawing::new(format!(
            "<svg class=\"i wide\" viewBox=\"0 0 20 16\" aria-hidden=\"true\">{shape}</svg>"
        )),
        words: words.to_owned(),
    }
}

/// The signs that use the hatches of a drawing.
struct Signs(String);

impl Signs {
    fn filled(&self, class: &str, name: &str, d: &str) -> String {
        format!("<path class=\"{class}\" fill=\"url(#{}{name})\" d=\"{d}\"/>", self.0)
    }

    fn hatched(&self, name: &str, words: &str) -> LegendEntry {
        entry(&self.filled("", name, "M2 1H18V15H2z"), words)
    }

    /// What lies between and behind the blocks.
    fn beside_work(&self) -> [LegendEntry; 5] {
        let night =
            format!("{}{}", shape("night-deep", "M0 0H6V16H0z"), shape("night", "M8 0H20V16H8z"));
        [
            entry(&self.filled("setup", "h", "M6 1H14V15H6z"), "setup, cleanup"),
            entry(&shape("go", "M10 0V16M6 6l4 4 4-4"), "travel"),
            entry(&shape("wait", "M10 1V15"), "waiting"),
            entry(&night, "orbital night"),
            entry(&shape("arm", "M7 1H13V15H7z"), "arm window"),
        ]
    }
}
