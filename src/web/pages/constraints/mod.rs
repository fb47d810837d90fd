//! What the vehicle may not do meanwhile: the list, one constraint, and lifting it.

mod list;
mod rows;
mod show;

pub(crate) use list::{axis, list};
pub(crate) use rows::{bar, ended_by, forbidden_line, safe_until, until_flight};
pub(crate) use show::{lift, put_back, show};
