-- Nurseries: members who share one stock of plants, what they sell, and what became of it.
CREATE TABLE nursery (
    id      TEXT PRIMARY KEY NOT NULL,
    -- Short public word on sheets and labels, by which a buyer's report names where the plant came from.
    code    TEXT NOT NULL UNIQUE,
    name    TEXT NOT NULL,
    -- Its own place, as the query of a question; empty where none was said.
    place   TEXT NOT NULL,
    -- Sizes of its label sheets, as the query of the labels page; empty where none were said.
    label   TEXT NOT NULL,
    -- Hash of the invitation that holds, and when it ends.
    invitation_hash    TEXT UNIQUE,
    invitation_ends_ms INTEGER,
    made_ms INTEGER NOT NULL
) STRICT;

-- A member belongs to one nursery at most. Who has been in it longest may take others out.
CREATE TABLE nursery_member (
    member    TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    nursery   TEXT NOT NULL REFERENCES nursery (id) ON DELETE CASCADE,
    joined_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX nursery_member_nursery ON nursery_member (nursery, joined_ms, member);

-- What stands there to be sold, one line a kind: name, form and size (`kind`, folded); `item` is the whole as JSON, without the count.
CREATE TABLE stock_line (
    id         TEXT PRIMARY KEY NOT NULL,
    nursery    TEXT NOT NULL REFERENCES nursery (id) ON DELETE CASCADE,
    kind       TEXT NOT NULL,
    item       TEXT NOT NULL,
    count      INTEGER NOT NULL CHECK (count >= 0),
    version    INTEGER NOT NULL CHECK (version >= 1),
    changed_ms INTEGER NOT NULL,
    UNIQUE (nursery, kind)
) STRICT;

-- Who did what to it. Changes made in one go share a deed; `line` may be gone by now; `version` is the one that the change left.
CREATE TABLE stock_change (
    id           TEXT PRIMARY KEY NOT NULL,
    deed         TEXT NOT NULL,
    nursery      TEXT NOT NULL REFERENCES nursery (id) ON DELETE CASCADE,
    line         TEXT NOT NULL,
    act          TEXT NOT NULL,
    before_item  TEXT,
    before_count INTEGER,
    after_item   TEXT,
    after_count  INTEGER,
    version      INTEGER NOT NULL,
    author       TEXT REFERENCES member (id) ON DELETE SET NULL,
    at_ms        INTEGER NOT NULL,
    undone_ms    INTEGER
) STRICT;
CREATE INDEX stock_change_nursery ON stock_change (nursery, at_ms, id);
CREATE INDEX stock_change_deed ON stock_change (deed);
CREATE INDEX stock_change_line ON stock_change (line, version);
CREATE INDEX stock_change_author ON stock_change (author);

-- Where a plant was bought, counted and never shown with its reporter.
ALTER TABLE plant ADD COLUMN nursery TEXT REFERENCES nursery (id) ON DELETE SET NULL;
CREATE INDEX plant_nursery ON plant (nursery);
