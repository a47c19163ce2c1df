SELECT board, hash FROM board_photos
WHERE hash <> '' AND hash NOT IN (SELECT hash FROM photos)
ORDER BY board, hash
