-- The office: a log of everything done by hand, settings that administrators change, and invitations.
CREATE TABLE office_log (
    id     TEXT PRIMARY KEY NOT NULL,
    at_ms  INTEGER NOT NULL,
    -- Empty where the keeper of the machine gave a command (door), or the author has left.
    author TEXT REFERENCES member (id) ON DELETE SET NULL,
    door   TEXT NOT NULL CHECK (door IN ('page', 'command')),
    act    TEXT NOT NULL,
    about  TEXT REFERENCES member (id) ON DELETE SET NULL,
    detail TEXT NOT NULL
) STRICT;
CREATE INDEX office_log_at ON office_log (at_ms, id);
CREATE INDEX office_log_author ON office_log (author);
CREATE INDEX office_log_about ON office_log (about);

CREATE TABLE office_setting (
    name  TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE invitation (
    id        TEXT PRIMARY KEY NOT NULL,
    code_hash TEXT NOT NULL UNIQUE,
    note      TEXT NOT NULL,
    uses_left INTEGER NOT NULL CHECK (uses_left >= 0),
    ends_ms   INTEGER NOT NULL,
    made_ms   INTEGER NOT NULL
) STRICT;
