-- Taking an entry back, and telling which refused photos were read after all, must not go through
-- the readings of ten years.
CREATE INDEX readings_entry ON readings (entry_id);
CREATE INDEX readings_photo ON readings (photo_path) WHERE photo_path IS NOT NULL;
