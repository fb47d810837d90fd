//! Pages over HTTP.

pub mod addresses;
pub mod assets;
pub mod drawings;
pub mod forms;
pub mod frame;
pub mod marks;
