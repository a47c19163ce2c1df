INSERT INTO sites VALUES (?1, ?2, ?3, ?4, ?5)
ON CONFLICT (id) DO UPDATE SET name = ?2, note = ?3, removed = ?4, conflicts = ?5
