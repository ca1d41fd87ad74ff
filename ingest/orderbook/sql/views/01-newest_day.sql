-- newest_day: the newest day of the book, one row. It is the as-of day where
-- none is asked for.
--
--   newest   the latest day in any day column of orders, forms, outcomes and
--            call-backs; NULL in an empty book
CREATE VIEW newest_day AS
SELECT max(day) AS newest
FROM (
    SELECT greatest(max(received_on), max(cut_on), max(shipped_on)) AS day FROM orders
    UNION ALL SELECT max(received_on) FROM forms
    UNION ALL SELECT max(reported_on) FROM outcomes
    UNION ALL SELECT greatest(max(called_on), max(resolved_on)) FROM callbacks
);
