//! Values that were measured or reached, with unit and limit, kept as entered.

use crate::domain::cells::{Cell, Input};

/// One value reached, as in `grip force 180 N (limit 200 N)`.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    pub entered: String,
}

impl Cell for Measured {
    const INPUT: Input = Input::Prose;
    fn read(text: &str) -> Result<Self, String> {
        Ok(Self { entered: text.split_whitespace().collect::<Vec<_>>().join(" ") })
    }
    fn show(&self) -> String {
        self.entered.clone()
    }
}
