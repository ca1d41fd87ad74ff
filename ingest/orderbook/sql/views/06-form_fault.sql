-- form_fault: one row a fault and form, for every fault of the catalogue.
--
--   form_id, order_id, form_no, received_on   the form
--   fault    the fault's id, as tape-marks-missing
--   state    with, without, unknown, or not at risk
CREATE VIEW form_fault AS
SELECT
    form_id, order_id, form_no, received_on, fault,
    CASE (fault_states >> (2 * place)) & 3
        WHEN 0 THEN 'unknown' WHEN 1 THEN 'without' WHEN 2 THEN 'with' ELSE 'not at risk'
    END AS state
FROM form
CROSS JOIN (VALUES
    (0, 'tape-marks-missing'), (1, 'outline-broken'), (2, 'outline-doubled'), (3, 'tape-zero-missed'),
    (4, 'tape-zero-shown'), (5, 'foot-girth-missing'), (6, 'leg-height-missing'), (7, 'tucked-set-skipped'),
    (8, 'self-measured'), (9, 'sides-copied'), (10, 'unit-mixed'), (11, 'value-implausible'),
    (12, 'orthotic-undiscussed')) AS catalogue (place, fault);
