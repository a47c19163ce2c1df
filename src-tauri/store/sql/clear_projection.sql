DELETE FROM board_search;
DELETE FROM board_photos;
DELETE FROM boards;
DELETE FROM sites;
