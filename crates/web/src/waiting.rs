//! Files handed over but not yet in the book. They wait in memory while their questions are answered, and are gone when
//! the app ends.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use interstice_desk::FileReport;

use crate::Answers;

/// Files that may wait at once; the oldest gives way.
const WAITING_AT_MOST: usize = 4;

/// A file as it was handed over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Upload {
    /// Its name.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// A file that waits, what was said about it, and its receipt once it is in the book.
#[derive(Clone, Debug)]
pub(crate) struct Waiting {
    pub(crate) id: u64,
    pub(crate) file: Arc<Upload>,
    pub(crate) answers: Answers,
    pub(crate) receipt: Option<Arc<FileReport>>,
}

/// All that wait.
#[derive(Debug, Default)]
pub(crate) struct WaitingRoom {
    inside: Mutex<(u64, VecDeque<Waiting>)>,
}

impl WaitingRoom {
    /// Takes a file in; answers its number.
    pub(crate) fn enter(&self, file: Upload) -> u64 {
        self.with(|(last, files)| {
            *last += 1;
            files.push_back(Waiting {
                id: *last,
                file: Arc::new(file),
                answers: Answers::default(),
                receipt: None,
            });
            while files.len() > WAITING_AT_MOST {
                files.pop_front();
            }
            *last
        })
    }

    /// The file of that number, unless it is gone.
    pub(crate) fn get(&self, id: u64) -> Option<Waiting> {
        self.with(|(_, files)| files.iter().find(|file| file.id == id).cloned())
    }

    /// Changes the file of that number, unless it is gone.
    pub(crate) fn change(&self, id: u64, change: impl FnOnce(&mut Waiting)) {
        self.with(|(_, files)| {
            if let Some(file) = files.iter_mut().find(|file| file.id == id) {
                change(file);
            }
        });
    }

    /// Lets a file go.
    pub(crate) fn leave(&self, id: u64) {
        self.with(|(_, files)| files.retain(|file| file.id != id));
    }

    fn with<T>(&self, act: impl FnOnce(&mut (u64, VecDeque<Waiting>)) -> T) -> T {
        // Every change is whole before the lock opens again, so a thread that died inside left nothing half done.
        act(&mut self.inside.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_gives_way() {
        let room = WaitingRoom::default();
        let ids: Vec<u64> = (0..6)
            .map(|_| {
                room.enter(Upload {
                    name: String::new(),
                    bytes: Vec::new(),
                })
            })
            .collect();
        let inside: Vec<bool> = ids.iter().map(|&id| room.get(id).is_some()).collect();
        assert_eq!(inside, [false, false, true, true, true, true]);
    }

    #[test]
    fn a_file_that_left_is_gone() {
        let room = WaitingRoom::default();
        let id = room.enter(Upload {
            name: "a".to_owned(),
            bytes: vec![1],
        });
        room.change(id, |file| file.answers.unit = Some("mg/dL".to_owned()));
        assert_eq!(
            room.get(id).and_then(|file| file.answers.unit).as_deref(),
            Some("mg/dL")
        );
        room.leave(id);
        assert!(room.get(id).is_none());
    }
}
