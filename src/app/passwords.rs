//! Passwords: hashed with argon2id, a bounded number at a time, off the threads that answer
//! requests.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use tokio::sync::Semaphore;

use crate::Failure;
use domain::bounds::{MAX_HASHING, MAX_HASHING_WAITING};
use store::StoreError;

/// Seconds after which a password that found no place is worth sending again.
const SECONDS_TO_RETRY: i64 = 5;
/// Compared with where there is no such person, so that the answer takes as long; no known
/// password gives it. Its cost is that of a fresh hash (there is a test).
const NOBODY: &str = "$argon2id$v=19$m=19456,t=2,p=1$Ym9keSBhdCBhbGwgaGVyZQ$qL5Yd0vNn1r0m8J2p4hWc6uXoZt3sKfEwQxGyB7iTlA";
/// Stands where a hash would while a person has no password; it is no hash, so nothing fits it.
pub const NONE_YET: &str = "none yet";

/// The place where passwords are hashed.
#[derive(Debug)]
pub struct Hashing {
    turns: Semaphore,
    places: Semaphore,
}

impl Default for Hashing {
    fn default() -> Self {
        let places = MAX_HASHING + MAX_HASHING_WAITING;
        Self { turns: Semaphore::new(MAX_HASHING), places: Semaphore::new(places) }
    }
}

impl Hashing {
    /// A PHC string for a new password.
    pub async fn hash(&self, password: &str) -> Result<String, Failure> {
        let password = password.to_owned();
        self.run(move || {
            Argon2::default().hash_password(password.as_bytes()).map(|hash| hash.to_string())
        })
        .await?
        .map_err(|cause| broken(&cause.to_string()))
    }

    /// Whether the password gives that hash; takes as long where there is none.
    pub async fn fits(&self, password: &str, hash: Option<&str>) -> Result<bool, Failure> {
        let password = password.to_owned();
        let known = hash.is_some_and(|hash| PasswordHash::new(hash).is_ok());
        let hash = hash.filter(|_| known).unwrap_or(NOBODY).to_owned();
        let fits = self
            .run(move || {
                PasswordHash::new(&hash).is_ok_and(|hash| {
                    Argon2::default().verify_password(password.as_bytes(), &hash).is_ok()
                })
            })
            .await?;
        Ok(fits && known)
    }

    async fn run<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Failure> {
        let _place = self.places.try_acquire().map_err(|_| {
            let words = format!(
                "{MAX_HASHING_WAITING} people are signing in at this moment, and no more can wait. \
                 Try again in {SECONDS_TO_RETRY} seconds."
            );
            Failure::Busy(words, SECONDS_TO_RETRY)
        })?;
        let _turn = self.turns.acquire().await.map_err(|cause| broken(&cause.to_string()))?;
        tokio::task::spawn_blocking(work).await.map_err(|cause| broken(&cause.to_string()))
    }
}

/// Whether a hash was made at a cost that is no longer ours, so that it should be made anew.
pub fn is_outdated(hash: &str) -> bool {
    PasswordHash::new(hash).is_ok_and(|hash| {
        let ours = argon2::Params::default();
        hash.algorithm.as_str() != "argon2id"
            || hash.params.get_decimal("m") != Some(ours.m_cost())
            || hash.params.get_decimal("t") != Some(ours.t_cost())
            || hash.params.get_decimal("p") != Some(ours.p_cost())
    })
}

fn broken(why: &str) -> Failure {
    Failure::Internal(StoreError::Unusable(format!("a password could not be hashed: {why}")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn every_byte_of_a_password_counts() {
        let hashing = Hashing::default();
        let hash = hashing.hash("a rusty lamp, ünd ").await.unwrap();
        assert!(hashing.fits("a rusty lamp, ünd ", Some(&hash)).await.unwrap());
        for other in ["a rusty lamp, ünd", "A rusty lamp, ünd ", "a rusty lamp, und ", ""] {
            assert!(!hashing.fits(other, Some(&hash)).await.unwrap(), "{other:?}");
        }
    }

    #[tokio::test]
    async fn nothing_fits_where_there_is_no_hash() {
        let hashing = Hashing::default();
        assert!(!hashing.fits("", None).await.unwrap());
        assert!(!hashing.fits(NONE_YET, Some(NONE_YET)).await.unwrap());
    }

    #[tokio::test]
    async fn a_fresh_hash_costs_what_the_standard_asks_and_so_does_the_one_of_nobody() {
        // Source: OWASP ASVS 5.0.0, appendix C, argon2id with t = 2: m at least 19,456 KiB, 2025.
        let hash = Hashing::default().hash("a rusty lamp").await.unwrap();
        assert!(hash.starts_with("$argon2id$v=19$m=19456,t=2,p=1$"), "{hash}");
        assert!(!is_outdated(&hash));
        assert!(PasswordHash::new(NOBODY).is_ok() && !is_outdated(NOBODY));
        assert!(is_outdated(&hash.replace("m=19456", "m=8192")));
    }
}
