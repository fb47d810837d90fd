//! What was calculated from one state of the record, kept for all who read that state.
//!
//! Every save that changes the record moves its version, so what was calculated of one version is
//! never shown for another.

use std::any::{Any, TypeId};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::OnceCell;

/// So many results are kept; then the one goes that was asked for longest ago.
const MAX_KEPT: usize = 48;

/// A result, or the place for it while the first who asks works it out.
pub type Place<T> = Arc<OnceCell<Arc<T>>>;

/// Results of the newest version that was read.
#[derive(Debug, Default)]
pub struct Calculated(Mutex<Kept>);

#[derive(Debug, Default)]
struct Kept {
    version: i64,
    asked: u64,
    places: HashMap<(TypeId, String), (u64, Arc<dyn Any + Send + Sync>)>,
}

impl Calculated {
    /// The place for the result of that name. Who still reads an older version gets one of their
    /// own.
    pub fn place<T: Any + Send + Sync>(&self, version: i64, name: String) -> Place<T> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if version < kept.version {
            return Place::default();
        }
        if version > kept.version {
            *kept = Kept { version, ..Kept::default() };
        }
        kept.asked += 1;
        let asked = kept.asked;
        let key = (TypeId::of::<T>(), name);
        if let Some((last, place)) = kept.places.get_mut(&key)
            && let Ok(place) = Arc::clone(place).downcast::<OnceCell<Arc<T>>>()
        {
            *last = asked;
            return place;
        }
        if kept.places.len() >= MAX_KEPT {
            let oldest = kept.places.iter().min_by_key(|(_, (last, _))| *last);
            if let Some(key) = oldest.map(|(key, _)| key.clone()) {
                kept.places.remove(&key);
            }
        }
        let place = Place::<T>::default();
        kept.places.insert(key, (asked, Arc::<OnceCell<Arc<T>>>::clone(&place)));
        place
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn ask(kept: &Calculated, version: i64, name: &str, fresh: u32) -> u32 {
        let place = kept.place::<u32>(version, name.to_owned());
        **place.get_or_init(|| async move { Arc::new(fresh) }).await
    }

    #[tokio::test]
    async fn a_result_is_kept_until_the_version_moves() {
        let kept = Calculated::default();
        assert_eq!(ask(&kept, 1, "rooms", 10).await, 10);
        assert_eq!(ask(&kept, 1, "rooms", 11).await, 10);
        assert_eq!(ask(&kept, 1, "other", 12).await, 12);
        assert_eq!(ask(&kept, 2, "rooms", 20).await, 20);
        // Who still reads the older version neither gets what is newer nor takes it away.
        assert_eq!(ask(&kept, 1, "rooms", 13).await, 13);
        assert_eq!(ask(&kept, 2, "rooms", 21).await, 20);
    }

    #[tokio::test]
    async fn results_of_two_types_under_one_name_are_two() {
        let kept = Calculated::default();
        assert_eq!(ask(&kept, 1, "rooms", 10).await, 10);
        let place = kept.place::<String>(1, "rooms".to_owned());
        assert!(place.get().is_none());
    }

    #[tokio::test]
    async fn what_was_asked_for_longest_ago_goes_first() {
        let kept = Calculated::default();
        for name in 0..MAX_KEPT {
            ask(&kept, 1, &name.to_string(), 1).await;
        }
        ask(&kept, 1, "0", 2).await;
        ask(&kept, 1, "one more", 1).await;
        assert_eq!(ask(&kept, 1, "0", 3).await, 1);
        assert_eq!(ask(&kept, 1, "1", 3).await, 3);
    }
}
