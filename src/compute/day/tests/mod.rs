//! The day against an independent simulator, and its own laws.

mod crew_day;
mod drops;
mod late_card;
mod made;
mod minutes;
mod outlook;
mod speed;
