-- Times are UTC, written 2026-03-04T18:05:00Z. Units stand at the end of each name.

CREATE TABLE entries (
  id INTEGER PRIMARY KEY,
  made_at TEXT NOT NULL,
  kind TEXT NOT NULL CHECK (kind IN ('command', 'read', 'import')),
  what TEXT NOT NULL,
  software_version TEXT NOT NULL,
  undone_at TEXT
) STRICT;

CREATE TABLE before_images (
  id INTEGER PRIMARY KEY,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  table_name TEXT NOT NULL,
  row_key TEXT NOT NULL,
  before TEXT NOT NULL
) STRICT;
CREATE INDEX before_images_entry ON before_images (entry_id);

CREATE TABLE tubs (
  number INTEGER PRIMARY KEY CHECK (number >= 0),
  name TEXT,
  volume_l REAL CHECK (volume_l > 0),
  started_at TEXT,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;

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

CREATE TABLE skulls (
  name TEXT PRIMARY KEY NOT NULL,
  species TEXT,
  weight_class TEXT,
  owner TEXT,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;

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
CREATE INDEX skull_events_tub ON skull_events (tub);

CREATE TABLE check_plans (
  key TEXT PRIMARY KEY NOT NULL,
  checks TEXT NOT NULL,
  entry_id INTEGER NOT NULL REFERENCES entries (id)
) STRICT;

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
CREATE INDEX readings_tub_time ON readings (tub, taken_at);
CREATE INDEX readings_skull ON readings (skull) WHERE skull IS NOT NULL;

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

CREATE TABLE denials (
  tub INTEGER NOT NULL REFERENCES tubs (number),
  earliest TEXT NOT NULL,
  latest TEXT NOT NULL CHECK (latest > earliest),
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (tub, earliest, latest)
) STRICT;

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

CREATE TABLE standards (
  kind TEXT NOT NULL,
  in_force_from TEXT NOT NULL,
  body TEXT NOT NULL,
  note TEXT,
  entry_id INTEGER NOT NULL REFERENCES entries (id),
  PRIMARY KEY (kind, in_force_from)
) STRICT;
