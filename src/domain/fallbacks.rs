//! What follows where an approach does not work: the fallbacks of a slot, in their order, in one
//! cell of its record.

use crate::cells::{Cell, Input, Line, stored_as_text};
use crate::codes::TechniqueCode;
use crate::repeat_guard::Approach;
use crate::sides::Side;
use crate::units::{Minutes, Share};

#[cfg(test)]
mod tests;

/// So many fallbacks a slot has at most: what is longer is no plan that anybody keeps in mind.
pub const MAX_FALLBACKS: usize = 4;

/// What stands in the place of an approach where the work is left as it is.
pub const LEAVE: &str = "leave as is";

/// One fallback: when the approach before it is given up, and what follows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fallback {
    /// `None`: the work is left as it is.
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    /// Minutes of the approach before it.
    pub after: Option<Minutes>,
    /// A torque, turns, a look.
    pub when: Option<Line>,
    /// How likely it is that it is needed, once the approach before it is under way.
    pub needed: Option<Share>,
}

/// The fallbacks of a slot in their order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fallbacks(pub Vec<Fallback>);

/// The parts of a fallback as a person types them, each in a field of its own.
#[derive(Debug, Clone, Copy, Default)]
pub struct Typed<'a> {
    /// `K-9 from nadir`, or `leave as is`.
    pub approach: &'a str,
    pub after: &'a str,
    pub when: &'a str,
    pub needed: &'a str,
}

/// What is wrong with a fallback: the part, and a sentence.
pub type Wrong = (&'static str, String);

impl Fallback {
    /// Reads the parts; every part that is wrong is named at once.
    pub fn read(typed: Typed) -> Result<Self, Vec<Wrong>> {
        let mut wrong = Vec::new();
        let (technique, side) = approach(typed.approach).unwrap_or_else(|message| {
            wrong.push(("approach", message));
            (None, None)
        });
        let after = part(typed.after, "after", &mut wrong);
        let when: Option<Line> = part(typed.when, "when", &mut wrong);
        let needed = part(typed.needed, "needed", &mut wrong);
        if let Some(message) = when.as_ref().and_then(|when| not_in_a_cell(when.as_str())) {
            wrong.push(("when", message.to_owned()));
        }
        if typed.after.trim().is_empty() && typed.when.trim().is_empty() {
            let message = "Say after how many minutes it is used, or when.";
            wrong.push(("after", message.to_owned()));
        }
        let fallback = Self { technique, side, after, when, needed };
        if wrong.is_empty() { Ok(fallback) } else { Err(wrong) }
    }

    /// Whether the work is left as it is.
    pub const fn leaves(&self) -> bool {
        self.technique.is_none()
    }

    /// `None` where the work is left as it is.
    pub fn approach(&self) -> Option<Approach> {
        let technique = self.technique.clone()?;
        Some(Approach { technique: Some(technique), side: self.side.clone() })
    }

    /// `K-9 from nadir`, or `leave as is`.
    pub fn what(&self) -> String {
        match (&self.technique, &self.side) {
            (None, _) => LEAVE.to_owned(),
            (Some(technique), None) => technique.to_string(),
            (Some(technique), Some(side)) => format!("{technique} from {side}"),
        }
    }

    /// `after 60 min, or when the gun jams twice`.
    pub fn trigger(&self) -> String {
        let after = self.after.map(|after| format!("after {} min", after.0));
        let when = self.when.as_ref().map(|when| format!("when {when}"));
        [after, when].into_iter().flatten().collect::<Vec<_>>().join(", or ")
    }
}

/// Why the words of a trigger could not stand in a cell beside the other parts.
fn not_in_a_cell(words: &str) -> Option<&'static str> {
    if words.contains(';') {
        return Some("Write it without “;”, which parts the fallbacks of a slot.");
    }
    [", after ", ", needed "].iter().any(|part| words.contains(part)).then_some(
        "Write minutes and % in their own fields; in a cell “after” and “needed” stand before “when”.",
    )
}

/// A technique and a side, or neither where the work is left as it is.
fn approach(text: &str) -> Result<(Option<TechniqueCode>, Option<Side>), String> {
    let text = text.trim();
    if text.is_empty() {
        return Err(format!("Choose an approach, or “{LEAVE}”."));
    }
    if text.eq_ignore_ascii_case(LEAVE) {
        return Ok((None, None));
    }
    match text.rsplit_once(" from ") {
        Some((technique, side)) => {
            Ok((Some(TechniqueCode::read(technique)?), Some(Side::read(side)?)))
        }
        None => Ok((Some(TechniqueCode::read(text)?), None)),
    }
}

fn part<T: Cell>(text: &str, name: &'static str, wrong: &mut Vec<Wrong>) -> Option<T> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    T::read(text).map_err(|message| wrong.push((name, message))).ok()
}

impl Cell for Fallbacks {
    const INPUT: Input = Input::Line;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        let entries: Vec<&str> =
            text.split([';', '\n']).map(str::trim).filter(|entry| !entry.is_empty()).collect();
        if entries.len() > MAX_FALLBACKS {
            return Err(format!(
                "A slot has at most {MAX_FALLBACKS} fallbacks; there are {}.",
                entries.len()
            ));
        }
        let all: Vec<Fallback> = entries.into_iter().map(entry).collect::<Result<_, _>>()?;
        let kept = Self(all);
        kept.order().map_or(Ok(kept), Err)
    }
    fn show(&self) -> String {
        let entry = |fallback: &Fallback| {
            let after = fallback.after.map(|after| format!("after {} min", after.0));
            let when = fallback.when.as_ref().map(|when| format!("when {when}"));
            let needed = fallback.needed.map(|needed| format!("needed {needed}"));
            let parts = [Some(fallback.what()), after, needed, when];
            parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
        };
        self.0.iter().map(entry).collect::<Vec<_>>().join("; ")
    }
    fn blank() -> Option<Self> {
        Some(Self::default())
    }
}

impl Fallbacks {
    /// What is wrong with the order: nothing follows once the work is left as it is.
    pub fn order(&self) -> Option<String> {
        let left = self.0.iter().position(Fallback::leaves)?;
        (left + 1 < self.0.len())
            .then(|| format!("Nothing follows “{LEAVE}”; put it last, or remove what follows."))
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// `K-9 from nadir, after 40 min, needed 25 %, when it turns no more`; the words of a trigger run to
/// the end.
fn entry(text: &str) -> Result<Fallback, String> {
    let (text, when) = match text.split_once(", when ") {
        Some((rest, when)) => (rest, when.trim()),
        None => (text, ""),
    };
    let mut parts = text.split(',').map(str::trim);
    let mut typed = Typed { approach: parts.next().unwrap_or_default(), when, ..Typed::default() };
    for part in parts {
        let (word, rest) = part.split_once(' ').unwrap_or((part, ""));
        let field = match word {
            "after" => &mut typed.after,
            "needed" => &mut typed.needed,
            _ => {
                return Err(format!(
                    "“{part}” is no part of a fallback; write “K-9 from nadir, after 40 min, \
                     needed 25 %, when it turns no more”, the next one after “;”."
                ));
            }
        };
        if !field.is_empty() {
            return Err(format!("“{word}” stands twice in “{text}”."));
        }
        *field = rest;
    }
    Fallback::read(typed).map_err(|wrong| {
        wrong.into_iter().map(|(_, message)| message).collect::<Vec<_>>().join(" ")
    })
}

stored_as_text!(Fallbacks);
