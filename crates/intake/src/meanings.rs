//! What the words of a column mean, looked up once a word.

use std::collections::HashMap;

/// Different words remembered; a column of kinds or units has a handful.
const MOST_WORDS: usize = 4096;

/// Words and their meanings. The word met last is found without hashing, since columns of kinds and units run on.
#[derive(Debug)]
pub(crate) struct Meanings<T> {
    known: HashMap<Vec<u8>, T>,
    last: Vec<u8>,
    last_meaning: Option<T>,
}

impl<T> Default for Meanings<T> {
    fn default() -> Self {
        Meanings {
            known: HashMap::new(),
            last: Vec::new(),
            last_meaning: None,
        }
    }
}

impl<T: Copy> Meanings<T> {
    /// The meaning of a word, by `look_up` when it is new.
    pub(crate) fn find(&mut self, word: &[u8], look_up: impl FnOnce() -> T) -> T {
        if let Some(meaning) = self.last_meaning.filter(|_| same(&self.last, word)) {
            return meaning;
        }
        let meaning = match self.known.get(word) {
            Some(&meaning) => meaning,
            None => {
                let meaning = look_up();
                if self.known.len() < MOST_WORDS {
                    self.known.insert(word.to_vec(), meaning);
                }
                meaning
            }
        };
        self.last.clear();
        self.last.extend_from_slice(word);
        self.last_meaning = Some(meaning);
        meaning
    }
}

/// Whether two texts are equal. Empty ones are not compared byte by byte: their address may be none, and comparing no
/// bytes at such an address costs a processor more than comparing many at a real one.
pub(crate) fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && (a.is_empty() || a == b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_word_is_looked_up_once() {
        let (mut meanings, mut asked) = (Meanings::default(), 0);
        for word in ["a", "a", "b", "a", "", "", "b"] {
            let length = meanings.find(word.as_bytes(), || {
                asked += 1;
                word.len()
            });
            assert_eq!(length, word.len());
        }
        assert_eq!(asked, 3);
    }
}
