-- summaries: what the staged numbers of each form amount to (bookfile.FormNumbers).
-- part: border
-- Where a form ends, at {at} or a little further.
SELECT coalesce(min(place) FILTER (form_id IS DISTINCT FROM before), {at}) FROM (
	SELECT nth - {first} AS place, form_id, lag(form_id) OVER (ORDER BY nth) AS before
	FROM staged WHERE nth >= {first} + {at} - 1 AND nth < {first} + {at} + {little}) WHERE place >= {at}
-- part: split
CREATE OR REPLACE TEMP TABLE split_forms AS
	SELECT form_id, sum(numbers)::BIGINT AS rows FROM summaries GROUP BY form_id HAVING count(*) > 1
