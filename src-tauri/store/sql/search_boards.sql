-- Weights: a reference matters most, a circuit's description least.
SELECT id, site, boards.site_name, boards.reference, boards.place, stage, removed, circuits, conflicts, changed
FROM board_search JOIN boards ON boards.row = board_search.rowid
WHERE board_search MATCH :words AND removed = :removed
  AND (:site IS NULL OR site = :site)
  AND site NOT IN (SELECT id FROM sites WHERE removed)
ORDER BY bm25(board_search, 8.0, 4.0, 4.0, 1.0), sort_key LIMIT :limit
