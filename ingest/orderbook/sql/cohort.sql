-- What Cohort reads: one row an order of the view cohort, by shipping day and
-- order id. A value handed over to Go costs far more than one computed here,
-- so a row is packed:
--
--   who       hash of the customer; NULL where not known
--   cut_states, first_states   fault states of the form cut from and of the first
--             form, two bits a fault
--   days      shipped, received, remade: 20 bits each, days since 1970 + 2^19,
--             0 where there is none
--   more      returned, adjusted (20 bits each), and which form it was cut from: 1 the
--             first, otherwise its form_no, at least 2; 0 where not known (15 bits);
--             called back, answered (a bit each), worn tucked and orthotic (2 bits
--             each: 0 unknown, 1 no, 2 yes), remade without a day (a bit)
--   alarms    alarm score of the form cut from and of the first form, 16 bits each: a
--             hundredth is 1, 0 where the numbers were not judged
--   order_words, form_words, remake_words   parted by the unit separator
--
--   held0 …   what each rule says of the first form, two bits a rule (0 can't be
--             judged, 1 lets through, 2 holds), as many words as it takes; NULL
--             where there is no first form. None without rules.
--
-- Most orders are cut from their first form, so only the others are joined a
-- second time. Orders come in partitions by shipping day, from {from} to {to},
-- so that memory does not grow with the book; later_one, contested_one,
-- called_one, report_one and began_one are the views later_form, contested_cut, the
-- orders of call_back, report and book_began, worked out once, and follow_up is read
-- over the last two here.
WITH f AS MATERIALIZED (
    SELECT
        form.order_id, form_no, fault_states,
        CASE WHEN alarm_score IS NULL THEN 0 ELSE 1 + round(100 * greatest(0, least(600, alarm_score))) END::BIGINT AS alarm, measurer_id, measurer_kind, measurer_region,
        l.form_id IS NULL AS is_first,
        cut_from AND k.order_id IS NULL AS is_cut{held}
    FROM (SELECT *{rules} FROM form) form
    LEFT JOIN later_one l USING (form_id)
    LEFT JOIN contested_one k ON k.order_id = form.order_id
    WHERE order_shipped_on BETWEEN {from} AND {to}
), form_pair AS (
    SELECT
        a.order_id,
        a.fault_states AS first_states,
        CASE WHEN a.is_cut THEN a.fault_states ELSE c.fault_states END       AS cut_states,
        coalesce(CASE WHEN a.is_cut THEN a.alarm ELSE c.alarm END, 0) + a.alarm * 65536 AS alarms,
        CASE WHEN a.is_cut THEN 1 WHEN c.order_id IS NOT NULL THEN greatest(2, coalesce(c.form_no, 2)) END AS cut_no,
        CASE WHEN a.is_cut THEN a.measurer_id ELSE c.measurer_id END         AS measurer_id,
        CASE WHEN a.is_cut THEN a.measurer_kind ELSE c.measurer_kind END     AS kind,
        CASE WHEN a.is_cut THEN a.measurer_region ELSE c.measurer_region END AS region{held of a}
    FROM (SELECT * FROM f WHERE is_first) a
    LEFT JOIN (SELECT * FROM f WHERE is_cut AND NOT is_first) c USING (order_id)
)
SELECT
    u.order_id,
    CASE WHEN u.customer_id IS NOT NULL THEN hash(u.customer_id) END AS who,
    coalesce(p.cut_states, u.formless_states)::BIGINT AS cut_states,
    coalesce(p.first_states, u.formless_states)::BIGINT AS first_states,
    (u.shipped_on - DATE '1970-01-01' + 524288)
        + coalesce(u.received_on - DATE '1970-01-01' + 524288, 0) * (1::BIGINT << 20)
        + coalesce(u.remade_on - DATE '1970-01-01' + 524288, 0) * (1::BIGINT << 40) AS days,
    coalesce(u.returned_on - DATE '1970-01-01' + 524288, 0)
        + coalesce(u.adjusted_on - DATE '1970-01-01' + 524288, 0) * (1::BIGINT << 20)
        + greatest(0, least(32767, coalesce(p.cut_no, 0)))::BIGINT * (1::BIGINT << 40)
        + (b.order_id IS NOT NULL)::BIGINT * (1::BIGINT << 55) + u.answered::BIGINT * (1::BIGINT << 56)
        + coalesce(1 + u.worn_tucked::BIGINT, 0) * (1::BIGINT << 57)
        + coalesce(1 + u.orthotic::BIGINT, 0) * (1::BIGINT << 59)
        + (u.remade AND u.remade_on IS NULL)::BIGINT * (1::BIGINT << 61) AS more,
    coalesce(u.shaft_height_mm, 'NaN'::DOUBLE) AS shaft,
    coalesce(u.cost, 'NaN'::DOUBLE) AS cost,
    coalesce(p.alarms, 0) AS alarms,
    concat(u.closure, chr(31), u.channel, chr(31), u.sock, chr(31), u.sex) AS order_words,
    concat(p.measurer_id, chr(31), p.kind, chr(31), p.region) AS form_words,
    CASE WHEN NOT u.remade THEN ''
        ELSE concat(u.cause, chr(31), u.zone, chr(31), u.direction, chr(31), u.side) END AS remake_words{held of p}
FROM ({follow_up}) u
LEFT JOIN form_pair p USING (order_id)
LEFT JOIN called_one b USING (order_id)
WHERE u.doubt IS NULL AND u.shipped_on BETWEEN {from} AND {to}
ORDER BY u.shipped_on, u.order_id
