-- Small things that one run keeps for the next, by name.
CREATE TABLE kept (
    name  TEXT PRIMARY KEY,
    value TEXT NOT NULL
) WITHOUT ROWID;
