SELECT id, site, site_name, reference, place, stage, removed, circuits, conflicts, changed FROM boards
WHERE site = :site AND removed = :removed
ORDER BY sort_key LIMIT :limit
