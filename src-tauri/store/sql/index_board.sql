INSERT INTO board_search (rowid, reference, place, site_name, words)
SELECT row, reference, place, site_name, words FROM boards WHERE row = ?1
