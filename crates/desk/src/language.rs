//! The language a book is told in.

use interstice_book::Settings;
use interstice_tongue::Tongue;

/// Under this key of [`Settings::other`] a book keeps the code of the language its wearer reads.
pub const LANGUAGE: &str = "language";

/// The language set; English where none is, or one that this version does not speak.
pub fn language(settings: &Settings) -> Tongue {
    let code = settings.other.get(LANGUAGE);
    code.and_then(|code| Tongue::named(code)).unwrap_or_default()
}
