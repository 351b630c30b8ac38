-- Words that passed between stewards and reporters who have left since: they may hold names and places, and go with their member.
UPDATE report_version SET why = '' WHERE report IN (SELECT id FROM report WHERE reporter IS NULL);
UPDATE decision SET words = NULL WHERE report IN (SELECT id FROM report WHERE reporter IS NULL);
