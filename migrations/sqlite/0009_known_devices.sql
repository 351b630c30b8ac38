-- Devices on which a member has signed in before: they may go on trying the passphrase when strangers have used up the account's tries. Only
-- a hash of what the device holds is kept.
CREATE TABLE known_device (
    secret_hash TEXT PRIMARY KEY NOT NULL,
    member      TEXT NOT NULL REFERENCES member (id) ON DELETE CASCADE,
    made_ms     INTEGER NOT NULL
) STRICT;
CREATE INDEX known_device_member ON known_device (member);
