-- Inputs carry the core's own time, which no step of the wall clock touches;
-- history is kept by the wall clock. "ahead" is how far that was ahead at the
-- snapshot, in nanoseconds; what is journaled after it says each step.
ALTER TABLE core ADD COLUMN ahead INTEGER NOT NULL DEFAULT 0;

-- Where the core's time of the newest run comes from, by which the next one
-- knows how long the watch was away: it was "at", in nanoseconds, when the
-- machine was started; "boot" names that start.
CREATE TABLE origin (
    id   INTEGER PRIMARY KEY CHECK (id = 1),
    boot TEXT NOT NULL,
    at   INTEGER NOT NULL
);
