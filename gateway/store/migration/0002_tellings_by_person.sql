-- Who was told what is looked up by person, newest first.
CREATE INDEX outbox_person ON outbox (person, seq);
