-- When a person last found heater, soap and bones of the tub well.
ALTER TABLE tubs ADD COLUMN checked_at TEXT;
