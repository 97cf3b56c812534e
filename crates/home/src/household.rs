//! What is kept of those who may come in.

use std::path::Path;

use interstice_glucose::{DAY_S, Second};
use serde::{Deserialize, Serialize};

use crate::feed::Source;
use crate::folder::Folder;
use crate::link::Link;
use crate::secret::{digest, hashed, same, token, verified};
use crate::{HomeError, Result};

/// Letters of the shortest passphrase: five words of a list of 7776 have 64 bits, and at least so many letters.
pub const SHORTEST_PASSPHRASE: usize = 12;

/// A device that is not seen for so long must be paired again (common practice, no source).
const UNSEEN_S: Second = 30 * DAY_S;
/// However often it is seen, it must be paired again after so long (common practice, no source).
const PAIRED_S: Second = 180 * DAY_S;
/// Being seen is written down so often, not at each request.
const SEEN_EACH_S: Second = 3600;
/// Letters of a device's or feed's name.
const LONGEST_NAME: usize = 40;

const FILE: &str = "household.json";

/// A device that was paired.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Device {
    /// Its number.
    pub id: u32,
    /// What the person called it.
    pub name: String,
    /// When it was paired.
    pub paired: Second,
    /// When it was last seen, to the hour.
    pub seen: Second,
    /// SHA-256 of its token.
    token: String,
}

impl Device {
    /// Until when it may come in, if it is not seen again.
    pub fn until(&self) -> Second {
        (self.paired + PAIRED_S).min(self.seen + UNSEEN_S)
    }
}

#[derive(Debug, Default, Serialize, Deserialize)]
pub(crate) struct Kept {
    #[serde(default)]
    passphrase: Option<String>,
    #[serde(default)]
    last_id: u32,
    #[serde(default)]
    devices: Vec<Device>,
    #[serde(default)]
    pub(crate) links: Vec<Link>,
    #[serde(default)]
    pub(crate) sources: Vec<Source>,
}

impl Kept {
    pub(crate) fn next_id(&mut self) -> u32 {
        self.last_id += 1;
        self.last_id
    }
}

/// The household of a book. Every question reads the file anew, so that a device revoked from another program is out at
/// once.
#[derive(Clone, Debug)]
pub struct Household {
    pub(crate) folder: Folder,
}

impl Household {
    /// Of a book.
    pub fn beside(book: &Path) -> Self {
        Household {
            folder: Folder::beside(book),
        }
    }

    /// Whether a passphrase was chosen.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn has_passphrase(&self) -> Result<bool> {
        Ok(self.kept()?.passphrase.is_some())
    }

    /// Chooses the passphrase, or another.
    ///
    /// # Errors
    /// `Request` where it is too short; `Folder`, `Damaged`, `Chance`.
    pub fn choose_passphrase(&self, passphrase: &str) -> Result<()> {
        if passphrase.chars().count() < SHORTEST_PASSPHRASE {
            let why = format!(
                "a passphrase has at least {SHORTEST_PASSPHRASE} letters; five or six words that do not belong together do well"
            );
            return Err(HomeError::Request(why));
        }
        let hash = hashed(passphrase)?;
        self.change(|kept| {
            kept.passphrase = Some(hash);
            Ok(())
        })
    }

    /// Whether this is the passphrase. Slow on purpose.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn knows(&self, passphrase: &str) -> Result<bool> {
        match self.kept()?.passphrase {
            Some(hash) => verified(passphrase, &hash).ok_or_else(|| self.folder.damaged(FILE)),
            None => Ok(false),
        }
    }

    /// Lets a device in; answers the secret it comes by from now on, which is kept nowhere here.
    ///
    /// # Errors
    /// `Folder`, `Damaged`, `Chance`.
    pub fn pair(&self, name: &str, now: Second) -> Result<String> {
        let (secret, digest) = token()?;
        self.change(|kept| {
            let id = kept.next_id();
            kept.devices.retain(|device| now < device.until());
            kept.devices.push(Device {
                id,
                name: called(name, "device", id),
                paired: now,
                seen: now,
                token: digest,
            });
            Ok(())
        })?;
        Ok(secret)
    }

    /// The device that comes by this secret, unless its time is over or it was revoked.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn device_of(&self, secret: &str, now: Second) -> Result<Option<Device>> {
        let told = digest(secret);
        let mut devices = self.kept()?.devices.into_iter();
        let found = devices.find(|device| same(&device.token, &told) && now < device.until());
        let Some(device) = found else { return Ok(None) };
        if now - device.seen >= SEEN_EACH_S {
            self.change(|kept| {
                // It may have been revoked since it was read.
                let still = kept.devices.iter_mut().find(|other| other.id == device.id);
                if let Some(still) = still {
                    still.seen = now;
                }
                Ok(())
            })?;
        }
        Ok(Some(device))
    }

    /// Devices that may come in, the oldest first.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn devices(&self, now: Second) -> Result<Vec<Device>> {
        let mut devices = self.kept()?.devices;
        devices.retain(|device| now < device.until());
        Ok(devices)
    }

    /// Puts a device out, at once; answers it.
    ///
    /// # Errors
    /// `Request` where there is none of that number; `Folder`, `Damaged`.
    pub fn revoke(&self, id: u32) -> Result<Device> {
        self.change(|kept| {
            let at = kept.devices.iter().position(|device| device.id == id);
            let gone = || {
                HomeError::Request(format!(
                    "no device {id} is paired; list them to see their numbers"
                ))
            };
            Ok(kept.devices.remove(at.ok_or_else(gone)?))
        })
    }

    pub(crate) fn kept(&self) -> Result<Kept> {
        match self.folder.read(FILE)? {
            Some(text) => serde_json::from_str(&text).map_err(|_| self.folder.damaged(FILE)),
            None => Ok(Kept::default()),
        }
    }

    pub(crate) fn change<T>(&self, act: impl FnOnce(&mut Kept) -> Result<T>) -> Result<T> {
        let _held = self.folder.hold()?;
        let mut kept = self.kept()?;
        let answer = act(&mut kept)?;
        let text = serde_json::to_string_pretty(&kept).map_err(|_| self.folder.damaged(FILE))?;
        self.folder.write(FILE, &(text + "\n"))?;
        Ok(answer)
    }
}

/// A name as it is kept: what was typed, cut to what fits a line, or 'device 3' where that leaves nothing.
pub(crate) fn called(typed: &str, kind: &str, id: u32) -> String {
    let letters = typed.trim().chars().filter(|letter| !letter.is_control());
    let name: String = letters.take(LONGEST_NAME).collect();
    if name.is_empty() {
        format!("{kind} {id}")
    } else {
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Second = 1_767_225_600;

    fn household() -> (Household, tempfile::TempDir) {
        let folder = tempfile::tempdir().unwrap();
        (Household::beside(&folder.path().join("book")), folder)
    }

    #[test]
    fn a_paired_device_comes_in_until_it_is_revoked() {
        let (household, folder) = household();
        let phone = household.pair(" a phone\u{7}", NOW).unwrap();
        let tablet = household.pair("", NOW).unwrap();
        let named = |secret: &str, at| household.device_of(secret, at).unwrap().map(|device| device.name);
        assert_eq!(named(&phone, NOW), Some("a phone".to_owned()));
        assert_eq!(named(&tablet, NOW + 60), Some("device 2".to_owned()));
        for other in ["", "0", &phone[1..], &phone.to_uppercase()] {
            assert_eq!(named(other, NOW), None, "{other}");
        }
        let text = std::fs::read_to_string(folder.path().join("book.home/household.json")).unwrap();
        assert!(!text.contains(&phone), "the secret itself is kept nowhere");
        assert_eq!(household.revoke(1).unwrap().name, "a phone");
        assert_eq!((named(&phone, NOW), named(&tablet, NOW).is_some()), (None, true));
        assert!(matches!(household.revoke(1), Err(HomeError::Request(_))));
    }

    #[test]
    fn a_device_that_is_not_seen_or_long_paired_is_out() {
        let (household, _folder) = household();
        let phone = household.pair("phone", NOW).unwrap();
        let comes = |at| household.device_of(&phone, at).unwrap().is_some();
        assert!(
            comes(NOW + 29 * DAY_S) && comes(NOW + 58 * DAY_S),
            "it was seen in between"
        );
        assert!(!comes(NOW + 58 * DAY_S + UNSEEN_S));
        for day in (60..180).step_by(20) {
            assert!(comes(NOW + day * DAY_S), "{day}");
        }
        assert!(!comes(NOW + 180 * DAY_S));
        assert!(household.devices(NOW + 180 * DAY_S).unwrap().is_empty());
    }

    #[test]
    fn the_passphrase_is_long_and_kept_as_a_digest() {
        let (household, _folder) = household();
        assert!(!household.has_passphrase().unwrap() && !household.knows("").unwrap());
        assert!(matches!(
            household.choose_passphrase("short"),
            Err(HomeError::Request(_))
        ));
        household.choose_passphrase("five words are enough here").unwrap();
        assert!(household.knows("five words are enough here").unwrap());
        assert!(!household.knows("five words are enough").unwrap());
    }

    #[cfg(unix)]
    #[test]
    fn the_folder_is_for_its_owner_alone() {
        use std::os::unix::fs::PermissionsExt;
        let (household, folder) = household();
        household.pair("phone", NOW).unwrap();
        let mode = |name: &str| {
            let path = folder.path().join("book.home").join(name);
            std::fs::metadata(path).unwrap().permissions().mode() & 0o777
        };
        assert_eq!((mode(""), mode(FILE), mode("lock")), (0o700, 0o600, 0o600));
    }

    #[test]
    fn a_damaged_file_is_said_and_lets_nobody_in() {
        let (household, folder) = household();
        let phone = household.pair("phone", NOW).unwrap();
        std::fs::write(folder.path().join("book.home/household.json"), "{").unwrap();
        assert!(matches!(
            household.device_of(&phone, NOW),
            Err(HomeError::Damaged { .. })
        ));
    }
}
