//! What generic words in headings and cells speak of, in English, German, French, Spanish, Italian, Dutch,
//! Portuguese, Danish, Norwegian, Swedish and Finnish.
//!
//! The file is long because it is one table: eleven languages' words, side by side.
//!
//! Words are compared without accents and in lower case. A stem counts anywhere in a word ('Blutzuckerwert' holds
//! 'zucker'), an exact word only as a whole ('kh', 'art').

use std::cell::RefCell;
use std::collections::HashMap;

use crate::fold::{fold, words};

/// One thing a word can speak of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub(crate) enum Concept {
    Time,
    Date,
    Clock,
    Offset,
    Universal,
    Start,
    End,
    PutOn,
    Duration,
    Bookkeeping,
    Glucose,
    Sensor,
    Stored,
    Scan,
    Blood,
    Laboratory,
    Insulin,
    Rapid,
    Short,
    Intermediate,
    Long,
    Mixed,
    Basal,
    Bolus,
    Rate,
    Intravenous,
    Dose,
    Carbohydrate,
    Exchange,
    Protein,
    Fat,
    Fibre,
    Energy,
    Food,
    Ketones,
    Activity,
    Sleep,
    Symptom,
    Illness,
    Drink,
    Medicine,
    Note,
    Unit,
    Kind,
    Value,
    Flag,
    Subject,
    Site,
    Device,
    Trend,
    Other,
    MgPerDl,
    MmolPerL,
    GramPerL,
    Gram,
    InsulinUnit,
    PerHour,
    Minute,
    SecondUnit,
    Hour,
    Kcal,
    Low,
    High,
    WarmUp,
    Manual,
    Suspend,
}

/// A set of concepts.
#[derive(Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Concepts(u128);

impl Concepts {
    pub(crate) fn has(self, concept: Concept) -> bool {
        self.0 >> (concept as u8) & 1 == 1
    }

    pub(crate) fn any(self, concepts: &[Concept]) -> bool {
        concepts.iter().any(|&c| self.has(c))
    }

    pub(crate) fn add(&mut self, concept: Concept) {
        self.0 |= 1 << (concept as u8);
    }

    pub(crate) fn is_empty(self) -> bool {
        self.0 == 0
    }

    pub(crate) fn count(self) -> u32 {
        self.0.count_ones()
    }
}

/// (concept, exact words, stems).
type Entry = (Concept, &'static [&'static str], &'static [&'static str]);

const VOCABULARY: &[Entry] = &[
    (
        Concept::Time,
        &[
            "time", "ts", "when", "tid", "aika", "tijd", "moment", "zeit", "heure", "hora", "ora", "tempo",
            "temps",
        ],
        &[
            "timestamp",
            "datetime",
            "zeitpunkt",
            "zeitstempel",
            "tidspunkt",
            "tidpunkt",
            "tidsstampel",
            "tidsstempel",
            "aikaleima",
            "horodat",
            "tijdstip",
            "fechahora",
            "datahora",
            "dataora",
        ],
    ),
    (
        Concept::Date,
        &[
            "date", "datum", "fecha", "dato", "data", "pvm", "jour", "giorno", "dia", "dag", "tag", "day",
            "paiva",
        ],
        &["paivamaara", "calendar"],
    ),
    (
        Concept::Clock,
        &[
            "uhrzeit", "zeit", "heure", "hora", "ora", "clock", "kl", "kello", "tijd", "tid", "klo",
        ],
        &["klokkesl", "klockslag", "kellonaika", "uhrzeit", "timeofday"],
    ),
    (
        Concept::Offset,
        &["offset", "tz", "zone", "zeitzone", "utcoffset"],
        &["timezone", "zeitzone", "fuseau", "tidszon", "tidssone"],
    ),
    (Concept::Universal, &["utc", "gmt", "universal", "zulu"], &[]),
    (
        Concept::Start,
        &[
            "start", "begin", "beginn", "debut", "inicio", "inizio", "started", "onset", "alku", "bedtime",
        ],
        &["start", "beginn", "activat", "aktivier"],
    ),
    (
        Concept::End,
        &[
            "end", "ende", "fin", "fine", "fim", "einde", "slut", "slutt", "stop", "until", "loppu", "ended",
            "wake", "removed", "finish", "expired",
        ],
        &["remov", "entfern", "expir"],
    ),
    (
        Concept::PutOn,
        &["insert", "inserted", "applied", "insertion", "placed", "worn"],
        &["put on", "aangebracht", "angelegt", "eingesetzt"],
    ),
    (
        Concept::Duration,
        &[
            "duration", "dauer", "duree", "length", "lengte", "kesto", "varighed", "varighet", "langd",
            "lasted",
        ],
        &["duraci", "durat", "duracao", "dauer", "tijdsduur"],
    ),
    (
        Concept::Bookkeeping,
        &[
            "seq", "sequence", "created", "updated", "modified", "uploaded", "imported", "exported", "index",
            "row", "line", "nr", "no", "number", "lfd", "version",
        ],
        &[
            "upload",
            "download",
            "modif",
            "erstellt",
            "geandert",
            "createdat",
            "updatedat",
        ],
    ),
    (
        Concept::Glucose,
        &["bg", "gl", "glu", "bz", "cgm", "sg", "gluc"],
        &[
            "gluco", "gluko", "glucem", "glicos", "glykos", "glicem", "glycem", "glycaem", "glykem",
            "glykam", "zucker", "suiker", "socker", "sukker", "sokeri", "azucar", "acucar", "sugar",
        ],
    ),
    (
        Concept::Sensor,
        &["sensor", "cgm", "fgm", "cgms", "interstitial", "isf", "capteur"],
        &[
            "sensor",
            "intersti",
            "vavnadsgl",
            "vaevsgl",
            "vevsgl",
            "gewebe",
            "weefsel",
            "capteur",
            "vavsglukos",
            "kudosglukoosi",
        ],
    ),
    (
        Concept::Stored,
        &["auto", "history", "trace", "continuous", "storico", "storica"],
        &[
            "histor",
            "stored",
            "automat",
            "verlauf",
            "opgeslagen",
            "lagret",
            "lagrad",
            "gespeichert",
            "enregistr",
            "almacen",
            "memoriz",
            "armazen",
            "tallenn",
            "kontinu",
            "continu",
        ],
    ),
    (
        Concept::Scan,
        &["scan", "scanned", "scans", "flash"],
        &["scan", "escane", "skann", "scann", "demand", "balay", "digitaliz"],
    ),
    (
        Concept::Blood,
        &[
            "blood",
            "bloed",
            "blod",
            "blut",
            "sang",
            "sangre",
            "sangue",
            "veri",
            "smbg",
            "bgm",
            "finger",
            "meter",
            "strip",
            "strips",
            "stick",
            "prick",
            "bg",
            "bz",
            "fs",
            "control",
            "capillary",
            "calibration",
        ],
        &[
            "blood",
            "capill",
            "kapill",
            "capilar",
            "finger",
            "teststreif",
            "messstreif",
            "teststrip",
            "blutzucker",
            "blutgluk",
            "bloedgluc",
            "bloedsuiker",
            "blodsocker",
            "blodsukker",
            "blodgluk",
            "verensok",
            "verengluk",
            "bandelette",
            "striscia",
            "teststrook",
            "teststick",
            "prick",
            "sormen",
            "glucomet",
            "calibr",
            "kalibr",
            "dextro",
            "prik",
            "stikk",
            "picada",
            "piqure",
            "puntura",
            "dedo",
            "doigt",
            "tira react",
            "punzione",
            "puncion",
            "pinchazo",
            "digito",
            "stix",
        ],
    ),
    (
        Concept::Laboratory,
        &["lab", "labor", "plasma", "venous", "venoes"],
        &["laborat", "venenblut", "venos"],
    ),
    (Concept::Insulin, &["ins", "insulin"], &["insuli"]),
    (
        Concept::Rapid,
        &[
            "rapid",
            "fast",
            "rapide",
            "rapida",
            "rapido",
            "schnell",
            "snel",
            "hurtig",
            "snabb",
            "nopea",
            "mealtime",
            "correction",
            "korrektur",
            "quick",
            "prandial",
            "rask",
        ],
        &[
            "lispro",
            "aspart",
            "glulisin",
            "rapid",
            "schnellwirk",
            "snelwerk",
            "hurtigvirk",
            "snabbverk",
            "hurtigt",
            "mahlzeiteninsulin",
            "maaltijdinsuline",
            "maltidsinsulin",
            "ateriainsuliini",
            "pikainsuliini",
            "korreks",
            "korrig",
        ],
    ),
    (
        Concept::Short,
        &[
            "short",
            "regular",
            "soluble",
            "kort",
            "court",
            "courte",
            "corta",
            "lyhyt",
            "kurz",
            "altinsulin",
        ],
        &[
            "normalinsulin",
            "kurzwirk",
            "kortwerk",
            "korttidsverk",
            "lyhytvaik",
        ],
    ),
    (
        Concept::Intermediate,
        &["nph", "intermediate", "isophane", "isophan"],
        &["isophan", "isofan", "verzogerung", "intermedi", "protamin"],
    ),
    (
        Concept::Long,
        &[
            "long",
            "slow",
            "lang",
            "lent",
            "lente",
            "lenta",
            "lento",
            "lunga",
            "langsam",
            "pitka",
            "hidas",
            "ultralente",
            "longue",
            "larga",
            "prolonged",
            "langsom",
            "langsam",
            "prolongada",
            "longa",
        ],
        &[
            "glargin",
            "detemir",
            "degludec",
            "icodec",
            "ultralent",
            "langwirk",
            "langzeit",
            "langwerk",
            "langzaam",
            "langverk",
            "langtids",
            "langtidsvirk",
            "pitkavaik",
            "longacting",
            "basalinsulin",
            "basinsulin",
            "perusinsuliini",
        ],
    ),
    (
        Concept::Mixed,
        &[
            "mix", "mixed", "premix", "premixed", "biphasic", "mezcla", "misch",
        ],
        &["premix", "mischinsulin", "mixinsulin", "bifas"],
    ),
    (
        Concept::Basal,
        &["basal", "basale", "basaal", "basis", "background", "tbr", "base"],
        &["basal", "basaal"],
    ),
    (
        Concept::Bolus,
        &["bolus", "bolo", "bolos", "boli", "boluses"],
        &["bolus"],
    ),
    (
        Concept::Rate,
        &[
            "rate",
            "rata",
            "debit",
            "tasso",
            "tasa",
            "taxa",
            "snelheid",
            "hastighed",
            "temp",
        ],
        &["basalrate", "basaalsnelheid", "basaldos"],
    ),
    (
        Concept::Intravenous,
        &["iv", "infusion", "drip"],
        &["intraven", "endoven"],
    ),
    (
        Concept::Dose,
        &["dose", "dosis", "doses", "dos", "annos", "dosi"],
        &["dosis", "dosage"],
    ),
    (
        Concept::Carbohydrate,
        &["kh", "ch", "cho", "hc", "carb", "carbs", "glucides", "hh"],
        &[
            "carb",
            "kohlenhyd",
            "glucid",
            "hidrat",
            "carboid",
            "koolhyd",
            "kulhyd",
            "kolhyd",
            "karbohyd",
            "hiilih",
        ],
    ),
    (
        Concept::Exchange,
        &["be", "ke", "exchange", "exchanges", "raciones", "portions"],
        &["broteinh", "exchange", "kohlenhydrateinh"],
    ),
    (
        Concept::Protein,
        &["prot", "eiwit", "eiweiss", "aggvita"],
        &["protein", "eiweiss", "eiwit", "valkuai"],
    ),
    (
        Concept::Fat,
        &[
            "fat", "fats", "fett", "fedt", "vet", "vetten", "grasa", "grasas", "grassi", "gordura",
            "gorduras", "rasva", "lipides",
        ],
        &["lipid"],
    ),
    (
        Concept::Fibre,
        &[
            "fibre",
            "fiber",
            "fibra",
            "fibras",
            "fibres",
            "vezels",
            "kuitu",
            "kostfiber",
        ],
        &["ballaststoff", "kostfib"],
    ),
    (
        Concept::Energy,
        &["kcal", "kj", "energy", "energie", "calories", "energi", "energia"],
        &["calor", "kalori", "energ"],
    ),
    (
        Concept::Food,
        &[
            "food",
            "ate",
            "eaten",
            "meal",
            "meals",
            "essen",
            "repas",
            "comida",
            "pasto",
            "cibo",
            "maaltijd",
            "eten",
            "mat",
            "ruoka",
            "ateria",
            "breakfast",
            "lunch",
            "dinner",
            "supper",
            "snack",
            "diner",
            "cena",
            "pranzo",
            "middag",
            "eating",
            "jause",
            "hypo",
            "treatment",
            "dessert",
        ],
        &[
            "mahlzeit",
            "aliment",
            "refeic",
            "voeding",
            "maltid",
            "maaltid",
            "ateri",
            "fruhstuck",
            "mittagessen",
            "abendessen",
            "dejeuner",
            "desayuno",
            "almuerzo",
            "merienda",
            "colazione",
            "ontbijt",
            "avondeten",
            "frokost",
            "frukost",
            "aamiai",
            "lounas",
            "paivallin",
            "nahrung",
            "lebensmittel",
        ],
    ),
    (
        Concept::Ketones,
        &["ketone", "ketones", "keton"],
        &["keton", "ceton", "chetoni", "ketoai"],
    ),
    (
        Concept::Activity,
        &[
            "exercise",
            "activity",
            "sport",
            "workout",
            "training",
            "motion",
            "walk",
            "walking",
            "run",
            "running",
            "gym",
            "cycling",
            "swim",
            "liikunta",
            "deporte",
            "esercizio",
            "work",
        ],
        &[
            "exercis",
            "aktivit",
            "activit",
            "actividad",
            "atividad",
            "attivita",
            "bewegung",
            "beweging",
            "ejercici",
            "exercici",
            "inspanning",
            "trening",
            "traning",
            "liikun",
        ],
    ),
    (
        Concept::Sleep,
        &[
            "sleep", "sono", "sonno", "sueno", "slaap", "sovn", "somn", "uni", "nap", "bed",
        ],
        &["sleep", "schlaf", "sommeil", "sueno", "slaap"],
    ),
    (
        Concept::Symptom,
        &["symptom", "symptoms", "feeling", "mood"],
        &["symptom", "sintom", "oire"],
    ),
    (
        Concept::Illness,
        &["ill", "illness", "sick", "fever", "krank", "maladie", "ziek"],
        &[
            "krankheit",
            "enferm",
            "malatti",
            "doenca",
            "sairaus",
            "sygdom",
            "sykdom",
            "sjukdom",
        ],
    ),
    (
        Concept::Drink,
        &["water", "drink", "wasser", "eau", "agua", "acqua", "drank"],
        &["getrank", "boisson", "bebida"],
    ),
    (
        Concept::Medicine,
        &[
            "drug",
            "drugs",
            "medication",
            "medications",
            "medicine",
            "pill",
            "pills",
            "tablet",
            "tablets",
        ],
        &[
            "medika", "medica", "farmac", "medicij", "medicin", "laake", "legemid", "arznei",
        ],
    ),
    (
        Concept::Note,
        &[
            "note",
            "notes",
            "comment",
            "comments",
            "nota",
            "notas",
            "text",
            "detail",
            "details",
            "remark",
            "remarks",
            "description",
            "notat",
            "noter",
            "memo",
            "tag",
            "tags",
            "info",
        ],
        &[
            "kommentar",
            "notiz",
            "bemerk",
            "bemaerk",
            "remarque",
            "comment",
            "observa",
            "opmerking",
            "notiti",
            "merknad",
            "anteckning",
            "huomautus",
            "muistiin",
            "beschreibung",
            "descri",
            "comentario",
            "annotazi",
        ],
    ),
    (
        Concept::Unit,
        &[
            "unit", "units", "einheit", "unite", "unidad", "unidades", "unita", "unidade", "eenheid",
            "enhed", "enhet", "yksikko", "uom",
        ],
        &["einheit", "yksik"],
    ),
    (
        Concept::Kind,
        &[
            "type",
            "kind",
            "what",
            "event",
            "record",
            "category",
            "art",
            "typ",
            "typus",
            "tipo",
            "evento",
            "soort",
            "slag",
            "tyyppi",
            "laji",
            "source",
            "method",
            "code",
            "entry",
            "mode",
            "eventtype",
            "quelle",
            "herkunft",
        ],
        &[
            "ereignis",
            "kategori",
            "categor",
            "evenement",
            "gebeurtenis",
            "haendels",
            "handels",
            "hendels",
            "tapahtuma",
            "recordtype",
            "messart",
        ],
    ),
    (
        Concept::Value,
        &[
            "value", "values", "wert", "valeur", "valor", "valore", "waarde", "verdi", "varde", "arvo",
            "result", "reading", "readings", "amount", "menge", "quantity", "level", "vaerdi", "lukema",
            "maara", "lecture", "lectura", "lettura", "leitura", "meting",
        ],
        &[
            "messwert",
            "ergebnis",
            "resultat",
            "quantit",
            "cantidad",
            "quantid",
            "hoeveelheid",
            "maengde",
            "mangd",
            "mengde",
            "mittaus",
            "measure",
        ],
    ),
    (
        Concept::Flag,
        &[
            "flag",
            "flags",
            "status",
            "range",
            "marker",
            "quality",
            "qualifier",
            "hinweis",
            "estado",
            "etat",
        ],
        &["flag", "status"],
    ),
    (
        Concept::Subject,
        &[
            "subject",
            "patient",
            "person",
            "participant",
            "proband",
            "sujet",
            "pid",
            "ptid",
            "name",
            "user",
            "id",
            "deltager",
            "deltaker",
            "deltagare",
            "who",
            "child",
            "nom",
            "nombre",
            "navn",
            "namn",
            "nimi",
            "naam",
            "nome",
        ],
        &[
            "subject", "patient", "particip", "pacient", "pazient", "proband", "potila", "benutzer",
        ],
    ),
    (
        Concept::Site,
        &[
            "site", "location", "position", "place", "stelle", "lieu", "sitio", "arm", "abdomen", "thigh",
            "bodysite",
        ],
        &["einstich", "setzstelle"],
    ),
    (
        Concept::Device,
        &[
            "device",
            "gerat",
            "serial",
            "pump",
            "transmitter",
            "alarm",
            "alert",
            "alarms",
            "battery",
            "aparaat",
            "appareil",
            "pumpe",
            "pompe",
        ],
        &["serien", "dispositi", "apparat", "laite"],
    ),
    (
        Concept::Trend,
        &[
            "trend",
            "arrow",
            "pfeil",
            "slope",
            "roc",
            "direction",
            "delta",
            "change",
        ],
        &["tendenc", "tendanc"],
    ),
    (
        Concept::Other,
        &[
            "weight",
            "age",
            "heart",
            "hr",
            "steps",
            "pressure",
            "temperature",
            "height",
            "sex",
            "gender",
            "bmi",
            "pulse",
            "length",
            "gewicht",
            "alter",
            "poids",
            "confidence",
            "isig",
            "hba",
            "quality",
        ],
        &["hba1c", "gewicht", "puls", "schritt"],
    ),
    (Concept::MgPerDl, &["mgdl"], &["mgdl", "mg/dl", "mg_dl", "mg%"]),
    (
        Concept::MmolPerL,
        &["mmoll", "mmol"],
        &["mmol/l", "mmoll", "mmol_l"],
    ),
    (Concept::GramPerL, &[], &["g/l"]),
    (
        Concept::Gram,
        &[
            "g", "gram", "grams", "gramm", "grammes", "gramos", "grammi", "gramas", "gr",
        ],
        &[],
    ),
    (
        Concept::InsulinUnit,
        &["u", "iu", "ui", "ie", "e", "ee", "units", "einheiten", "enheder"],
        &[],
    ),
    (
        Concept::PerHour,
        &["ph"],
        &[
            "u/h",
            "u_per_h",
            "ie/h",
            "e/h",
            "per hour",
            "/hr",
            "u/hr",
            "perhour",
            "pro stunde",
            "ui/h",
            "iu/h",
            "units/h",
        ],
    ),
    (
        Concept::Minute,
        &[
            "min", "mins", "minute", "minutes", "minuten", "minutter", "minuter", "minuti", "minutos",
            "minuutit",
        ],
        &[],
    ),
    (
        Concept::SecondUnit,
        &["s", "sec", "secs", "second", "seconds", "sekunden"],
        &[],
    ),
    (
        Concept::Hour,
        &[
            "h", "hr", "hrs", "hour", "hours", "stunden", "heures", "horas", "ore", "uren", "timer", "timmar",
        ],
        &[],
    ),
    (Concept::Kcal, &["kcal"], &[]),
    (
        Concept::Low,
        &[
            "low", "lo", "below", "under", "niedrig", "tief", "bas", "basse", "bajo", "baja", "basso",
            "bassa", "baixo", "baixa", "laag", "lav", "lavt", "lag", "lagt", "matala", "unter",
        ],
        &["belowrange", "niedrig"],
    ),
    (
        Concept::High,
        &[
            "high", "hi", "above", "over", "hoch", "haut", "haute", "eleve", "elevee", "alto", "alta",
            "hoog", "hog", "hogt", "hoj", "hojt", "hoy", "hoyt", "korkea", "uber",
        ],
        &["aboverange"],
    ),
    (
        Concept::WarmUp,
        &["warmup"],
        &["warm up", "warm_up", "warm-up", "aufwarm"],
    ),
    (
        Concept::Manual,
        &["manual", "manuel", "manuell", "handmatig", "manuale", "hand"],
        &["manuel"],
    ),
    (
        Concept::Suspend,
        &["suspend", "suspended", "paused", "off"],
        &["suspend", "unterbroch", "gestoppt"],
    ),
];

/// Texts whose concepts are remembered, for each thread.
const MOST_REMEMBERED: usize = 4096;
/// Longest text remembered: the words of columns repeat, sentences do not.
const LONGEST_REMEMBERED: usize = 48;

thread_local! {
    static REMEMBERED: RefCell<HashMap<String, Concepts>> = RefCell::new(HashMap::new());
}

/// All that a text speaks of. The same few words stand in thousands of cells, so short texts are remembered.
pub(crate) fn concepts_of(text: &str) -> Concepts {
    if text.len() > LONGEST_REMEMBERED {
        return look_up(text);
    }
    REMEMBERED.with_borrow_mut(|remembered| {
        if let Some(&concepts) = remembered.get(text) {
            return concepts;
        }
        let concepts = look_up(text);
        if remembered.len() < MOST_REMEMBERED {
            remembered.insert(text.to_owned(), concepts);
        }
        concepts
    })
}

fn look_up(text: &str) -> Concepts {
    let mut found = Concepts::default();
    let list = words(text);
    let whole = fold(text);
    for (concept, exact, stems) in VOCABULARY {
        let spoken = list.iter().any(|word| exact.contains(&word.as_str()))
            || stems.iter().any(|stem| speaks(stem, &list, &whole));
        if spoken {
            found.add(*concept);
        }
    }
    found
}

/// Whether a stem is in one of the words, or, where it holds a sign, in the text as it stands.
fn speaks(stem: &str, list: &[String], whole: &str) -> bool {
    if stem.bytes().all(|b| b.is_ascii_lowercase() || b >= 0x80) {
        list.iter().any(|word| word.contains(stem))
    } else {
        has_bounded(whole, stem)
    }
}

/// Whether `stem` stands in `whole` and does not begin in the middle of a word ('mg/l' is not 'g/l').
fn has_bounded(whole: &str, stem: &str) -> bool {
    whole.match_indices(stem).any(|(at, _)| {
        whole[..at]
            .chars()
            .next_back()
            .is_none_or(|before| !before.is_alphabetic() || stem.starts_with(' '))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn speaks_of(text: &str, concept: Concept) -> bool {
        concepts_of(text).has(concept)
    }

    #[test]
    fn glucose_in_every_language() {
        for heading in [
            "glucose",
            "Blutzucker (mg/dl)",
            "Glukose [mmol/L]",
            "Glycémie",
            "Glucosa",
            "Glicemia",
            "Bloedglucose",
            "Glicose?glicemia",
            "Blodsukker",
            "Blodsocker",
            "Verensokeri",
            "bg_ts",
            "sensorGlucose",
        ] {
            assert!(speaks_of(heading, Concept::Glucose), "{heading}");
        }
        assert!(!speaks_of("glucagon", Concept::Glucose));
    }

    #[test]
    fn units_in_headings() {
        assert!(speaks_of("Glukose [mmol/L]", Concept::MmolPerL));
        assert!(speaks_of("glucose_mmol_l", Concept::MmolPerL));
        assert!(speaks_of("sensor_mgdl", Concept::MgPerDl));
        assert!(speaks_of("Glycémie (mg/dL)", Concept::MgPerDl));
        assert!(speaks_of("Glycémie (g/L)", Concept::GramPerL));
        assert!(!speaks_of("Glycémie (mg/L)", Concept::GramPerL));
        assert!(speaks_of("pump_basal_U_per_h_human_regular", Concept::PerHour));
    }

    #[test]
    fn food_and_insulin_in_every_language() {
        for heading in [
            "carbs_g",
            "Kohlenhydrate",
            "Glucides (g)",
            "Hidratos",
            "Carboidrati",
            "Koolhydraten",
            "Kulhydrater",
            "Kolhydrater",
            "Hiilihydraatit",
        ] {
            assert!(speaks_of(heading, Concept::Carbohydrate), "{heading}");
        }
        for heading in ["Insulin", "insuline rapide", "Insulina", "insuliini"] {
            assert!(speaks_of(heading, Concept::Insulin), "{heading}");
        }
    }
}
