-- What was promised to owners, with its odds on that day.
CREATE TABLE promises (
  skull TEXT NOT NULL REFERENCES skulls (name),
  promised_at TEXT NOT NULL,
  ready_by TEXT NOT NULL,
  probability REAL CHECK (probability BETWEEN 0 AND 1),
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (skull, promised_at)
) STRICT;

-- How the garage is set up: what it measures by, what changes and days cost.
CREATE TABLE settings (
  name TEXT PRIMARY KEY NOT NULL,
  value TEXT NOT NULL,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;

-- A skull or a tub under a wrong name or number; its rows went over to the right one.
ALTER TABLE skulls ADD COLUMN merged_into TEXT;
ALTER TABLE tubs ADD COLUMN merged_into INTEGER;
