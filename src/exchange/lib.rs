//! Reading and writing files. Nothing here asks the database or a browser.

pub mod days;
pub mod encoding;
pub mod evidence;
pub mod heads;
mod rows;
pub mod same_rows;
mod separator;
pub mod table;
pub mod write;
pub mod xlsx;

#[cfg(test)]
mod tests;
