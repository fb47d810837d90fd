//! The carry line of one task, small for narrow windows and large with a row an approach.

use super::sides::Sides;
use crate::drawings::carry_line::{Approach, Style, large, small};
use crate::drawings::markup::Drawing;
use crate::pages::carry::Traced;

/// The approaches come in the order in which they were first tried, then those that were not.
pub(super) fn draw(traced: &Traced<'_>, sides: &Sides, code: &str) -> (Drawing, Drawing) {
    let named: Vec<Approach> = sides
        .columns
        .iter()
        .map(|column| Approach { name: column.side.clone(), way: column.way.clone() })
        .collect();
    let narrow = small(&traced.line, &format!("narrow-{code}"), Style::Headed);
    (narrow, large(&traced.line, &named, &format!("large-{code}")))
}
