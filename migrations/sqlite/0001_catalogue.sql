-- The catalogue as planted from seed-data: one row per fact, each with its provenance. A trait without a row is unknown.

CREATE TABLE mark (
    name  TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE source (
    key     TEXT PRIMARY KEY NOT NULL,
    place   INTEGER NOT NULL,
    title   TEXT NOT NULL,
    author  TEXT,
    year    INTEGER,
    address TEXT,
    grade   TEXT NOT NULL CHECK (grade IN ('A', 'B', 'C'))
) STRICT;

-- A cultivar is never deleted, since records may name it; one that leaves the seed is no longer listed.
CREATE TABLE cultivar (
    slug    TEXT PRIMARY KEY NOT NULL,
    place   INTEGER NOT NULL,
    listed  INTEGER NOT NULL CHECK (listed IN (0, 1)),
    name    TEXT NOT NULL,
    sources TEXT NOT NULL,
    note    TEXT NOT NULL
) STRICT;

CREATE TABLE cultivar_fact (
    place      INTEGER PRIMARY KEY NOT NULL,
    cultivar   TEXT NOT NULL REFERENCES cultivar (slug),
    trait      TEXT NOT NULL,
    value      TEXT NOT NULL,
    remark     TEXT NOT NULL,
    provenance TEXT NOT NULL,
    sources    TEXT NOT NULL
) STRICT;
CREATE INDEX cultivar_fact_cultivar ON cultivar_fact (cultivar);

CREATE TABLE confused_name (
    place      INTEGER PRIMARY KEY NOT NULL,
    cultivar   TEXT NOT NULL REFERENCES cultivar (slug),
    other      TEXT NOT NULL REFERENCES cultivar (slug),
    name       TEXT NOT NULL,
    why        TEXT NOT NULL,
    provenance TEXT NOT NULL,
    sources    TEXT NOT NULL
) STRICT;
