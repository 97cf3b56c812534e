//! What is settled beside the record: kinds, choices, the drawer, and whose turn asks for what.

use interstice_book::{Book, BookError, Claims, KeptTrial, SensorKinds, Stock};
use interstice_glucose::{Region, Second, Side, WearChoices};

/// All that the plan looks at beside the record.
#[derive(Clone, Debug, Default)]
pub struct Settled {
    /// What tells this book from others ([`Book::identity`]).
    pub book_id: String,
    /// Kinds of sensors.
    pub kinds: SensorKinds,
    /// What the wearer chose.
    pub choices: WearChoices,
    /// The drawer as it was written down.
    pub drawer: Stock,
    /// What was claimed of sensors.
    pub claims: Claims,
    /// Sensors there are; empty where no drawer is kept.
    pub stock: Vec<InStock>,
    /// From when on a sensor that is ordered now is there; at once where nothing is known of it.
    pub bought_from: Option<Second>,
    /// Personal trials.
    pub trials: Vec<KeptTrial>,
    /// What is asked of the coming sensors, in the order they are put on, the one that beds in already not counted. Filled by
    /// the running trial.
    pub turns: Vec<Turn>,
    /// What was asked of the one that beds in already. Filled by the running trial.
    pub waiting: Option<Turn>,
}

impl Settled {
    /// As the book has it.
    ///
    /// # Errors
    /// `Damaged` where something cannot be read, `Io`.
    pub fn of(book: &Book) -> Result<Self, BookError> {
        Ok(Settled {
            book_id: book.identity()?,
            kinds: book.sensor_kinds()?,
            choices: book.wear_choices()?,
            drawer: book.stock()?,
            claims: book.claims()?,
            stock: Vec::new(),
            bought_from: None,
            trials: book.trials()?,
            turns: Vec::new(),
            waiting: None,
        })
    }
}

/// One sensor in the drawer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InStock {
    /// Its place in the list of kinds.
    pub kind: usize,
    /// From when it is there.
    pub from: Second,
    /// Last moment to put it on; `None` where it does not expire.
    pub until: Option<Second>,
    /// Its lot, where that is known.
    pub lot: Option<String>,
}

/// What is asked of one coming sensor.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Turn {
    /// Where it may go; anywhere where empty.
    pub places: Vec<(Region, Option<Side>)>,
    /// How long it beds in, hours, in place of the usual.
    pub bedding_h: Option<u32>,
    /// Why, a sentence to stand beside the choice.
    pub why: Option<String>,
}
