SELECT count(*) FROM board_search JOIN boards ON boards.row = board_search.rowid
WHERE board_search MATCH :words AND removed = :removed
  AND (:site IS NULL OR site = :site)
  AND site NOT IN (SELECT id FROM sites WHERE removed)
