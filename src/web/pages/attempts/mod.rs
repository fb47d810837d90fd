//! Attempts: the one form in which they are recorded and corrected, and how one is withdrawn.

mod withdraw;

pub(crate) use withdraw::{WithdrawView, withdraw};
