-- The changes that a tub's fit found and nobody logged, as JSON; NULL where nothing was fitted.
ALTER TABLE kept_answers ADD COLUMN unlogged TEXT;
