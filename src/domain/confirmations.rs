//! What was asked about an attempt because it is unlikely, who answered, and when.

use crate::cells::{Cell, Input, Line, stored_as_text};
use crate::time::Moment;
use crate::units::Minutes;

/// What a person is asked to confirm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doubt {
    /// The minutes are that many.
    Minutes(Minutes),
    /// Nobody knows the minutes.
    NoMinutes,
    /// Whatever is unlikely about this row; a table says so with a “yes”.
    Anything,
}

/// An answer: `320 min by marit at 2030-11-21 14:20`. What was sent and not kept yet has neither
/// name nor time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Confirmation {
    pub asked: Doubt,
    pub by: Option<Line>,
    pub at: Option<Moment>,
}

impl Confirmation {
    /// Whether it answers this question.
    pub fn answers(&self, asked: Doubt) -> bool {
        self.asked == asked || self.asked == Doubt::Anything
    }

    /// The same answer with the person who gives it, to the minute.
    pub fn given(asked: Doubt, by: String, at: Moment) -> Self {
        Self { asked, by: Some(Line::known(by)), at: Some(Moment(at.0 - at.0.rem_euclid(60_000))) }
    }
}

impl Doubt {
    /// The word that a form sends to confirm it.
    pub fn word(self) -> String {
        match self {
            Self::Minutes(minutes) => format!("{} min", minutes.0),
            Self::NoMinutes => "no minutes".to_owned(),
            Self::Anything => "yes".to_owned(),
        }
    }

    fn named(word: &str) -> Option<Self> {
        match word {
            "no minutes" => Some(Self::NoMinutes),
            "yes" => Some(Self::Anything),
            _ => {
                let minutes = word.strip_suffix(" min")?.parse().ok()?;
                Some(Self::Minutes(Minutes(minutes)))
            }
        }
    }
}

impl Cell for Confirmation {
    const INPUT: Input = Input::Line;
    fn read(text: &str) -> Result<Self, String> {
        let wrong = || format!("“{text}” confirms nothing; write “yes”, or leave it empty.");
        let text = text.trim();
        let (asked, rest) = text.split_once(" by ").unwrap_or((text, ""));
        let asked = Doubt::named(asked.trim()).ok_or_else(wrong)?;
        if rest.is_empty() {
            return Ok(Self { asked, by: None, at: None });
        }
        let (by, at) = rest.rsplit_once(" at ").ok_or_else(wrong)?;
        Ok(Self { asked, by: Some(Line::read(by)?), at: Some(Moment::read(at)?) })
    }
    fn show(&self) -> String {
        match (&self.by, self.at) {
            (Some(by), Some(at)) => {
                format!("{} by {by} at {}", self.asked.word(), at.to_the_minute())
            }
            _ => self.asked.word(),
        }
    }
}

stored_as_text!(Confirmation);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_is_read_back_as_it_is_shown() {
        let at = Moment::read("2030-11-21 14:20:59").unwrap();
        for asked in [Doubt::Minutes(Minutes(320)), Doubt::NoMinutes, Doubt::Anything] {
            let given = Confirmation::given(asked, "Ann at base by night".to_owned(), at);
            assert_eq!(Confirmation::read(&given.show()), Ok(given.clone()));
            assert!(given.show().ends_with("at 2030-11-21 14:20"), "{}", given.show());
            let sent = Confirmation { asked, by: None, at: None };
            assert_eq!(Confirmation::read(&sent.show()), Ok(sent));
        }
        for text in ["maybe", "320", "min", "320 min by marit"] {
            assert!(Confirmation::read(text).unwrap_err().contains("“yes”"), "{text}");
        }
    }

    #[test]
    fn an_answer_holds_for_its_own_value_alone() {
        let long = Confirmation { asked: Doubt::Minutes(Minutes(320)), by: None, at: None };
        assert!(long.answers(Doubt::Minutes(Minutes(320))));
        assert!(!long.answers(Doubt::Minutes(Minutes(330))) && !long.answers(Doubt::NoMinutes));
        let yes = Confirmation { asked: Doubt::Anything, by: None, at: None };
        assert!(yes.answers(Doubt::NoMinutes));
    }
}
