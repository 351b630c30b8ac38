-- A member's dates at a secret address, as a calendar and as a feed: whoever has the address reads them without signing in. A new secret takes
-- the place of the one before, which then leads nowhere.
CREATE TABLE reminder_address (
    member  TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    secret  TEXT NOT NULL UNIQUE,
    made_ms BIGINT NOT NULL
);

-- The scale that comes first in what is written to a member, or read of theirs, without a browser: letters, calendar, feed.
CREATE TABLE member_scale (
    member TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    scale  TEXT NOT NULL
);

-- Letters of a season, made once for each member and season, however many processes make them.
CREATE TABLE letter_season (
    member  TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    kind    TEXT NOT NULL,
    season  TEXT NOT NULL,
    made_ms BIGINT NOT NULL,
    PRIMARY KEY (member, kind, season)
);

-- The picture of a letter that waits, as PNG, and what it shows in words.
CREATE TABLE letter_picture (
    letter TEXT PRIMARY KEY NOT NULL REFERENCES letter (id) ON DELETE CASCADE,
    png    BYTEA NOT NULL,
    words  TEXT NOT NULL
);
