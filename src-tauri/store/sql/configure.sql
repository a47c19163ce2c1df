-- A save is on the disk when it returns, also after a power cut.
PRAGMA synchronous = FULL;
PRAGMA foreign_keys = ON;
PRAGMA trusted_schema = OFF;
PRAGMA cell_size_check = ON;
PRAGMA temp_store = MEMORY;
PRAGMA cache_size = -16000;
