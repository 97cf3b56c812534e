//! What may send readings, and what is looked into for them: tokens and folders.

use interstice_glucose::Second;
use serde::{Deserialize, Serialize};

use crate::household::{Household, called};
use crate::secret::{digest, same, token};
use crate::{HomeError, Result};

/// Feeds of one book.
const MOST_FEEDS: usize = 32;

/// How readings come.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Comes {
    /// They are sent, by whoever has the token.
    Sent {
        /// SHA-256 of the token.
        token: String,
    },
    /// A folder is looked into.
    Watched {
        /// Where it is.
        folder: String,
    },
    /// A sensor or transmitter tells them by its radio.
    Heard {
        /// Its address, as it was paired.
        address: String,
    },
}

/// A feed of a book.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Source {
    /// Its number, never used twice.
    pub id: u32,
    /// What the person called it.
    pub name: String,
    /// When it was made.
    pub made: Second,
    /// How it comes.
    pub comes: Comes,
}

impl Source {
    /// What its rows are known by in the book.
    pub fn key(&self) -> String {
        format!("{} {}", self.made, self.id)
    }

    /// The folder that is looked into.
    pub fn folder(&self) -> Option<&str> {
        match &self.comes {
            Comes::Watched { folder } => Some(folder),
            Comes::Sent { .. } | Comes::Heard { .. } => None,
        }
    }

    /// The address of the sensor or transmitter that is listened to.
    pub fn address(&self) -> Option<&str> {
        match &self.comes {
            Comes::Heard { address } => Some(address),
            Comes::Sent { .. } | Comes::Watched { .. } => None,
        }
    }
}

impl Household {
    /// Lets somebody send readings; answers the token, which is kept nowhere here. It is good until it is revoked.
    ///
    /// # Errors
    /// `Request` where there are too many; `Folder`, `Damaged`, `Chance`.
    pub fn let_send(&self, name: &str, now: Second) -> Result<(Source, String)> {
        let (secret, digest) = token()?;
        let source = self.add_source(name, Comes::Sent { token: digest }, now)?;
        Ok((source, secret))
    }

    /// Has a folder looked into.
    ///
    /// # Errors
    /// `Request` where it is looked into already, or there are too many; `Folder`, `Damaged`.
    pub fn watch(&self, name: &str, folder: &str, now: Second) -> Result<Source> {
        let there = self
            .sources()?
            .into_iter()
            .find(|source| source.folder() == Some(folder));
        if let Some(there) = there {
            let why = format!("{folder} is looked into already, as number {}", there.id);
            return Err(HomeError::Request(why));
        }
        let folder = folder.to_owned();
        self.add_source(name, Comes::Watched { folder }, now)
    }

    /// Listens to a sensor or transmitter that is paired with this machine.
    ///
    /// # Errors
    /// `Request` where it is listened to already, or there are too many; `Folder`, `Damaged`.
    pub fn listen(&self, name: &str, address: &str, now: Second) -> Result<Source> {
        let there = self
            .sources()?
            .into_iter()
            .find(|source| source.address() == Some(address));
        if let Some(there) = there {
            let why = format!("{address} is listened to already, as number {}", there.id);
            return Err(HomeError::Request(why));
        }
        let address = address.to_owned();
        self.add_source(name, Comes::Heard { address }, now)
    }

    fn add_source(&self, name: &str, comes: Comes, now: Second) -> Result<Source> {
        self.change(|kept| {
            if kept.sources.len() >= MOST_FEEDS {
                let why = format!("there are {MOST_FEEDS} feeds, the most there can be; revoke one first");
                return Err(HomeError::Request(why));
            }
            let id = kept.next_id();
            let source = Source {
                id,
                name: called(name, "feed", id),
                made: now,
                comes,
            };
            kept.sources.push(source.clone());
            Ok(source)
        })
    }

    /// Who sends by this token, unless it was revoked.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn sender_of(&self, secret: &str) -> Result<Option<Source>> {
        let told = digest(secret);
        let mut sources = self.sources()?.into_iter();
        Ok(sources.find(|source| match &source.comes {
            Comes::Sent { token } => same(token, &told),
            Comes::Watched { .. } | Comes::Heard { .. } => false,
        }))
    }

    /// All feeds, the oldest first.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn sources(&self) -> Result<Vec<Source>> {
        Ok(self.kept()?.sources)
    }

    /// What was noted of a folder that is looked into, or of a sensor that is listened to.
    ///
    /// # Errors
    /// `Folder`.
    pub fn noted(&self, id: u32) -> Result<Option<String>> {
        self.folder.read(&notes(id))
    }

    /// Notes something of them.
    ///
    /// # Errors
    /// `Folder`.
    pub fn note(&self, id: u32, text: &str) -> Result<()> {
        let _held = self.folder.hold()?;
        self.folder.write(&notes(id), text)
    }

    /// What is known of a sensor that is listened to. Where that cannot be understood nothing is: all it stored is asked for
    /// again, and changes nothing in the book.
    ///
    /// # Errors
    /// `Folder`.
    pub fn heard(&self, id: u32) -> Result<Heard> {
        let noted = self.noted(id)?;
        Ok(noted
            .and_then(|text| serde_json::from_str(&text).ok())
            .unwrap_or_default())
    }

    /// Keeps what is known of such a sensor.
    ///
    /// # Errors
    /// `Folder`.
    pub fn hear(&self, id: u32, heard: &Heard) -> Result<()> {
        let text = serde_json::to_string_pretty(heard).unwrap_or_default();
        self.note(id, &text)
    }

    /// Ends a feed, at once; answers it. What it brought stays in the book.
    ///
    /// # Errors
    /// `Request` where there is none of that number; `Folder`, `Damaged`.
    pub fn revoke_source(&self, id: u32) -> Result<Source> {
        self.change(|kept| {
            let at = kept.sources.iter().position(|source| source.id == id);
            let gone =
                || HomeError::Request(format!("there is no feed {id}; list them to see their numbers"));
            Ok(kept.sources.remove(at.ok_or_else(gone)?))
        })
        .inspect(|source| self.folder.forget(&notes(source.id)))
    }
}

/// What is known of a sensor that is listened to. Kept beside the book, so that after a pause only what is missing is asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct Heard {
    /// Its session, once it was told.
    pub session: Option<Session>,
    /// Why it cannot be listened to.
    pub trouble: Option<String>,
}

/// A session of a sensor: from being put on to its end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Session {
    /// When it began as the sensor says it, octet for octet: tells it from the next one.
    pub said: Vec<u8>,
    /// When it began, by which its readings are dated.
    pub start: Second,
    /// Whether the sensor's clock was believed.
    pub clock: Clock,
    /// The last minute of it up to which all is in the book.
    pub last_min: Option<u16>,
}

/// What became of a sensor's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Clock {
    /// It agrees with this machine's.
    Agrees,
    /// It is ahead so many seconds (behind, where negative); readings are dated by how long ago they were.
    Differs(Second),
    /// It does not know when the session began; the same.
    Unknown,
}

fn notes(id: u32) -> String {
    format!("folder-{id}.json")
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Second = 1_767_225_600;

    #[test]
    fn a_token_is_good_until_it_is_revoked_and_is_kept_nowhere() {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        let (phone, secret) = household.let_send(" a phone\u{7}", NOW).unwrap();
        let (_, other) = household.let_send("", NOW).unwrap();
        let name = |secret: &str| household.sender_of(secret).unwrap().map(|source| source.name);
        assert_eq!(name(&secret), Some("a phone".to_owned()));
        assert_eq!(name(&other), Some("feed 2".to_owned()));
        for forged in ["", &secret[1..], &secret.to_uppercase(), &digest(&secret)] {
            assert_eq!(name(forged), None, "{forged}");
        }
        assert!(
            household.device_of(&secret, NOW).unwrap().is_none(),
            "a token is no device"
        );
        let text = std::fs::read_to_string(folder.path().join("book.home/household.json")).unwrap();
        assert!(!text.contains(&secret), "the token itself is kept nowhere");
        household.revoke_source(phone.id).unwrap();
        assert_eq!((name(&secret), name(&other).is_some()), (None, true));
        assert!(household.revoke_source(phone.id).is_err());
    }

    #[test]
    fn a_sensor_is_listened_to_once() {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        let made = household.listen("left arm", "00:11:22:33:44:55", NOW).unwrap();
        assert_eq!((made.address(), made.folder()), (Some("00:11:22:33:44:55"), None));
        assert!(matches!(
            household.listen("", "00:11:22:33:44:55", NOW),
            Err(HomeError::Request(_))
        ));
        assert!(household.sender_of("").unwrap().is_none());
    }

    #[test]
    fn a_folder_is_looked_into_once() {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        let made = household.watch("exports", "/somewhere", NOW).unwrap();
        assert_eq!(made.folder(), Some("/somewhere"));
        assert!(matches!(
            household.watch("", "/somewhere", NOW),
            Err(HomeError::Request(_))
        ));
        assert!(household.sender_of("").unwrap().is_none());
        for i in 1..MOST_FEEDS {
            household.watch("", &format!("/{i}"), NOW).unwrap();
        }
        assert!(matches!(household.let_send("", NOW), Err(HomeError::Request(_))));
    }
}
