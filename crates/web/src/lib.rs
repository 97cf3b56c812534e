//! The local app: routes, pages, assets. It listens on loopback, and on the home network only where that was asked for,
//! encrypted and for paired devices ([`Door`]). It checks the Host header of every request and the origin of every
//! request that writes, and asks nothing of any other host.
//!
//! No page computes a figure: they ask a [`Backend`] for findings and hand them to `render`. Start at [`Served`] (the
//! listener), then [`router`] (which path answers what), then `pages`.

mod answers;
mod app;
mod arriving;
mod assets;
mod backend;
mod bucket;
mod door;
mod error;
mod folders;
#[cfg(any(test, fuzzing))]
#[doc(hidden)]
pub mod fuzz;
mod guard;
mod invented;
mod kept;
mod news;
mod pages;
mod push;
mod query;
mod secure;
mod server;
mod shell;
mod waiting;

pub use answers::Answers;
pub use app::{router, router_with_door};
pub use backend::{
    AboutBook, AwayLine, Backend, Backups, Brought, ImportLine, Jotted, ReviewAsk, ReviewWindow, SensorPhoto,
    SensorWords, Settings, TrialAsk, VisitWindow,
};
pub use door::Door;
pub use error::Trouble;
pub use folders::{feeds_of, look_into_folders};
pub use invented::Invent;
pub use kept::{KeptBook, Outside};
pub use server::{ServeError, Served};
pub use waiting::Upload;
