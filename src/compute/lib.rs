//! Numbers in, numbers out: synchronous, seeded, ignorant of storage and pages.

pub mod day;
pub mod fit;
pub mod lighting;
pub mod normal;
pub mod places;
pub mod supplies;
pub mod three_point;
pub mod timeline;
pub mod travel;
pub mod value;
