-- What Forget runs, one statement after another; $1 is the customer_id. An
-- order that stood under this customer by mistake and was corrected since is
-- another person's: only its old row goes. told_order and told_form are ids that
-- kept sheets name, of rows that the book may have refused.
-- part: told
CREATE OR REPLACE TEMP TABLE told_order (order_id VARCHAR);
CREATE OR REPLACE TEMP TABLE told_form (form_id VARCHAR);
-- part: whose
CREATE OR REPLACE TEMP TABLE gone_order AS
    SELECT order_id FROM orders WHERE customer_id = $1
    UNION
    SELECT order_id FROM (SELECT order_id FROM orders_history WHERE customer_id = $1 UNION FROM told_order)
        WHERE order_id NOT IN (SELECT order_id FROM orders WHERE customer_id IS DISTINCT FROM $1);

CREATE OR REPLACE TEMP TABLE gone_form AS
    SELECT form_id FROM forms WHERE order_id IN (SELECT order_id FROM gone_order)
    UNION
    SELECT form_id FROM (SELECT form_id FROM forms_history WHERE order_id IN (SELECT order_id FROM gone_order) UNION FROM told_form)
        WHERE form_id NOT IN (SELECT form_id FROM forms WHERE order_id NOT IN (SELECT order_id FROM gone_order));
-- part: rows
DELETE FROM orders WHERE order_id IN (SELECT order_id FROM gone_order);
DELETE FROM orders_history WHERE customer_id = $1 OR order_id IN (SELECT order_id FROM gone_order);
UPDATE orders SET earlier_order_id = NULL WHERE earlier_order_id IN (SELECT order_id FROM gone_order);
UPDATE orders SET remake_of_order_id = NULL WHERE remake_of_order_id IN (SELECT order_id FROM gone_order);
UPDATE orders_history SET earlier_order_id = NULL WHERE earlier_order_id IN (SELECT order_id FROM gone_order);
UPDATE orders_history SET remake_of_order_id = NULL WHERE remake_of_order_id IN (SELECT order_id FROM gone_order);
DELETE FROM forms WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM forms_history WHERE form_id IN (SELECT form_id FROM gone_form) OR order_id IN (SELECT order_id FROM gone_order);
DELETE FROM measured WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM measured_history WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM form_numbers WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM form_evidence WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM callbacks WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM callbacks_history WHERE form_id IN (SELECT form_id FROM gone_form);
DELETE FROM outcomes WHERE order_id IN (SELECT order_id FROM gone_order);
DELETE FROM outcomes_history WHERE order_id IN (SELECT order_id FROM gone_order);
DELETE FROM repeats WHERE subject_id = $1;
DELETE FROM repeats_history WHERE subject_id = $1;
-- part: unused
-- Places and readings that no form has any more.
DELETE FROM places WHERE place_id NOT IN (SELECT place_id FROM measured UNION SELECT place_id FROM measured_history);
DELETE FROM readings WHERE reading_id NOT IN (SELECT reading_id FROM measured UNION SELECT reading_id FROM measured_history);
