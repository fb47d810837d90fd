//! Days and moments, always UTC. A person sees the ISO date with the day of the year.

use time::format_description::StaticFormatDescription;
use time::macros::format_description;
use time::{Date, OffsetDateTime, PrimitiveDateTime};

use crate::cells::{Cell, Input};

#[cfg(test)]
mod tests;

const ISO: StaticFormatDescription = format_description!(version = 2, "[year]-[month]-[day]");
const ORDINAL: StaticFormatDescription = format_description!(version = 2, "[year]-[ordinal]");
const DAY_OF_YEAR: StaticFormatDescription = format_description!(version = 2, "[ordinal]");
const SLASHED: StaticFormatDescription =
    format_description!(version = 2, "[month padding:none]/[day padding:none]/[year]");
const TO_THE_MINUTE: StaticFormatDescription =
    format_description!(version = 2, "[year]-[month]-[day] [hour]:[minute]");
const CLOCK: StaticFormatDescription = format_description!(version = 2, "[hour]:[minute]");
const TO_THE_SECOND: StaticFormatDescription =
    format_description!(version = 2, "[year]-[month]-[day] [hour]:[minute]:[second]");

/// The years that are taken; one outside them is a slip of the pen.
const YEARS: std::ops::RangeInclusive<i32> = 1900..=2199;

/// A calendar day, UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Day(pub Date);

impl Day {
    /// Three digits, as in `077`.
    pub fn of_year(self) -> String {
        self.0.format(DAY_OF_YEAR).unwrap_or_default()
    }

    /// Days from `other` to this one; negative where `other` is later.
    pub fn since(self, other: Self) -> i64 {
        i64::from(self.0.to_julian_day()) - i64::from(other.0.to_julian_day())
    }

    /// The day that many days later; the calendar's last day where that lies beyond it.
    #[must_use]
    pub fn plus(self, days: i64) -> Self {
        // More days than the whole calendar has would overflow the duration itself.
        const WHOLE_CALENDAR: i64 = 8_000_000;
        let days = days.clamp(-WHOLE_CALENDAR, WHOLE_CALENDAR);
        Self(self.0.saturating_add(time::Duration::days(days)))
    }
}

impl std::fmt::Display for Day {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(&self.0.format(ISO).unwrap_or_default())
    }
}

impl Cell for Day {
    const INPUT: Input = Input::Day;
    fn read(text: &str) -> Result<Self, String> {
        let text = text.trim();
        if let Some((one, other)) = either_order(text) {
            return Err(format!(
                "“{text}” could be day {one} of month {other} or day {other} of month {one}; write \
                 it as 2031-03-18."
            ));
        }
        [ISO, ORDINAL, SLASHED]
            .into_iter()
            .find_map(|form| Date::parse(text, form).ok())
            .filter(|date| YEARS.contains(&date.year()))
            .map(Self)
            .ok_or_else(|| {
                format!("“{text}” is not a date; write it as 2031-03-18, 2031-077 or 03/18/2031.")
            })
    }
    fn show(&self) -> String {
        self.to_string()
    }
}

/// The two numbers of a date with slashes that can be read with the day or with the month first.
fn either_order(text: &str) -> Option<(u8, u8)> {
    let mut parts = text.split('/');
    let (one, other, _year) = (parts.next()?, parts.next()?, parts.next()?);
    let (one, other) = (one.trim().parse().ok()?, other.trim().parse().ok()?);
    let is_month = |number: u8| (1..=12).contains(&number);
    (is_month(one) && is_month(other) && one != other).then_some((one, other))
}

/// A point in time: milliseconds since 1970-01-01 00:00 UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Moment(pub i64);

impl Moment {
    pub fn day(self) -> Day {
        Day(self.offset().date())
    }

    pub fn of_day(day: Day) -> Self {
        Self(day.0.midnight().assume_utc().unix_timestamp() * 1_000)
    }

    #[must_use]
    pub fn plus_minutes(self, minutes: i64) -> Self {
        Self(self.0.saturating_add(minutes.saturating_mul(60_000)))
    }

    /// `2031-03-18 14:20`.
    pub fn to_the_minute(self) -> String {
        self.offset().format(TO_THE_MINUTE).unwrap_or_default()
    }

    /// The same as `read`; a time of day alone, `14:20`, is one of this day.
    pub fn read_on(day: Day, text: &str) -> Result<Self, String> {
        let text = text.trim();
        match text.split_once(':') {
            Some((hour, rest)) if (1..=2).contains(&hour.len()) && rest.len() == 2 => {
                Self::read(&format!("{day} {hour:0>2}:{rest}")).or_else(|_| Self::read(text))
            }
            _ => Self::read(text),
        }
    }

    /// `14:20`.
    pub fn clock(self) -> String {
        self.offset().format(CLOCK).unwrap_or_default()
    }

    fn offset(self) -> OffsetDateTime {
        let nanos = i128::from(self.0) * 1_000_000;
        OffsetDateTime::from_unix_timestamp_nanos(nanos).unwrap_or(OffsetDateTime::UNIX_EPOCH)
    }
}

impl std::fmt::Display for Moment {
    /// RFC 3339 with milliseconds, as it stands in files and in the change log.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let at = self.offset();
        let whole = at.format(TO_THE_SECOND).unwrap_or_default().replace(' ', "T");
        write!(f, "{whole}.{:03}Z", at.millisecond())
    }
}

impl Cell for Moment {
    const INPUT: Input = Input::Moment;
    fn read(text: &str) -> Result<Self, String> {
        let text = text.trim();
        let plain = text.strip_suffix('Z').unwrap_or(text).replace('T', " ");
        // Only a time to the second can have a fraction of one.
        let (whole, millis, forms) = match plain.split_once('.') {
            Some((whole, millis)) => (whole, millis, &[TO_THE_SECOND][..]),
            None => (plain.as_str(), "0", &[TO_THE_SECOND, TO_THE_MINUTE][..]),
        };
        let at = forms
            .iter()
            .find_map(|form| PrimitiveDateTime::parse(whole, form).ok())
            .filter(|at| YEARS.contains(&at.year()))
            .map(PrimitiveDateTime::assume_utc)
            .or_else(|| Day::read(&plain).ok().map(|day| day.0.midnight().assume_utc()));
        let digits = millis.bytes().all(|b| b.is_ascii_digit());
        let thousandths: String = millis.chars().chain("000".chars()).take(3).collect();
        match (at, thousandths.parse::<i64>()) {
            (Some(at), Ok(millis)) if digits => Ok(Self(at.unix_timestamp() * 1_000 + millis)),
            _ => Err(format!("“{text}” is not a moment; write it as 2031-03-18 14:20, UTC.")),
        }
    }
    fn show(&self) -> String {
        self.to_string()
    }
}
