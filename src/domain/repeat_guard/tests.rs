//! Tests of the guard.
