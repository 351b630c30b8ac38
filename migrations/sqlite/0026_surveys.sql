-- Questions that members ask those who follow them, and the answers (JSON) of people without an account, each taken once by its sender's key.
-- They go with who asks. No answer enters the model; no address of who answered is kept.
CREATE TABLE survey (
    id      TEXT PRIMARY KEY NOT NULL,
    code    TEXT NOT NULL UNIQUE,
    owner   TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    asker   TEXT NOT NULL,
    winter  TEXT NOT NULL,
    is_open INTEGER NOT NULL CHECK (is_open IN (0, 1)),
    made_ms INTEGER NOT NULL
) STRICT;
CREATE INDEX survey_owner ON survey (owner, made_ms, id);

CREATE TABLE survey_answer (
    id      TEXT PRIMARY KEY NOT NULL,
    survey  TEXT NOT NULL REFERENCES survey (id) ON DELETE CASCADE,
    key     TEXT NOT NULL,
    content TEXT NOT NULL,
    flags   TEXT NOT NULL,
    state   TEXT NOT NULL,
    sent_ms INTEGER NOT NULL,
    UNIQUE (survey, key)
) STRICT;
CREATE INDEX survey_answer_state ON survey_answer (state, sent_ms, id);

-- The public page of a grower who wants one.
CREATE TABLE grower_page (
    member     TEXT PRIMARY KEY NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    code       TEXT NOT NULL UNIQUE,
    title      TEXT NOT NULL,
    recommends TEXT NOT NULL,
    set_aside  INTEGER NOT NULL CHECK (set_aside IN (0, 1)),
    made_ms    INTEGER NOT NULL
) STRICT;
