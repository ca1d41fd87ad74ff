-- form: one row a measuring form received by the as-of day, joined to its
-- order and measurer. Rules are written over these columns, so all of them
-- are known on the day the form arrives. NULL means not known throughout.
--
--   form_id, order_id, form_no, received_on, cut_from
--   measurer_id, measurer_kind, measurer_region
--   measurer_trained      trained by the day the form came
--   channel, sex, closure, sock, orthotic, worn_tucked      of the order
--   shaft_height_mm, shaft_height_in                        of the order
--   ordered_before        the order names an earlier one
--   order_shipped_on      NULL while not shipped; no rule can rest on it
--   irregularities        the form's free text
--   instructions          letter of the instructions that it was measured by
--   marks_missing         tape marks noted as not on the tracing, 0 to 4
--   marks_unknown         tape marks nobody judged, 0 to 4
--   keyed                 the form has measurements in the book
--   numbers               how many measurements
--   tucked_numbers        how many of them over the trousers
--   both_sides            some number stands on both sides
--   foot_girths_missing   ball, instep, heel girths missing, 0 to 6
--   ankles_missing        ankle girths missing where the shop takes them, 0 to 2
--   heights_needed        leg heights the shaft needs a side
--   heights_missing       leg girths missing at those, both sides together
--   out_of_range          a number or ratio lies outside the range limits
--   alarm_score           of the joint model of foot and leg; NULL: not judged
--   tape_marks_missing … orthotic_undiscussed   a column a fault of the catalogue:
--                         TRUE has it, FALSE has it not or can't
--                         have it, NULL unknown (an order not known to be worn
--                         tucked can't have tucked_set_skipped, one not known to
--                         have an orthotic can't have orthotic_undiscussed)
--   faults, faults_unknown   how many of the noted and counted ones are TRUE, how
--                         many NULL (those read off the values are not counted)
--   fault_states          the same with "can't have it" kept apart, two bits a
--                         fault in the catalogue's order, the first lowest:
--                         0 unknown, 1 without, 2 with, 3 not at risk
CREATE VIEW form AS
WITH fact AS (
    SELECT
        f.*, o.shaft_height_mm, o.closure, o.worn_tucked, o.sock, o.orthotic, o.channel, o.sex,
        o.earlier_order_id IS NOT NULL AS ordered_before, o.shipped_on AS order_shipped_on,
        m.kind AS measurer_kind, m.region AS measurer_region, m.trained_on,
        n.form_id IS NOT NULL AS keyed, n.numbers, n.tucked, n.paired, n.paired_equal,
        o.heights_needed,
        {foot girths} AS foot_girths_missing,
        CASE WHEN o.ankle_needed THEN 2 - bit_count(n.foot_left & {ankle}) - bit_count(n.foot_right & {ankle}) ELSE 0 END AS ankles_missing,
        2 * o.heights_needed - bit_count(n.leg_left & ((1::BIGINT << o.heights_needed) - 1))
                             - bit_count(n.leg_right & ((1::BIGINT << o.heights_needed) - 1)) AS heights_missing,
        e.tape_zero_shown, e.sides_copied AS copied, e.unit_mixed, e.value_implausible, e.out_of_range, e.alarm_score
    FROM forms f
    JOIN known_order o USING (order_id)
    LEFT JOIN form_numbers n USING (form_id)
    LEFT JOIN form_evidence e USING (form_id)
    LEFT JOIN measurers m USING (measurer_id)
    WHERE f.received_on IS NULL OR f.received_on <= CAST(getvariable('as_of') AS DATE)
), judged AS (
    SELECT
        *,
        NOT (ball_mark_left AND ball_mark_right AND instep_mark_left AND instep_mark_right) AS tape_marks_missing,
        NOT (outline_closed_left AND outline_closed_right) AS outline_broken,
        NOT (outline_single_left AND outline_single_right) AS outline_doubled,
        NOT tape_zero_used                                 AS tape_zero_missed,
        CASE WHEN keyed THEN foot_girths_missing > 0 END   AS foot_girth_missing,
        CASE WHEN keyed THEN ankles_missing > 0 OR heights_missing > 0 END AS leg_height_missing,
        CASE WHEN worn_tucked IS NOT TRUE THEN FALSE WHEN keyed THEN tucked = 0 END AS tucked_set_skipped,
        CASE WHEN keyed THEN paired > 0 END                AS both_sides,
        -- Where the model did not judge, the definition does: every number agrees.
        CASE WHEN keyed THEN paired > 0 AND coalesce(copied, paired_equal = paired) END AS sides_copied,
        CASE WHEN orthotic IS NOT TRUE THEN FALSE ELSE NOT orthotic_discussed END AS orthotic_undiscussed
    FROM fact
)
SELECT
    form_id, order_id, form_no, received_on, cut_from,
    measurer_id, measurer_kind, measurer_region, trained_on <= received_on AS measurer_trained,
    channel, sex, closure, sock, orthotic, worn_tucked,
    shaft_height_mm, shaft_height_mm / 25.4 AS shaft_height_in, ordered_before, irregularities, instructions, order_shipped_on,
    (ball_mark_left IS FALSE)::INTEGER + (ball_mark_right IS FALSE)::INTEGER
        + (instep_mark_left IS FALSE)::INTEGER + (instep_mark_right IS FALSE)::INTEGER AS marks_missing,
    (ball_mark_left IS NULL)::INTEGER + (ball_mark_right IS NULL)::INTEGER
        + (instep_mark_left IS NULL)::INTEGER + (instep_mark_right IS NULL)::INTEGER AS marks_unknown,
    keyed, coalesce(numbers, 0) AS numbers, tucked AS tucked_numbers, both_sides,
    foot_girths_missing, ankles_missing, heights_needed, heights_missing, out_of_range, alarm_score,
    {faults},
    {faults with},
    {faults unknown},
    {fault states}
FROM judged;
