//! SVG drawings: data in, markup out.

pub mod carry_line;
pub mod cause_bars;
pub mod flights_strip;
pub mod worksite_map;
