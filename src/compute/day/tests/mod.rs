//! The day against an independent simulator, and its own laws.

mod aids;
mod cards;
mod crew_day;
mod drops;
mod get_aheads;
mod late_card;
mod made;
mod minutes;
mod outlook;
mod speed;
mod steps;
mod windows;
