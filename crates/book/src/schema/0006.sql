-- The book, layout 6: photos beside what was noted of a sensor.

CREATE TABLE photo (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    at         INTEGER NOT NULL,
    sensor     TEXT,                            -- NULL: that of the moment the same change wrote
    name       TEXT NOT NULL,                   -- of the file it came in
    media      TEXT NOT NULL,                   -- 'image/jpeg', 'image/png' or 'image/webp'
    digest     BLOB NOT NULL CHECK (length(digest) = 32),    -- SHA-256 of the bytes
    bytes      BLOB NOT NULL
) STRICT;
CREATE INDEX photo_by_origin ON photo (origin);
