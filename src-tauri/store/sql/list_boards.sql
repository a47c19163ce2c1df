SELECT id, site, site_name, reference, place, stage, removed, circuits, conflicts, changed FROM boards
WHERE removed = :removed AND site NOT IN (SELECT id FROM sites WHERE removed)
ORDER BY sort_key LIMIT :limit
