//! `stock`: what can be typed about the drawer.

use clap::{Args, Subcommand};

/// `stock`
#[derive(Args, Debug)]
pub(crate) struct StockArgs {
    /// List it as of another time, like '2025-03-01 07:30'.
    #[arg(long, value_name = "TIME", global = true)]
    pub(crate) at: Option<String>,
    /// What to do; nothing lists what is left.
    #[command(subcommand)]
    pub(crate) what: Option<StockWhat>,
}

/// What is done with the drawer.
#[derive(Debug, Subcommand)]
pub(crate) enum StockWhat {
    /// What is left of each lot, the first to expire first.
    List,
    /// Put a lot into the drawer, or write down one that is to come.
    Add(Box<StockAddArgs>),
    /// Correct the count of a lot: pieces lost, dropped, given away, found.
    Correct {
        /// The lot's number, as the list tells it.
        lot: u32,
        /// How many more there are; fewer where negative.
        #[arg(long, value_name = "PIECES", allow_negative_numbers = true)]
        by: i32,
        /// Why: lost, dropped, given away, miscounted.
        #[arg(long, value_name = "WORDS")]
        reason: String,
    },
    /// Say that an expected lot has come.
    Arrived {
        /// The lot's number, as the list tells it.
        lot: u32,
        /// The day it came; today where left out.
        #[arg(long, value_name = "DATE")]
        on: Option<String>,
    },
    /// Take a lot out of the book, as if it had never been written down.
    Remove {
        /// The lot's number, as the list tells it.
        lot: u32,
    },
    /// Say what one sensor of a kind usually costs: for those whose lot tells no price, and for what a year costs.
    Price {
        /// The amount, like 59.90.
        amount: String,
        /// Its currency, like EUR; that of the last price where left out.
        #[arg(long, value_name = "NAME")]
        currency: Option<String>,
        /// The kind of sensor; the one in use where left out.
        #[arg(long, value_name = "NAME")]
        kind: Option<String>,
    },
    /// Say how many days pass from an order to its arrival.
    Delivery {
        /// Days.
        days: u32,
    },
}

/// `stock add`
#[derive(Args, Debug)]
pub(crate) struct StockAddArgs {
    /// Pieces that come or came; sensors, unless --cover or --prep says otherwise.
    #[arg(value_name = "PIECES")]
    pub(crate) count: u32,
    /// The kind of sensor, by your own name of it; the kind in use where left out.
    #[arg(long, value_name = "NAME", conflicts_with_all = ["cover", "prep"])]
    pub(crate) kind: Option<String>,
    /// They are covers: which, in the words you write beside a sensor.
    #[arg(long, value_name = "TAG", conflicts_with = "prep")]
    pub(crate) cover: Option<String>,
    /// They are for preparing the skin: what, in the words you write beside a sensor.
    #[arg(long, value_name = "TAG")]
    pub(crate) prep: Option<String>,
    /// Lot number, as on the box.
    #[arg(long, value_name = "NUMBER")]
    pub(crate) lot: Option<String>,
    /// Last day on which one may be put on.
    #[arg(long, value_name = "DATE")]
    pub(crate) use_by: Option<String>,
    /// What one piece cost, like 59.90.
    #[arg(long, value_name = "AMOUNT", conflicts_with_all = ["price", "free"])]
    pub(crate) price_each: Option<String>,
    /// What all of them cost together.
    #[arg(long, value_name = "AMOUNT", conflicts_with = "free")]
    pub(crate) price: Option<String>,
    /// Currency of the price, like EUR; that of the last price where left out.
    #[arg(long, value_name = "NAME")]
    pub(crate) currency: Option<String>,
    /// They cost nothing.
    #[arg(long)]
    pub(crate) free: bool,
    /// Where they came from: bought, subsidised, free starter, replacement.
    #[arg(long, value_name = "WORDS")]
    pub(crate) source: Option<String>,
    /// The day they came; today where left out. What is put on from that day on is taken off the count.
    #[arg(long, value_name = "DATE", conflicts_with = "expected")]
    pub(crate) arrived: Option<String>,
    /// The day they are to come.
    #[arg(long, value_name = "DATE")]
    pub(crate) expected: Option<String>,
    /// Words to keep beside them.
    #[arg(long, value_name = "TEXT")]
    pub(crate) note: Option<String>,
}
