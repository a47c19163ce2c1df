INSERT INTO boards
  (id, site, site_name, reference, place, stage, removed, circuits, words, conflicts, changed, sort_key)
VALUES
  (:id, :site, :site_name, :reference, :place, :stage, :removed, :circuits, :words, :conflicts, :changed, :sort_key)
ON CONFLICT (id) DO UPDATE SET
  site = :site, site_name = :site_name, reference = :reference, place = :place, stage = :stage,
  removed = :removed, circuits = :circuits, words = :words, conflicts = :conflicts, changed = :changed,
  sort_key = :sort_key
RETURNING row
