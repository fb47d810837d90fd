//! Attempts: the one form in which they are recorded and corrected, the finding that is written from
//! one, and how one is withdrawn.

pub(crate) mod finding;
mod form;
mod known;
pub(crate) mod photos;
mod places;
mod what_changed;
mod withdraw;

pub(crate) use form::{blank, correct, filled, record};
pub(crate) use withdraw::{WithdrawView, withdraw};
