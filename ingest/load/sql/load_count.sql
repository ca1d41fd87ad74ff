-- Rows of one part of a sheet: that hold anything; kept out; taken; and the
-- rows of the book they end. {rows} and {ok} are good_<sheet> and ok_<sheet>, or
-- what stands for them with fewer columns.
SELECT
	(SELECT count(*) FROM {rows} WHERE ord {in}),
	(SELECT count(*) FROM kept_{s} WHERE ord {in}),
	(SELECT count(*) FROM {ok} SEMI JOIN changed USING ({key}) WHERE ord {in}) - (SELECT count(*) FROM stay WHERE ord {in}),
	(SELECT count(*) FROM ended JOIN changed USING ({key}) WHERE first {in})
