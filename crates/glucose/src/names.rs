//! The words in which kinds of things are written where another program may read them: in tables, never on a page.

use crate::{
    BloodSource, Censor, Comfort, Ending, InsulinKind, LowWas, MarkKind, PhotoMedia, Removal, SensorNoteKind,
    Side, SkinAfter, TraceKind, Unit,
};

/// One of a few things, each with one word.
pub trait Named: Copy + PartialEq + 'static {
    /// All of them with their words.
    const NAMES: &'static [(Self, &'static str)];

    /// Its word.
    fn word(self) -> &'static str {
        let found = Self::NAMES.iter().find(|(it, _)| *it == self);
        found.map_or("", |(_, word)| word)
    }

    /// What a word stands for.
    fn of_word(word: &str) -> Option<Self> {
        Self::NAMES
            .iter()
            .find(|(_, name)| *name == word)
            .map(|(it, _)| *it)
    }
}

macro_rules! named {
    ($($kind:ty: $($it:expr => $word:literal),+;)+) => {
        $(impl Named for $kind {
            const NAMES: &'static [(Self, &'static str)] = &[$(($it, $word)),+];
        })+
    };
}

named! {
    TraceKind: TraceKind::Automatic => "automatic", TraceKind::Scan => "scan";
    Unit: Unit::MgPerDl => "mg/dL", Unit::MmolPerL => "mmol/L";
    Censor: Censor::None => "", Censor::Below => "below", Censor::Above => "above";
    BloodSource: BloodSource::Meter => "meter", BloodSource::Laboratory => "laboratory";
    InsulinKind: InsulinKind::Rapid => "rapid", InsulinKind::Short => "short",
        InsulinKind::Intermediate => "intermediate", InsulinKind::Long => "long",
        InsulinKind::Mixed => "mixed", InsulinKind::Unsaid => "unsaid";
    MarkKind: MarkKind::Activity => "activity", MarkKind::Sleep => "sleep", MarkKind::Ketones => "ketones",
        MarkKind::Symptom => "symptom", MarkKind::Illness => "illness", MarkKind::Drink => "drink",
        MarkKind::Temperature => "temperature", MarkKind::Medicine => "medicine", MarkKind::Device => "device",
        MarkKind::Note => "note", MarkKind::Tag => "tag", MarkKind::Artefact => "artefact";
    SensorNoteKind: SensorNoteKind::PutOn => "put on", SensorNoteKind::Started => "started",
        SensorNoteKind::Ended => "ended", SensorNoteKind::Noted => "noted";
    LowWas: LowWas::Pressure => "pressure", LowWas::Real => "real";
    Side: Side::Left => "left", Side::Right => "right";
    Removal: Removal::Dry => "dry", Removal::Oil => "oil", Removal::Remover => "remover";
    SkinAfter: SkinAfter::Clear => "clear", SkinAfter::Irritant => "irritant", SkinAfter::Allergic => "allergic",
        SkinAfter::Mechanical => "mechanical", SkinAfter::Infection => "infection",
        SkinAfter::LumpOrScar => "lump or scar";
    Ending: Ending::Planned => "planned", Ending::TakenOff => "taken off", Ending::PainOrSkin => "pain or skin",
        Ending::CameOff => "came off", Ending::KnockedOff => "knocked off",
        Ending::AdhesiveGaveWay => "adhesive gave way", Ending::Failed => "failed",
        Ending::SignalLost => "signal lost", Ending::FailedReadings => "failed readings", Ending::Other => "other";
    PhotoMedia: PhotoMedia::Jpeg => "image/jpeg", PhotoMedia::Png => "image/png", PhotoMedia::WebP => "image/webp";
    Comfort: Comfort::ALL[0] => "0", Comfort::ALL[1] => "1", Comfort::ALL[2] => "2", Comfort::ALL[3] => "3";
}

impl crate::Said {
    /// The number as a decimal, exactly: '5.4', '104'.
    pub fn decimal(self) -> String {
        let digits = self.mantissa().unsigned_abs().to_string();
        let decimals = usize::from(self.decimals());
        let sign = if self.mantissa() < 0 { "-" } else { "" };
        if decimals == 0 {
            return format!("{sign}{digits}");
        }
        let digits = format!("{digits:0>width$}", width = decimals + 1);
        let (whole, part) = digits.split_at(digits.len() - decimals);
        format!("{sign}{whole}.{part}")
    }

    /// From what [`crate::Said::decimal`] writes: an optional minus sign, digits, and digits after a point. `None` for anything
    /// else, for more than 18 decimals and for more digits than are kept.
    pub fn from_decimal(text: &str, unit: Unit, censor: Censor) -> Option<Self> {
        let (sign, unsigned) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
        let (whole, part) = unsigned.split_once('.').unwrap_or((unsigned, ""));
        let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        if whole.is_empty() || !digits(whole) || !digits(part) || (part.is_empty() && unsigned.contains('.'))
        {
            return None;
        }
        let mantissa = format!("{sign}{whole}{part}").parse().ok()?;
        crate::Said::new(mantissa, u8::try_from(part.len()).ok()?, unit, censor).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Said;
    use proptest::prelude::*;

    fn each_has_a_word_of_its_own<T: Named + std::fmt::Debug>() {
        for &(it, word) in T::NAMES {
            assert_eq!((it.word(), T::of_word(word)), (word, Some(it)));
        }
        assert_eq!(T::of_word("no such word"), None);
    }

    #[test]
    fn words_lead_back_to_what_they_stand_for() {
        each_has_a_word_of_its_own::<TraceKind>();
        each_has_a_word_of_its_own::<Unit>();
        each_has_a_word_of_its_own::<Censor>();
        each_has_a_word_of_its_own::<BloodSource>();
        each_has_a_word_of_its_own::<InsulinKind>();
        each_has_a_word_of_its_own::<MarkKind>();
        each_has_a_word_of_its_own::<SensorNoteKind>();
        each_has_a_word_of_its_own::<LowWas>();
        each_has_a_word_of_its_own::<Side>();
        each_has_a_word_of_its_own::<Removal>();
        each_has_a_word_of_its_own::<SkinAfter>();
        each_has_a_word_of_its_own::<Ending>();
        each_has_a_word_of_its_own::<Comfort>();
        assert_eq!(Ending::NAMES.len(), Ending::ALL.len());
    }

    proptest! {
        #[test]
        fn a_decimal_comes_back_as_it_was_said(mantissa: i64, decimals in 0u8..=18, mmol: bool) {
            let unit = if mmol { Unit::MmolPerL } else { Unit::MgPerDl };
            let said = Said::new(mantissa, decimals, unit, Censor::Below).unwrap();
            prop_assert_eq!(Said::from_decimal(&said.decimal(), unit, Censor::Below), Some(said));
        }
    }

    #[test]
    fn what_is_no_decimal_is_not_guessed_at() {
        for text in [
            "",
            "-",
            ".5",
            "5.",
            "5,4",
            "1e3",
            "NaN",
            " 5",
            "99999999999999999999",
        ] {
            assert_eq!(
                Said::from_decimal(text, Unit::MgPerDl, Censor::None),
                None,
                "{text}"
            );
        }
        let too_fine = format!("0.{}", "1".repeat(19));
        assert_eq!(Said::from_decimal(&too_fine, Unit::MgPerDl, Censor::None), None);
    }
}
