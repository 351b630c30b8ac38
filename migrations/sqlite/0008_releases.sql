-- Releases of the open data, kept for ever at addresses of their own: the bytes as handed out. Nothing in them is private.
CREATE TABLE data_release (
    number  INTEGER PRIMARY KEY NOT NULL,
    version TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    reports INTEGER NOT NULL,
    plants  INTEGER NOT NULL,
    sha256  TEXT NOT NULL UNIQUE,
    bytes   BLOB NOT NULL
) STRICT;
