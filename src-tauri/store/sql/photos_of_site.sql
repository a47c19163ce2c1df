SELECT DISTINCT board_photos.hash FROM board_photos
JOIN boards ON boards.id = board_photos.board
JOIN photos ON photos.hash = board_photos.hash
WHERE boards.site = ?1
ORDER BY board_photos.hash
