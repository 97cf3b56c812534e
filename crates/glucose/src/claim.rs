//! What became of a sensor that was complained of to whoever supplied it.

use crate::Second;

/// A step of a claim.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ClaimWhat {
    /// The record was sent.
    Sent,
    /// An answer came that settles nothing yet.
    Answered,
    /// It was replaced, or paid back.
    Replaced,
    /// It was refused.
    Refused,
}

impl ClaimWhat {
    /// All of them, in the order they come.
    pub const ALL: [ClaimWhat; 4] = [
        ClaimWhat::Sent,
        ClaimWhat::Answered,
        ClaimWhat::Replaced,
        ClaimWhat::Refused,
    ];

    /// As it is written.
    pub fn name(self) -> &'static str {
        match self {
            ClaimWhat::Sent => "sent",
            ClaimWhat::Answered => "answered",
            ClaimWhat::Replaced => "replaced",
            ClaimWhat::Refused => "refused",
        }
    }

    /// Whether nothing more is waited for.
    pub fn is_settled(self) -> bool {
        matches!(self, ClaimWhat::Replaced | ClaimWhat::Refused)
    }
}

/// One step, when, and in whose words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClaimStep {
    /// Which.
    pub what: ClaimWhat,
    /// When.
    pub at: Second,
    /// Words.
    pub words: Option<String>,
}
