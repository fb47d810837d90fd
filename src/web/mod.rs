//! Pages over HTTP.

pub mod drawings;
