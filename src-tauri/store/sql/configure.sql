-- A save is on the disk when it returns, also after a power cut; so is the end of the rollback journal under which a
-- new database is made, else it could come back and undo all.
PRAGMA synchronous = EXTRA;
PRAGMA foreign_keys = ON;
PRAGMA trusted_schema = OFF;
PRAGMA cell_size_check = ON;
PRAGMA temp_store = MEMORY;
PRAGMA cache_size = -16000;
