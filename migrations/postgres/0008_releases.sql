-- Releases of the open data, kept for ever at addresses of their own: the bytes as handed out. Nothing in them is private.
CREATE TABLE data_release (
    number  BIGINT PRIMARY KEY NOT NULL,
    version TEXT NOT NULL,
    made_ms BIGINT NOT NULL,
    reports BIGINT NOT NULL,
    plants  BIGINT NOT NULL,
    sha256  TEXT NOT NULL UNIQUE,
    bytes   BYTEA NOT NULL
);
