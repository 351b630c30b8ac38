-- Shelters that members publish, with what changes to them gained by measured nights. `content` is JSON; `setup` is the kept shelter it was
-- made from, for its member alone; the point is held to hundredths of a degree and published coarser.
CREATE TABLE shelter_report (
    id            TEXT PRIMARY KEY NOT NULL,
    reporter      TEXT REFERENCES member (id),
    setup         TEXT,
    state         TEXT NOT NULL,
    version       BIGINT NOT NULL CHECK (version >= 1),
    content       TEXT NOT NULL,
    place_words   TEXT,
    latitude_h    BIGINT,
    longitude_h   BIGINT,
    publish       TEXT NOT NULL,
    sent_ms       BIGINT NOT NULL,
    changed_ms    BIGINT NOT NULL,
    recorded_by   TEXT,
    reporter_code TEXT
);
CREATE INDEX shelter_report_reporter ON shelter_report (reporter);
CREATE INDEX shelter_report_state ON shelter_report (state, id);

CREATE TABLE shelter_version (
    shelter TEXT NOT NULL REFERENCES shelter_report (id) DEFERRABLE INITIALLY IMMEDIATE,
    version BIGINT NOT NULL,
    content TEXT NOT NULL,
    at_ms   BIGINT NOT NULL,
    PRIMARY KEY (shelter, version)
);

CREATE TABLE shelter_decision (
    shelter TEXT NOT NULL REFERENCES shelter_report (id) DEFERRABLE INITIALLY IMMEDIATE,
    nth     BIGINT NOT NULL,
    version BIGINT NOT NULL,
    steward TEXT REFERENCES member (id),
    state   TEXT NOT NULL,
    reason  TEXT NOT NULL,
    words   TEXT,
    at_ms   BIGINT NOT NULL,
    PRIMARY KEY (shelter, nth)
);

-- Shelters that counted once and do so no longer.
CREATE TABLE withdrawn_shelter (
    id    TEXT PRIMARY KEY NOT NULL,
    at_ms BIGINT NOT NULL
);
