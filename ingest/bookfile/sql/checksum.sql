-- part: sum
-- One number a table, joined by dots. A sum of row hashes does not depend on
-- the order of the rows; sums of integers are exact.
SELECT concat_ws('.', 'h1',
    (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM orders) t),
    {forms},
    (SELECT coalesce(sum(hash(form_id, set_hash)), 0) FROM form_numbers),
    {reports},
    (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM callbacks) t),
    (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM measurers) t),
    (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM repeats) t),
    (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM costs) t),
    (SELECT coalesce(sum(hash(t)), 0) FROM settings t));
-- part: forms
-- Those without a letter of instructions count as they did before there was one.
(SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id, instructions) FROM forms WHERE instructions IS NULL) t)
    + (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM forms WHERE instructions IS NOT NULL) t)
-- part: forms before version 4
(SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM forms) t)
-- part: reports
-- Those without a number of their own count as they did before there was one, so
-- that an older book keeps its sum.
(SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id, outcome_id) FROM outcomes WHERE outcome_id IS NULL) t)
    + (SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM outcomes WHERE outcome_id IS NOT NULL) t)
-- part: reports before version 3
(SELECT coalesce(sum(hash(t)), 0) FROM (SELECT * EXCLUDE (load_id) FROM outcomes) t)
