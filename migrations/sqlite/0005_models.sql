-- What each fit of the accepted reports came to, and who may fit. `inputs` is a digest of everything else that went in: catalogue, priors,
-- form of the state. `state` is kept for the newest alone: from it another process makes the same answers without fitting.
CREATE TABLE model (
    reports_version INTEGER NOT NULL,
    inputs          TEXT NOT NULL,
    version         TEXT NOT NULL,
    reports         INTEGER NOT NULL,
    fitted_ms       INTEGER NOT NULL,
    scores          TEXT NOT NULL,
    state           TEXT,
    PRIMARY KEY (inputs, reports_version)
) STRICT;

-- One process at a time does a piece of work; a holder that died loses it when its time has run out.
CREATE TABLE lease (
    name     TEXT PRIMARY KEY NOT NULL,
    holder   TEXT NOT NULL,
    until_ms INTEGER NOT NULL
) STRICT;
