-- Rows of one part of a sheet: that hold anything; kept out; left; taken; and
-- the rows of the book they end.
SELECT
	(SELECT count(*) FROM good_{s} WHERE ord {in}),
	(SELECT count(*) FROM kept_{s} WHERE ord {in}),
	(SELECT count(*) FROM ok_{s} WHERE ord {in}),
	(SELECT count(*) FROM ok_{s} SEMI JOIN changed USING ({key}) WHERE ord {in}),
	(SELECT coalesce(sum(old), 0)::BIGINT FROM changed WHERE first {in})
