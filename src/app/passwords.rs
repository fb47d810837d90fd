//! Passwords: hashed with argon2id, a bounded number at a time, off the threads that answer
//! requests.

use argon2::password_hash::phc::{Output, ParamsString, PasswordHash, Salt};
use argon2::{Algorithm, Argon2, Block, Params, Version};
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
pub(crate) const NONE_YET: &str = "none yet";

/// A piece of memory above this size is taken from the system by itself and given back at once. Below
/// it, the C library learns from the first piece that was given back to keep the next ones, and a few
/// sign-ins hold 60 MB for as long as the service runs.
// Source: mallopt(3), M_MMAP_THRESHOLD, Linux man-pages 6.9 (the threshold grows up to 32 MiB), 2024.
const GIVEN_BACK: usize = 33 * 1024 * 1024;

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
        self.run(move || hashed(password.as_bytes()))
            .await?
            .ok_or_else(|| broken("the parameters do not fit"))
    }

    /// Whether the password gives that hash; takes as long where there is none.
    pub async fn fits(&self, password: &str, hash: Option<&str>) -> Result<bool, Failure> {
        let password = password.to_owned();
        let known = hash.is_some_and(|hash| PasswordHash::new(hash).is_ok());
        let hash = hash.filter(|_| known).unwrap_or(NOBODY).to_owned();
        let fits = self
            .run(move || {
                PasswordHash::new(&hash).is_ok_and(|hash| gives(password.as_bytes(), &hash))
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

/// A PHC string for a password, with salt of its own.
fn hashed(password: &[u8]) -> Option<String> {
    let mut salt = [0; Salt::RECOMMENDED_LENGTH];
    getrandom::fill(&mut salt).ok()?;
    let params = Params::default();
    let argon = Argon2::new(Algorithm::Argon2id, Version::V0x13, params.clone());
    let output = worked_out(&argon, password, &salt, Params::DEFAULT_OUTPUT_LEN)?;
    let hash = PasswordHash {
        algorithm: Algorithm::Argon2id.ident(),
        version: Some(Version::V0x13.into()),
        params: ParamsString::try_from(&params).ok()?,
        salt: Some(Salt::new(&salt).ok()?),
        hash: Some(output),
    };
    Some(hash.to_string())
}

/// Whether a password gives this hash; compared in a time that tells nothing.
fn gives(password: &[u8], hash: &PasswordHash) -> bool {
    let again = || {
        let algorithm = Algorithm::try_from(hash.algorithm.as_str()).ok()?;
        let version = match hash.version {
            Some(version) => Version::try_from(version).ok()?,
            None => Version::default(),
        };
        let params = Params::try_from(hash).ok()?;
        let argon = Argon2::new(algorithm, version, params);
        worked_out(&argon, password, hash.salt.as_ref()?, hash.hash.as_ref()?.len())
    };
    // `Output` compares in constant time.
    again().is_some_and(|output| hash.hash == Some(output))
}

fn worked_out(argon: &Argon2<'_>, password: &[u8], salt: &[u8], length: usize) -> Option<Output> {
    let blocks = argon.params().block_count();
    let mut memory: Vec<Block> = Vec::with_capacity(blocks.max(GIVEN_BACK / Block::SIZE));
    memory.resize(blocks, Block::new());
    let mut output = [0; Output::MAX_LENGTH];
    let output = output.get_mut(..length)?;
    argon.hash_password_into_with_memory(password, salt, output, &mut memory[..]).ok()?;
    Output::new(output).ok()
}

/// Whether a hash was made at a cost that is no longer ours, so that it should be made anew.
pub(crate) fn is_outdated(hash: &str) -> bool {
    PasswordHash::new(hash).is_ok_and(|hash| {
        let ours = Params::default();
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
    async fn a_hash_that_another_program_made_fits() {
        // Source: the reference program of the Password Hashing Competition, argon2 20190702,
        // `src/test.c`, version 0x13, Argon2id, t = 2, m = 65536, p = 1, 2019.
        let hash = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
        let hashing = Hashing::default();
        assert!(hashing.fits("password", Some(hash)).await.unwrap());
        assert!(!hashing.fits("passwore", Some(hash)).await.unwrap());
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
