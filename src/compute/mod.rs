//! Numbers in, numbers out: synchronous, seeded, ignorant of storage and pages.

pub mod fit;
pub mod timeline;
pub mod travel;
