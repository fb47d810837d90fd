//! Values that were measured or reached, with unit and limit, kept as entered beside the SI value.

use crate::cells::{Cell, Input};

#[cfg(test)]
mod tests;

// Source: NIST SP 811, Guide for the Use of the International System of Units, appendix B.8, 2008.
// Exact by definition: the pound is 0.453 592 37 kg, standard gravity 9.806 65 m/s², the inch
// 0.0254 m and the foot 0.3048 m; the products below are written out in full.
const NEWTONS_PER_POUND_FORCE: f64 = 4.448_221_615_260_5;
const NEWTON_METRES_PER_FOOT_POUND_FORCE: f64 = 1.355_817_948_331_400_4;
const NEWTON_METRES_PER_INCH_POUND_FORCE: f64 = 0.112_984_829_027_616_7;

/// The units that are understood; a value in any other stays text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    Newton,
    PoundForce,
    NewtonMetre,
    FootPoundForce,
    InchPoundForce,
}

impl Unit {
    /// How the unit is written beside a value.
    pub(crate) const fn symbol(self) -> &'static str {
        match self {
            Self::Newton => "N",
            Self::PoundForce => "lbf",
            Self::NewtonMetre => "N·m",
            Self::FootPoundForce => "ft·lbf",
            Self::InchPoundForce => "in·lbf",
        }
    }

    /// The SI unit of the same quantity.
    #[must_use]
    pub const fn si(self) -> Self {
        match self {
            Self::Newton | Self::PoundForce => Self::Newton,
            Self::NewtonMetre | Self::FootPoundForce | Self::InchPoundForce => Self::NewtonMetre,
        }
    }

    const fn in_si(self) -> f64 {
        match self {
            Self::Newton | Self::NewtonMetre => 1.0,
            Self::PoundForce => NEWTONS_PER_POUND_FORCE,
            Self::FootPoundForce => NEWTON_METRES_PER_FOOT_POUND_FORCE,
            Self::InchPoundForce => NEWTON_METRES_PER_INCH_POUND_FORCE,
        }
    }

    /// Reads a unit as people write it: `Nm`, `N-m`, `ft·lbf`, `lb-ft`, `in lbs`. A lone `lb` is
    /// a mass and none of these.
    fn read(text: &str) -> Option<Self> {
        let joints = |c: char| c.is_whitespace() || "·⋅•∙*.-‐‑–×".contains(c);
        let plain: String = text.chars().filter(|c| !joints(*c)).collect();
        match plain.to_lowercase().as_str() {
            "n" | "newton" | "newtons" => Some(Self::Newton),
            "lbf" | "lbsf" | "poundforce" | "poundsforce" => Some(Self::PoundForce),
            "nm" | "newtonmetre" | "newtonmetres" | "newtonmeter" | "newtonmeters" => {
                Some(Self::NewtonMetre)
            }
            "ftlbf" | "ftlb" | "ftlbs" | "lbfft" | "lbft" | "footpound" | "footpounds"
            | "footpoundforce" => Some(Self::FootPoundForce),
            "inlbf" | "inlb" | "inlbs" | "lbfin" | "lbin" | "inchpound" | "inchpounds"
            | "inchpoundforce" => Some(Self::InchPoundForce),
            _ => None,
        }
    }
}

/// On which side of its limit a value has to stay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    AtMost,
    AtLeast,
}

/// One value reached, as in `grip force 180 N (limit 200 N)`, `preload 31 N·m (at least 35 N·m)`,
/// `gap 4 mm (limit 1 mm)` or `turns 9 of 15`. Text that cannot be understood has no value and
/// stays as it was entered.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    pub entered: String,
    pub name: Option<String>,
    /// In newtons or newton metres; as entered where the unit is none of ours.
    pub value: Option<f64>,
    /// The unit as entered.
    pub unit: Option<Unit>,
    /// Another unit, in which both the value and its limit stand, as the `mm` of a gap.
    pub other_unit: Option<String>,
    /// The limit, in the same unit as the value.
    pub limit: Option<f64>,
    pub sense: Sense,
    /// How many there are in all, as the 15 in `9 of 15`.
    pub of: Option<f64>,
}

impl Measured {
    /// Whether the value lies on the wrong side of its limit. Forces, torques and counts have a
    /// size, whichever way they turn; what is measured in another unit may well lie below nought.
    pub fn past_limit(&self) -> bool {
        let (Some(value), Some(limit)) = (self.value, self.limit) else { return false };
        let (value, limit) =
            if self.other_unit.is_some() { (value, limit) } else { (value.abs(), limit.abs()) };
        match self.sense {
            Sense::AtMost => value > limit,
            Sense::AtLeast => value < limit,
        }
    }

    /// What every page, table and report says of a value on the wrong side of its limit.
    pub fn judgement(&self) -> Option<&'static str> {
        self.past_limit().then_some(match self.sense {
            Sense::AtMost => "past its limit",
            Sense::AtLeast => "short of its limit",
        })
    }

    /// The value and its limit in SI units, where they were entered in others:
    /// `54.2 N·m (limit 67.8 N·m)`.
    pub fn si_text(&self) -> Option<String> {
        let (value, unit) = (self.value?, self.unit?);
        if unit.si() == unit {
            return None;
        }
        let si = unit.si().symbol();
        let word = match self.sense {
            Sense::AtMost => "limit",
            Sense::AtLeast => "at least",
        };
        let limit = self.limit.map(|limit| format!(" ({word} {} {si})", three_figures(limit)));
        Some(format!("{} {si}{}", three_figures(value), limit.unwrap_or_default()))
    }
}

impl Cell for Measured {
    const INPUT: Input = Input::Prose;
    fn read(text: &str) -> Result<Self, String> {
        let entered = text.split_whitespace().collect::<Vec<_>>().join(" ");
        Ok(understood(&entered).or_else(|| in_another_unit(&entered)).unwrap_or(Self {
            entered,
            name: None,
            value: None,
            unit: None,
            other_unit: None,
            limit: None,
            sense: Sense::AtMost,
            of: None,
        }))
    }
    fn show(&self) -> String {
        self.entered.clone()
    }
}

/// Nobody reads a glove's grip to more than three figures.
fn three_figures(value: f64) -> String {
    let decimals = match value.abs() {
        size if size >= 100.0 => 0,
        size if size >= 10.0 => 1,
        size if size >= 1.0 => 2,
        _ => 3,
    };
    format!("{value:.decimals$}")
}

fn understood(entered: &str) -> Option<Measured> {
    let (text, limit, sense) = split_limit(entered);
    let (value, of) = match text.split_once(" of ") {
        Some((value, of)) => (value, Some(Amount::read(of)?)),
        None => (text, None),
    };
    let (name, value) = Amount::after_name(value).or_else(|| Amount::before_name(value))?;
    // In `9 of 15 turns` the name and the unit stand behind.
    let of_all = of.as_ref();
    let unit = value.unit.or(of_all.and_then(|of| of.unit));
    let limit = limit.map(Amount::read);
    if let Some(limit) = limit {
        let limit = limit?;
        if limit.unit.is_some_and(|limit| unit.is_none_or(|unit| unit.si() != limit.si())) {
            return None;
        }
    }
    if of_all.is_some_and(|of| of.unit.is_some_and(|of| unit.map(Unit::si) != Some(of.si()))) {
        return None;
    }
    if name.split(' ').any(is_reservation) || holds_amount(name) {
        return None;
    }
    let si = |amount: Amount| amount.number * amount.unit.or(unit).map_or(1.0, Unit::in_si);
    Some(Measured {
        entered: entered.to_owned(),
        name: (!name.is_empty()).then(|| name.to_owned()),
        value: Some(si(value)),
        unit,
        other_unit: None,
        limit: limit.flatten().map(si),
        sense,
        of: of.map(si),
    })
}

/// `gap 4 mm (limit 1 mm)`, `current 1.8 A, max 2.2 A`: a value and its limit in one unit that is
/// none of ours, and so can be compared and nothing else.
fn in_another_unit(entered: &str) -> Option<Measured> {
    let (text, limit, sense) = split_limit(entered);
    let (name, value, unit) = number_and_unit(text)?;
    let (beside, limit, its_unit) = number_and_unit(limit?)?;
    let is_one = !unit.is_empty() && (its_unit == unit || its_unit.is_empty());
    if !is_one || !beside.is_empty() || name.split(' ').any(is_reservation) || holds_number(name) {
        return None;
    }
    Some(Measured {
        entered: entered.to_owned(),
        name: (!name.is_empty()).then(|| name.to_owned()),
        value: Some(value),
        unit: None,
        other_unit: Some(unit.to_owned()),
        limit: Some(limit),
        sense,
        of: None,
    })
}

/// A name, the last number of the text and the short word behind it.
fn number_and_unit(text: &str) -> Option<(&str, f64, &str)> {
    let text = text.trim();
    let end = text.rfind(|c: char| c.is_ascii_digit())? + 1;
    let start = text[..end]
        .rfind(|c| !is_of_number(c))
        .map_or(0, |at| at + text[at..].chars().next().map_or(1, char::len_utf8));
    let unit = text[end..].trim();
    let is_unit = unit.chars().count() <= 8 && !unit.contains(' ') && Unit::read(unit).is_none();
    let name = text[..start].trim_end_matches([' ', ':', '=', '(']);
    let is_apart = start == 0 || name.len() < start;
    (is_unit && is_apart).then_some((name, number(&text[start..end])?, unit))
}

/// Whether another number stands in the name, as in `4 mm at bolt 2`.
fn holds_number(name: &str) -> bool {
    name.split(' ').any(|word| word.starts_with(|c: char| c.is_ascii_digit()))
}

/// The words before a limit, and on which side of it the value has to stay. The shorter ones count
/// only behind a bracket or a comma: `min` is a minute too.
const LIMITS: [(&str, Sense, bool); 9] = [
    ("limit", Sense::AtMost, false),
    ("maximum", Sense::AtMost, false),
    ("max", Sense::AtMost, false),
    ("minimum", Sense::AtLeast, false),
    ("min", Sense::AtLeast, true),
    ("at most", Sense::AtMost, true),
    ("at least", Sense::AtLeast, true),
    ("\u{2264}", Sense::AtMost, true),
    ("\u{2265}", Sense::AtLeast, true),
];

/// `turns 9 (limit 12)`, `torque 12.1 Nm limit 20`: what stands before, what is the limit, and of
/// which sense it is.
fn split_limit(text: &str) -> (&str, Option<&str>, Sense) {
    const JOINTS: [char; 5] = [' ', '(', ',', '[', ';'];
    let lower = text.to_ascii_lowercase();
    let begins = |at: usize, apart: bool| {
        let before = lower[..at].trim_end_matches(' ');
        at == 0 || before.ends_with(['(', ',', '[', ';']) || (!apart && lower[..at].ends_with(' '))
    };
    let found = LIMITS.into_iter().find_map(|(word, sense, apart)| {
        let at = lower.rfind(word)?;
        begins(at, apart).then_some((at, word, sense))
    });
    let Some((at, word, sense)) = found else {
        return (text, None, Sense::AtMost);
    };
    let before = text[..at].trim_end_matches(JOINTS);
    let after = text[at + word.len()..].trim_matches([' ', ')', ']', ':', '=', '.']);
    let after = after.strip_prefix("of ").or_else(|| after.strip_prefix("is ")).unwrap_or(after);
    // `limit at least 20 N`: the words behind say more than the word itself.
    let (after, sense) = [
        ("at least ", Sense::AtLeast),
        ("\u{2265}", Sense::AtLeast),
        ("at most ", Sense::AtMost),
        ("\u{2264}", Sense::AtMost),
    ]
    .into_iter()
    .find_map(|(words, sense)| Some((after.strip_prefix(words)?, sense)))
    .unwrap_or((after, sense));
    if before.is_empty() { (text, None, sense) } else { (before, Some(after.trim()), sense) }
}

/// Words that say the figure was not what was measured; such a text is not taken for a value.
fn is_reservation(word: &str) -> bool {
    const WORDS: [&str; 17] = [
        "not", "no", "never", "below", "under", "less", "above", "over", "more", "than", "about",
        "approx", "nearly", "almost", "least", "most", "limit",
    ];
    let word = word.to_lowercase();
    WORDS.contains(&word.trim_matches(|c: char| !c.is_alphabetic()))
}

/// Whether a second value stands in the name, as in `12 Nm, then 14 Nm`.
fn holds_amount(name: &str) -> bool {
    let words: Vec<&str> = name.split(' ').map(|word| word.trim_matches([',', '(', ')'])).collect();
    let with_unit = |text: &str| Amount::read(text).is_some_and(|amount| amount.unit.is_some());
    words.iter().any(|word| with_unit(word))
        || words.windows(2).any(|pair| with_unit(&pair.join(" ")))
}

/// A number with its unit, if it has one that is understood.
#[derive(Debug, Clone, Copy)]
struct Amount {
    number: f64,
    unit: Option<Unit>,
}

impl Amount {
    /// A number and then a unit or nothing.
    fn read(text: &str) -> Option<Self> {
        let text = text.trim();
        let end = text.find(|c: char| !is_of_number(c)).unwrap_or(text.len());
        let number = number(&text[..end])?;
        let unit = text[end..].trim();
        if unit.is_empty() {
            return Some(Self { number, unit: None });
        }
        Some(Self { number, unit: Some(Unit::read(unit)?) })
    }

    /// `grip force 180 N`: the amount is the shortest end of the text that can be read as one, so
    /// that a number may be part of the name (`bolt 3 torque 12 Nm`).
    fn after_name(text: &str) -> Option<(&str, Self)> {
        let text = text.trim();
        let starts = text.char_indices().filter(|(at, c)| {
            is_of_number(*c) && (*at == 0 || text[..*at].ends_with([' ', ':', '=', '(']))
        });
        starts.rev().find_map(|(at, _)| {
            let name = text[..at].trim_end_matches([' ', ':', '=', '(']);
            Some((name, Self::read(text[at..].trim_end_matches(')'))?))
        })
    }

    /// `180 N grip force`, `9 turns`.
    fn before_name(text: &str) -> Option<(&str, Self)> {
        let text = text.trim();
        let ends = text.char_indices().filter(|(_, c)| *c == ' ');
        let (name, amount) =
            ends.rev().find_map(|(at, _)| Some((text[at..].trim(), Self::read(&text[..at])?)))?;
        // `12 V` or `40 °C` is a value in a unit that is not ours, not nine of something.
        let is_name =
            name.chars().count() > 3 && name.chars().all(|c| c.is_alphabetic() || c == ' ');
        is_name.then_some((name, amount))
    }
}

fn is_of_number(c: char) -> bool {
    c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+' | '−')
}

/// A decimal point or comma; `1,200` could be either and is not guessed.
fn number(text: &str) -> Option<f64> {
    f64::read(&text.replace('−', "-")).ok()
}
