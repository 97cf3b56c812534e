//! What locks a backup: a pair of keys whose secret half is itself locked with the wearer's passphrase.
//!
//! The open half lies beside the book, so that a backup can be made at night without any secret on the machine. The secret
//! half lies, locked, in every backup: the file and the passphrase are all that is needed. Both halves and both locks are
//! those of the age format (age-encryption.org/v1: X25519 and scrypt), by the `age` library.

use std::fmt;
use std::io::{Read, Write};
use std::iter;

use age::secrecy::{ExposeSecret, SecretString};
use age::x25519;
use serde::{Deserialize, Serialize};

use crate::{BackupError, Result};

/// A passphrase has at least so many letters.
pub const SHORTEST_PASSPHRASE: usize = 12;
/// scrypt's N as a power of two, r = 8 and p = 1 as the format fixes them: 2^18 takes 256 MiB and about a second, what the
/// format's own reference program uses.
const WORK: u8 = 18;
/// What is still tried: 1 GiB.
const MOST_WORK: u8 = 20;

/// How hard a passphrase is to try.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Work {
    /// As hard as is sensible.
    #[default]
    Usual,
    /// Hardly: for tests alone, which make many.
    Light,
}

/// What a book's backups are locked with.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Key {
    /// The open half, as the format writes it: age1…
    recipient: String,
    /// The secret half, locked with the passphrase.
    #[serde(with = "as_base64")]
    locked: Vec<u8>,
}

impl fmt::Debug for Key {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Key({})", self.recipient)
    }
}

impl Key {
    /// Makes a new pair and locks its secret half with `passphrase`.
    ///
    /// # Errors
    /// `Request` where it has fewer than [`SHORTEST_PASSPHRASE`] letters, or the machine gives no chance numbers.
    pub fn make(passphrase: &str, work: Work) -> Result<Self> {
        if passphrase.chars().count() < SHORTEST_PASSPHRASE {
            return Err(BackupError::Request(format!(
                "a passphrase has at least {SHORTEST_PASSPHRASE} letters; five or six words that do not belong together do well"
            )));
        }
        let pair = x25519::Identity::generate();
        let mut lock = age::scrypt::Recipient::new(SecretString::from(passphrase.to_owned()));
        lock.set_work_factor(match work {
            Work::Usual => WORK,
            Work::Light => 1,
        });
        let locked = age::encrypt(&lock, pair.to_string().expose_secret().as_bytes());
        Ok(Key {
            recipient: pair.to_public().to_string(),
            locked: locked
                .map_err(|error| BackupError::Request(format!("the key could not be locked: {error}")))?,
        })
    }

    /// As it lies in a backup.
    pub(crate) fn locked(&self) -> &[u8] {
        &self.locked
    }

    /// Encrypts what is written into `out`: for whoever has the passphrase, and for `reader`, a second pair that lives as
    /// long as this process looks at what it wrote.
    pub(crate) fn seal<W: Write>(
        &self,
        reader: &x25519::Identity,
        out: W,
    ) -> Result<age::stream::StreamWriter<W>> {
        let wearer: x25519::Recipient = self
            .recipient
            .parse()
            .map_err(|why| BackupError::Request(format!("the key kept beside the book cannot be used ({why}); choose another passphrase with `interstice backup-set --new-passphrase`")))?;
        let both: [&dyn age::Recipient; 2] = [&wearer, &reader.to_public()];
        let sealed = age::Encryptor::with_recipients(both.into_iter())
            .map_err(|error| BackupError::Request(error.to_string()))?;
        sealed
            .wrap_output(out)
            .map_err(|error| BackupError::Request(error.to_string()))
    }
}

/// The secret half of a pair, from how it lies in a backup. `None` where the passphrase is another.
pub(crate) fn unlock(
    locked: &[u8],
    passphrase: &str,
) -> std::result::Result<Option<x25519::Identity>, String> {
    let mut lock = age::scrypt::Identity::new(SecretString::from(passphrase.to_owned()));
    lock.set_max_work_factor(MOST_WORK);
    let text = match age::decrypt(&lock, locked) {
        Ok(text) => text,
        Err(age::DecryptError::DecryptionFailed | age::DecryptError::KeyDecryptionFailed) => return Ok(None),
        Err(age::DecryptError::NoMatchingKeys) => return Ok(None),
        Err(error) => return Err(error.to_string()),
    };
    let text = SecretString::from(String::from_utf8(text).map_err(|_| "its key is no text".to_owned())?);
    text.expose_secret().parse().map(Some).map_err(str::to_owned)
}

/// Reads what was encrypted.
pub(crate) fn open<'a, R: Read + 'a>(
    pair: &x25519::Identity,
    sealed: R,
) -> std::result::Result<impl Read + 'a, age::DecryptError> {
    age::Decryptor::new(sealed)?.decrypt(iter::once(pair as &dyn age::Identity))
}

mod as_base64 {
    use base64::Engine as _;
    use base64::engine::general_purpose::STANDARD;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub(super) fn serialize<S: Serializer>(bytes: &[u8], to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&STANDARD.encode(bytes))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<u8>, D::Error> {
        STANDARD
            .decode(String::deserialize(from)?)
            .map_err(D::Error::custom)
    }
}
