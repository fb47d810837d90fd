//! A swap: one unit comes out of a position and another goes in, on one day. What the stays of both
//! say against it, and what they are afterwards.

use std::fmt;

use crate::codes::PositionCode;
use crate::families::Stay;
use crate::time::Day;

/// Why the stays of a unit contradict its part in a swap.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Contradiction {
    /// It stood at another position on that day.
    Elsewhere { position: PositionCode },
    /// It stood there on until a later day.
    UntilLater { until: Day },
    /// It has stays, and none of them is there by that day.
    NotThere,
    /// It stood there before that day already.
    AlreadyThere { from: Option<Day> },
    /// It came there on a later day.
    OnlyLater { from: Day },
}

impl fmt::Display for Contradiction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Elsewhere { position } => write!(f, "stood at {position} on that day"),
            Self::UntilLater { until } => write!(f, "stood there until {until}"),
            Self::NotThere => f.write_str("did not stand there by that day"),
            Self::AlreadyThere { from: Some(from) } => {
                write!(f, "stood there already, since {from}")
            }
            Self::AlreadyThere { from: None } => f.write_str("stood there already"),
            Self::OnlyLater { from } => write!(f, "came there only on {from}"),
        }
    }
}

fn covers(stay: &Stay, day: Day) -> bool {
    stay.from_day.is_none_or(|from| from <= day) && stay.until_day.is_none_or(|until| until >= day)
}

/// The stays of a unit that comes out of a position on that day.
pub fn comes_out(
    stays: &[Stay],
    position: &PositionCode,
    day: Day,
) -> Result<Vec<Stay>, Contradiction> {
    let mut after = stays.to_vec();
    let here = |stay: &Stay| stay.position == *position && covers(stay, day);
    if let Some(at) = stays.iter().rposition(here) {
        match stays[at].until_day {
            Some(until) if until > day => return Err(Contradiction::UntilLater { until }),
            Some(_) | None => after[at].until_day = Some(day),
        }
        return Ok(after);
    }
    if stays.is_empty() {
        return Ok(vec![Stay { position: position.clone(), from_day: None, until_day: Some(day) }]);
    }
    let elsewhere = stays.iter().rfind(|stay| covers(stay, day));
    Err(elsewhere.map_or(Contradiction::NotThere, |stay| Contradiction::Elsewhere {
        position: stay.position.clone(),
    }))
}

/// The stays of a unit that goes into a position on that day. Where it stood elsewhere until then,
/// that stay ends.
pub fn goes_in(
    stays: &[Stay],
    position: &PositionCode,
    day: Day,
) -> Result<Vec<Stay>, Contradiction> {
    let mut after = stays.to_vec();
    let comes = |stay: &Stay| stay.position == *position && stay.from_day == Some(day);
    if stays.iter().any(comes) {
        return Ok(after);
    }
    for stay in &mut after {
        let is_here = stay.position == *position;
        if let Some(from) = stay.from_day.filter(|from| *from > day) {
            if is_here {
                return Err(Contradiction::OnlyLater { from });
            }
            continue;
        }
        let is_over = stay.until_day.is_some_and(|until| until <= day);
        match (is_over, is_here, stay.until_day) {
            (true, ..) => {}
            (false, true, _) => return Err(Contradiction::AlreadyThere { from: stay.from_day }),
            (false, false, None) => stay.until_day = Some(day),
            (false, false, Some(_)) => {
                return Err(Contradiction::Elsewhere { position: stay.position.clone() });
            }
        }
    }
    let later = |stay: &Stay| stay.from_day.is_some_and(|from| from > day);
    let at = after.iter().position(later).unwrap_or(after.len());
    let until_day = after.get(at).and_then(|next| next.from_day);
    after.insert(at, Stay { position: position.clone(), from_day: Some(day), until_day });
    Ok(after)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cells::Cell as _;

    fn day(text: &str) -> Day {
        Day::read(text).unwrap()
    }

    fn stay(position: &str, from: &str, until: &str) -> Stay {
        let known = |text: &str| (!text.is_empty()).then(|| day(text));
        Stay { position: position.into(), from_day: known(from), until_day: known(until) }
    }

    fn out(stays: &[Stay]) -> Result<Vec<Stay>, Contradiction> {
        comes_out(stays, &"pump A".into(), day("2030-11-01"))
    }

    fn into(stays: &[Stay]) -> Result<Vec<Stay>, Contradiction> {
        goes_in(stays, &"pump A".into(), day("2030-11-01"))
    }

    #[test]
    fn the_stay_of_what_comes_out_ends() {
        let there = stay("pump A", "2026-03-02", "");
        assert_eq!(out(&[there]), Ok(vec![stay("pump A", "2026-03-02", "2030-11-01")]));
        assert_eq!(out(&[]), Ok(vec![stay("pump A", "", "2030-11-01")]));
        // A record that tells of the swap already stays as it is.
        let told = [stay("pump A", "", "2030-11-01"), stay("rack 2", "2030-11-01", "")];
        assert_eq!(out(&told), Ok(told.to_vec()));
    }

    #[test]
    fn what_did_not_stand_there_cannot_have_come_out() {
        let elsewhere = Contradiction::Elsewhere { position: "pump B".into() };
        assert_eq!(out(&[stay("pump B", "2026-03-02", "")]), Err(elsewhere));
        let on = Contradiction::UntilLater { until: day("2030-12-24") };
        assert_eq!(out(&[stay("pump A", "", "2030-12-24")]), Err(on));
        let gone = stay("pump A", "2026-03-02", "2028-01-01");
        assert_eq!(out(&[gone]), Err(Contradiction::NotThere));
        assert_eq!(out(&[stay("pump A", "2030-11-02", "")]), Err(Contradiction::NotThere));
    }

    #[test]
    fn what_goes_in_leaves_where_it_stood() {
        assert_eq!(into(&[]), Ok(vec![stay("pump A", "2030-11-01", "")]));
        let rack = stay("rack 2", "2026-03-02", "");
        let moved =
            vec![stay("rack 2", "2026-03-02", "2030-11-01"), stay("pump A", "2030-11-01", "")];
        assert_eq!(into(&[rack]), Ok(moved.clone()));
        assert_eq!(into(&moved), Ok(moved.clone()), "twice is once");
        // Where it went afterwards ends the stay.
        let later = stay("pump B", "2031-02-01", "");
        let between = vec![stay("pump A", "2030-11-01", "2031-02-01"), later.clone()];
        assert_eq!(into(&[later]), Ok(between));
    }

    #[test]
    fn what_stood_there_or_elsewhere_cannot_have_gone_in() {
        let since = Contradiction::AlreadyThere { from: Some(day("2026-03-02")) };
        assert_eq!(into(&[stay("pump A", "2026-03-02", "")]), Err(since));
        let elsewhere = Contradiction::Elsewhere { position: "pump B".into() };
        assert_eq!(into(&[stay("pump B", "", "2030-12-24")]), Err(elsewhere));
        let later = Contradiction::OnlyLater { from: day("2030-12-01") };
        assert_eq!(into(&[stay("pump A", "2030-12-01", "")]), Err(later));
    }
}
