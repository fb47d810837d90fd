//! The service as a browser meets it: every test asks over the router and reads the answer.

mod people;
mod support;
