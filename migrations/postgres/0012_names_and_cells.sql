-- Names that members go by, under every form that another name could pass for; a name stays closed when its member leaves. Hashes only.
CREATE TABLE taken_name (
    form_hash TEXT PRIMARY KEY NOT NULL,
    member    TEXT REFERENCES member (id) ON DELETE SET NULL
);
CREATE INDEX taken_name_member ON taken_name (member);

-- Cells of 0.1 degrees that the newest release shows, by their southern and western edges in tenths of a degree.
CREATE TABLE fine_cell (
    south BIGINT NOT NULL,
    west  BIGINT NOT NULL,
    PRIMARY KEY (south, west)
);

-- Records that stay when their member leaves take new ids; references to them are looked at when that transaction ends.
ALTER TABLE report ALTER CONSTRAINT report_plant_fkey DEFERRABLE INITIALLY IMMEDIATE;
ALTER TABLE report_version ALTER CONSTRAINT report_version_report_fkey DEFERRABLE INITIALLY IMMEDIATE;
ALTER TABLE decision ALTER CONSTRAINT decision_report_fkey DEFERRABLE INITIALLY IMMEDIATE;
ALTER TABLE submission ALTER CONSTRAINT submission_report_fkey DEFERRABLE INITIALLY IMMEDIATE;
ALTER TABLE plant_version ALTER CONSTRAINT plant_version_plant_fkey DEFERRABLE INITIALLY IMMEDIATE;
