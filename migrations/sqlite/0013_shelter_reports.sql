-- Shelters that members publish, with what changes to them gained by measured nights. `content` is JSON; `setup` is the kept shelter it was
-- made from, for its member alone; the point is held to hundredths of a degree and published coarser.
CREATE TABLE shelter_report (
    id            TEXT PRIMARY KEY NOT NULL,
    reporter      TEXT REFERENCES member (id),
    setup         TEXT,
    state         TEXT NOT NULL,
    version       INTEGER NOT NULL CHECK (version >= 1),
    content       TEXT NOT NULL,
    place_words   TEXT,
    latitude_h    INTEGER,
    longitude_h   INTEGER,
    publish       TEXT NOT NULL,
    sent_ms       INTEGER NOT NULL,
    changed_ms    INTEGER NOT NULL,
    recorded_by   TEXT,
    reporter_code TEXT
) STRICT;
CREATE INDEX shelter_report_reporter ON shelter_report (reporter);
CREATE INDEX shelter_report_state ON shelter_report (state, id);

CREATE TABLE shelter_version (
    shelter TEXT NOT NULL REFERENCES shelter_report (id),
    version INTEGER NOT NULL,
    content TEXT NOT NULL,
    at_ms   INTEGER NOT NULL,
    PRIMARY KEY (shelter, version)
) STRICT;

CREATE TABLE shelter_decision (
    shelter TEXT NOT NULL REFERENCES shelter_report (id),
    nth     INTEGER NOT NULL,
    version INTEGER NOT NULL,
    steward TEXT REFERENCES member (id),
    state   TEXT NOT NULL,
    reason  TEXT NOT NULL,
    words   TEXT,
    at_ms   INTEGER NOT NULL,
    PRIMARY KEY (shelter, nth)
) STRICT;

-- Shelters that counted once and do so no longer.
CREATE TABLE withdrawn_shelter (
    id    TEXT PRIMARY KEY NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;
