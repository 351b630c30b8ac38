-- Indexes that said what another says: `report_queue` has the same columns, and `report_reporter_sent` begins with the reporter.
DROP INDEX IF EXISTS report_state_sent;
DROP INDEX IF EXISTS report_reporter;

-- Reports that came with a package have no reporter here and are never looked for by one: they stay out of what is ordered by reporter.
DROP INDEX IF EXISTS report_reporter_sent;
CREATE INDEX report_reporter_sent ON report (reporter, sent_ms, id) WHERE reporter IS NOT NULL;
DROP INDEX IF EXISTS report_sender;
CREATE INDEX report_sender ON report (state, reporter, winter, sent_ms, id) WHERE reporter IS NOT NULL;
