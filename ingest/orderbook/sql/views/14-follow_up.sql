-- follow_up: one row a new order shipped by the as-of day: what became of it
-- as far as it was known then. An order that books the second making of
-- another is no new order and is not here.
--
--   order_id … orthotic         of the order, as in known_order
--   as_of                       the end of follow-up
--   days_followed               from shipping to the as-of day
--   remade                      a remake was reported, with its day or without
--   remade_on, days_to_remake   the first report of a remake that has a day
--   returned_on, adjusted_on    the first report of a return, an adjustment
--   cause, zone, direction, side, cost   what the first remake's report said
--   answered                    there is any report of fit at all
--   doubt                       why the order can't be followed: NULL for most
--   formless_states             fault_states where the order has no such form:
--                               all unknown, but for what it is not at risk of
CREATE VIEW follow_up AS
SELECT
    o.order_id, o.customer_id, o.received_on, o.cut_on, o.shipped_on, o.shaft_height_mm, o.closure,
    o.channel, o.sock, o.sex, o.worn_tucked, o.orthotic,
    CAST(getvariable('as_of') AS DATE) AS as_of,
    CAST(getvariable('as_of') AS DATE) - o.shipped_on AS days_followed,
    coalesce(r.remakes, 0) > 0 AS remade,
    r.remade_on, r.remade_on - o.shipped_on AS days_to_remake, r.returned_on, r.adjusted_on,
    r.said.cause AS cause, r.said.zone AS zone, r.said.direction AS direction,
    r.said.side AS side, r.said.cost AS cost,
    r.order_id IS NOT NULL AS answered,
    CASE
        WHEN o.shipped_on < o.received_on THEN 'shipped before it was received'
        WHEN r.remade_on < o.shipped_on THEN 'remake reported before the boots were shipped'
        WHEN o.received_on < b.received_from OR o.shipped_on < b.shipped_from THEN
            CASE WHEN r.complained THEN 'from before the book began, known by its complaint' ELSE 'from before the book began' END
    END AS doubt,
    {formless states} AS formless_states
FROM known_order o
CROSS JOIN book_began b
LEFT JOIN report r USING (order_id)
WHERE o.shipped_on IS NOT NULL AND o.remake_of_order_id IS NULL;
