SELECT seq, name, touched, done, undone FROM ops
WHERE document = ?1 AND state = 'undone'
ORDER BY seq LIMIT 1
