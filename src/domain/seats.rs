//! Who sits where: the seats of an excursion, each with a crew code where it is known.

use crate::domain::cells::{Cell, Input, stored_as_text};

/// One seat outside, `EV1` upwards. A crew code is never a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seat {
    pub number: u8,
    pub crew: Option<String>,
}

/// The seats in order, as in `EV1 C-4, EV2 C-7`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Seats(pub Vec<Seat>);

impl Seats {
    /// The seats `EV1` to `EV<count>` with nobody in them.
    pub fn empty(count: u8) -> Self {
        Self((1..=count).map(|number| Seat { number, crew: None }).collect())
    }

    pub fn numbers(&self) -> impl Iterator<Item = u8> {
        self.0.iter().map(|seat| seat.number)
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// `EV1 and EV2`, without the crew codes.
    pub fn names(&self) -> String {
        let names: Vec<String> = self.numbers().map(|number| format!("EV{number}")).collect();
        names.join(" and ")
    }
}

impl Cell for Seats {
    const INPUT: Input = Input::Line;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        let mut seats: Vec<Seat> = Vec::new();
        for word in
            text.split([',', ';', '\n', ' ', '\t', ':', '=', '\u{a0}']).filter(|w| !w.is_empty())
        {
            let upper = word.to_uppercase();
            match upper.strip_prefix("EV").map(str::parse::<u8>) {
                Some(Ok(number @ 1..=9)) => {
                    if seats.iter().any(|seat| seat.number == number) {
                        return Err(format!("EV{number} is named twice."));
                    }
                    seats.push(Seat { number, crew: None });
                }
                _ => match seats.last_mut() {
                    Some(seat) if seat.crew.is_none() && word.len() <= 24 => {
                        seat.crew = Some(word.to_owned());
                    }
                    _ => {
                        return Err(format!(
                            "“{word}” does not follow a seat; write EV1 C-4, EV2 C-7 (crew codes, no names)."
                        ));
                    }
                },
            }
        }
        seats.sort_by_key(|seat| seat.number);
        Ok(Self(seats))
    }
    fn show(&self) -> String {
        let each = |seat: &Seat| match &seat.crew {
            Some(crew) => format!("EV{} {crew}", seat.number),
            None => format!("EV{}", seat.number),
        };
        self.0.iter().map(each).collect::<Vec<_>>().join(", ")
    }
    fn blank() -> Option<Self> {
        Some(Self::default())
    }
}

stored_as_text!(Seats);
