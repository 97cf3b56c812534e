//! What a book says, in short: two books that say the same here say the same.

use interstice_book::{Book, CheckReport};
use interstice_findings::{Ask, DEFAULT_SEED, FindingsError, Span, TrustAsk, review_book, trust_book};
use serde::Serialize;

use crate::{BackupError, Result};

/// Days of the account that is compared.
const DAYS: u32 = 90;

/// The journal, the imports, the settings and the findings of a book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    journal: String,
    imports: String,
    settings: String,
    review: String,
    trust: String,
}

impl Standing {
    /// Looks at an open book: its account of the latest 90 days with readings, as it stands and without what counts as
    /// artefact, and its sensors beside blood, over all of it.
    ///
    /// # Errors
    /// `Book`.
    pub fn of(book: &Book) -> Result<Self> {
        let plain = Ask {
            span: Span::LastDays(DAYS),
            exclude_pressure: false,
            seed: DEFAULT_SEED,
        };
        Ok(Standing {
            journal: format!("{:?}", book.journal()?),
            imports: format!("{:?}", book.imports()?),
            settings: format!("{:?}", book.settings_as_written()?),
            review: told(review_book(book, &plain))?,
            trust: told(trust_book(book, &TrustAsk::default()))?,
        })
    }

    /// What differs, in words; `None` where nothing does.
    pub fn differs_from(&self, other: &Standing) -> Option<&'static str> {
        [
            ("its journal", &self.journal, &other.journal),
            ("the list of what was brought in", &self.imports, &other.imports),
            ("its settings", &self.settings, &other.settings),
            ("its account", &self.review, &other.review),
            ("its sensors beside blood", &self.trust, &other.trust),
        ]
        .into_iter()
        .find_map(|(name, one, two)| (one != two).then_some(name))
    }
}

/// The findings as one document; why there are none is a finding too.
fn told<T: Serialize>(answer: std::result::Result<T, FindingsError>) -> Result<String> {
    match answer {
        Ok(findings) => serde_json::to_string(&findings)
            .map_err(|error| BackupError::Request(format!("the findings cannot be written down: {error}"))),
        Err(FindingsError::Book(error)) => Err(error.into()),
        Err(why) => Ok(why.to_string()),
    }
}

/// Whether two looks at every part saw as much.
pub(crate) fn saw_as_much(one: &CheckReport, two: &CheckReport) -> bool {
    one == two
}
