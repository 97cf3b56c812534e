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
            Comes::Sent { .. } => None,
            Comes::Watched { folder } => Some(folder),
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
            Comes::Watched { .. } => false,
        }))
    }

    /// All feeds, the oldest first.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn sources(&self) -> Result<Vec<Source>> {
        Ok(self.kept()?.sources)
    }

    /// What was noted of a folder that is looked into.
    ///
    /// # Errors
    /// `Folder`.
    pub fn noted(&self, id: u32) -> Result<Option<String>> {
        self.folder.read(&notes(id))
    }

    /// Notes something of a folder that is looked into.
    ///
    /// # Errors
    /// `Folder`.
    pub fn note(&self, id: u32, text: &str) -> Result<()> {
        let _held = self.folder.hold()?;
        self.folder.write(&notes(id), text)
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
