-- The core's newest snapshot. Inputs journaled in segments from "segment" on
-- came after it.
CREATE TABLE core (
    id      INTEGER PRIMARY KEY CHECK (id = 1),
    segment INTEGER NOT NULL,
    epoch   INTEGER NOT NULL,          -- next epoch of history blocks
    size    INTEGER NOT NULL,          -- of the snapshot before it was packed
    crc     INTEGER NOT NULL,          -- CRC-32C of it
    body    BLOB                       -- DEFLATE (RFC 1951); NULL: none yet
);

CREATE TABLE stream (
    id       INTEGER PRIMARY KEY CHECK (id BETWEEN 1 AND 1048575),
    probe    TEXT NOT NULL,
    quantity TEXT NOT NULL,
    UNIQUE (probe, quantity)
);

-- Raw readings of one stream between two checkpoints. id is
-- epoch << 24 | stream << 4 | part, so that a checkpoint appends in key order.
CREATE TABLE block (
    id       INTEGER PRIMARY KEY,
    first_ms INTEGER NOT NULL,         -- smallest and
    last_ms  INTEGER NOT NULL,         -- largest history time
    n        INTEGER NOT NULL,
    min      REAL NOT NULL,
    mean     REAL NOT NULL,
    max      REAL NOT NULL,
    data     BLOB NOT NULL
);

-- Which UTC days (since 1970-01-01) an epoch has readings of.
CREATE TABLE span (
    day   INTEGER NOT NULL,
    epoch INTEGER NOT NULL,
    PRIMARY KEY (day, epoch)
) WITHOUT ROWID;
CREATE INDEX span_epoch ON span (epoch, day);

-- Days summed up to 10-minute values, and how far.
CREATE TABLE summed (
    day  INTEGER PRIMARY KEY,
    next INTEGER NOT NULL,             -- next stream to be summed
    done INTEGER NOT NULL,             -- 1: the rows in "day" are complete
    raw  INTEGER NOT NULL              -- 1: its blocks are still here
);

-- 10-minute values of one stream on one UTC day. id is day << 20 | stream.
CREATE TABLE day (
    id   INTEGER PRIMARY KEY,
    n    INTEGER NOT NULL,
    min  REAL NOT NULL,
    mean REAL NOT NULL,
    max  REAL NOT NULL,
    data BLOB NOT NULL
);

-- Times below are nanoseconds since 1970-01-01 UTC.
CREATE TABLE transition (
    seq   INTEGER PRIMARY KEY,
    id    TEXT NOT NULL UNIQUE,
    alarm TEXT NOT NULL,
    house TEXT NOT NULL,
    due   INTEGER NOT NULL,
    move  TEXT NOT NULL,
    state TEXT NOT NULL,               -- state it leads to
    body  BLOB NOT NULL                -- the whole transition as JSON
);
CREATE INDEX transition_due ON transition (due, seq);
CREATE INDEX transition_alarm ON transition (alarm, due, seq);

CREATE TABLE outbox (
    seq         INTEGER PRIMARY KEY,
    id          TEXT NOT NULL UNIQUE,
    transition  TEXT REFERENCES transition (id) ON DELETE CASCADE,
    alarm       TEXT NOT NULL,
    channel     TEXT NOT NULL,
    person      TEXT NOT NULL,
    not_before  INTEGER NOT NULL,
    cancellable INTEGER NOT NULL,
    body        BLOB,
    state       INTEGER NOT NULL,      -- 0 waiting, 1 told, 2 abandoned, 3 cancelled
    attempts    INTEGER NOT NULL DEFAULT 0, -- that failed
    first       INTEGER NOT NULL DEFAULT 0, -- when the first one failed
    next        INTEGER NOT NULL       -- when it may be tried
);
CREATE INDEX outbox_waiting ON outbox (channel, next, seq) WHERE state = 0;
CREATE INDEX outbox_transition ON outbox (transition);

CREATE TABLE attempt (
    seq      INTEGER PRIMARY KEY,
    outgoing TEXT NOT NULL REFERENCES outbox (id) ON DELETE CASCADE,
    at       INTEGER NOT NULL,
    channel  TEXT NOT NULL,
    person   TEXT NOT NULL,
    outcome  INTEGER NOT NULL,         -- 0 failed, 1 told, 2 abandoned, 3 postponed
    error    TEXT NOT NULL
);
CREATE INDEX attempt_outgoing ON attempt (outgoing, seq);
