-- Daily records that members keep under a name of their own: the bytes as sent, packed, and what was answered beside them (JSON).
-- Seen by their member alone, and gone with the member.
CREATE TABLE site (
    id      TEXT PRIMARY KEY NOT NULL,
    member  TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    name    TEXT NOT NULL,
    made_ms BIGINT NOT NULL,
    answers TEXT NOT NULL,
    packed  BYTEA NOT NULL CHECK (octet_length(packed) <= 4194304),
    UNIQUE (member, name)
);
