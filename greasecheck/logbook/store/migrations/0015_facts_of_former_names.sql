-- Two names of one skull, or numbers of one tub, were joined without what only the former knew.
-- It goes over to blank cells of today's row, and taking the joining back takes it back, too.
CREATE TEMP TABLE joined AS
  SELECT former.name AS old, former.merged_into AS new, max(before_images.entry_id) AS entry
  FROM skulls AS former
    JOIN skulls AS today ON today.name = former.merged_into
    JOIN before_images ON table_name = 'skulls' AND json_extract(row_key, '$[0]') = former.name
      AND json_type(before, '$.merged_into') IS NOT NULL
  WHERE today.merged_into IS NULL AND today.entry_id < before_images.entry_id
  GROUP BY former.name;

INSERT INTO before_images (entry_id, table_name, row_key, before)
  SELECT entry, 'skulls', json_array(new), json_remove(
    json_object('species', NULL, 'weight_class', NULL, 'condition', NULL, 'owner', NULL,
      'tag', NULL, 'note', NULL),
    iif(species IS NULL, '$.none', '$.species'),
    iif(weight_class IS NULL, '$.none', '$.weight_class'),
    iif(condition IS NULL, '$.none', '$.condition'),
    iif(owner IS NULL, '$.none', '$.owner'),
    iif(tag IS NULL, '$.none', '$.tag'),
    iif(note IS NULL, '$.none', '$.note'))
  FROM joined JOIN skulls ON name = new;

UPDATE skulls SET
  species = coalesce(species, (SELECT f.species FROM skulls f JOIN joined ON f.name = old
    WHERE new = skulls.name AND f.species IS NOT NULL ORDER BY entry LIMIT 1)),
  weight_class = coalesce(weight_class, (SELECT f.weight_class FROM skulls f JOIN joined
    ON f.name = old WHERE new = skulls.name AND f.weight_class IS NOT NULL ORDER BY entry LIMIT 1)),
  condition = coalesce(condition, (SELECT f.condition FROM skulls f JOIN joined ON f.name = old
    WHERE new = skulls.name AND f.condition IS NOT NULL ORDER BY entry LIMIT 1)),
  owner = coalesce(owner, (SELECT f.owner FROM skulls f JOIN joined ON f.name = old
    WHERE new = skulls.name AND f.owner IS NOT NULL ORDER BY entry LIMIT 1)),
  tag = coalesce(tag, (SELECT f.tag FROM skulls f JOIN joined ON f.name = old
    WHERE new = skulls.name AND f.tag IS NOT NULL ORDER BY entry LIMIT 1)),
  note = coalesce(note, (SELECT f.note FROM skulls f JOIN joined ON f.name = old
    WHERE new = skulls.name AND f.note IS NOT NULL ORDER BY entry LIMIT 1))
  WHERE name IN (SELECT new FROM joined);
DROP TABLE joined;

CREATE TEMP TABLE joined AS
  SELECT former.number AS old, former.merged_into AS new, max(before_images.entry_id) AS entry
  FROM tubs AS former
    JOIN tubs AS today ON today.number = former.merged_into
    JOIN before_images ON table_name = 'tubs' AND json_extract(row_key, '$[0]') = former.number
      AND json_type(before, '$.merged_into') IS NOT NULL
  WHERE today.merged_into IS NULL AND today.entry_id < before_images.entry_id
  GROUP BY former.number;

INSERT INTO before_images (entry_id, table_name, row_key, before)
  SELECT entry, 'tubs', json_array(new), json_remove(
    json_object('name', NULL, 'volume_l', NULL, 'started_at', NULL, 'checked_at', NULL,
      'note', NULL),
    iif(name IS NULL, '$.none', '$.name'),
    iif(volume_l IS NULL, '$.none', '$.volume_l'),
    iif(started_at IS NULL, '$.none', '$.started_at'),
    iif(checked_at IS NULL, '$.none', '$.checked_at'),
    iif(note IS NULL, '$.none', '$.note'))
  FROM joined JOIN tubs ON number = new;

UPDATE tubs SET
  name = coalesce(name, (SELECT f.name FROM tubs f JOIN joined ON f.number = old
    WHERE new = tubs.number AND f.name IS NOT NULL ORDER BY entry LIMIT 1)),
  volume_l = coalesce(volume_l, (SELECT f.volume_l FROM tubs f JOIN joined ON f.number = old
    WHERE new = tubs.number AND f.volume_l IS NOT NULL ORDER BY entry LIMIT 1)),
  started_at = coalesce(started_at, (SELECT f.started_at FROM tubs f JOIN joined
    ON f.number = old WHERE new = tubs.number AND f.started_at IS NOT NULL ORDER BY entry LIMIT 1)),
  checked_at = coalesce(checked_at, (SELECT f.checked_at FROM tubs f JOIN joined
    ON f.number = old WHERE new = tubs.number AND f.checked_at IS NOT NULL ORDER BY entry LIMIT 1)),
  note = coalesce(note, (SELECT f.note FROM tubs f JOIN joined ON f.number = old
    WHERE new = tubs.number AND f.note IS NOT NULL ORDER BY entry LIMIT 1))
  WHERE number IN (SELECT new FROM joined);
DROP TABLE joined;
