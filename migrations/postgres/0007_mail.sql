-- An address counts as a member's own once a link sent to it was used. Only a hash of what a link holds is kept.
ALTER TABLE member ADD COLUMN email_confirmed_ms BIGINT;

CREATE TABLE mail_link (
    secret_hash TEXT PRIMARY KEY NOT NULL,
    member      TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    purpose     TEXT NOT NULL,
    email       TEXT NOT NULL,
    ends_ms     BIGINT NOT NULL
);
CREATE INDEX mail_link_member ON mail_link (member);
