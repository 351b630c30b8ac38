-- Letters: which kinds a member wishes for and since when, how far each kind has been told, and the letters that wait for the relay.
-- No letter of these holds a secret but the link that stops them; those that do (a new passphrase) are never kept.
CREATE TABLE letter_wish (
    member   TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    kind     TEXT NOT NULL,
    since_ms BIGINT NOT NULL,
    PRIMARY KEY (member, kind)
);

-- The link that stops letters without signing in, and why the last letter did not arrive.
CREATE TABLE letter_box (
    member     TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    stop       TEXT NOT NULL UNIQUE,
    trouble    TEXT,
    trouble_ms BIGINT
);

CREATE TABLE letter_round (
    kind    TEXT PRIMARY KEY NOT NULL,
    told_ms BIGINT NOT NULL
);

-- due_ms is when it is sent, or sent again where whoever took it was not heard of any more.
CREATE TABLE letter (
    id      TEXT PRIMARY KEY NOT NULL,
    member  TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    kind    TEXT NOT NULL,
    subject TEXT NOT NULL,
    words   TEXT NOT NULL,
    due_ms  BIGINT NOT NULL,
    ends_ms BIGINT NOT NULL,
    tries   BIGINT NOT NULL
);
CREATE INDEX letter_due ON letter (due_ms, id);
CREATE INDEX letter_member ON letter (member);
CREATE INDEX decision_at ON decision (at_ms);
CREATE INDEX notice_at ON notice (at_ms);
