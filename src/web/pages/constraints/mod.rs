//! What the vehicle may not do meanwhile: the list, one constraint, and lifting it.

mod list;
mod rows;
mod show;

pub(crate) use list::list;
pub(crate) use rows::{ended_by, forbidden_line, safe_until};
pub(crate) use show::{lift, put_back, show};
