-- Forecasts of weather services as they came, by source and place in hundredths of a degree, shared by everybody. The source is not asked
-- before ask_after_ms; modified is its Last-Modified header, sent back as If-Modified-Since; link is where the place's forecast lies.
CREATE TABLE forecast_document (
    source       TEXT NOT NULL,
    latitude_h   BIGINT NOT NULL,
    longitude_h  BIGINT NOT NULL,
    link         TEXT,
    fetched_ms   BIGINT NOT NULL,
    ask_after_ms BIGINT NOT NULL,
    modified     TEXT,
    failures     BIGINT NOT NULL,
    trouble      TEXT,
    bytes        BYTEA,
    PRIMARY KEY (source, latitude_h, longitude_h)
);
CREATE INDEX forecast_document_fetched ON forecast_document (fetched_ms);

-- What a member wishes to be warned of: a chance (0 to 1) or minutes; quiet hours by the sun of the place.
CREATE TABLE warning_choice (
    member          TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    measure         TEXT NOT NULL,
    threshold       DOUBLE PRECISION NOT NULL,
    quiet_from      BIGINT,
    quiet_until     BIGINT,
    paused_until_ms BIGINT,
    first_freeze    BOOLEAN NOT NULL,
    morning         BOOLEAN NOT NULL,
    stage           TEXT,
    since_ms        BIGINT NOT NULL
);

-- Plants that a member wishes not to be warned for.
CREATE TABLE warning_left_out (
    member TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    plant  TEXT NOT NULL,
    PRIMARY KEY (member, plant)
);

-- A round of warnings, by its hour. It belongs to whoever took it until taken_until_ms; a process that dies leaves it to the next.
CREATE TABLE warning_round (
    slot_ms        BIGINT PRIMARY KEY NOT NULL,
    taken_until_ms BIGINT NOT NULL,
    done_ms        BIGINT
);

-- Warnings as they were told: of a kind one for each night, or season, of a member.
CREATE TABLE warning (
    id        TEXT PRIMARY KEY NOT NULL,
    member    TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    kind      TEXT NOT NULL,
    about     TEXT NOT NULL,
    night     TEXT NOT NULL,
    harm      DOUBLE PRECISION NOT NULL,
    minimum_c DOUBLE PRECISION NOT NULL,
    made_ms   BIGINT NOT NULL,
    subject   TEXT NOT NULL,
    words     TEXT NOT NULL,
    path      TEXT NOT NULL,
    UNIQUE (member, kind, about)
);
CREATE INDEX warning_made ON warning (member, made_ms);
