-- Forecasts of weather services as they came, by source and place in hundredths of a degree, shared by everybody. The source is not asked
-- before ask_after_ms; modified is its Last-Modified header, sent back as If-Modified-Since; link is where the place's forecast lies.
CREATE TABLE forecast_document (
    source       TEXT NOT NULL,
    latitude_h   INTEGER NOT NULL,
    longitude_h  INTEGER NOT NULL,
    link         TEXT,
    fetched_ms   INTEGER NOT NULL,
    ask_after_ms INTEGER NOT NULL,
    modified     TEXT,
    failures     INTEGER NOT NULL,
    trouble      TEXT,
    bytes        BLOB,
    PRIMARY KEY (source, latitude_h, longitude_h)
) STRICT;
CREATE INDEX forecast_document_fetched ON forecast_document (fetched_ms);

-- What a member wishes to be warned of: a chance (0 to 1) or minutes; quiet hours by the sun of the place.
CREATE TABLE warning_choice (
    member          TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    measure         TEXT NOT NULL,
    threshold       REAL NOT NULL,
    quiet_from      INTEGER,
    quiet_until     INTEGER,
    paused_until_ms INTEGER,
    first_freeze    INTEGER NOT NULL,
    morning         INTEGER NOT NULL,
    stage           TEXT,
    since_ms        INTEGER NOT NULL
) STRICT;

-- Plants that a member wishes not to be warned for.
CREATE TABLE warning_left_out (
    member TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    plant  TEXT NOT NULL,
    PRIMARY KEY (member, plant)
) STRICT;

-- A round of warnings, by its hour. It belongs to whoever took it until taken_until_ms; a process that dies leaves it to the next.
CREATE TABLE warning_round (
    slot_ms        INTEGER PRIMARY KEY NOT NULL,
    taken_until_ms INTEGER NOT NULL,
    done_ms        INTEGER
) STRICT;

-- Warnings as they were told: of a kind one for each night, or season, of a member.
CREATE TABLE warning (
    id        TEXT PRIMARY KEY NOT NULL,
    member    TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    kind      TEXT NOT NULL,
    about     TEXT NOT NULL,
    night     TEXT NOT NULL,
    harm      REAL NOT NULL,
    minimum_c REAL NOT NULL,
    made_ms   INTEGER NOT NULL,
    subject   TEXT NOT NULL,
    words     TEXT NOT NULL,
    path      TEXT NOT NULL,
    UNIQUE (member, kind, about)
) STRICT;
CREATE INDEX warning_made ON warning (member, made_ms);
