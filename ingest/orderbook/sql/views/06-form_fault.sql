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
CROSS JOIN (VALUES {catalogue}) AS catalogue (place, fault);
