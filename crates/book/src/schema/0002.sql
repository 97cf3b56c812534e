-- The book, layout 2: what source told of an event to the minute alone, so that the same event told by another source
-- to the second is known for one; and the unit and zone a book takes from its imports.

ALTER TABLE blood_check ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;  -- 1: all stamps of this kind in the source are whole minutes
UPDATE blood_check SET to_minute = 1 WHERE origin IN (SELECT origin FROM blood_check GROUP BY origin HAVING max(at % 60 != 0) = 0);
CREATE INDEX blood_check_by_correction ON blood_check (correction) WHERE correction IS NOT NULL;

ALTER TABLE dose ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;  -- 1: all stamps of this kind in the source are whole minutes
UPDATE dose SET to_minute = 1 WHERE origin IN (SELECT origin FROM dose GROUP BY origin HAVING max(at % 60 != 0) = 0);
CREATE INDEX dose_by_correction ON dose (correction) WHERE correction IS NOT NULL;

ALTER TABLE meal ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;  -- 1: all stamps of this kind in the source are whole minutes
UPDATE meal SET to_minute = 1 WHERE origin IN (SELECT origin FROM meal GROUP BY origin HAVING max(at % 60 != 0) = 0);
CREATE INDEX meal_by_correction ON meal (correction) WHERE correction IS NOT NULL;

ALTER TABLE mark ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;  -- 1: all stamps of this kind in the source are whole minutes
UPDATE mark SET to_minute = 1 WHERE origin IN (SELECT origin FROM mark GROUP BY origin HAVING max(at % 60 != 0) = 0);
CREATE INDEX mark_by_correction ON mark (correction) WHERE correction IS NOT NULL;

ALTER TABLE sensor_note ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;  -- 1: all stamps of this kind in the source are whole minutes
UPDATE sensor_note SET to_minute = 1 WHERE origin IN (SELECT origin FROM sensor_note GROUP BY origin HAVING max(at % 60 != 0) = 0);
CREATE INDEX sensor_note_by_correction ON sensor_note (correction) WHERE correction IS NOT NULL;

ALTER TABLE lived_span ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;  -- 1: all stamps of this kind in the source are whole minutes
UPDATE lived_span SET to_minute = 1 WHERE origin IN (SELECT origin FROM lived_span GROUP BY origin HAVING max(at % 60 != 0) = 0);
CREATE INDEX lived_span_by_correction ON lived_span (correction) WHERE correction IS NOT NULL;

-- The same of the row a correction or a deletion was made for.
ALTER TABLE retraction ADD COLUMN to_minute INTEGER NOT NULL DEFAULT 0;
UPDATE retraction SET to_minute = 1 WHERE entry_kind = 'blood_check' AND at % 60 = 0
    AND target_origin IN (SELECT origin FROM blood_check WHERE to_minute = 1);
UPDATE retraction SET to_minute = 1 WHERE entry_kind = 'dose' AND at % 60 = 0
    AND target_origin IN (SELECT origin FROM dose WHERE to_minute = 1);
UPDATE retraction SET to_minute = 1 WHERE entry_kind = 'meal' AND at % 60 = 0
    AND target_origin IN (SELECT origin FROM meal WHERE to_minute = 1);
UPDATE retraction SET to_minute = 1 WHERE entry_kind = 'mark' AND at % 60 = 0
    AND target_origin IN (SELECT origin FROM mark WHERE to_minute = 1);
UPDATE retraction SET to_minute = 1 WHERE entry_kind = 'sensor_note' AND at % 60 = 0
    AND target_origin IN (SELECT origin FROM sensor_note WHERE to_minute = 1);
UPDATE retraction SET to_minute = 1 WHERE entry_kind = 'lived_span' AND at % 60 = 0
    AND target_origin IN (SELECT origin FROM lived_span WHERE to_minute = 1);

-- The unit and zone an import was read in: a book where the person set none takes them from its first import.
ALTER TABLE import ADD COLUMN unit TEXT;
ALTER TABLE import ADD COLUMN base_zone TEXT;
UPDATE import SET base_zone = (SELECT value FROM setting WHERE key = 'base zone' AND setting.origin = import.origin);
DELETE FROM setting WHERE origin IN (SELECT origin FROM import);
