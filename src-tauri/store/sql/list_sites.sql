SELECT id, name, note, removed, conflicts,
       (SELECT count(*) FROM boards WHERE boards.site = sites.id AND NOT boards.removed)
FROM sites WHERE removed = ?1
ORDER BY name COLLATE NOCASE, id
