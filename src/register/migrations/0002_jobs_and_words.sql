-- Jobs, what units were before, withdrawn papers, and words to search by.
--
-- A job is never changed and never deleted: each time its sheet is entered anew is a version
-- of its own, with the time and the role of who entered it. The last version counts.

CREATE TABLE job (
    id   INTEGER PRIMARY KEY,
    unit INTEGER NOT NULL REFERENCES unit (id)
) STRICT;

CREATE INDEX job_of_unit ON job (unit);

CREATE TABLE job_version (
    id             INTEGER PRIMARY KEY,
    job            INTEGER NOT NULL REFERENCES job (id),
    version        INTEGER NOT NULL CHECK (version >= 1),
    entered_utc_ms INTEGER NOT NULL,
    time_zone      TEXT    NOT NULL,
    role           TEXT    NOT NULL CHECK (role <> ''),
    state          TEXT    NOT NULL CHECK (state IN ('open', 'done', 'withdrawn')),
    reason         TEXT    NOT NULL,
    came_in        TEXT    NOT NULL CHECK (came_in GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    went_out       TEXT    NOT NULL CHECK (went_out = '' OR went_out >= came_in),
    symptom        TEXT    NOT NULL,
    decision       TEXT    NOT NULL CHECK (decision IN ('', 'rebuild', 'replace', 'leave')),
    sheet          TEXT    NOT NULL,
    CHECK (state <> 'withdrawn' OR reason <> ''),
    UNIQUE (job, version)
) STRICT;

CREATE VIEW job_now AS
SELECT job.unit, job_version.*
FROM job
JOIN job_version ON job_version.job = job.id
WHERE job_version.version =
      (SELECT max(v.version) FROM job_version AS v WHERE v.job = job.id);

CREATE TABLE finding (
    id          INTEGER PRIMARY KEY,
    job_version INTEGER NOT NULL REFERENCES job_version (id),
    part        TEXT    NOT NULL,
    condition   TEXT    NOT NULL,
    structural  INTEGER NOT NULL CHECK (structural IN (0, 1)),
    measured_m  REAL,
    limit_m     REAL
) STRICT;

CREATE INDEX finding_of_job ON finding (job_version);

CREATE TABLE part_used (
    id               INTEGER PRIMARY KEY,
    job_version      INTEGER NOT NULL REFERENCES job_version (id),
    part             TEXT    NOT NULL,
    count            INTEGER NOT NULL CHECK (count >= 1),
    price_hundredths INTEGER NOT NULL CHECK (price_hundredths >= 0),
    from_kit         INTEGER NOT NULL CHECK (from_kit IN (0, 1))
) STRICT;

CREATE INDEX part_used_of_job ON part_used (job_version);

CREATE TRIGGER job_stays BEFORE DELETE ON job
BEGIN SELECT RAISE(ABORT, 'a job is never deleted'); END;
CREATE TRIGGER job_keeps_its_unit BEFORE UPDATE ON job
BEGIN SELECT RAISE(ABORT, 'a job keeps its unit'); END;
CREATE TRIGGER job_version_stays BEFORE DELETE ON job_version
BEGIN SELECT RAISE(ABORT, 'a version of a job is never deleted'); END;
CREATE TRIGGER job_version_is_kept BEFORE UPDATE ON job_version
BEGIN SELECT RAISE(ABORT, 'a version of a job is never changed'); END;
CREATE TRIGGER finding_stays BEFORE DELETE ON finding
BEGIN SELECT RAISE(ABORT, 'a finding is never deleted'); END;
CREATE TRIGGER finding_is_kept BEFORE UPDATE ON finding
BEGIN SELECT RAISE(ABORT, 'a finding is never changed'); END;
CREATE TRIGGER part_used_stays BEFORE DELETE ON part_used
BEGIN SELECT RAISE(ABORT, 'a part that was used is never deleted'); END;
CREATE TRIGGER part_used_is_kept BEFORE UPDATE ON part_used
BEGIN SELECT RAISE(ABORT, 'a part that was used is never changed'); END;

-- Which visit a test belongs to: the one that was open when it was entered.
ALTER TABLE test ADD COLUMN job INTEGER REFERENCES job (id);
CREATE INDEX test_of_job ON test (job) WHERE job IS NOT NULL;

-- What a unit was described as before, and what described it anew: a run, or a role.
ALTER TABLE unit ADD COLUMN described_by TEXT NOT NULL DEFAULT '';
ALTER TABLE unit ADD COLUMN described_utc_ms INTEGER NOT NULL DEFAULT 0;
CREATE INDEX unit_of_machine ON unit (machine);
CREATE INDEX unit_by_seal ON unit (seal);

CREATE TABLE unit_was (
    id               INTEGER PRIMARY KEY,
    unit             INTEGER NOT NULL REFERENCES unit (id),
    description      TEXT    NOT NULL,
    machine          TEXT    NOT NULL,
    serial           TEXT    NOT NULL,
    seal             TEXT    NOT NULL,
    described_by     TEXT    NOT NULL,
    described_utc_ms INTEGER NOT NULL,
    until_utc_ms     INTEGER NOT NULL
) STRICT;

CREATE INDEX unit_was_of_unit ON unit_was (unit);

CREATE TRIGGER unit_is_remembered BEFORE UPDATE ON unit
WHEN (old.description, old.machine, old.serial, old.seal)
  IS NOT (new.description, new.machine, new.serial, new.seal)
BEGIN
    INSERT INTO unit_was (unit, description, machine, serial, seal, described_by,
                          described_utc_ms, until_utc_ms)
    VALUES (old.id, old.description, old.machine, old.serial, old.seal, old.described_by,
            old.described_utc_ms, new.described_utc_ms);
END;
CREATE TRIGGER unit_keeps_its_tag BEFORE UPDATE OF tag ON unit WHEN old.tag <> new.tag
BEGIN SELECT RAISE(ABORT, 'a unit keeps its tag'); END;
CREATE TRIGGER unit_stays BEFORE DELETE ON unit
BEGIN SELECT RAISE(ABORT, 'a unit is never deleted'); END;
CREATE TRIGGER unit_was_is_kept BEFORE UPDATE ON unit_was
BEGIN SELECT RAISE(ABORT, 'what a unit was is never changed'); END;
CREATE TRIGGER unit_was_stays BEFORE DELETE ON unit_was
BEGIN SELECT RAISE(ABORT, 'what a unit was is never deleted'); END;

-- A paper that no longer counts; it stays, with why.
CREATE TABLE withdrawal (
    certificate      INTEGER PRIMARY KEY REFERENCES certificate (id),
    withdrawn_utc_ms INTEGER NOT NULL,
    time_zone        TEXT    NOT NULL,
    role             TEXT    NOT NULL CHECK (role <> ''),
    reason           TEXT    NOT NULL CHECK (reason <> '')
) STRICT;

CREATE TRIGGER withdrawal_stays BEFORE DELETE ON withdrawal
BEGIN SELECT RAISE(ABORT, 'a withdrawal is never taken back'); END;
CREATE TRIGGER withdrawal_is_kept BEFORE UPDATE ON withdrawal
BEGIN SELECT RAISE(ABORT, 'a withdrawal is never changed'); END;

-- Pictures and other files that belong to a unit or to one of its jobs. The file lies beside the
-- register under its hash.
CREATE TABLE attachment (
    id           INTEGER PRIMARY KEY,
    unit         INTEGER NOT NULL REFERENCES unit (id),
    job          INTEGER REFERENCES job (id),
    sha256       TEXT    NOT NULL
                 CHECK (length(sha256) = 64 AND sha256 NOT GLOB '*[^0-9a-f]*'),
    ending       TEXT    NOT NULL,
    size_bytes   INTEGER NOT NULL CHECK (size_bytes > 0),
    name         TEXT    NOT NULL,
    about        TEXT    NOT NULL,
    added_utc_ms INTEGER NOT NULL,
    time_zone    TEXT    NOT NULL,
    role         TEXT    NOT NULL CHECK (role <> ''),
    UNIQUE (unit, sha256)
) STRICT;

CREATE TRIGGER attachment_stays BEFORE DELETE ON attachment
BEGIN SELECT RAISE(ABORT, 'an attachment is never deleted'); END;
CREATE TRIGGER attachment_is_kept BEFORE UPDATE ON attachment
BEGIN SELECT RAISE(ABORT, 'an attachment is never changed'); END;

-- Sensors that tests were read with, and each calibration they had, since which test.
CREATE TABLE sensor (
    id     INTEGER PRIMARY KEY,
    serial TEXT NOT NULL UNIQUE CHECK (serial <> '')
) STRICT;

CREATE TABLE calibration (
    id          INTEGER PRIMARY KEY,
    sensor      INTEGER NOT NULL REFERENCES sensor (id),
    label       TEXT    NOT NULL,
    certificate TEXT    NOT NULL,
    due         TEXT    NOT NULL,
    first_test  INTEGER NOT NULL REFERENCES test (id),
    practice    INTEGER NOT NULL CHECK (practice IN (0, 1)),
    UNIQUE (sensor, certificate, due, practice)
) STRICT;

CREATE TRIGGER sensor_stays BEFORE DELETE ON sensor
BEGIN SELECT RAISE(ABORT, 'a sensor is never deleted'); END;
CREATE TRIGGER sensor_keeps_its_number BEFORE UPDATE ON sensor
BEGIN SELECT RAISE(ABORT, 'a sensor keeps its number'); END;
CREATE TRIGGER calibration_stays BEFORE DELETE ON calibration
BEGIN SELECT RAISE(ABORT, 'a calibration is never deleted'); END;
CREATE TRIGGER calibration_is_kept BEFORE UPDATE ON calibration
BEGIN SELECT RAISE(ABORT, 'a calibration is never changed'); END;

-- Words to search by. The row of a test's words goes by its start, so that the latest come
-- first without sorting: start in ms, 2^20 times, and the last 20 bits of its own row.
CREATE VIRTUAL TABLE test_words USING fts5 (
    words, content = '', tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3 4'
);
INSERT INTO test_words (rowid, words)
SELECT test.started_utc_ms * 1048576 + test.id % 1048576,
       certificate.number || ' ' || unit.tag || ' ' || unit.description || ' ' || unit.machine
           || ' ' || unit.serial || ' ' || unit.seal
FROM test
JOIN unit ON unit.id = test.unit
JOIN certificate ON certificate.test = test.id;

CREATE VIRTUAL TABLE job_words USING fts5 (
    words, content = '', tokenize = 'unicode61 remove_diacritics 2', prefix = '1 2 3 4'
);

-- The words themselves, to look up which begin so.
CREATE VIRTUAL TABLE test_terms USING fts5vocab (test_words, instance);
CREATE VIRTUAL TABLE job_terms USING fts5vocab (job_words, instance);

DROP VIEW entry;
CREATE VIEW entry AS
SELECT test.id AS test_id, test.run_id, test.started_utc_ms, test.time_zone, test.outcome,
       test.headline, test.archive_file, test.archive_sha256, test.software,
       test.method_version, test.practice, test.job,
       unit.tag, unit.description, unit.machine, unit.serial, unit.seal,
       certificate.number, certificate.issued_utc_ms, certificate.kind,
       withdrawal.reason AS withdrawn
FROM test
JOIN unit ON unit.id = test.unit
JOIN certificate ON certificate.test = test.id
LEFT JOIN withdrawal ON withdrawal.certificate = certificate.id;

PRAGMA user_version = 2;
