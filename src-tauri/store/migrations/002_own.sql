-- What is this store's own and never leaves it with a site: role, settings, own patterns.
CREATE TABLE own (
  name TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT;

-- What a person must have read, such as what a recovery brought back and what it did not.
CREATE TABLE notices (
  seq INTEGER PRIMARY KEY,
  at TEXT NOT NULL,             -- RFC 3339
  text TEXT NOT NULL,
  read_at TEXT                  -- RFC 3339; NULL until a person has read it
) STRICT;

-- The device that did it: an undo takes back only what was done here.
ALTER TABLE ops ADD COLUMN device BLOB;
