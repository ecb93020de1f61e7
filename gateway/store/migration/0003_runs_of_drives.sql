-- Runs of drives, one for each line of the log of switchings, so that a year
-- of them is added up without reading the lines. Times are nanoseconds, 0
-- where one was not seen.
CREATE TABLE run (
    seq      INTEGER PRIMARY KEY REFERENCES transition (seq) ON DELETE CASCADE,
    house    TEXT NOT NULL,
    drive    TEXT NOT NULL,
    due      INTEGER NOT NULL,         -- when the line was whole, not before the end
    began    INTEGER NOT NULL,
    ended    INTEGER NOT NULL,
    inferred INTEGER NOT NULL          -- 1: from temperatures alone
);
CREATE INDEX run_drive ON run (house, drive, due, began, ended, inferred);

INSERT INTO run (seq, house, drive, due, began, ended, inferred)
SELECT seq, house, json_extract(body, '$.Reason.drive'), due,
    CAST(1000 * round(1000 * ifnull(unixepoch(json_extract(body, '$.Reason.switched.ran'), 'subsec'), 0)) AS INTEGER) * 1000,
    CAST(1000 * round(1000 * ifnull(unixepoch(json_extract(body, '$.Reason.switched.stopped'), 'subsec'), 0)) AS INTEGER) * 1000,
    ifnull(json_extract(body, '$.Reason.switched.inferred'), 0)
FROM transition
WHERE substr(alarm, -10) = '/switching' AND json_extract(body, '$.Reason.drive') IS NOT NULL
    AND json_extract(body, '$.Reason.switched') IS NOT NULL
    AND ifnull(json_extract(body, '$.Reason.switched.missed'), 0) = 0;

-- What else happened, without reading past the switchings.
CREATE INDEX transition_told ON transition (house, due, seq) WHERE substr(alarm, -10) <> '/switching';
