-- Short addresses of answers: the question, and what the answer was. Nobody's id: they belong to no one.
CREATE TABLE short_address (
    code     TEXT PRIMARY KEY NOT NULL,
    question TEXT NOT NULL CHECK (octet_length(question) <= 2000),
    model    TEXT NOT NULL,
    figures  TEXT NOT NULL,
    made_ms  INTEGER NOT NULL
) STRICT;
