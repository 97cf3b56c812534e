-- The book, layout 1. Instants are seconds since 1970 (UTC). Applied by src/schema.rs; never edited once released.

-- 'Ints' in ASCII: says that this file is a book of this program.
PRAGMA application_id = 0x496e7473;

-- The journal: one line for each change ever made. Every row below names the change that brought it (`origin`), so
-- that undoing a change is dropping its rows. Ids are never used twice.
CREATE TABLE change (
    id        INTEGER PRIMARY KEY AUTOINCREMENT,
    at        INTEGER NOT NULL,
    kind      TEXT NOT NULL CHECK (kind IN ('import', 'log', 'edit', 'delete', 'setting', 'undo')),
    what      TEXT NOT NULL,                    -- one line for people
    detail    TEXT NOT NULL,                    -- JSON, by kind
    undone_by INTEGER REFERENCES change (id)
) STRICT;

CREATE TABLE import (
    origin        INTEGER PRIMARY KEY REFERENCES change (id),
    file_name     TEXT NOT NULL,
    digest        BLOB NOT NULL CHECK (length(digest) = 32),     -- SHA-256 of the file
    size_bytes    INTEGER NOT NULL,
    options       TEXT NOT NULL,                                 -- JSON
    understanding TEXT NOT NULL,                                 -- JSON
    readings_new      INTEGER NOT NULL,
    scans_new         INTEGER NOT NULL,
    blood_checks_new  INTEGER NOT NULL,
    doses_new         INTEGER NOT NULL,
    meals_new         INTEGER NOT NULL,
    other_new         INTEGER NOT NULL,
    already_there     INTEGER NOT NULL,
    conflicts         INTEGER NOT NULL,
    rejected          INTEGER NOT NULL
) STRICT;
CREATE INDEX import_by_digest ON import (digest);

-- The file as it came, zstd-compressed, where it was of ordinary size.
CREATE TABLE original (
    origin INTEGER PRIMARY KEY REFERENCES import (origin),
    packed BLOB NOT NULL
) STRICT;

CREATE TABLE trace (
    id     INTEGER PRIMARY KEY,
    sensor TEXT NOT NULL,                       -- '' where the source names none
    kind   TEXT NOT NULL CHECK (kind IN ('automatic', 'scan')),
    UNIQUE (sensor, kind)
) STRICT;

-- Readings: one immutable block for each (origin, trace, UTC day). `packed` is described in src/block.rs.
CREATE TABLE block (
    id     INTEGER PRIMARY KEY,
    trace  INTEGER NOT NULL REFERENCES trace (id),
    day    INTEGER NOT NULL,                    -- days since 1970-01-01 (UTC)
    origin INTEGER NOT NULL REFERENCES change (id),
    count  INTEGER NOT NULL,
    packed BLOB NOT NULL,
    UNIQUE (trace, day, origin)
) STRICT;
CREATE INDEX block_by_origin ON block (origin);

-- What an edit or a deletion hides: a content, not a row, so that the same event in a later export stays hidden too.
CREATE TABLE retraction (
    id            INTEGER PRIMARY KEY AUTOINCREMENT,
    origin        INTEGER NOT NULL REFERENCES change (id),
    entry_kind    TEXT NOT NULL,                -- name of the table below
    at            INTEGER NOT NULL,
    content       TEXT NOT NULL,                -- the columns from `at` on, a JSON array
    target_origin INTEGER NOT NULL,             -- the change that had brought the row
    reason        TEXT
) STRICT;
CREATE INDEX retraction_by_content ON retraction (entry_kind, at);
CREATE INDEX retraction_by_origin ON retraction (origin);

-- Events. `correction` names what a row was written to correct; it stands as long as that is in the book.
CREATE TABLE blood_check (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    correction INTEGER REFERENCES retraction (id),
    at         INTEGER NOT NULL,
    mantissa   INTEGER NOT NULL,                -- value = mantissa / 10^decimals, as the meter said it
    decimals   INTEGER NOT NULL,
    unit       TEXT NOT NULL,
    censor     TEXT NOT NULL,
    source     TEXT NOT NULL,
    note       TEXT
) STRICT;
CREATE INDEX blood_check_by_at ON blood_check (at);
CREATE INDEX blood_check_by_origin ON blood_check (origin);

CREATE TABLE dose (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    correction INTEGER REFERENCES retraction (id),
    at         INTEGER NOT NULL,
    units      REAL NOT NULL,                   -- units, or units an hour where delivery is 'basal rate'
    insulin    TEXT NOT NULL,
    delivery   TEXT NOT NULL,
    minutes    INTEGER,                         -- where delivery is 'spread'
    note       TEXT
) STRICT;
CREATE INDEX dose_by_at ON dose (at);
CREATE INDEX dose_by_origin ON dose (origin);

CREATE TABLE meal (
    id             INTEGER PRIMARY KEY AUTOINCREMENT,
    origin         INTEGER NOT NULL REFERENCES change (id),
    correction     INTEGER REFERENCES retraction (id),
    at             INTEGER NOT NULL,
    carbohydrate_g REAL,
    protein_g      REAL,
    fat_g          REAL,
    fibre_g        REAL,
    energy_kcal    REAL,
    text           TEXT
) STRICT;
CREATE INDEX meal_by_at ON meal (at);
CREATE INDEX meal_by_origin ON meal (origin);

CREATE TABLE mark (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    correction INTEGER REFERENCES retraction (id),
    at         INTEGER NOT NULL,
    until      INTEGER,
    kind       TEXT NOT NULL,
    value      REAL,
    text       TEXT
) STRICT;
CREATE INDEX mark_by_at ON mark (at);
CREATE INDEX mark_by_origin ON mark (origin);

CREATE TABLE sensor_note (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    correction INTEGER REFERENCES retraction (id),
    at         INTEGER NOT NULL,
    kind       TEXT NOT NULL,
    sensor     TEXT,
    site       TEXT,
    note       TEXT
) STRICT;
CREATE INDEX sensor_note_by_at ON sensor_note (at);
CREATE INDEX sensor_note_by_origin ON sensor_note (origin);

-- The zone the wearer lived in, where it differs from the base zone.
CREATE TABLE lived_span (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    correction INTEGER REFERENCES retraction (id),
    at         INTEGER NOT NULL,
    until      INTEGER NOT NULL,
    zone       TEXT NOT NULL
) STRICT;
CREATE INDEX lived_span_by_at ON lived_span (at);
CREATE INDEX lived_span_by_origin ON lived_span (origin);

-- Rows of a file that could not be used, with the reason.
CREATE TABLE rejected_row (
    id          INTEGER PRIMARY KEY,
    origin      INTEGER NOT NULL REFERENCES change (id),
    row         INTEGER NOT NULL,
    column_name TEXT NOT NULL,
    text        TEXT NOT NULL,
    reason      TEXT NOT NULL
) STRICT;
CREATE INDEX rejected_row_by_origin ON rejected_row (origin);

-- File layouts understood before.
CREATE TABLE recipe (
    id     INTEGER PRIMARY KEY,
    origin INTEGER NOT NULL REFERENCES change (id),
    layout TEXT NOT NULL,
    json   TEXT NOT NULL
) STRICT;
CREATE INDEX recipe_by_origin ON recipe (origin);

CREATE TABLE setting (
    key    TEXT PRIMARY KEY,
    value  TEXT NOT NULL,
    origin INTEGER NOT NULL REFERENCES change (id)
) STRICT;
