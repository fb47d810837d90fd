//! Values reached, as pages show them: as entered, in SI units beside, and what is said of one that
//! lies past its limit.

use domain::cells::{Cell as _, List};
use domain::quantities::Measured;

/// A figure as pages show it: with a minus sign, which a hyphen is not.
pub(crate) fn figure(of: impl std::fmt::Display) -> String {
    of.to_string().replace('-', "−")
}

/// One value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct ValueView {
    pub text: String,
    pub si: Option<String>,
    /// What is said of it, where it lies past its limit.
    pub judged: Option<&'static str>,
}

pub(crate) fn values(reached: &[Measured]) -> Vec<ValueView> {
    let view = |one: &Measured| ValueView {
        text: one.entered.clone(),
        si: one.si_text(),
        judged: one.judgement(),
    };
    reached.iter().map(view).collect()
}

/// The same of a cell as it was typed.
pub(crate) fn values_of_cell(text: &str) -> Vec<ValueView> {
    List::<Measured>::read(text).map_or_else(|_| Vec::new(), |read| values(&read))
}

/// The values past their limits alone, as a cell of a file.
pub(crate) fn past_limits(values: &[ValueView]) -> String {
    let past = values.iter().filter_map(|one| Some(format!("{}: {}", one.text, one.judged?)));
    past.collect::<Vec<_>>().join("; ")
}
