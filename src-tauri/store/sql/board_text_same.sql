SELECT 1 FROM boards WHERE id = ?1 AND reference = ?2 AND place = ?3 AND site_name = ?4 AND words = ?5
