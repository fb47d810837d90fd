//! Holdover keeps the tasks of one flight after another that were attempted, failed or deferred,
//! and finds where they fit next.
//!
//! Arrows point down only: `web` and `cli` use `app`; `app` uses `store`, `compute` and
//! `exchange`; all of them use `domain`. `compute` and `store` do not know each other.

pub mod app;
pub mod cli;
pub mod clock;
pub mod compute;
pub mod config;
pub mod demo;
pub mod domain;
pub mod exchange;
pub mod load;
pub mod store;
pub mod web;
