-- The catalogue as planted from seed-data: one row per fact, each with its provenance. A trait without a row is unknown.

CREATE TABLE mark (
    name  TEXT PRIMARY KEY NOT NULL,
    value TEXT NOT NULL
);

CREATE TABLE source (
    key     TEXT PRIMARY KEY NOT NULL,
    place   BIGINT NOT NULL,
    title   TEXT NOT NULL,
    author  TEXT,
    year    BIGINT,
    address TEXT,
    grade   TEXT NOT NULL CHECK (grade IN ('A', 'B', 'C'))
);

-- A cultivar is never deleted, since records may name it; one that leaves the seed is no longer listed.
CREATE TABLE cultivar (
    slug    TEXT PRIMARY KEY NOT NULL,
    place   BIGINT NOT NULL,
    listed  BOOLEAN NOT NULL,
    name    TEXT NOT NULL,
    sources TEXT NOT NULL,
    note    TEXT NOT NULL
);

CREATE TABLE cultivar_fact (
    place      BIGINT PRIMARY KEY NOT NULL,
    cultivar   TEXT NOT NULL REFERENCES cultivar (slug),
    trait      TEXT NOT NULL,
    value      TEXT NOT NULL,
    remark     TEXT NOT NULL,
    provenance TEXT NOT NULL,
    sources    TEXT NOT NULL
);
CREATE INDEX cultivar_fact_cultivar ON cultivar_fact (cultivar);

CREATE TABLE confused_name (
    place      BIGINT PRIMARY KEY NOT NULL,
    cultivar   TEXT NOT NULL REFERENCES cultivar (slug),
    other      TEXT NOT NULL REFERENCES cultivar (slug),
    name       TEXT NOT NULL,
    why        TEXT NOT NULL,
    provenance TEXT NOT NULL,
    sources    TEXT NOT NULL
);
