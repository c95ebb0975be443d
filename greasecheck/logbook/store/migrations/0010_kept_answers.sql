-- Answers about running soaks, kept so that they need not be worked out again. Both tables may be
-- emptied at any time. An answer holds while its tub's count of changes is the one in its key.
CREATE TABLE kept_answers (
  tub INTEGER PRIMARY KEY,
  key TEXT NOT NULL,
  made_at TEXT NOT NULL,
  good_until TEXT NOT NULL,
  brief TEXT NOT NULL,
  whole BLOB
) STRICT;

-- Who works on an answer now; a claim lapses, as its process may have been killed.
CREATE TABLE answer_claims (
  tub INTEGER PRIMARY KEY,
  until TEXT NOT NULL
) STRICT;

-- How often the rows that an answer rests on have changed; tub -1 counts what all tubs rest on.
CREATE TABLE tub_changes (
  tub INTEGER PRIMARY KEY,
  changes INTEGER NOT NULL
) STRICT;

CREATE TRIGGER tubs_changed AFTER UPDATE ON tubs BEGIN
  INSERT INTO tub_changes VALUES (NEW.number, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER baths_added AFTER INSERT ON baths BEGIN
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER baths_changed AFTER UPDATE ON baths BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER baths_removed AFTER DELETE ON baths BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER readings_added AFTER INSERT ON readings BEGIN
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER readings_changed AFTER UPDATE ON readings BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER readings_removed AFTER DELETE ON readings BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER denials_added AFTER INSERT ON denials BEGIN
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER denials_changed AFTER UPDATE ON denials BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER denials_removed AFTER DELETE ON denials BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

-- A skull's events concern the tubs it was in; one that is done bends what all tubs expect.
CREATE TRIGGER skull_events_added AFTER INSERT ON skull_events BEGIN
  INSERT INTO tub_changes
    SELECT DISTINCT tub, 1 FROM skull_events WHERE skull = NEW.skull AND tub IS NOT NULL
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER skull_events_done AFTER INSERT ON skull_events WHEN NEW.kind = 'degreased' BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER skull_events_changed AFTER UPDATE ON skull_events BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER skull_events_removed AFTER DELETE ON skull_events BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER skulls_changed AFTER UPDATE ON skulls BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

-- What changes and days cost decides when all tubs are to be changed.
CREATE TRIGGER settings_added AFTER INSERT ON settings WHEN NEW.name LIKE '%price' BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER settings_changed AFTER UPDATE ON settings WHEN NEW.name LIKE '%price' BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER settings_removed AFTER DELETE ON settings WHEN OLD.name LIKE '%price' BEGIN
  INSERT INTO tub_changes VALUES (-1, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;
