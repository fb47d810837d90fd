//! Days as tables of other people write them: plain, in words, or as a range.

use time::{Date, Month};

use domain::cells::Cell;
use domain::time::Day;

#[cfg(test)]
mod tests;

/// Which of two numbers of a date comes first, where a month stands as a number before the year.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateOrder {
    DayFirst,
    MonthFirst,
}

impl DateOrder {
    pub const ALL: [Self; 2] = [Self::DayFirst, Self::MonthFirst];

    /// The word of the command line and of the form.
    pub const fn word(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
        }
    }

    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|order| order.word() == word)
    }
}

/// How the days of one table are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reading {
    /// Takes a range of days by its first day instead of refusing it.
    pub first_of_range: bool,
    /// Without it a date that could be either is refused.
    pub order: Option<DateOrder>,
}

/// What the two orders make of one text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// Both give the same day, or neither gives one.
    Same,
    /// One order alone gives a day.
    Only(DateOrder),
    /// Each order gives a day of its own.
    Either { day_first: Day, month_first: Day },
}

/// Which orders of day and month a text can be read in.
pub fn order_of(text: &str, first_of_range: bool) -> Order {
    let in_order = |order| read_in_order(text, first_of_range, order);
    match (in_order(DateOrder::DayFirst), in_order(DateOrder::MonthFirst)) {
        (Ok(day_first), Ok(month_first)) if day_first != month_first => {
            Order::Either { day_first, month_first }
        }
        (Ok(_), Err(_)) => Order::Only(DateOrder::DayFirst),
        (Err(_), Ok(_)) => Order::Only(DateOrder::MonthFirst),
        (Ok(_), Ok(_)) | (Err(_), Err(_)) => Order::Same,
    }
}

/// Reads one day. A range of days, or a month alone, is refused by name, or taken by its first
/// day where the reading says so; so is a date whose order of day and month is not known.
///
/// `Jul 16, 1980` · `16 July 1980` · `16-Jul-1980` · `Jul 16-18, 1980` · `16–18 July 1980` ·
/// `07/16-18/1980` · `Jul 30 - Aug 2, 1980` · `July 1980`; and whatever [`Day::read`] takes.
pub fn read_day(text: &str, reading: Reading) -> Result<Day, String> {
    let first = reading.first_of_range;
    if let Some(order) = reading.order {
        return read_in_order(text, first, order);
    }
    match order_of(text, first) {
        Order::Either { day_first, month_first } => Err(format!(
            "“{}” could be {day_first} or {month_first}. Say whether the day or the month comes \
             first in this file.",
            text.trim()
        )),
        Order::Only(order) => read_in_order(text, first, order),
        // A range that is not taken says so in the order in which it is one.
        Order::Same if order_of(text, true) == Order::Only(DateOrder::DayFirst) => {
            read_in_order(text, first, DateOrder::DayFirst)
        }
        Order::Same => read_in_order(text, first, DateOrder::MonthFirst),
    }
}

fn read_in_order(text: &str, first_of_range: bool, order: DateOrder) -> Result<Day, String> {
    let text = text.trim();
    let plain = without_midnight(text);
    // The order of a date with slashes is ours to choose; every other plain day has one alone.
    let not_plain = match Day::read(plain) {
        Ok(day) if !plain.contains('/') => return Ok(day),
        Ok(_) => String::new(),
        Err(message) => Day::read(text).err().unwrap_or(message),
    };
    let tokens = tokens(plain);
    let read = match tokens.as_deref().and_then(|tokens| span(tokens, order)) {
        Some(Span::Day(part)) => return calendar_day(text, part),
        Some(read) => read,
        None => return Err(hint(text, tokens.as_deref(), order).unwrap_or(not_plain)),
    };
    let (first, last) = match read {
        Span::Days(first, last) | Span::Months(first, last) => {
            (calendar_day(text, first)?, calendar_day(text, last)?)
        }
        Span::Day(part) => return calendar_day(text, part),
    };
    if last < first {
        return Err(format!(
            "“{text}” ends before it begins; write both days with their years, or one day."
        ));
    }
    match read {
        _ if first_of_range => Ok(first),
        Span::Months(..) => {
            Err(format!("“{text}” names no day; give one, or ask for the first day of ranges."))
        }
        _ => Err(format!(
            "“{text}” is a range of days; give one, or ask for the first day of ranges."
        )),
    }
}

/// Many programs add a midnight to every date they export.
fn without_midnight(text: &str) -> &str {
    let Some((day, clock)) = text.split_once(['T', ' ']) else { return text };
    let clock = clock.trim().trim_end_matches('Z');
    let midnight = clock.starts_with('0')
        && clock.contains(':')
        && clock.chars().all(|c| matches!(c, '0' | ':' | '.'));
    if midnight { day.trim() } else { text }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Token {
    /// One or two digits.
    Number(u8),
    /// Four digits.
    Year(i32),
    Month(Month),
    Slash,
    Dash,
    /// “to”, “through”, “and”: parts two days, never the parts of one.
    Until,
}

/// What a text names, parts still unchecked against the calendar.
#[derive(Debug, Clone, Copy)]
enum Span {
    Day(Part),
    Days(Part, Part),
    /// Whole months; the day is the first of each.
    Months(Part, Part),
}

/// As much of a day as one side of a range says.
#[derive(Debug, Clone, Copy, Default)]
struct Part {
    year: Option<i32>,
    month: Option<Month>,
    day: Option<u8>,
}

/// `None` where a word or a sign is none of ours.
fn tokens(text: &str) -> Option<Vec<Token>> {
    let mut tokens = Vec::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let kind = |c: char| (c.is_ascii_digit(), c.is_alphabetic());
        let end = match kind(first) {
            (false, false) => first.len_utf8(),
            run => rest.find(|c| kind(c) != run).unwrap_or(rest.len()),
        };
        let (word, after) = rest.split_at(end);
        rest = after;
        match first {
            '0'..='9' if word.len() <= 2 => tokens.push(Token::Number(word.parse().ok()?)),
            '0'..='9' if word.len() == 4 => tokens.push(Token::Year(word.parse().ok()?)),
            '-' | '‐' | '‑' | '–' | '—' | '−' | '~' => tokens.push(Token::Dash),
            '/' => tokens.push(Token::Slash),
            '&' | '+' => tokens.push(Token::Until),
            ',' | '.' => {}
            c if c.is_whitespace() => {}
            c if c.is_alphabetic() => match (word_token(word)?, tokens.last()) {
                (Word::Token(token), _) => tokens.push(token),
                (Word::Nothing, _) | (Word::Ordinal, Some(Token::Number(_))) => {}
                (Word::Ordinal, _) => return None,
            },
            _ => return None,
        }
    }
    Some(tokens)
}

enum Word {
    Token(Token),
    /// The `th` of `16th`.
    Ordinal,
    /// Says nothing about the day: `of`, a weekday.
    Nothing,
}

fn word_token(word: &str) -> Option<Word> {
    const MONTHS: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    const WEEKDAYS: [&str; 7] =
        ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
    let word = word.to_lowercase();
    let begins = |whole: &&str| word.len() >= 3 && whole.starts_with(&word);
    if let Some(month) = MONTHS.iter().position(&begins) {
        let month = Month::try_from(u8::try_from(month + 1).ok()?).ok()?;
        return Some(Word::Token(Token::Month(month)));
    }
    match word.as_str() {
        "to" | "until" | "till" | "through" | "thru" | "and" => Some(Word::Token(Token::Until)),
        "st" | "nd" | "rd" | "th" => Some(Word::Ordinal),
        "of" | "the" | "from" => Some(Word::Nothing),
        _ if WEEKDAYS.iter().any(&begins) => Some(Word::Nothing),
        _ => None,
    }
}

fn span(tokens: &[Token], order: DateOrder) -> Option<Span> {
    if let Some(part) = part(tokens, false, order) {
        return match part {
            Part { year: Some(_), month: Some(_), day: Some(_) } => Some(Span::Day(part)),
            Part { year: Some(_), month: Some(_), day: None } => {
                let part = Part { day: Some(1), ..part };
                Some(Span::Months(part, part))
            }
            _ => None,
        };
    }
    let between = |token: &Token| matches!(token, Token::Dash | Token::Until | Token::Slash);
    (0..tokens.len()).filter(|at| between(&tokens[*at])).find_map(|at| two_sides(tokens, at, order))
}

/// Both sides of a range, each taking from the other what it leaves out.
fn two_sides(tokens: &[Token], at: usize, order: DateOrder) -> Option<Span> {
    let first = part(&tokens[..at], false, order)?;
    let slashed = order == DateOrder::MonthFirst
        && first.month.is_some()
        && tokens[..at].contains(&Token::Slash);
    let last = part(&tokens[at + 1..], slashed, order)?;
    let month = (first.month.or(last.month)?, last.month.or(first.month)?);
    let year = (first.year.or(last.year)?, last.year.or(first.year)?);
    let first = Part { year: Some(year.0), month: Some(month.0), ..first };
    let last = Part { year: Some(year.1), month: Some(month.1), ..last };
    match (first.day, last.day) {
        (Some(_), Some(_)) => Some(Span::Days(first, last)),
        (None, None) => {
            Some(Span::Months(Part { day: Some(1), ..first }, Part { day: Some(1), ..last }))
        }
        _ => None,
    }
}

/// Day and month of two numbers in the order in which they stand.
fn day_and_month(one: u8, other: u8, order: DateOrder) -> Option<(u8, Month)> {
    let (day, month) = match order {
        DateOrder::DayFirst => (one, other),
        DateOrder::MonthFirst => (other, one),
    };
    Some((day, Month::try_from(month).ok()?))
}

/// One day, or as much of one as stands there. Behind a slashed day that is month first,
/// `18/1980` is a day and its year.
fn part(tokens: &[Token], after_slashed: bool, order: DateOrder) -> Option<Part> {
    use Token::{Month as M, Number as N, Slash, Year as Y};
    let undashed: Vec<Token> =
        tokens.iter().copied().filter(|token| *token != Token::Dash).collect();
    // Dashes stand between parts, never at an end, where they would be a range without a side.
    if tokens.first() == Some(&Token::Dash) || tokens.last() == Some(&Token::Dash) {
        return None;
    }
    let (year, month, day) = match undashed[..] {
        [M(month), N(day), Y(year)] | [N(day), M(month), Y(year)] | [Y(year), M(month), N(day)] => {
            (Some(year), Some(month), Some(day))
        }
        [Y(year), N(month), N(day)] => (Some(year), Some(Month::try_from(month).ok()?), Some(day)),
        [N(one), Slash, N(other), Slash, Y(year)] | [N(one), N(other), Y(year)] => {
            let (day, month) = day_and_month(one, other, order)?;
            (Some(year), Some(month), Some(day))
        }
        [M(month), N(day)] | [N(day), M(month)] => (None, Some(month), Some(day)),
        [N(one), Slash, N(other)] => {
            let (day, month) = day_and_month(one, other, order)?;
            (None, Some(month), Some(day))
        }
        [M(month), Y(year)] | [Y(year), M(month)] => (Some(year), Some(month), None),
        [N(day), Slash, Y(year)] if after_slashed => (Some(year), None, Some(day)),
        [Y(year), N(month)] | [N(month), Slash, Y(year)] => {
            (Some(year), Some(Month::try_from(month).ok()?), None)
        }
        [N(day), Y(year)] => (Some(year), None, Some(day)),
        [N(day)] => (None, None, Some(day)),
        [M(month)] => (None, Some(month), None),
        _ => return None,
    };
    Some(Part { year, month, day })
}

fn calendar_day(text: &str, part: Part) -> Result<Day, String> {
    let Part { year: Some(year), month: Some(month), day: Some(day) } = part else {
        return Err(format!("“{text}” leaves out a part of the day; write it as 1980-07-16."));
    };
    if !(1900..=2199).contains(&year) {
        return Err(format!("“{text}” lies outside the years 1900 to 2199; check it."));
    }
    Date::from_calendar_date(year, month, day)
        .map(Day)
        .map_err(|_| format!("“{text}” is not a day: {month} {year} has no day {day}."))
}

/// Says what is odd about a text that is nearly a day.
fn hint(text: &str, tokens: Option<&[Token]>, order: DateOrder) -> Option<String> {
    use Token::{Dash, Month as M, Number as N, Slash, Year as Y};
    match tokens? {
        [N(one), Slash | Dash, N(other), Slash | Dash, Y(_)] | [N(one), N(other), Y(_)] => {
            let (month, says) = match order {
                DateOrder::DayFirst => (other, "the day first"),
                DateOrder::MonthFirst => (one, "the month first"),
            };
            (*month == 0 || *month > 12).then(|| {
                format!(
                    "“{text}” is read with {says}, and there is no month {month}. Correct it, or \
                     write it as 1980-07-16."
                )
            })
        }
        [N(_), Dash | Slash, M(_) | N(_), Dash | Slash, N(_)] | [N(_), M(_), N(_)] => {
            Some(format!("“{text}” has a year of two digits; write all four, as in 1980-07-16."))
        }
        [Y(_)] => Some(format!("“{text}” is a year alone; give the day, or leave it empty.")),
        [M(_), N(_)] | [N(_), M(_)] => {
            Some(format!("“{text}” has no year; write it as 1980-07-16."))
        }
        _ => None,
    }
}
