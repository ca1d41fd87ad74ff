-- book_began: the days from which orders are known whether or not a customer
-- complained, one row. Orders from before, which a shop wrote in only when their
-- complaint came, would make every share too high.
--
--   received_from, shipped_from   orders received or shipped before are from before
--                     the book began; NULL: no order is
--   is_set            the shop says so (setting book_begins); otherwise it is read
--                     off the orders, by either day: the day up to which the earliest
--                     orders, five at least, have complaints nearly alone (four of
--                     five or more), while fewer than half have any from then on; of
--                     such days the likeliest, where the data are over 20,000 times
--                     as likely (e^10) with two shares as with one (judgement)
--   before, complained_before, since, complained_since   the orders it rests on, by
--                     shipping day, or by the day of receipt where that alone shows it
CREATE VIEW book_began AS
WITH shipped AS (
    SELECT o.received_on, o.shipped_on, coalesce(r.complained, FALSE) AS complained
    FROM known_order o LEFT JOIN report r USING (order_id)
    WHERE o.shipped_on IS NOT NULL AND o.remake_of_order_id IS NULL
), days AS (
    SELECT by_day, day, count(*) AS n, count(*) FILTER (complained) AS x
    FROM (
        SELECT 'received' AS by_day, received_on AS day, complained FROM shipped
        UNION ALL SELECT 'shipped', shipped_on, complained FROM shipped
    ) WHERE day IS NOT NULL GROUP BY by_day, day
), parted AS (
    SELECT by_day, lead(day) OVER earlier AS day, sum(n) OVER earlier AS n, sum(x) OVER earlier AS x,
        sum(n) OVER (PARTITION BY by_day) AS all_n, sum(x) OVER (PARTITION BY by_day) AS all_x
    FROM days WINDOW earlier AS (PARTITION BY by_day ORDER BY day)
), likely AS (
    SELECT by_day, day, n, x, all_n - n AS later_n, all_x - x AS later_x,
        -- x ln(x/n) is 0 where x is
        coalesce(x * ln(nullif(x, 0) / n), 0) + coalesce((n - x) * ln(nullif(n - x, 0) / n), 0)
        + coalesce((all_x - x) * ln(nullif(all_x - x, 0) / (all_n - n)), 0)
        + coalesce((all_n - n - all_x + x) * ln(nullif(all_n - n - all_x + x, 0) / (all_n - n)), 0)
        - coalesce(all_x * ln(nullif(all_x, 0) / all_n), 0)
        - coalesce((all_n - all_x) * ln(nullif(all_n - all_x, 0) / all_n), 0) AS gain
    FROM parted
    WHERE day IS NOT NULL AND n >= 5 AND x >= 0.8 * n AND 2 * (all_x - x) < all_n - n
), found AS (
    SELECT by_day, arg_max({'day': day, 'n': n, 'x': x, 'later_n': later_n, 'later_x': later_x}, gain) AS best
    FROM likely WHERE gain > 10 GROUP BY by_day
), both_days AS (
    SELECT
        max(best.day) FILTER (by_day = 'received') AS received_from,
        max(best.day) FILTER (by_day = 'shipped')  AS shipped_from,
        arg_max(best, by_day)                      AS told -- 'shipped' comes after 'received'
    FROM found
), setting AS (
    SELECT max(TRY_CAST(value AS DATE)) AS day FROM settings WHERE name = 'book_begins'
)
SELECT
    coalesce(s.day, b.received_from) AS received_from,
    coalesce(s.day, b.shipped_from)  AS shipped_from,
    s.day IS NOT NULL                AS is_set,
    CASE WHEN s.day IS NULL THEN b.told.n END       AS before,
    CASE WHEN s.day IS NULL THEN b.told.x END       AS complained_before,
    CASE WHEN s.day IS NULL THEN b.told.later_n END AS since,
    CASE WHEN s.day IS NULL THEN b.told.later_x END AS complained_since
FROM setting s CROSS JOIN both_days b;
