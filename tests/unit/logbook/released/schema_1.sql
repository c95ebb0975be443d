-- A small invented season, written by the first release (schema 1).
PRAGMA application_id = 1198682987;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE attempts (
  photo_sha256 TEXT PRIMARY KEY NOT NULL,
  photo_path TEXT NOT NULL,
  tried_at TEXT NOT NULL,
  tub INTEGER,
  taken_at TEXT,
  problem TEXT NOT NULL,
  hint TEXT NOT NULL,
  software_version TEXT NOT NULL,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;
INSERT INTO "attempts" VALUES('dc88131599ffbb46784101b7fd54a7d472d14bfbb7e09fe21cab09e3381ba52c','photos/photo0000.jpg','2026-11-25T09:57:53Z',10,'2026-03-01T18:00:00Z','the photo is refused by tilt_deg','straighten the camera','0.1.0',9);
CREATE TABLE baths (
  tub INTEGER NOT NULL REFERENCES tubs (number),
  filled_at TEXT NOT NULL,
  dumped_at TEXT CHECK (dumped_at > filled_at),
  recipe TEXT NOT NULL,
  temperature_c REAL,
  carry_over_share REAL CHECK (carry_over_share BETWEEN 0 AND 1),
  why TEXT,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (tub, filled_at)
) STRICT;
INSERT INTO "baths" VALUES(10,'2026-03-01T18:00:00Z',NULL,'soap+ammonia',40.0,NULL,'first bath',NULL,2);
CREATE TABLE before_images (
  id INTEGER PRIMARY KEY,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  table_name TEXT NOT NULL,
  row_key TEXT NOT NULL,
  before TEXT NOT NULL
) STRICT;
INSERT INTO "before_images" VALUES(1,8,'readings','["7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed"]','{"wrong": 0}');
CREATE TABLE check_plans (
  key TEXT PRIMARY KEY NOT NULL,
  checks TEXT NOT NULL,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;
INSERT INTO "check_plans" VALUES('0731dbe3bf2d7cb4','[["tilt_deg",20.0,0]]',7);
CREATE TABLE corrections (
  reading_key TEXT NOT NULL REFERENCES readings (key),
  number INTEGER NOT NULL CHECK (number >= 1),
  made_at TEXT NOT NULL,
  field TEXT NOT NULL,
  before TEXT,
  after TEXT,
  why TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (reading_key, number)
) STRICT;
INSERT INTO "corrections" VALUES('7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed',1,'2026-11-25T09:57:53Z','wrong','no','yes','foam',8);
CREATE TABLE denials (
  tub INTEGER NOT NULL REFERENCES tubs (number),
  earliest TEXT NOT NULL,
  latest TEXT NOT NULL CHECK (latest > earliest),
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (tub, earliest, latest)
) STRICT;
INSERT INTO "denials" VALUES(10,'2026-03-02T18:00:00Z','2026-03-03T18:00:00Z',6);
CREATE TABLE entries (
  id INTEGER PRIMARY KEY,
  made_at TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('command', 'read', 'import')),
  what TEXT NOT NULL,
  software_version TEXT NOT NULL,
  undone_at TEXT
) STRICT;
INSERT INTO "entries" VALUES(1,'2026-11-25T09:57:53Z','command','tub 10','0.1.0',NULL);
INSERT INTO "entries" VALUES(2,'2026-11-25T09:57:53Z','command','water change of tub 10','0.1.0',NULL);
INSERT INTO "entries" VALUES(3,'2026-11-25T09:57:53Z','command','skull fox 3','0.1.0',NULL);
INSERT INTO "entries" VALUES(4,'2026-11-25T09:57:53Z','command','reading of tub 10 by hand','0.1.0',NULL);
INSERT INTO "entries" VALUES(5,'2026-11-25T09:57:53Z','command','reading of tub 10 by hand','0.1.0',NULL);
INSERT INTO "entries" VALUES(6,'2026-11-25T09:57:53Z','command','no water change of tub 10','0.1.0',NULL);
INSERT INTO "entries" VALUES(7,'2026-11-25T09:57:53Z','command','photos read','0.1.0',NULL);
INSERT INTO "entries" VALUES(8,'2026-11-25T09:57:53Z','command','reading marked wrong','0.1.0',NULL);
INSERT INTO "entries" VALUES(9,'2026-11-25T09:57:53Z','read','photos read','0.1.0',NULL);
INSERT INTO "entries" VALUES(10,'2026-11-25T09:57:53Z','command','skull fox 3 whitened','0.1.0',NULL);
INSERT INTO "entries" VALUES(11,'2026-11-25T09:57:53Z','command','follow-up of skull fox 3','0.1.0',NULL);
INSERT INTO "entries" VALUES(12,'2026-11-25T09:57:53Z','command','clear_water in force','0.1.0',NULL);
CREATE TABLE follow_ups (
  skull TEXT NOT NULL REFERENCES skulls (name),
  seen_at TEXT NOT NULL,
  yellowed INTEGER NOT NULL CHECK (yellowed IN (0, 1)),
  yi_e313 REAL,
  yellow_patch_share REAL,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (skull, seen_at)
) STRICT;
INSERT INTO "follow_ups" VALUES('fox 3','2026-05-30T18:00:00Z',0,18.0,NULL,NULL,11);
CREATE TABLE readings (
  key TEXT PRIMARY KEY NOT NULL,
  tub INTEGER NOT NULL REFERENCES tubs (number),
  taken_at TEXT NOT NULL,
  time_source TEXT,
  verdict TEXT NOT NULL CHECK (verdict IN ('good', 'doubtful')),
  wrong INTEGER NOT NULL DEFAULT 0 CHECK (wrong IN (0, 1)),
  skull TEXT REFERENCES skulls (name),
  photo_path TEXT,
  attenuation_per_m REAL,
  attenuation_std_per_m REAL,
  bound TEXT CHECK (bound IN ('above', 'below')),
  attenuation_r_per_m REAL,
  attenuation_g_per_m REAL,
  attenuation_b_per_m REAL,
  forward_scatter REAL,
  tint_yi REAL,
  path_mm REAL,
  dilution REAL,
  turbidity REAL,
  turbidity_std REAL,
  turbidity_unit TEXT,
  bone_yi_e313 REAL,
  bone_yi_std REAL,
  bone_yi_spread REAL,
  bone_lab_l REAL,
  bone_lab_a REAL,
  bone_lab_b REAL,
  bone_whiteness_cie REAL,
  bone_tint_cie REAL,
  bone_delta_e00_clean REAL,
  bone_yellow_patch_share REAL,
  bone_area_mm2 REAL,
  bone_state TEXT,
  colour_loo_delta_e00 REAL,
  colour_absolute INTEGER CHECK (colour_absolute IN (0, 1)),
  colour_order INTEGER,
  colour_clipped_share REAL,
  colour_gradient_ratio REAL,
  sheet_version INTEGER,
  software_version TEXT,
  check_plan TEXT REFERENCES check_plans (key),
  check_values TEXT,
  failed_checks TEXT,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  CHECK (attenuation_per_m IS NOT NULL OR bone_yi_e313 IS NOT NULL)
) STRICT;
INSERT INTO "readings" VALUES('hand:10:2026-03-02T18:00:00Z',10,'2026-03-02T18:00:00Z',NULL,'good',0,NULL,NULL,20.0,0.3,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,4);
INSERT INTO "readings" VALUES('hand:10:2026-03-03T18:00:00Z',10,'2026-03-03T18:00:00Z',NULL,'good',0,NULL,NULL,5.0,0.3,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,NULL,5);
INSERT INTO "readings" VALUES('7692c3ad3540bb803c020b3aee66cd8887123234ea0c6e7143c0add73ff431ed',10,'2026-03-04T18:00:00Z','exif','good',1,'fox 3','photos/one.jpg',12.5,0.4,NULL,11.25,12.5,15.0,0.71,11.5,60.0,1.0,26.25,1.3,'NTU (rough)',27.5,0.6,4.2,81.5,2.1,14.9,12.0,-3.5,5.1,0.18,2310.0,'blotted',1.2,0,2,0.001,1.3,1,'0.1.0','0731dbe3bf2d7cb4','[3.25]','[]',NULL,7);
CREATE TABLE skull_events (
  skull TEXT NOT NULL REFERENCES skulls (name),
  happened_at TEXT NOT NULL,
  kind TEXT NOT NULL,
  tub INTEGER REFERENCES tubs (number),
  strength_percent REAL,
  duration_h REAL,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (skull, happened_at, kind)
) STRICT;
INSERT INTO "skull_events" VALUES('fox 3','2026-03-01T18:00:00Z','entered',10,NULL,NULL,NULL,3);
INSERT INTO "skull_events" VALUES('fox 3','2026-03-31T18:00:00Z','whitened',NULL,3.0,24.0,NULL,10);
CREATE TABLE skulls (
  name TEXT PRIMARY KEY NOT NULL,
  species TEXT,
  weight_class TEXT,
  owner TEXT,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;
INSERT INTO "skulls" VALUES('fox 3','fox','light',NULL,NULL,3);
CREATE TABLE standards (
  kind TEXT NOT NULL,
  in_force_from TEXT NOT NULL,
  body TEXT NOT NULL,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (kind, in_force_from)
) STRICT;
INSERT INTO "standards" VALUES('clear_water','2026-03-01T18:00:00Z','{"path_mm": 60.0}',NULL,12);
CREATE TABLE tubs (
  number INTEGER PRIMARY KEY CHECK (number >= 0),
  name TEXT,
  volume_l REAL CHECK (volume_l > 0),
  started_at TEXT,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;
INSERT INTO "tubs" VALUES(10,'by the door',60.0,'2026-03-01T18:00:00Z',NULL,1);
CREATE INDEX before_images_entry ON before_images (entry_id);
CREATE INDEX skull_events_tub ON skull_events (tub);
CREATE INDEX readings_tub_time ON readings (tub, taken_at);
CREATE INDEX readings_skull ON readings (skull) WHERE skull IS NOT NULL;
COMMIT;
