SELECT count(*) FROM boards
WHERE removed = :removed AND (:site IS NULL OR site = :site) AND site NOT IN (SELECT id FROM sites WHERE removed)
