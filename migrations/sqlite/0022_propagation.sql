-- Batches of propagation: what is said of each (JSON), and its earlier states, to which it can go back. A batch belongs to a member, who alone
-- sees it and with whom it goes, or to a nursery and all of its members. `gone` is a batch that was taken off the list.
CREATE TABLE batch (
    id      TEXT PRIMARY KEY NOT NULL,
    member  TEXT REFERENCES member (id) ON DELETE CASCADE,
    nursery TEXT REFERENCES nursery (id) ON DELETE CASCADE,
    content TEXT NOT NULL,
    version INTEGER NOT NULL CHECK (version >= 1),
    gone    INTEGER NOT NULL CHECK (gone IN (0, 1)),
    made_ms INTEGER NOT NULL,
    CHECK ((member IS NULL) <> (nursery IS NULL))
) STRICT;
CREATE INDEX batch_member ON batch (member, made_ms, id);
CREATE INDEX batch_nursery ON batch (nursery, made_ms, id);

CREATE TABLE batch_version (
    batch   TEXT NOT NULL REFERENCES batch (id) ON DELETE CASCADE,
    version INTEGER NOT NULL,
    content TEXT NOT NULL,
    gone    INTEGER NOT NULL,
    at_ms   INTEGER NOT NULL,
    PRIMARY KEY (batch, version)
) STRICT;

-- How often a kind of question was asked in a week: half-zone, spot in the garden and fig; '' where a question names no fig. No address, no
-- member, no place. `week` counts weeks of seven days from 1970-01-01.
CREATE TABLE asked (
    week     INTEGER NOT NULL,
    zone     TEXT NOT NULL,
    setting  TEXT NOT NULL,
    culture  TEXT NOT NULL,
    cultivar TEXT NOT NULL,
    times    INTEGER NOT NULL,
    PRIMARY KEY (week, zone, setting, culture, cultivar)
) STRICT;

-- Figs that a nursery offers as a trial.
CREATE TABLE trial_offer (
    nursery  TEXT NOT NULL REFERENCES nursery (id) ON DELETE CASCADE,
    cultivar TEXT NOT NULL,
    made_ms  INTEGER NOT NULL,
    PRIMARY KEY (nursery, cultivar)
) STRICT;
