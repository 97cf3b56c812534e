//! The languages there are.

/// A language.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Tongue {
    /// English, in which every message is written first.
    #[default]
    English,
    /// Spanish.
    Spanish,
    /// For tests alone, and offered nowhere: English with what comes from the catalogue between '⟦' and '⟧', so that what does
    /// not come from it is seen.
    Marked,
}

impl Tongue {
    /// Those a person may choose.
    pub const ALL: [Tongue; 2] = [Tongue::English, Tongue::Spanish];

    /// Its code, as `lang` of a page and the setting have it.
    pub fn code(self) -> &'static str {
        match self {
            Tongue::English | Tongue::Marked => "en",
            Tongue::Spanish => "es",
        }
    }

    /// What it calls itself.
    pub fn name(self) -> &'static str {
        match self {
            Tongue::English | Tongue::Marked => "English",
            Tongue::Spanish => "Español",
        }
    }

    /// By its code or a name: 'es', 'Español', 'Spanish'.
    pub fn named(name: &str) -> Option<Tongue> {
        let name = name.trim().to_lowercase();
        match name.as_str() {
            "en" | "english" | "inglés" => Some(Tongue::English),
            "es" | "spanish" | "español" | "castellano" => Some(Tongue::Spanish),
            _ => None,
        }
    }

    /// Whether everything is translated; what is not stands in English. `cargo xtask tidy` holds a finished language to it.
    pub fn is_finished(self) -> bool {
        match self {
            Tongue::English | Tongue::Marked => true,
            Tongue::Spanish => false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_language_is_found_by_its_code_and_its_name() {
        for tongue in Tongue::ALL {
            assert_eq!(Tongue::named(tongue.code()), Some(tongue));
            assert_eq!(Tongue::named(tongue.name()), Some(tongue));
        }
        assert_eq!(Tongue::named(" ES "), Some(Tongue::Spanish));
        assert_eq!(Tongue::named("marked"), None);
    }
}
