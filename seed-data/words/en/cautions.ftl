# Cautions: the first is seen at once everywhere.

caution-work = Isolate, lock off and prove dead before work. Work of a competent person; local rules decide.
caution-aid = Results are an aid: a competent person answers for them.
caution-not-a-reading = A value marked assumed or unknown is not a reading: measure before you rely on it.
caution-readings = Live readings are for a competent person, with fused leads of the right category. Measure a core only when it is proved dead.
caution-plate-off = Take the plate off before drilling. Never drill over live parts or into a closed board.
caution-behind = Look behind the plate's place for bars, terminals and cables before any hole is fixed.
caution-print-scale = Print at 100 %, with no fitting to the page. Measure the check lines on every sheet with a steel rule.
caution-drill = Wear eye protection and hold the plate fast. Centre-punch, drill the pilot, then open to size.
caution-swarf = Remove all swarf. Deburr both faces. Touch up the paint, but leave bare metal under earth tags.
caution-plate-earth = Prove the earth continuity of the plate and of every gland and earth tag after fitting.
caution-marker-level = Lay it level with the plate's face. Keep clear of live parts.
caution-photo = What is measured on a photo is proposed, not read: check it with a rule on the plate before you drill or order.
caution-buy = Check sizes and quantities on site before buying.
