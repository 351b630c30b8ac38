-- Names that members go by, under every form that another name could pass for; a name stays closed when its member leaves. Hashes only.
CREATE TABLE taken_name (
    form_hash TEXT PRIMARY KEY NOT NULL,
    member    TEXT REFERENCES member (id) ON DELETE SET NULL
) STRICT;
CREATE INDEX taken_name_member ON taken_name (member);

-- Cells of 0.1 degrees that the newest release shows, by their southern and western edges in tenths of a degree.
CREATE TABLE fine_cell (
    south INTEGER NOT NULL,
    west  INTEGER NOT NULL,
    PRIMARY KEY (south, west)
) STRICT;
