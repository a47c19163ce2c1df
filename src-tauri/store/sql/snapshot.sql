UPDATE documents
SET snapshot = ?2, pending = 0, size = length(?2),
    upto = coalesce((SELECT max(seq) FROM changes WHERE document = ?1), 0)
WHERE id = ?1
