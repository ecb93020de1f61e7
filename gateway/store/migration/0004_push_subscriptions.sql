-- Devices that take pushed alarms. A device that its push service no longer
-- knows keeps its row, without address and keys, so that people can be told.
CREATE TABLE subscription (
    id       INTEGER PRIMARY KEY AUTOINCREMENT, -- never given twice
    person   TEXT NOT NULL,
    label    TEXT NOT NULL,            -- what people call the device
    endpoint TEXT UNIQUE,              -- NULL: gone
    p256dh   BLOB,                     -- the device's public key
    auth     BLOB,                     -- and the secret it shared
    -- Nanoseconds since 1970-01-01 UTC; 0: never.
    made     INTEGER NOT NULL,
    told     INTEGER NOT NULL DEFAULT 0, -- when a push service last took a message
    failed   INTEGER NOT NULL DEFAULT 0, -- when it last did not
    error    TEXT NOT NULL DEFAULT '',   -- and why; empty: it took one since
    gone     INTEGER NOT NULL DEFAULT 0  -- when the push service no longer knew it
);
CREATE INDEX subscription_person ON subscription (person, id);
