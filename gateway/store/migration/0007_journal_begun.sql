-- 1: the file of segment "segment" was made before this row, so that it is
-- missed if it is not there.
ALTER TABLE core ADD COLUMN begun INTEGER NOT NULL DEFAULT 0;
