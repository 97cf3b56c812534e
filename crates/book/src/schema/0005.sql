-- The book, layout 5: a digest of the ordinary rows of each change (src/seal.rs), by which a damaged row is found.

CREATE TABLE seal (
    origin INTEGER PRIMARY KEY REFERENCES change (id),
    digest BLOB NOT NULL CHECK (length(digest) = 32)
) STRICT;
