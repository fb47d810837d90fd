//! Answers that were worked out, for all who watch the same minute of the same day.

use std::sync::{Mutex, PoisonError};

use super::Answers;
use domain::codes::ExcursionCode;
use domain::units::Pet;

/// What answers hang on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    pub excursion: ExcursionCode,
    pub run: Option<String>,
    /// The number of the last press.
    pub number: i64,
    pub pet: Option<Pet>,
    /// The version of the record.
    pub version: i64,
}

/// The newest answers of the days that are looked at.
#[derive(Debug, Default)]
pub struct Kept(Mutex<Vec<(Key, Answers)>>);

/// Days and practice runs that are looked at side by side.
const MAX_READ: usize = 16;

impl Kept {
    pub fn find(&self, key: &Key) -> Option<Answers> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(known, _)| known == key).map(|(_, answers)| answers.clone())
    }

    /// Takes the place of older answers to the same day.
    pub fn keep(&self, key: Key, answers: Answers) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|(known, _)| known.excursion != key.excursion || known.run != key.run);
        if kept.len() >= MAX_READ {
            kept.remove(0);
        }
        kept.push((key, answers));
    }
}
