-- Every board and every site is one document.
CREATE TABLE documents (
  id BLOB PRIMARY KEY,          -- UUID, 16 bytes
  kind TEXT NOT NULL CHECK (kind IN ('board', 'site')),
  snapshot BLOB NOT NULL,       -- the document saved whole; empty until the first time
  upto INTEGER NOT NULL,        -- last changes.seq that the snapshot holds
  pending INTEGER NOT NULL,     -- changes after the snapshot
  size INTEGER NOT NULL         -- bytes of the snapshot and of the changes after it
) STRICT;

-- Every change ever made or taken in. Rows are added, never altered, never deleted.
CREATE TABLE changes (
  seq INTEGER PRIMARY KEY,      -- order of arrival here
  document BLOB NOT NULL,
  hash BLOB NOT NULL,           -- SHA-256, 32 bytes
  bytes BLOB NOT NULL,
  UNIQUE (document, hash)
) STRICT;
CREATE INDEX changes_of_document ON changes (document, seq);

-- What was done on this store, for undo. The values come from the history.
CREATE TABLE ops (
  seq INTEGER PRIMARY KEY,
  document BLOB NOT NULL,
  name TEXT NOT NULL,           -- shown: "Undo <name>"
  touched TEXT NOT NULL,        -- JSON list of fields written and records made
  done BLOB NOT NULL,           -- the change that did it last
  undone BLOB,                  -- the change that took it back
  state TEXT NOT NULL CHECK (state IN ('done', 'undone', 'gone'))
) STRICT;
CREATE INDEX ops_of_document ON ops (document, state, seq);

-- Bytes from outside, kept until they are merged: a break while merging does not lose them.
CREATE TABLE incoming (
  seq INTEGER PRIMARY KEY,
  document BLOB NOT NULL,
  kind TEXT NOT NULL,
  bytes BLOB NOT NULL,
  at TEXT NOT NULL
) STRICT;

-- Photos by the SHA-256 of the original file, in hexadecimal.
CREATE TABLE photos (
  hash TEXT PRIMARY KEY,
  media TEXT NOT NULL,
  width INTEGER NOT NULL,       -- pixels, upright
  height INTEGER NOT NULL,
  length INTEGER NOT NULL,      -- bytes of the original
  thumbnail BLOB NOT NULL       -- JPEG, upright
) STRICT;
-- Apart, so that looking through photos does not read the pictures.
CREATE TABLE photo_bytes (
  hash TEXT PRIMARY KEY REFERENCES photos (hash),
  bytes BLOB NOT NULL
) STRICT;

-- From here on: derived from the documents, can be built again at any time.
CREATE TABLE sites (
  id BLOB PRIMARY KEY,
  name TEXT NOT NULL,
  note TEXT NOT NULL,
  removed INTEGER NOT NULL,
  conflicts INTEGER NOT NULL
) STRICT;
CREATE TABLE boards (
  row INTEGER PRIMARY KEY,
  id BLOB NOT NULL UNIQUE,
  site BLOB NOT NULL,
  site_name TEXT NOT NULL,
  reference TEXT NOT NULL,
  place TEXT NOT NULL,
  stage TEXT NOT NULL,
  removed INTEGER NOT NULL,
  circuits INTEGER NOT NULL,    -- circuits that are not removed
  words TEXT NOT NULL,          -- what the circuits feed
  conflicts INTEGER NOT NULL,
  changed TEXT NOT NULL,        -- when a change was last made or taken in here, RFC 3339
  sort_key TEXT NOT NULL        -- site name and reference, numbers padded
) STRICT;
CREATE INDEX boards_in_order ON boards (removed, sort_key);
CREATE INDEX boards_of_site ON boards (site, removed, sort_key);
CREATE TABLE board_photos (
  board BLOB NOT NULL,
  hash TEXT NOT NULL,
  PRIMARY KEY (board, hash)
) STRICT, WITHOUT ROWID;
CREATE VIRTUAL TABLE board_search USING fts5 (
  reference, place, site_name, words,
  content='', contentless_delete=1, prefix='1 2 3', tokenize="unicode61 remove_diacritics 2"
);
