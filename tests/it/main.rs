//! The service as a browser meets it: every test asks over the router and reads the answer.

mod command_line;
mod doors;
mod people;
mod serving;
mod support;
