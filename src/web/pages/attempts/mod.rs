//! Attempts: the one form in which they are recorded and corrected, and how one is withdrawn.

mod form;
pub(crate) mod photos;
mod places;
mod withdraw;

pub(crate) use form::{blank, correct, filled, record};
pub(crate) use withdraw::{WithdrawView, withdraw};
