-- Documents of the public archive of weather stations as they were fetched, by their path there: the same for everybody, and fetched again
-- where they are gone.
CREATE TABLE archive_document (
    path       TEXT PRIMARY KEY NOT NULL,
    fetched_ms BIGINT NOT NULL,
    sha256     TEXT NOT NULL,
    bytes      BYTEA NOT NULL CHECK (octet_length(bytes) <= 4194304)
);
CREATE INDEX archive_document_fetched ON archive_document (fetched_ms);
