//! Why a figure is not given, and what would be enough.

use interstice_glucose::counted;

/// Too little to go on: the reason, and what would be enough. Never a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// Nothing in the window.
    #[error("there are no readings here")]
    NoReadings,
    /// Fewer readings than the figure needs.
    #[error("{} too few; {need} are needed", counted(*have, "reading is", "readings are"))]
    TooFewReadings {
        /// Readings there are.
        have: u64,
        /// Readings that would be enough.
        need: u64,
    },
    /// Fewer blood checks beside a sensor than the figure needs.
    #[error("{} too few; {} more would do", counted(*have, "pair of blood check and reading is", "pairs of blood check and reading are"), need - have)]
    TooFewPairs {
        /// Pairs there are.
        have: u64,
        /// Pairs that would be enough.
        need: u64,
    },
    /// Fewer days than the figure needs.
    #[error("{} too few; {need} are needed", counted(*have, "day with readings is", "days with readings are"))]
    TooFewDays {
        /// Days there are.
        have: u64,
        /// Days that would be enough.
        need: u64,
    },
    /// Fewer days on which anything of a kind was logged than the figure needs.
    #[error("{} too few; {need} are needed on either side", counted(*have, "day with anything of the kind logged is", "days with anything of the kind logged are"))]
    TooFewLogged {
        /// Days there are.
        have: u64,
        /// Days that would be enough.
        need: u64,
    },
    /// Days are no sample of it.
    #[error("it is counted as it was; days are no sample of it")]
    NotSampled,
    /// All days are alike.
    #[error("every day is alike in it, on either side")]
    AllAlike,
    /// The window is shorter than the consensus asks.
    #[error("the window spans {}; {need} are asked for", counted(*have, "day", "days"))]
    ShortWindow {
        /// Whole days it spans.
        have: u64,
        /// Days asked for.
        need: u64,
    },
    /// The sensor was active for too small a part of the window.
    #[error("readings cover {have} % of the window; {need} % are asked for")]
    LowActive {
        /// Percent covered, rounded down.
        have: u64,
        /// Percent asked for.
        need: u64,
    },
    /// No two readings the stated time apart.
    #[error("no two readings are {hours} h apart; that takes a longer unbroken stretch")]
    NoPairs {
        /// Hours apart.
        hours: u32,
    },
    /// No day is covered well enough.
    #[error("no day is covered for at least {need} %")]
    NoCoveredDay {
        /// Percent of the day asked for.
        need: u64,
    },
    /// No swing beyond one standard deviation on any covered day.
    #[error("no well covered day has a swing larger than its own standard deviation")]
    NoSwing,
    /// The gaps between readings have no common length.
    #[error("the readings do not come at a regular interval")]
    NoCommonInterval,
    /// A ratio to a mean of zero.
    #[error("the mean is not above zero")]
    MeanNotPositive,
    /// Too many resampled windows lacked what the figure needs.
    #[error("the readings are too patchy for an interval")]
    Patchy,
}

#[cfg(test)]
mod tests {
    use super::Refusal;

    #[test]
    fn one_is_not_several() {
        let said = [0, 1, 2].map(|have| {
            [
                Refusal::TooFewReadings { have, need: 3 },
                Refusal::TooFewPairs { have, need: 3 },
                Refusal::TooFewDays { have, need: 3 },
                Refusal::ShortWindow { have, need: 3 },
            ]
            .map(|refusal| refusal.to_string())
        });
        assert_eq!(
            said[1],
            [
                "1 reading is too few; 3 are needed",
                "1 pair of blood check and reading is too few; 2 more would do",
                "1 day with readings is too few; 3 are needed",
                "the window spans 1 day; 3 are asked for",
            ]
        );
        assert_eq!(said[0][0], "0 readings are too few; 3 are needed");
        assert_eq!(
            said[2][1],
            "2 pairs of blood check and reading are too few; 1 more would do"
        );
    }
}
