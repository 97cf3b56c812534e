-- The book, layout 3: what is known of a sensor beside its moments.

-- JSON: preparation and cover (lists of tags), lot, serial, ending; NULL where none is known.
ALTER TABLE sensor_note ADD COLUMN detail TEXT;
-- Contents of retracted moments name all columns.
UPDATE retraction SET content = substr(content, 1, length(content) - 1) || ',null]' WHERE entry_kind = 'sensor_note';
