//! The codes people say aloud: one type per kind, so that a task is never taken for a tool.

use unicode_normalization::UnicodeNormalization as _;

use crate::cells::{Cell, Input};
use crate::kinds::Kind;

/// The longest code, in characters.
pub const MAX_LETTERS: usize = 64;

/// Reads a code: trimmed, doubled blanks folded, letters composed, no characters that an address or a list of
/// codes could not carry.
pub fn read(text: &str) -> Result<String, String> {
    let folded = text.split_whitespace().collect::<Vec<_>>().join(" ");
    // Source: Unicode Standard Annex #15, Unicode Normalization Forms, section 1.2 (form C), 2024.
    let folded: String = folded.nfc().collect();
    if folded.chars().count() > MAX_LETTERS {
        return Err(format!("A code has at most {MAX_LETTERS} characters."));
    }
    if let Some(bad) = folded.chars().find(|c| c.is_control() || ",;?#%\\\"<>".contains(*c)) {
        return Err(format!("A code cannot hold “{bad}”."));
    }
    if folded.contains(unseen) {
        return Err("A code cannot hold a character that nobody sees; type it again.".to_owned());
    }
    if folded == "." || folded == ".." || folded.eq_ignore_ascii_case("new") {
        return Err(format!("“{folded}” cannot be a code; choose another."));
    }
    Ok(folded)
}

/// Characters without a mark of their own, and those that turn the direction of writing: with them
/// two codes could look the same.
// Source: Unicode Character Database, DerivedCoreProperties.txt (Default_Ignorable_Code_Point),
// 2024; and the blank pattern of Braille.
fn unseen(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}'
        | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{2800}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}'
        | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0000}'..='\u{e0fff}')
}

macro_rules! codes {
    ($($(#[$doc:meta])* $name:ident of $kind:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type,
            serde::Serialize, serde::Deserialize)]
        #[sqlx(transparent)]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            pub const KIND: Kind = Kind::$kind;
            pub fn as_str(&self) -> &str { &self.0 }
            /// A record that has not been given its code yet.
            pub fn is_blank(&self) -> bool { self.0.is_empty() }
        }

        impl From<String> for $name {
            fn from(code: String) -> Self { Self(code) }
        }
        impl From<&str> for $name {
            fn from(code: &str) -> Self { Self(code.to_owned()) }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { f.pad(&self.0) }
        }
        impl Cell for $name {
            const INPUT: Input = Input::Code(Kind::$kind);
            fn read(text: &str) -> Result<Self, String> { read(text).map(Self) }
            fn show(&self) -> String { self.0.clone() }
        }
    )+};
}

codes! {
    FlightCode of Flight, WorksiteCode of Worksite, FamilyCode of Family,
    PositionCode of Position, UnitCode of Unit, TechniqueCode of Technique, ToolCode of Tool,
    ExcursionCode of Excursion, TaskCode of Task, LinkCode of Link, SlotCode of Slot,
    AttemptCode of Attempt, DeferralCode of Deferral, ClosureCode of Closure,
    ParkingCode of Parking, ReopeningCode of Reopening, CauseCode of Cause,
    FindingCode of Finding, RemedyCode of Remedy, ExemptionCode of Exemption,
    RehearsalCode of Rehearsal, RevisionCode of Revision, DeclineCode of Decline, OutsideCode of OutsideItem,
    ConstraintCode of Constraint, ExcursionToolCode of ExcursionTool,
    RouteCode of Route, SettingsCode of Settings, SuitRatesCode of SuitRates, ViewCode of View,
    InhibitCode of Inhibit, ArrangementCode of Arrangement, QualificationCode of Qualification,
    FileCode of File,
}

/// The code of a record itself, which may be left empty: the next free one is given then.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, sqlx::Type)]
#[sqlx(transparent)]
pub struct Own<C>(pub C);

impl<C: Cell + Default> Cell for Own<C> {
    const INPUT: Input = Input::Line;
    const REQUIRED: bool = false;
    fn read(text: &str) -> Result<Self, String> {
        C::read(text).map(Self)
    }
    fn show(&self) -> String {
        self.0.show()
    }
    fn blank() -> Option<Self> {
        Some(Self(C::default()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_kept_as_spoken_with_blanks_folded() {
        for (text, code) in [
            ("T-0142", "T-0142"),
            (" E-31.2 ", "E-31.2"),
            ("W-KEEL4", "W-KEEL4"),
            ("Lander 3 /      Depot-2", "Lander 3 / Depot-2"),
            ("Ж-4\u{a0}b", "Ж-4 b"),
            // Source: Unicode Standard Annex #15, figure 3 (A with ring above), 2024.
            ("W-A\u{30a}", "W-\u{c5}"),
        ] {
            assert_eq!(TaskCode::read(text).map(|code| code.show()), Ok(code.to_owned()));
        }
    }

    #[test]
    fn a_code_that_an_address_or_a_list_could_not_carry_is_refused() {
        for text in ["a,b", "a;b", "a?b", "a#b", "50%", "a\\b", "a\"b", "<a>", "a\0b"] {
            let message = TaskCode::read(text).unwrap_err();
            assert!(message.starts_with("A code cannot hold"), "{text}: {message}");
        }
        for text in [".", "..", "new", "NEW"] {
            assert!(TaskCode::read(text).unwrap_err().contains("choose another"), "{text}");
        }
        for text in
            ["T-1\u{200b}", "\u{202e}1-T", "T\u{ad}-1", "\u{feff}T-1", "T\u{2800}1", "T\u{fe0f}1"]
        {
            assert!(TaskCode::read(text).unwrap_err().contains("nobody sees"), "{text:?}");
        }
        assert!(TaskCode::read(&"é".repeat(MAX_LETTERS)).is_ok());
        assert!(TaskCode::read(&"é".repeat(MAX_LETTERS + 1)).unwrap_err().contains("64"));
    }
}
