-- part: sum
-- One number a table, joined by dots. A sum of row hashes does not depend on
-- the order of the rows; sums of integers are exact. The tables are rows of one
-- query: as columns of one row, each by a query of its own, the engine's planning
-- takes five times as long.
SELECT 'h1.' || string_agg(h, '.' ORDER BY nth) FROM (SELECT nth, coalesce(sum(h), 0)::VARCHAR AS h FROM (
    SELECT 1 AS nth, sum(hash(t)) AS h FROM (SELECT * EXCLUDE (load_id) FROM orders) t
    UNION ALL {forms}
    UNION ALL SELECT 3, sum(hash(form_id, set_hash)) FROM form_numbers
    UNION ALL {reports}
    UNION ALL SELECT 5, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM callbacks) t
    UNION ALL SELECT 6, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM measurers) t
    UNION ALL SELECT 7, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM repeats) t
    UNION ALL SELECT 8, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM costs) t
    UNION ALL SELECT 9, sum(hash(t)) FROM settings t
) GROUP BY nth)
-- part: forms
-- Those without a letter of instructions count as they did before there was one.
SELECT 2, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id, instructions) FROM forms WHERE instructions IS NULL) t
UNION ALL SELECT 2, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM forms WHERE instructions IS NOT NULL) t
-- part: forms before version 4
SELECT 2, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM forms) t
-- part: reports
-- Those without a number of their own count as they did before there was one, so
-- that an older book keeps its sum.
SELECT 4, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id, outcome_id) FROM outcomes WHERE outcome_id IS NULL) t
UNION ALL SELECT 4, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM outcomes WHERE outcome_id IS NOT NULL) t
-- part: reports before version 3
SELECT 4, sum(hash(t)) FROM (SELECT * EXCLUDE (load_id) FROM outcomes) t
