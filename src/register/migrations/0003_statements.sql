-- Signed statements of certificates.
--
-- One for each certificate issued since there is a key; none for those from before. The
-- statement names the one before it by hash, so all make one chain in the order of
-- `certificate.id`. `row_fields` holds the fields that were hashed into the statement, so
-- that a field that was changed later can be named.

CREATE TABLE statement (
    certificate INTEGER PRIMARY KEY REFERENCES certificate (id),
    row_fields  TEXT NOT NULL,
    text        TEXT NOT NULL,
    signature   TEXT NOT NULL
                CHECK (length(signature) = 128 AND signature NOT GLOB '*[^0-9a-f]*')
) STRICT;

CREATE TRIGGER statement_stays BEFORE DELETE ON statement
BEGIN
    SELECT RAISE(ABORT, 'a statement is never deleted');
END;

CREATE TRIGGER statement_is_as_signed BEFORE UPDATE ON statement
BEGIN
    SELECT RAISE(ABORT, 'a statement is never changed');
END;

PRAGMA user_version = 3;
