-- The light and dark of a photo's patches in fine detail, by which a copy of the photo is known; and
-- the files that were found to be copies.
ALTER TABLE readings ADD COLUMN fingerprint TEXT;
CREATE TABLE copies (
  photo_sha256 TEXT PRIMARY KEY NOT NULL,
  photo_path TEXT NOT NULL,
  original_sha256 TEXT NOT NULL,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;
CREATE INDEX readings_fingerprint ON readings (tub, taken_at) WHERE fingerprint IS NOT NULL;
