-- Reports that came in from a data package: whom they are credited to, and the code that joins the reports of one reporter.
ALTER TABLE report ADD COLUMN recorded_by TEXT;
ALTER TABLE report ADD COLUMN reporter_code TEXT;
