//! Secrets that the service hands out: session tokens, one-time links. Only their hashes are kept.

use std::fmt::Write as _;

use sha2::{Digest, Sha256};

use crate::Failure;
use store::StoreError;

/// 32 random bytes. Shown once, to the one it is meant for; never in a log.
#[derive(Clone, PartialEq, Eq)]
pub struct Token([u8; 32]);

impl Token {
    pub fn fresh() -> Result<Self, Failure> {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).map_err(|cause| {
            Failure::Internal(StoreError::Unusable(format!("no random bytes: {cause}")))
        })?;
        Ok(Self(bytes))
    }

    /// Reads what `show` wrote.
    pub fn read(text: &str) -> Option<Self> {
        if text.len() != 64 || !text.bytes().all(|b| b.is_ascii_hexdigit()) {
            return None;
        }
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(text.as_bytes().chunks_exact(2)) {
            *byte = u8::from_str_radix(std::str::from_utf8(pair).ok()?, 16).ok()?;
        }
        Some(Self(bytes))
    }

    /// 64 hexadecimal digits.
    pub fn show(&self) -> String {
        hex(&self.0)
    }

    /// What the database keeps.
    pub fn hash(&self) -> Vec<u8> {
        Sha256::digest(self.0).to_vec()
    }

    /// A second secret that follows from this one and does not give it away.
    pub fn derived(&self, purpose: &str) -> String {
        let mut hasher = Sha256::new();
        hasher.update(purpose);
        hasher.update([0]);
        hasher.update(self.0);
        hex(&hasher.finalize())
    }
}

impl std::fmt::Debug for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Token(…)")
    }
}

/// Bytes in lower-case hexadecimal.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_comes_back_from_its_text_and_stays_out_of_logs() {
        let token = Token::fresh().unwrap();
        assert_eq!(Token::read(&token.show()).as_ref(), Some(&token));
        assert_ne!(Token::fresh().unwrap(), token);
        assert_eq!(format!("{token:?}"), "Token(…)");
        assert!(Token::read("").is_none() && Token::read(&"+1".repeat(32)).is_none());
        assert!(Token::read(&"é".repeat(32)).is_none());
    }

    #[test]
    fn the_hash_is_sha_256() {
        // Source: NIST, Secure Hash Standard validation system, SHA256ShortMsg, Len = 256, 2014
        // (from memory: the digest of 32 zero bytes).
        let zeros = Token([0; 32]);
        assert_eq!(
            hex(&zeros.hash()),
            "66687aadf862bd776c8fc18b8e9f8e20089714856ee233b3902a591d0d5f2925"
        );
        assert_ne!(zeros.derived("csrf"), zeros.derived("other"));
        assert_ne!(zeros.derived("csrf"), hex(&zeros.hash()));
    }
}
