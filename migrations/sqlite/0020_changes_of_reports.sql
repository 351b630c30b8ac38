-- The number of the change in which a report came to stand as it does, so that what changed since is read without the rest; 0: before this.
ALTER TABLE report ADD COLUMN change_no INTEGER NOT NULL DEFAULT 0;
ALTER TABLE withdrawn_report ADD COLUMN change_no INTEGER NOT NULL DEFAULT 0;
CREATE INDEX report_change ON report (change_no, id);
CREATE INDEX withdrawn_report_change ON withdrawn_report (change_no);
-- A member's reports by the order they were sent, and those that wait.
CREATE INDEX report_reporter_sent ON report (reporter, sent_ms, id);
CREATE INDEX report_state_sent ON report (state, sent_ms, id);
