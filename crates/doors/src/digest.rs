//! Names made from what is told, so that the same thing has the same name again.

use sha2::{Digest, Sha256};

/// Bytes as hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// SHA-256 of some words, each with its length, so that no two lists are alike.
fn digest(parts: &[&str]) -> [u8; 32] {
    let mut hasher = Sha256::new();
    for part in parts {
        hasher.update((part.len() as u64).to_le_bytes());
        hasher.update(part.as_bytes());
    }
    hasher.finalize().into()
}

/// Half of it, as 32 hexadecimal digits.
pub(crate) fn short(parts: &[&str]) -> String {
    hex(&digest(parts)[..16])
}

/// A UUID of version 8 (RFC 9562), whose bits are those of the digest.
pub(crate) fn uuid(parts: &[&str]) -> String {
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&digest(parts)[..16]);
    bytes[6] = bytes[6] & 0x0f | 0x80;
    bytes[8] = bytes[8] & 0x3f | 0x80;
    let hex = hex(&bytes);
    format!(
        "{}-{}-{}-{}-{}",
        &hex[..8],
        &hex[8..12],
        &hex[12..16],
        &hex[16..20],
        &hex[20..]
    )
}
