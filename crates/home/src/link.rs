//! Links that show one page, to one who is no device: secret, ending, revocable.

use interstice_glucose::{DAY_S, Second};
use serde::{Deserialize, Serialize};

use crate::household::Household;
use crate::secret::{digest, same, token};
use crate::{HomeError, Result};

/// Days a link may be good for.
pub const LONGEST_LINK_DAYS: u32 = 30;

/// What a link can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Page {
    /// The visit sheet.
    Visit,
}

impl Page {
    /// All of them.
    pub const ALL: [Page; 1] = [Page::Visit];

    /// Its name in commands and addresses.
    pub fn name(self) -> &'static str {
        match self {
            Page::Visit => "visit",
        }
    }

    /// By its name.
    pub fn named(name: &str) -> Option<Self> {
        Page::ALL.into_iter().find(|page| page.name() == name)
    }
}

/// A link.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Link {
    /// Its number.
    pub id: u32,
    /// What it shows.
    pub page: Page,
    /// When it was made.
    pub made: Second,
    /// Until when it is good.
    pub until: Second,
    /// SHA-256 of its secret.
    token: String,
}

impl Household {
    /// Makes a link; answers its secret, which is kept nowhere here.
    ///
    /// # Errors
    /// `Request` where the days are none or too many; `Folder`, `Damaged`, `Chance`.
    pub fn link(&self, page: Page, days: u32, now: Second) -> Result<(Link, String)> {
        if !(1..=LONGEST_LINK_DAYS).contains(&days) {
            let why = format!("a link is good for 1 to {LONGEST_LINK_DAYS} days, not {days}");
            return Err(HomeError::Request(why));
        }
        let (secret, digest) = token()?;
        let link = self.change(|kept| {
            kept.links.retain(|link| now < link.until);
            let link = Link {
                id: kept.next_id(),
                page,
                made: now,
                until: now + Second::from(days) * DAY_S,
                token: digest,
            };
            kept.links.push(link.clone());
            Ok(link)
        })?;
        Ok((link, secret))
    }

    /// The link of this secret, unless its time is over or it was revoked.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn link_of(&self, secret: &str, now: Second) -> Result<Option<Link>> {
        let told = digest(secret);
        let mut links = self.kept()?.links.into_iter();
        Ok(links.find(|link| same(&link.token, &told) && now < link.until))
    }

    /// Links that are good.
    ///
    /// # Errors
    /// `Folder`, `Damaged`.
    pub fn links(&self, now: Second) -> Result<Vec<Link>> {
        let mut links = self.kept()?.links;
        links.retain(|link| now < link.until);
        Ok(links)
    }

    /// Ends a link, at once; answers it.
    ///
    /// # Errors
    /// `Request` where there is none of that number; `Folder`, `Damaged`.
    pub fn revoke_link(&self, id: u32) -> Result<Link> {
        self.change(|kept| {
            let at = kept.links.iter().position(|link| link.id == id);
            let gone =
                || HomeError::Request(format!("there is no link {id}; list them to see their numbers"));
            Ok(kept.links.remove(at.ok_or_else(gone)?))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOW: Second = 1_767_225_600;

    #[test]
    fn a_link_is_good_until_its_day_or_its_revocation() {
        let folder = tempfile::tempdir().unwrap();
        let household = Household::beside(&folder.path().join("book"));
        let (first, secret) = household.link(Page::Visit, 7, NOW).unwrap();
        let (second, other) = household.link(Page::Visit, 1, NOW).unwrap();
        let page = |secret: &str, at| household.link_of(secret, at).unwrap().map(|link| link.page);
        assert_eq!(page(&secret, NOW + 6 * DAY_S), Some(Page::Visit));
        assert_eq!(page(&other, NOW + DAY_S), None, "its day is over");
        assert_eq!(page(&other, NOW + DAY_S - 1), Some(Page::Visit));
        household.revoke_link(first.id).unwrap();
        assert_eq!(page(&secret, NOW), None);
        assert!(household.revoke_link(first.id).is_err() && first.id != second.id);
        for days in [0, LONGEST_LINK_DAYS + 1] {
            assert!(household.link(Page::Visit, days, NOW).is_err());
        }
        assert!(
            household.device_of(&other, NOW).unwrap().is_none(),
            "a link is no device"
        );
    }
}
