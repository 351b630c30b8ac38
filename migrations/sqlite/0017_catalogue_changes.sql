-- What people propose for the catalogue and what stewards decided. The shipped records stay as they are: accepted changes are applied over
-- them in the order of their numbers. `content` is the change as JSON; `cultivar` and `other` are the entries it is about.
CREATE TABLE catalogue_change (
    id       TEXT PRIMARY KEY NOT NULL,
    number   INTEGER UNIQUE,
    version  INTEGER NOT NULL CHECK (version >= 1),
    state    TEXT NOT NULL,
    kind     TEXT NOT NULL,
    cultivar TEXT,
    other    TEXT,
    content  TEXT NOT NULL,
    author   TEXT REFERENCES member (id),
    credited TEXT,
    sent_ms  INTEGER NOT NULL
) STRICT;
CREATE INDEX catalogue_change_cultivar ON catalogue_change (cultivar);
CREATE INDEX catalogue_change_other ON catalogue_change (other);
CREATE INDEX catalogue_change_author ON catalogue_change (author);
CREATE INDEX catalogue_change_state ON catalogue_change (state, sent_ms);

-- Every decision and every change of a proposal, with what it said from then on; the first row is the proposal as it was made.
CREATE TABLE catalogue_step (
    change   TEXT NOT NULL REFERENCES catalogue_change (id),
    version  INTEGER NOT NULL,
    member   TEXT REFERENCES member (id),
    credited TEXT,
    state    TEXT NOT NULL,
    words    TEXT NOT NULL,
    content  TEXT NOT NULL,
    at_ms    INTEGER NOT NULL,
    PRIMARY KEY (change, version)
) STRICT;
CREATE INDEX catalogue_step_member ON catalogue_step (member);

-- Where the plants stood that an accepted change took to another entry, so that it can be undone.
CREATE TABLE catalogue_move (
    change TEXT NOT NULL,
    plant  TEXT NOT NULL,
    was    TEXT,
    stands TEXT NOT NULL,
    PRIMARY KEY (change, plant)
) STRICT;
CREATE INDEX catalogue_move_plant ON catalogue_move (plant);

-- What differs between two editions of the shipped catalogue, for a steward to look at.
CREATE TABLE seed_difference (
    number    INTEGER PRIMARY KEY NOT NULL,
    edition   TEXT NOT NULL,
    cultivar  TEXT NOT NULL,
    trait     TEXT NOT NULL,
    was       TEXT NOT NULL,
    stands    TEXT NOT NULL,
    looked_at INTEGER NOT NULL CHECK (looked_at IN (0, 1))
) STRICT;

CREATE INDEX plant_cultivar ON plant (cultivar);
