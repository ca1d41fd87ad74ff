-- report: one row an order with any report of fit by the as-of day.
--
--   order_id
--   remade_on, returned_on, adjusted_on   the first report of each
--   complained                  there is a remake, a return or an adjustment, with a
--                               day or not
--   remakes                     how many reports of a remake, with a day or not
--   said                        what the first remake's report said: zone,
--                               direction, side, cause, cost; one with a day
--                               before those without
CREATE VIEW report AS
SELECT
    order_id,
    min(reported_on) FILTER (result = 'remade')   AS remade_on,
    min(reported_on) FILTER (result = 'returned') AS returned_on,
    min(reported_on) FILTER (result = 'adjusted') AS adjusted_on,
    bool_or(result <> 'kept')                     AS complained,
    count(*) FILTER (result = 'remade')           AS remakes,
    min({'day': coalesce(reported_on, DATE '9999-12-31'), 'zone': zone, 'direction': direction, 'side': side, 'cause': cause, 'cost': cost})
        FILTER (result = 'remade') AS said
FROM outcomes
WHERE reported_on IS NULL OR reported_on <= CAST(getvariable('as_of') AS DATE)
GROUP BY order_id;
