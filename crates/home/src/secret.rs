//! Secrets: where they come from, how they are kept, how they are compared.

use argon2::Argon2;
use argon2::password_hash::{PasswordHash, PasswordHasher, PasswordVerifier, SaltString};
use sha2::{Digest, Sha256};

use crate::{HomeError, Result};

/// Bytes from the machine's own source.
pub(crate) fn chance<const N: usize>() -> Result<[u8; N]> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|error| HomeError::Chance(error.to_string()))?;
    Ok(bytes)
}

/// A secret of 256 bits, as it is handed out, and its digest, which alone is kept: whoever reads the folder cannot come in
/// by it. A random secret of that length needs no slow digest.
pub(crate) fn token() -> Result<(String, String)> {
    let token = hex(&chance::<32>()?);
    let digest = digest(&token);
    Ok((token, digest))
}

pub(crate) fn digest(token: &str) -> String {
    hex(&Sha256::digest(token.as_bytes()))
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Whether two texts are the same, in a time that does not tell where they differ.
pub(crate) fn same(a: &str, b: &str) -> bool {
    let (a, b) = (Sha256::digest(a), Sha256::digest(b));
    a.iter().zip(b.iter()).fold(0, |all, (a, b)| all | (a ^ b)) == 0
}

/// A passphrase as it is kept: Argon2id with the least that RFC 9106 (2021), section 4, recommends second (64 MiB, 3
/// passes, 4 lanes), and a salt of its own.
pub(crate) fn hashed(passphrase: &str) -> Result<String> {
    let salt = SaltString::encode_b64(&chance::<16>()?);
    let salt = salt.map_err(|error| HomeError::Chance(error.to_string()))?;
    let hash = slow()?.hash_password(passphrase.as_bytes(), &salt);
    Ok(hash
        .map_err(|error| HomeError::Request(format!("this passphrase cannot be kept: {error}")))?
        .to_string())
}

/// Whether a passphrase is the one that is kept.
pub(crate) fn verified(passphrase: &str, kept: &str) -> Option<bool> {
    let kept = PasswordHash::new(kept).ok()?;
    Some(
        Argon2::default()
            .verify_password(passphrase.as_bytes(), &kept)
            .is_ok(),
    )
}

fn slow() -> Result<Argon2<'static>> {
    let params = argon2::Params::new(64 * 1024, 3, 4, None);
    let params = params.map_err(|error| HomeError::Request(error.to_string()))?;
    Ok(Argon2::new(
        argon2::Algorithm::Argon2id,
        argon2::Version::V0x13,
        params,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_passphrase_is_known_again_and_no_other() {
        let kept = hashed("a calm pause between").unwrap();
        assert!(kept.starts_with("$argon2id$v=19$m=65536,t=3,p=4$"), "{kept}");
        assert_eq!(verified("a calm pause between", &kept), Some(true));
        assert_eq!(verified("a calm pause", &kept), Some(false));
        assert_eq!(verified("a calm pause between", "nothing"), None);
        assert_ne!(
            kept,
            hashed("a calm pause between").unwrap(),
            "each has its own salt"
        );
    }

    /// FIPS 180-4, the example of one block: SHA-256 of 'abc'.
    #[test]
    fn tokens_are_kept_as_their_digest() {
        assert_eq!(
            digest("abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        let (token, kept) = super::token().unwrap();
        assert_eq!((token.len(), digest(&token)), (64, kept));
        assert!(same(&token, &token) && !same(&token, "") && !same("ab", "a"));
    }
}
