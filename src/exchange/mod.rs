//! Reading and writing files. Nothing here asks the database or a browser.

pub mod days;
pub mod table;
