SELECT seq, name, touched, done, undone FROM ops
WHERE document = ?1 AND state = 'done'
ORDER BY seq DESC LIMIT 1
