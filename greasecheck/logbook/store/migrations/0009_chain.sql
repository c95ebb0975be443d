-- Each row written adds a link, whose digest holds that of the link before: a changed, lost or
-- foreign row shows. Taking back is an entry of its own.
CREATE TABLE links (
  number INTEGER PRIMARY KEY CHECK (number >= 1),
  entry_id INTEGER NOT NULL,
  table_name TEXT NOT NULL,
  row_key TEXT NOT NULL,
  content TEXT,
  digest TEXT NOT NULL
) STRICT;
ALTER TABLE entries ADD COLUMN undoes INTEGER REFERENCES entries (id);
