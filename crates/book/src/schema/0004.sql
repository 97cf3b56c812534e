-- The book, layout 4: the wearer's word on lows that a sensor showed.

CREATE TABLE low_verdict (
    id         INTEGER PRIMARY KEY AUTOINCREMENT,
    origin     INTEGER NOT NULL REFERENCES change (id),
    correction INTEGER REFERENCES retraction (id),
    at         INTEGER NOT NULL,
    until      INTEGER NOT NULL,
    sensor     TEXT,                            -- NULL: whichever was worn
    was        TEXT NOT NULL,                   -- 'pressure' or 'real'
    note       TEXT,
    to_minute  INTEGER NOT NULL DEFAULT 0       -- 1: all stamps of this kind in the source are whole minutes
) STRICT;
CREATE INDEX low_verdict_by_at ON low_verdict (at);
CREATE INDEX low_verdict_by_origin ON low_verdict (origin);
CREATE INDEX low_verdict_by_correction ON low_verdict (correction) WHERE correction IS NOT NULL;
