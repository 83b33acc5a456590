-- Units, tests and certificates.
--
-- Instants are UTC in milliseconds since 1970 and are what is sorted by: a local
-- time repeats itself for an hour each autumn. Runs as one transaction; the two
-- pragmas at the end take effect with it or not at all.

CREATE TABLE unit (
    id          INTEGER PRIMARY KEY,
    tag         TEXT NOT NULL UNIQUE CHECK (tag <> ''),
    description TEXT NOT NULL,
    machine     TEXT NOT NULL,
    serial      TEXT NOT NULL,
    seal        TEXT NOT NULL
) STRICT;

CREATE TABLE test (
    id             INTEGER PRIMARY KEY,
    run_id         TEXT    NOT NULL UNIQUE CHECK (run_id <> ''),
    unit           INTEGER NOT NULL REFERENCES unit (id),
    started_utc_ms INTEGER NOT NULL,
    time_zone      TEXT    NOT NULL,
    outcome        TEXT    NOT NULL
                   CHECK (outcome IN ('pass', 'fail', 'undecided', 'not_valid', 'measured')),
    headline       TEXT    NOT NULL,
    archive_file   TEXT    NOT NULL CHECK (archive_file <> ''),
    archive_sha256 TEXT    NOT NULL
                   CHECK (length(archive_sha256) = 64 AND archive_sha256 NOT GLOB '*[^0-9a-f]*'),
    software       TEXT    NOT NULL,
    method_version INTEGER NOT NULL,
    practice       INTEGER NOT NULL CHECK (practice IN (0, 1))
) STRICT;

CREATE INDEX test_of_unit ON test (unit, started_utc_ms);
CREATE INDEX test_by_start ON test (started_utc_ms);

CREATE TABLE certificate (
    id            INTEGER PRIMARY KEY,
    number        TEXT    NOT NULL UNIQUE,
    series        TEXT    NOT NULL,
    year          INTEGER NOT NULL,
    sequence      INTEGER NOT NULL CHECK (sequence >= 1),
    test          INTEGER NOT NULL REFERENCES test (id),
    issued_utc_ms INTEGER NOT NULL,
    kind          TEXT    NOT NULL CHECK (kind IN ('certificate', 'report')),
    record_json   TEXT    NOT NULL CHECK (json_valid(record_json)),
    UNIQUE (series, year, sequence)
) STRICT;

-- An index of its own, so that a later version can allow a second paper for a test.
CREATE UNIQUE INDEX certificate_of_test ON certificate (test);

-- The next number is one more than the highest: a row taken away would hand its
-- number out twice.
CREATE TRIGGER certificate_stays BEFORE DELETE ON certificate
BEGIN
    SELECT RAISE(ABORT, 'a certificate is never deleted');
END;

CREATE TRIGGER certificate_keeps_its_number
BEFORE UPDATE OF number, series, year, sequence, test ON certificate
BEGIN
    SELECT RAISE(ABORT, 'a certificate keeps its number');
END;

CREATE VIEW entry AS
SELECT test.id AS test_id, test.run_id, test.started_utc_ms, test.time_zone, test.outcome,
       test.headline, test.archive_file, test.archive_sha256, test.software,
       test.method_version, test.practice,
       unit.tag, unit.description, unit.machine, unit.serial, unit.seal,
       certificate.number, certificate.issued_utc_ms, certificate.kind
FROM test
JOIN unit ON unit.id = test.unit
JOIN certificate ON certificate.test = test.id;

PRAGMA application_id = 1937011311;
PRAGMA user_version = 1;
