-- A skull's own tag; what was drawn to correct what is bone, and what was left out of it.
ALTER TABLE skulls ADD COLUMN tag INTEGER;
ALTER TABLE readings ADD COLUMN drawn TEXT;
ALTER TABLE readings ADD COLUMN bone_left_out TEXT;
