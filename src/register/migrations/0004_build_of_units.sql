-- How a unit is built, as its last test described it.
--
-- Lengths are whole micrometres and pressures whole pascals: a real number has no one text that
-- could be signed. NULL and '' stand for what nobody wrote down.

ALTER TABLE unit ADD COLUMN kind TEXT NOT NULL DEFAULT '';
ALTER TABLE unit ADD COLUMN bore_um INTEGER CHECK (bore_um > 0);
ALTER TABLE unit ADD COLUMN rod_um INTEGER CHECK (rod_um > 0);
ALTER TABLE unit ADD COLUMN stroke_um INTEGER CHECK (stroke_um > 0);
ALTER TABLE unit ADD COLUMN cap_rating_pa INTEGER CHECK (cap_rating_pa > 0);
ALTER TABLE unit ADD COLUMN rod_rating_pa INTEGER CHECK (rod_rating_pa > 0);
ALTER TABLE unit ADD COLUMN ports TEXT NOT NULL DEFAULT '';
ALTER TABLE unit ADD COLUMN holding_valve TEXT NOT NULL DEFAULT '';

ALTER TABLE unit_was ADD COLUMN kind TEXT NOT NULL DEFAULT '';
ALTER TABLE unit_was ADD COLUMN bore_um INTEGER;
ALTER TABLE unit_was ADD COLUMN rod_um INTEGER;
ALTER TABLE unit_was ADD COLUMN stroke_um INTEGER;
ALTER TABLE unit_was ADD COLUMN cap_rating_pa INTEGER;
ALTER TABLE unit_was ADD COLUMN rod_rating_pa INTEGER;
ALTER TABLE unit_was ADD COLUMN ports TEXT NOT NULL DEFAULT '';
ALTER TABLE unit_was ADD COLUMN holding_valve TEXT NOT NULL DEFAULT '';

DROP TRIGGER unit_is_remembered;
CREATE TRIGGER unit_is_remembered BEFORE UPDATE ON unit
WHEN (old.description, old.machine, old.serial, old.seal, old.kind, old.bore_um, old.rod_um,
      old.stroke_um, old.cap_rating_pa, old.rod_rating_pa, old.ports, old.holding_valve)
  IS NOT (new.description, new.machine, new.serial, new.seal, new.kind, new.bore_um, new.rod_um,
      new.stroke_um, new.cap_rating_pa, new.rod_rating_pa, new.ports, new.holding_valve)
BEGIN
    INSERT INTO unit_was (unit, description, machine, serial, seal, kind, bore_um, rod_um,
                          stroke_um, cap_rating_pa, rod_rating_pa, ports, holding_valve,
                          described_by, described_utc_ms, until_utc_ms)
    VALUES (old.id, old.description, old.machine, old.serial, old.seal, old.kind, old.bore_um,
            old.rod_um, old.stroke_um, old.cap_rating_pa, old.rod_rating_pa, old.ports,
            old.holding_valve, old.described_by, old.described_utc_ms, new.described_utc_ms);
END;

DROP VIEW entry;
CREATE VIEW entry AS
SELECT test.id AS test_id, test.run_id, test.started_utc_ms, test.time_zone, test.outcome,
       test.headline, test.archive_file, test.archive_sha256, test.software,
       test.method_version, test.practice, test.job,
       unit.tag, unit.description, unit.machine, unit.serial, unit.seal,
       unit.kind AS build_kind, unit.bore_um, unit.rod_um, unit.stroke_um,
       unit.cap_rating_pa, unit.rod_rating_pa, unit.ports, unit.holding_valve,
       certificate.number, certificate.issued_utc_ms, certificate.kind,
       withdrawal.reason AS withdrawn
FROM test
JOIN unit ON unit.id = test.unit
JOIN certificate ON certificate.test = test.id
LEFT JOIN withdrawal ON withdrawal.certificate = certificate.id;

PRAGMA user_version = 4;
