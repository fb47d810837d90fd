//! Quantities that cannot be mixed up: minutes, elapsed time, shares, kilograms, litres.

use crate::cells::{Cell, Input};

#[cfg(test)]
mod tests;

/// A length of time in whole minutes, never negative.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Minutes(pub i64);

impl Minutes {
    /// A hundred days: nothing in the record lasts longer, so a larger figure is a slip.
    pub const MAX: i64 = 144_000;

    /// Hours and minutes, as in `6:45`.
    pub fn clock(self) -> String {
        format!("{}:{:02}", self.0 / 60, self.0 % 60)
    }
}

impl Cell for Minutes {
    const INPUT: Input = Input::Duration;
    fn read(text: &str) -> Result<Self, String> {
        read_minutes(text).map(Self)
    }
    fn show(&self) -> String {
        self.0.to_string()
    }
}

/// Phase elapsed time: minutes since the excursion began, written h:mm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Pet(pub i64);

impl Cell for Pet {
    const INPUT: Input = Input::Duration;
    fn read(text: &str) -> Result<Self, String> {
        read_minutes(text).map(Self)
    }
    fn show(&self) -> String {
        self.to_string()
    }
}

impl std::fmt::Display for Pet {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&Minutes(self.0).clock())
    }
}

/// Reads `6:45`, `0:36`, `405` or `6 h 45 min`; a third part, as in `6:45:00`, must be zero.
fn read_minutes(text: &str) -> Result<i64, String> {
    let text = text.trim();
    let wrong =
        || format!("“{text}” is not a time; write hours and minutes as 6:45, or minutes as 405.");
    let plain = without_words(text);
    let parts: Vec<&str> = plain.split(':').map(str::trim).collect();
    let whole = |part: &str| {
        if part.is_empty() || part.len() > 6 || !part.bytes().all(|b| b.is_ascii_digit()) {
            return Err(wrong());
        }
        part.parse::<i64>().map_err(|_| wrong())
    };
    let minutes = match parts[..] {
        [minutes] => whole(minutes)?,
        [hours, minutes] | [hours, minutes, "00"] => {
            // `6:5` could mean 6:05 or 6:50, so it is neither.
            if minutes.len() != 2 {
                return Err(wrong());
            }
            let minutes = whole(minutes)?;
            if minutes > 59 {
                return Err(wrong());
            }
            whole(hours)? * 60 + minutes
        }
        _ => return Err(wrong()),
    };
    if minutes > Minutes::MAX {
        return Err(format!("{minutes} minutes are more than a hundred days; check the figure."));
    }
    Ok(minutes)
}

/// `6 h 45 min`, `6h05`, `6 h` and `45 min` in the forms with a colon or plain minutes.
fn without_words(text: &str) -> String {
    let lower = text.to_lowercase();
    let strip = |text: &str, words: &[&str]| {
        words.iter().find_map(|word| text.strip_suffix(word)).map(|rest| rest.trim().to_owned())
    };
    match lower.split_once('h') {
        Some((hours, minutes)) => {
            let minutes = minutes.trim_start_matches(['o', 'u', 'r', 's']).trim();
            let minutes = strip(minutes, &["minutes", "min", "m"]).unwrap_or(minutes.to_owned());
            format!("{}:{minutes:0>2}", hours.trim())
        }
        None => strip(&lower, &["minutes", "min"]).unwrap_or(lower),
    }
}

/// A part of a whole task in per cent, 0 to 100.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Share(pub i64);

impl Share {
    pub const WHOLE: Self = Self(100);
    pub const NONE: Self = Self(0);
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} %", self.0)
    }
}

impl Cell for Share {
    const INPUT: Input = Input::Number;
    fn read(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let number = text.strip_suffix('%').unwrap_or(text).trim();
        match number.parse::<i64>() {
            Ok(share @ 0..=100) => Ok(Self(share)),
            _ => Err(format!("“{text}” is not a %; write a whole number from 0 to 100.")),
        }
    }
    fn show(&self) -> String {
        self.0.to_string()
    }
}

/// A number without its unit, whatever the case.
fn without_unit<'t>(text: &'t str, unit: &str) -> &'t str {
    match text.len().checked_sub(unit.len()).and_then(|at| text.split_at_checked(at)) {
        Some((number, tail)) if tail.eq_ignore_ascii_case(unit) => number.trim(),
        _ => text,
    }
}

macro_rules! amounts {
    ($($(#[$doc:meta])* $name:ident in $unit:literal, from $least:literal to $most:literal);+ $(;)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, Default, PartialEq, PartialOrd, sqlx::Type)]
        #[sqlx(transparent)]
        pub struct $name(pub f64);

        impl Cell for $name {
            const INPUT: Input = Input::Number;
            fn read(text: &str) -> Result<Self, String> {
                let value = f64::read(without_unit(text.trim(), $unit))?;
                if (f64::from($least)..=f64::from($most)).contains(&value) {
                    Ok(Self(value))
                } else {
                    let range = format!("{} to {} {}", $least, $most, $unit);
                    Err(format!("{value} lies outside {}.", range.trim_end()))
                }
            }
            fn show(&self) -> String { self.0.to_string() }
        }
    )+};
}

amounts! {
    Kilograms in "kg", from 0 to 100_000;
    Litres in "l", from 0 to 100_000;
    Kilometres in "km", from 0 to 100_000;
    Degrees in "°", from -90 to 90;
    /// An orbital period, which is no whole number of minutes.
    PeriodMinutes in "min", from 80 to 2_000;
    /// A place on the worksite map, 0 to 100 of the map's width or height.
    MapPlace in "", from 0 to 100;
    KilocaloriesAnHour in "kcal/h", from 40 to 800;
    /// The respiratory quotient: carbon dioxide given off by oxygen taken up.
    Quotient in "", from 0.7 to 1;
    GramsAnHour in "g/h", from 0 to 200;
    /// Heat, below nought where it leaves.
    Watts in "W", from -500 to 1_000;
    MegajoulesAKilogram in "MJ/kg", from 1 to 3;
    /// The standard deviation of a logarithm.
    LogSpread in "", from 0 to 1;
    Slowing in "×", from 1 to 5;
    DegreesApart in "°", from 0 to 30;
    /// A temperature out there.
    Celsius in "°C", from -270 to 300;
    Hours in "h", from 0 to 1_000_000;
    ClassWeight in "", from 0 to 1_000;
}

/// A stretch of elapsed time, from the first minute to the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Window {
    pub from: Pet,
    pub until: Pet,
}

impl Cell for Window {
    const INPUT: Input = Input::Line;
    fn read(text: &str) -> Result<Self, String> {
        let wrong = || format!("“{}” is not a window; write it as 2:40-4:45.", text.trim());
        let (from, until) = text.split_once(['-', '–']).ok_or_else(wrong)?;
        let (from, until) = (Pet::read(from)?, Pet::read(until)?);
        if from < until { Ok(Self { from, until }) } else { Err(wrong()) }
    }
    fn show(&self) -> String {
        format!("{}-{}", self.from, self.until)
    }
}
