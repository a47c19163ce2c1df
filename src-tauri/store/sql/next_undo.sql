SELECT seq, name, touched, done, undone FROM ops
WHERE document = ?1 AND state = 'done' AND (device = ?2 OR device IS NULL)
ORDER BY seq DESC LIMIT 1
