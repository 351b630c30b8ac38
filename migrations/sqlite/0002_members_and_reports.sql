-- Members, their plants and winter reports. Times are milliseconds UTC; places hundredths of a degree; words are those of the contract.

CREATE TABLE member (
    id            TEXT PRIMARY KEY NOT NULL,
    handle        TEXT NOT NULL,
    handle_folded TEXT NOT NULL UNIQUE,
    passphrase    TEXT NOT NULL,
    email         TEXT,
    role          TEXT NOT NULL,
    credit        TEXT NOT NULL,
    joined_ms     INTEGER NOT NULL
) STRICT;

-- Only a hash of what the browser holds is kept.
CREATE TABLE session (
    token_hash TEXT PRIMARY KEY NOT NULL,
    member     TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    started_ms INTEGER NOT NULL,
    seen_ms    INTEGER NOT NULL,
    ends_ms    INTEGER NOT NULL,
    device     TEXT NOT NULL
) STRICT;
CREATE INDEX session_member ON session (member);

CREATE TABLE api_token (
    id         TEXT PRIMARY KEY NOT NULL,
    member     TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    token_hash TEXT NOT NULL UNIQUE,
    name       TEXT NOT NULL,
    scope      TEXT NOT NULL,
    made_ms    INTEGER NOT NULL
) STRICT;
CREATE INDEX api_token_member ON api_token (member);

-- The code that makes the first administrator; gone once redeemed.
CREATE TABLE first_code (
    code_hash TEXT PRIMARY KEY NOT NULL,
    made_ms   INTEGER NOT NULL
) STRICT;

CREATE TABLE plant (
    id           TEXT PRIMARY KEY NOT NULL,
    owner        TEXT REFERENCES member (id),
    name_written TEXT NOT NULL,
    cultivar     TEXT REFERENCES cultivar (slug),
    certainty    TEXT NOT NULL,
    planted      INTEGER,
    setting      TEXT,
    culture      TEXT NOT NULL CHECK (culture IN ('ground', 'container')),
    container_l  REAL,
    place_words  TEXT,
    latitude_h   INTEGER,
    longitude_h  INTEGER,
    publish      TEXT NOT NULL,
    mother       TEXT,
    made_ms      INTEGER NOT NULL
) STRICT;
CREATE INDEX plant_owner ON plant (owner);

-- The newest version; `content` is the record as JSON, the columns beside it are what is asked for.
CREATE TABLE report (
    id          TEXT PRIMARY KEY NOT NULL,
    plant       TEXT NOT NULL REFERENCES plant (id),
    reporter    TEXT REFERENCES member (id),
    winter      TEXT NOT NULL,
    state       TEXT NOT NULL,
    version     INTEGER NOT NULL CHECK (version >= 1),
    content     TEXT NOT NULL,
    flags       TEXT NOT NULL,
    coldest_c   REAL,
    cover       TEXT NOT NULL,
    sent_ms     INTEGER NOT NULL,
    changed_ms  INTEGER NOT NULL
) STRICT;
CREATE INDEX report_plant ON report (plant);
CREATE INDEX report_reporter ON report (reporter);
CREATE INDEX report_state ON report (state, id);

CREATE TABLE report_version (
    report  TEXT NOT NULL REFERENCES report (id),
    version INTEGER NOT NULL,
    content TEXT NOT NULL,
    author  TEXT REFERENCES member (id),
    at_ms   INTEGER NOT NULL,
    why     TEXT NOT NULL,
    PRIMARY KEY (report, version)
) STRICT;

CREATE TABLE decision (
    report  TEXT NOT NULL REFERENCES report (id),
    nth     INTEGER NOT NULL,
    version INTEGER NOT NULL,
    steward TEXT REFERENCES member (id),
    state   TEXT NOT NULL,
    reason  TEXT NOT NULL,
    words   TEXT,
    at_ms   INTEGER NOT NULL,
    PRIMARY KEY (report, nth)
) STRICT;

-- A submission is taken once, however often it arrives.
CREATE TABLE submission (
    member TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    key    TEXT NOT NULL,
    digest TEXT NOT NULL,
    report TEXT NOT NULL REFERENCES report (id),
    at_ms  INTEGER NOT NULL,
    PRIMARY KEY (member, key)
) STRICT;
CREATE INDEX submission_report ON submission (report);

-- Reports that counted once and do so no longer: a release lists them, since published versions cannot be recalled.
CREATE TABLE withdrawn_report (
    id    TEXT PRIMARY KEY NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;

-- Counts changes to what is counted and published, so that a fit knows whether it is of today.
CREATE TABLE counter (
    name  TEXT PRIMARY KEY NOT NULL,
    value INTEGER NOT NULL
) STRICT;
