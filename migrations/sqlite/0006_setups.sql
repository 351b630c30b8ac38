-- Places for a cold night and shelters that members keep: the answers of their forms (JSON). Seen by their member alone, and gone with the
-- member.
CREATE TABLE setup (
    id      TEXT PRIMARY KEY NOT NULL,
    member  TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    kind    TEXT NOT NULL,
    name    TEXT NOT NULL,
    answers TEXT NOT NULL,
    made_ms INTEGER NOT NULL,
    UNIQUE (member, kind, name)
) STRICT;
