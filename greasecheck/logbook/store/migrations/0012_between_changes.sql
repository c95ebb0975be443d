-- What was found and done between two water changes, and how fat an animal was.
CREATE TABLE temperatures (
  tub INTEGER NOT NULL REFERENCES tubs (number),
  at TEXT NOT NULL,
  temperature_c REAL NOT NULL,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (tub, at)
) STRICT;

CREATE TABLE top_ups (
  tub INTEGER NOT NULL REFERENCES tubs (number),
  at TEXT NOT NULL,
  litres REAL NOT NULL CHECK (litres > 0),
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (tub, at)
) STRICT;

ALTER TABLE skulls ADD COLUMN condition TEXT;

-- Both count as changes of what an answer about their tub rests on.
CREATE TRIGGER temperatures_added AFTER INSERT ON temperatures BEGIN
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER temperatures_changed AFTER UPDATE ON temperatures BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER temperatures_removed AFTER DELETE ON temperatures BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER top_ups_added AFTER INSERT ON top_ups BEGIN
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER top_ups_changed AFTER UPDATE ON top_ups BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
  INSERT INTO tub_changes VALUES (NEW.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;

CREATE TRIGGER top_ups_removed AFTER DELETE ON top_ups BEGIN
  INSERT INTO tub_changes VALUES (OLD.tub, 1)
    ON CONFLICT (tub) DO UPDATE SET changes = changes + 1;
END;
