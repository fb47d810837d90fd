//! Tests of the standing.
