//! A value that copies share until one of them is changed.

use std::ops::{Deref, DerefMut};
use std::sync::Arc;

/// Reads as the value itself; to write to it makes it its owner's own. A record is copied for each
/// change that is tried on it, and a change touches one task of hundreds.
#[derive(Debug, Default)]
pub struct Shared<T>(Arc<T>);

impl<T> Clone for Shared<T> {
    fn clone(&self) -> Self {
        Self(Arc::clone(&self.0))
    }
}

impl<T> From<T> for Shared<T> {
    fn from(value: T) -> Self {
        Self(Arc::new(value))
    }
}

impl<T> Deref for Shared<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T: Clone> DerefMut for Shared<T> {
    fn deref_mut(&mut self) -> &mut T {
        Arc::make_mut(&mut self.0)
    }
}
