-- When the book began, and how many orders are left out for it.
SELECT received_from, shipped_from, is_set, coalesce(before, 0), coalesce(complained_before, 0), coalesce(since, 0),
    coalesce(complained_since, 0), (SELECT count(*) FROM left_out WHERE reason LIKE 'from before the book began%')
FROM book_began;
