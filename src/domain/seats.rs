//! Who sits where: the seats of an excursion, each with a crew code where it is known.

use crate::cells::{Cell, Input, stored_as_text};

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

    /// Seats of those numbers with nobody in them.
    pub fn of(numbers: impl IntoIterator<Item = u8>) -> Self {
        Self(numbers.into_iter().map(|number| Seat { number, crew: None }).collect())
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
        let parts = |c: char| c.is_whitespace() || ",;:=/&+".contains(c);
        for word in text.split(parts).filter(|w| !w.is_empty() && !w.eq_ignore_ascii_case("and")) {
            match seat_number(word) {
                Some(Ok(number)) => {
                    if seats.iter().any(|seat| seat.number == number) {
                        return Err(format!("EV{number} is named twice."));
                    }
                    seats.push(Seat { number, crew: None });
                }
                Some(Err(message)) => return Err(message),
                None => match seats.last_mut() {
                    Some(seat) if seat.crew.is_none() && word.chars().count() <= 24 => {
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

/// The number of a word that names a seat; `None` where it names none.
fn seat_number(word: &str) -> Option<Result<u8, String>> {
    let digits = word.get(..2).filter(|ev| ev.eq_ignore_ascii_case("ev")).and(word.get(2..))?;
    if digits.is_empty() || !digits.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    Some(match digits.parse::<u8>() {
        Ok(number @ 1..=9) => Ok(number),
        _ => Err(format!("“{word}” is not a seat; seats are EV1 to EV9.")),
    })
}

stored_as_text!(Seats);

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn shown(text: &str) -> String {
        Seats::read(text).unwrap_or_else(|message| panic!("{message}")).show()
    }

    #[test]
    fn seats_are_read_however_they_are_parted() {
        for text in [
            "EV1 C-4, EV2 C-7",
            "ev2: C-7; ev1: C-4",
            "EV1=C-4 EV2=C-7",
            "EV1 C-4 and EV2 C-7",
            "EV1 C-4 / EV2 C-7",
            "EV01\u{a0}C-4\nEV2\tC-7  ",
        ] {
            assert_eq!(shown(text), "EV1 C-4, EV2 C-7", "{text}");
        }
        assert_eq!(shown("EV1  EV2  EV3  "), "EV1, EV2, EV3");
        assert_eq!(shown(&Seats::empty(2).names()), "EV1, EV2");
    }

    #[test]
    fn names_and_slips_are_refused() {
        for (text, words) in [
            ("EV1 C-4, EV1 C-7", "EV1 is named twice"),
            ("C-4", "does not follow a seat"),
            ("EV1 Ada Example", "“Example” does not follow a seat"),
            ("EV0", "EV1 to EV9"),
            ("EV1 EV12", "EV1 to EV9"),
            ("EV1 EV999999999999", "EV1 to EV9"),
        ] {
            let message = Seats::read(text).unwrap_err();
            assert!(message.contains(words), "{text}: {message}");
        }
        assert!(Seats::read(&format!("EV1 {}", "é".repeat(24))).is_ok());
        assert!(Seats::read(&format!("EV1 {}", "é".repeat(25))).is_err());
    }

    proptest! {
        #[test]
        fn any_crew_is_read_back(
            crew in proptest::collection::vec(proptest::option::of("[A-DF-Z]-[0-9]{1,3}"), 0..9),
        ) {
            let seats = Seats(
                (1u8..).zip(crew).map(|(number, crew)| Seat { number, crew }).collect(),
            );
            prop_assert_eq!(Seats::read(&seats.show()), Ok(seats));
        }
    }
}
