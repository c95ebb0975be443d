-- How surely the share of the bone in yellow patches was known; NULL where it was not stated.
ALTER TABLE readings ADD COLUMN bone_yellow_share_std REAL;
