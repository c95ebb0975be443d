-- What fits of ended soaks told, so that they need not be made again; it can be emptied at any time.
CREATE TABLE soak_facts (
  key TEXT PRIMARY KEY NOT NULL,
  facts TEXT NOT NULL
) STRICT;
