//! SVG drawings: data in, markup out. Each has a text equivalent in
//! `<title>` and `<desc>` and no style of its own: classes say what a shape is.

pub mod burn_up;
pub mod campaign_bar;
pub mod carry_line;
pub mod cause_bars;
pub mod cause_series;
pub mod chain;
pub mod columns;
pub mod constraint_bars;
pub mod dates_axis;
pub mod flights_strip;
pub mod lanes;
pub mod markup;
pub mod seat_lanes;
pub mod worksite_map;

#[cfg(test)]
mod seen;
