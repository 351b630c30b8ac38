-- What was said of a plant before it was changed: the answers of its form, and until when they stood.
CREATE TABLE plant_version (
    plant TEXT NOT NULL REFERENCES plant (id) ON DELETE CASCADE,
    version INTEGER NOT NULL CHECK (version >= 1),
    answers TEXT NOT NULL,
    until_ms INTEGER NOT NULL,
    PRIMARY KEY (plant, version)
) STRICT;
