-- What Cohort reads: one row an order of the view cohort, by shipping day and
-- order id. A value handed over to Go costs far more than one computed here,
-- so a row is packed:
--
--   who       hash of the customer; NULL where not known
--   states    fault states of the form cut from (26 bits) and of the first form
--             (26 bits), called back, answered, worn tucked and orthotic
--             (2 bits each: 0 unknown, 1 no, 2 yes)
--   days      shipped, received, remade: 20 bits each, days since 1970 + 2^19,
--             0 where there is none
--   more      returned, adjusted (20 bits each), form_no of the form cut from
--   order_words, form_words, remake_words   parted by the unit separator
WITH f AS MATERIALIZED (
    SELECT form_id, order_id, form_no, cut_from, fault_states, measurer_id, measurer_region
    FROM form
), first_one AS (
    SELECT order_id, fault_states FROM f ANTI JOIN later_form USING (form_id)
), cut_one AS (
    SELECT order_id, form_no, fault_states, measurer_id, measurer_region
    FROM f ANTI JOIN contested_cut USING (order_id)
    WHERE cut_from
), called AS (
    SELECT DISTINCT order_id FROM call_back
)
SELECT
    u.order_id,
    CASE WHEN u.customer_id IS NOT NULL THEN hash(u.customer_id) END AS who,
    coalesce(c.fault_states, 0) + coalesce(a.fault_states, 0) * (1::BIGINT << 26)
        + (b.order_id IS NOT NULL)::BIGINT * (1::BIGINT << 52) + u.answered::BIGINT * (1::BIGINT << 53)
        + coalesce(1 + u.worn_tucked::BIGINT, 0) * (1::BIGINT << 54)
        + coalesce(1 + u.orthotic::BIGINT, 0) * (1::BIGINT << 56) AS states,
    (u.shipped_on - DATE '1970-01-01' + 524288)
        + coalesce(u.received_on - DATE '1970-01-01' + 524288, 0) * (1::BIGINT << 20)
        + coalesce(u.remade_on - DATE '1970-01-01' + 524288, 0) * (1::BIGINT << 40) AS days,
    coalesce(u.returned_on - DATE '1970-01-01' + 524288, 0)
        + coalesce(u.adjusted_on - DATE '1970-01-01' + 524288, 0) * (1::BIGINT << 20)
        + greatest(0, least(32767, coalesce(c.form_no, 0)))::BIGINT * (1::BIGINT << 40) AS more,
    coalesce(u.shaft_height_mm, 'NaN'::DOUBLE) AS shaft,
    coalesce(u.cost, 'NaN'::DOUBLE) AS cost,
    concat(u.closure, chr(31), u.channel, chr(31), u.sock, chr(31), u.sex) AS order_words,
    concat(c.measurer_id, chr(31), c.measurer_region) AS form_words,
    CASE WHEN u.remade_on IS NULL THEN ''
        ELSE concat(u.cause, chr(31), u.zone, chr(31), u.direction, chr(31), u.side) END AS remake_words
FROM follow_up u
LEFT JOIN cut_one c USING (order_id)
LEFT JOIN first_one a USING (order_id)
LEFT JOIN called b USING (order_id)
WHERE u.doubt IS NULL
ORDER BY u.shipped_on, u.order_id
