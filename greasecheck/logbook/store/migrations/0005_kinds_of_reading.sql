-- What a reading is of, and what a ladder in the tub tells of the water beside its haze.
ALTER TABLE readings ADD COLUMN kind TEXT NOT NULL DEFAULT 'jar';
UPDATE readings SET kind = 'bone' WHERE attenuation_per_m IS NULL;
ALTER TABLE readings ADD COLUMN decay_per_m REAL;
ALTER TABLE readings ADD COLUMN decay_std_per_m REAL;
ALTER TABLE readings ADD COLUMN level_mm REAL;
ALTER TABLE readings ADD COLUMN level_std_mm REAL;
