-- Tests that were judged again by other limits.
--
-- The first judgement stands: nothing here is part of a paper or of a statement, and nothing of it
-- changes what came out. `limits` has a line for each, as it was chosen or typed; `record_json` is
-- the record as it would stand behind a paper, without a number.

CREATE TABLE judged_again (
    id             INTEGER PRIMARY KEY,
    certificate    INTEGER NOT NULL REFERENCES certificate (id),
    judged_utc_ms  INTEGER NOT NULL,
    time_zone      TEXT    NOT NULL,
    role           TEXT    NOT NULL CHECK (role <> ''),
    limits         TEXT    NOT NULL CHECK (limits <> ''),
    outcome        TEXT    NOT NULL
                   CHECK (outcome IN ('pass', 'fail', 'undecided', 'not_valid', 'measured')),
    headline       TEXT    NOT NULL,
    software       TEXT    NOT NULL CHECK (software <> ''),
    record_json    TEXT    NOT NULL CHECK (json_valid(record_json))
) STRICT;

CREATE INDEX judged_again_of_certificate ON judged_again (certificate);

CREATE TRIGGER judged_again_stays BEFORE DELETE ON judged_again
BEGIN
    SELECT RAISE(ABORT, 'what was judged again is never deleted');
END;

CREATE TRIGGER judged_again_is_kept BEFORE UPDATE ON judged_again
BEGIN
    SELECT RAISE(ABORT, 'what was judged again is never changed');
END;

PRAGMA user_version = 5;
