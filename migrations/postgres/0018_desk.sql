-- The stewards' desk: which decisions were made in one go, what stood before each, and when it was taken back.
ALTER TABLE decision ADD COLUMN deed TEXT;
ALTER TABLE decision ADD COLUMN before_state TEXT;
ALTER TABLE decision ADD COLUMN undone_ms BIGINT;
CREATE INDEX decision_deed ON decision (deed);
CREATE INDEX report_queue ON report (state, sent_ms, id);
CREATE INDEX report_sender ON report (state, reporter, winter, sent_ms, id);
CREATE INDEX IF NOT EXISTS plant_cultivar ON plant (cultivar);

-- A suspended member reads and writes to the office, and sends nothing else.
ALTER TABLE member ADD COLUMN suspended_ms BIGINT;

-- Words of stewards and administrators to a member, and the member's answers: corrections, warnings, suspensions, appeals. `author` is
-- empty where the machine's keeper gave a command, or has left.
CREATE TABLE notice (
    id     TEXT PRIMARY KEY NOT NULL,
    member TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    author TEXT REFERENCES member (id) ON DELETE SET NULL,
    kind   TEXT NOT NULL,
    about  TEXT,
    words  TEXT NOT NULL,
    at_ms  BIGINT NOT NULL,
    seen_ms BIGINT
);
CREATE INDEX notice_member ON notice (member, at_ms);
CREATE INDEX notice_author ON notice (author);
