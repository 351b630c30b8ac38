-- Who asked to be forgotten, by id: what the list beside the data is compared with. Nothing else of them is kept.
CREATE TABLE erased_member (
    member TEXT NOT NULL PRIMARY KEY,
    leaving TEXT NOT NULL,
    seed TEXT NOT NULL,
    at_ms INTEGER NOT NULL
) STRICT;
