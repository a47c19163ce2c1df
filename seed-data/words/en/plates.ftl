# Words of gland plates: names of plates, entries, holes and tools, the checks of a plate, setting it out, measuring it
# on a photo. { $verdict } chooses the form: holds, fails, undecided. Lengths are millimetres.

## Names

subject-board = the board
subject-circuit = circuit { $circuit }
subject-circuit-described = circuit { $circuit } { $description }
plate-circuit-unnumbered = without number
plate-circuit-described = { $circuit } { $description }
plate-incoming-cable = incoming cable

plate-name = { $face } plate
plate-name-numbered = { $face } plate { $number }
plate-name-none = plate
plate-gland-plate = { $face } gland plate
plate-some-entry = entry
plate-sized = { $size } { $kind }
plate-entry-name = { $entry } { $what }
plate-place = { $x } mm from the left, { $y } mm from the rear
plate-length = { $value } mm
plate-list = { $before }, { $last }

plate-serves-circuit = circuit { $circuit }
plate-serves-circuits = circuits { $circuits }
plate-serves-no-circuit = a cable of no circuit
plate-serves-blanked = blanked
plate-serves-removed = a removed cable
plate-serves-nothing = nothing named

## Holes and tools

plate-hole-round = Ø { $diameter } mm
plate-hole-limits = Ø { $diameter } mm ({ $least } to { $most })
plate-hole-cut-out = { $width } × { $height } mm
plate-hole-measured = measured Ø { $diameter }
plate-tool-sized = { $tool } { $size } mm
plate-tool-pilot = { $tool }, pilot { $pilot } mm
plate-tool-sized-pilot = { $tool } { $size } mm, pilot { $pilot } mm
plate-tool-step-drill = step drill
plate-tool-draw-punch = draw punch
plate-tool-adjustable = step drill or adjustable cutter
plate-tool-saw = saw between corner holes, file
plate-tool-drill = drill { $size } mm
plate-tool-slot = saw or disc
plate-drilled-pilot = pilot
plate-drilled-bolt = bolt of the earth tag
plate-drilled-slot = slot { $width } mm wide
plate-drilled-slot-unknown = slot width not known

## What to buy for an entry

plate-thread-of-size = thread of size { $size }
plate-part-armoured-gland = armoured-cable gland { $size }, { $thread }
plate-part-compression-gland = compression gland { $thread }
plate-part-locknut = locknut { $thread }, { $of ->
    [brass] brass
    [plastic] plastic
   *[steel] steel
 }
plate-part-earth-tag = earth tag { $thread } with bolt, nut and washer
plate-part-shroud = shroud for gland { $size }
plate-part-washer = IP washer { $thread }
plate-part-conduit-bush = conduit bush { $size }
plate-part-coupler = conduit coupler { $size }
plate-part-adaptor = flexible conduit adaptor { $size }
plate-part-cable-bush = cable bush { $size }
plate-part-edging = edging for a cut-out { $size }
plate-part-plug = stopping plug { $thread } with locknut
plate-part-measure = Measure the cable and read the gland's own range first.
plate-part-cut = Cut to its circumference.
plate-part-rating = Same IP rating as the plate.

## What keeps an entry or a plate from being set out

plate-lacks-hole-size = a hole of { $size } mm: give 1 to { $most } mm
plate-lacks-cut-out-height = a cut-out { $size } mm high: give 1 to { $most } mm
plate-lacks-kind = its kind is not known
plate-lacks-cut-out = give width and height of the cut-out, such as 100x50
plate-lacks-size = the size of the { $kind } is not known
plate-lacks-listed = no { $kind } of size "{ $size }" is listed: give a listed size or the hole in millimetres
plate-lacks-good-place = its place is not on a plate: give millimetres from its left rear corner
plate-lacks-place = it has no place yet
plate-lacks-fixed-place = it stays where it is, but its place is not known: measure it
plate-not-there = there is no such plate: pick one of the board's plates
plate-entry-not-there = there is no such entry: pick one of the plate's
plate-no-size = the { $side ->
    [width] width
   *[depth] depth
 } of the plate is { $value }: measure it
plate-place-impossible = a place of { $place } is not on a plate: give millimetres from its left rear corner

plate-note-range = The { $side ->
    [width] width
   *[depth] depth
 } is only known as { $value }: measure it before drilling.
plate-note-known = The { $side ->
    [width] width
   *[depth] depth
 } is { $known }: measure it before drilling.
plate-note-usable = The part that may be drilled is not known: look for folds, fixings and parts behind.

## Clauses

plate-clause-ours = geometry, a rule of this program: no standard fixes it
plate-clause-numbers = a rule of this program: no standard fixes it
plate-clause-edge = geometry, a rule of this program: no standard fixes it; edge distance from memory
plate-clause-metal = sheet-metal practice, from memory: 1.5 × thickness and never under 5 mm
plate-clause-opening = IEC 60364-4-41 annex A.2: IPXXB or IP2X, on a top within reach IPXXD or IP4X
plate-clause-single-core = IEC 60364-5-52 clause 521.5.1
plate-clause-gland = EN 62444 leaves clamping ranges to the maker; typical ranges, see gland.csv and gland_plastic.csv
plate-clause-spanner = spanner heads 2.1 and 1.4 times the flats, from memory, not checked
plate-clause-bend = IEC 60364-5-52 clause 522.8.3; radii of the guide to BS 7671, see bend_radius.csv
plate-clause-fill = terms method and 45 % space factor, guidance to BS 7671 (on-site guide)
plate-clause-fire = IEC 60364-5-56 clause 560.7, from memory
plate-clause-bands = IEC 60364-5-52 clause 528.1
plate-clause-top = IEC 60364-4-41 annex A.2: on a top within reach IPXXD or IP4X, no gap of 1 mm

## Size, numbers and places

plate-size = The { $side ->
    [width] width
   *[depth] depth
 } of the plate is { $value }: nothing can be set out before it is measured.
plate-size-label = plate { $side ->
    [width] width
   *[depth] depth
 }
plate-size-ask = measure the { $side ->
    [width] width
   *[depth] depth
 } of the plate

entry-number = { $entry } is the number of { $count } entries: { $entries }. Give all but one another number before anything is marked or drilled.
entry-number-placed = { $what } at { $place } ({ $serves })
entry-number-unplaced = { $what } without a place ({ $serves })
entry-number-relation = { $count } entries of number { $number } > 1
entry-number-label = number of the { $kind }

plate-entry = { $entry } cannot be set out: { $why }.
plate-entry-ask = complete { $entry }: { $why }
plate-entry-place = place of { $entry }

plate-inside-usable = { $entry } reaches { $out } mm outside the part of the plate that may be drilled: its body is { $width } mm across. Move it inwards.
plate-inside-edge = { $entry } reaches { $out } mm outside the plate with { $edge } mm left to its edge: its body is { $width } mm across. Move it inwards.
plate-inside-relation = distance to the limit { $distance } mm ≥ 0
plate-inside = { $verdict ->
    [holds] Every entry, with its locknut and hexagon, lies on the part that may be drilled.
   *[undecided] Every entry keeps clear of the plate's edge; the part that may be drilled is not known.
 }
plate-inside-ask = measure the part of the plate free of folds, fixings and parts behind

plate-keep-out = { $entry } reaches { $into } mm into the part kept whole that begins { $place }. Move it.
plate-keep-out-relation = free distance { $gap } mm ≥ 0
plate-keep-out-holds = Every entry keeps clear of the parts kept whole.

plate-clearance-foul = { $one } and { $other } foul each other: their locknuts or hexagons overlap by { $over } mm. Move one.
plate-clearance = { $one } and { $other } leave { $gap } mm between their locknuts or hexagons: a spanner needs { $least } mm. Move one by { $by } mm.
plate-clearance-relation = free distance { $gap } mm ≥ { $least } mm
plate-clearance-holds = Locknuts and hexagons of neighbours leave { $least } mm or more: tighten with a thin or tubular spanner.

plate-metal-overlap = The holes of { $one } and { $other } overlap by { $over } mm. Move one, or make one cut-out.
plate-metal = Only { $gap } mm of metal is left between the holes of { $one } and { $other }: { $least } mm is the least.
plate-metal-relation = metal between holes { $gap } mm ≥ { $least } mm
plate-metal-holds = { $least } mm of metal or more is left between all holes.

plate-section = { $verdict ->
    [holds] { $left } % of the plate or more is left along every line across it.
   *[fails] Only { $left } % of the plate is left along the line { $at } mm from the { $edge ->
        [rear] rear
       *[left] left
    } edge: it will bend under its cables. Spread the entries, or stiffen the plate.
 }
plate-section-relation = metal left { $left } % ≥ { $least } %

plate-spanner = Tighten { $how }.
plate-spanner-with = { $entries } with { $spanner ->
    [open] an open spanner
    [tubular] a tubular spanner
   *[thin] a thin spanner
 }

plate-tag-holds = The ear of every earth tag finds room beside its gland.
plate-tag = { $entries }: no room for the ear of an earth tag. Use an earthing locknut with a terminal, or move it.
plate-tag-ask = decide on earthing locknuts for { $entries }, or move them

plate-slot = { $verdict ->
    [holds] The slot from { $from } to { $to }, { $width } mm wide, is clear of other holes. Fill it with insulating sealant.
   *[undecided] The width of the slot from { $from } to { $to } is not known.
 }
plate-slot-near = The slot from { $from } to { $to } runs too near to { $entry }. Move one of them.
plate-slot-ask = give the width of the slot from { $from } to { $to }

## What runs through the entries

plate-opening-removed = { $entry } is left open: its cable is removed. Close it with a stopping plug and make it a blanked spare.
plate-opening = No cable is named for { $entry }: an opening that stays unused needs a stopping plug.
plate-opening-ask = name the cable of { $entry }, or make it a blanked spare
plate-opening-holds = Every opening takes a cable or is blanked.

plate-ferrous-slotted = { $entries }: slots join the holes of { $whom }, so no iron closes round one core. Its neutral must pass them too.
plate-ferrous-one = { $entries }: the single cores of { $whom } pass through one opening. Keep its neutral and cpc with them.
plate-ferrous-steel = { $entries }: the single cores of { $whom } pass a steel plate apart and will heat it. Use one opening, a non-ferrous plate, or slots that join the holes.
plate-ferrous-other = { $entries }: the single cores of { $whom } pass apart, and the plate is { $material }. Use non-magnetic glands and locknuts.
plate-ferrous-maybe = { $entries }: the single cores of { $whom } pass apart through { $material }, which may be magnetic. Try a magnet on it.
plate-ferrous-unknown = { $entries }: the single cores of { $whom } pass apart, and the plate's material is not known.
plate-ferrous-label = plate material
plate-ferrous-ask = find the material of the plate with a magnet

plate-gland-not-armoured = { $entry } is a gland for armoured cable, but its cable is { $construction }. Use a compression gland.
plate-gland-armoured = { $entry } is a compression gland, but its cable is armoured: it neither holds nor bonds the armour. Use an armoured-cable gland.
plate-gland-unmeasured = { $entry }: the cable's diameter is not known, so the gland cannot be proved.
plate-gland-diameter = cable diameter
plate-gland-ask = measure the cable's overall diameter
plate-gland-ask-bedding = measure the cable's diameter under the armour
plate-gland-none = No listed gland takes it.
plate-gland-size = Size { $size } { $fit ->
    [fits] fits
    [edge] at the edge of its range
   *[no] does not fit
 }.
plate-gland-overall = { $over } mm overall
plate-gland-both = { $under } mm under the armour, { $over } mm overall
plate-gland = { $verdict ->
    [holds] { $entry }: gland { $size } takes its cable, { $diameters }.
    [undecided] { $entry }: gland { $size } may take its cable, { $diameters }, but that is at the edge. { $better } Measure the cable and read the gland's own range.
   *[fails] { $entry }: gland { $size } does not take its cable, { $diameters }. { $better }
 }

plate-bend = { $entry }: a bend of { $factor } times { $diameter } mm takes { $need } mm behind the plate, and there is { $depth } mm to the { $behind ->
    [incomer] incomer
    [neutral-bar] neutral bar
    [earth-bar] earth bar
    [devices] devices
   *[far-side] far side of the wiring space
 }. Move it over its way, or measure the depth.
plate-bend-relation = depth for the bend { $need } mm ≤ { $depth } mm
plate-bend-depth = depth of the wiring space
plate-bend-ask = measure the free depth behind the plate
plate-bend-holds = Every cable whose diameter is known has the depth for its bend.

plate-fill-unknown = { $entry }: how full it is cannot be told before its cables' sizes or diameters are known.
plate-fill-ask = measure the cables through { $entry }
plate-fill-run = { $entry }: straight and short its cables take { $best } of { $best_room }; in a long run with bends { $worst } of { $worst_room }. To settle it, { $ask }.
plate-fill-beyond = { $entry }: straight and short its cables take { $best } of { $best_room }; in a long run with bends { $worst } of { $worst_room }, beyond the tables: a draw box belongs into it. To settle it, { $ask }.
plate-fill-run-ask = measure the run of the conduit to the next box and count its bends
plate-fill-run-relation = cables { $used } ≤? room { $room }
plate-fill = { $verdict ->
    [holds] { $entry }: its cables take { $used } of { $room }.
    [undecided] { $entry }: its cables take { $used } of { $room }: measure them.
   *[fails] { $entry }: its cables take { $used }, and there is room for { $room }. Use a larger size.
 }
plate-fill-relation = cables { $used } ≤ room { $room }

plate-segregation-fire = { $entry } takes { $bands } ({ $whom }): fire and emergency circuits run by themselves. Use another opening.
plate-segregation = { $entry } takes { $bands } ({ $whom }): they may run together only where every cable is insulated for the highest voltage present, or a partition parts them.
plate-segregation-ask = find the insulation voltage of the cables through { $entry }, or part them

plate-top-holds = The entries of the top plate close it once tightened: fit the IP washers.
plate-top = { $entries }: an open bush or cut-out in the top lets a wire of 1 mm in. Seal it around its cables, or enter from below.
plate-top-ask = see that { $entries } is sealed to IP4X

## Entries for cables that have none

plate-missing-one-opening = all conductors of a circuit go through one opening: add a conduit, bush or cut-out
plate-missing-construction = its construction is not known: enter it first
plate-missing-diameter = its diameter is not known: measure it, or enter cores and size
plate-missing-gland = no listed gland takes its diameter: measure it again
plate-missing-left = { $cable }: { $why }.
plate-missing-chosen = { $cable }: { $kind } { $size }
plate-missing-chosen-edge = { $cable }: { $kind } { $size }, at the edge of its range: measure the cable first

## Setting out

plate-solve-place = { $entry }: { $place }
plate-solve-spare = spare { $size }: { $place }
plate-solve-spare-label = spare { $kind } { $size }
plate-solve-left = { $entry }: { $why }.
plate-solve-too-many = { $count } entries: at most { $most } are set out at once; lock those that stay, or use another plate
plate-solve-no-spare = no { $kind } of size "{ $size }" is listed: name a listed size for the spare
plate-solve-all = all entries
plate-solve-deeper = { $proven ->
    [yes] there is
   *[no] the search found
 } no room for { $what }: by the enclosure's pattern the space behind the plate is too shallow for the bends, and nobody measured it. Measure the depth: { $depth } mm would do
plate-solve-larger = { $proven ->
    [yes] there is
   *[no] the search found
 } no room for { $what }: a plate of { $width } × { $depth } mm would do, or move some to another plate
plate-solve-never = { $proven ->
    [yes] there is
   *[no] the search found
 } no room for { $what }, nor on a larger plate: move what stands in the way, or use another plate
plate-solve-locknuts = There is no room for the ears of all earth tags: use earthing locknuts with a terminal, or a larger plate.
plate-solve-shallow = Behind the plate there is too little depth for the bend of { $entry } wherever it stands.
plate-solve-shallow-pattern = By the enclosure's pattern there is too little depth behind the plate for the bend of { $entry } wherever it stands: measure the depth, { $depth } mm would do.
plate-solve-clash = { $entry } stays where it is although it breaks a rule there: see the checks.

plate-drag-outside = It would reach outside the part of the plate that may be drilled.
plate-drag-keep-out = It would reach into the part kept whole that begins at { $x } mm, { $y } mm.
plate-drag-foul = It would foul { $entry }.
plate-drag-near = It would leave { $gap } mm to { $entry }: a spanner needs { $least } mm.
plate-drag-metal = It would leave less than { $least } mm of metal to the hole of { $entry }.
plate-drag-made = The hole is there already: it stays where it is.
plate-drag-locked = It is locked: unlock it first.
plate-drag-row = row of { $entry }
plate-drag-column = column of { $entry }

## Measuring a plate on a photo

photo-unreadable = the photo cannot be read ({ $why }): take or export it again as JPEG or PNG
photo-damaged = it is damaged
photo-other-kind = it is neither JPEG nor PNG
photo-bytes = { $width } by { $height } pixels need { $wanted } bytes, there are { $length }
photo-packing = the rectified picture cannot be packed: { $why }
photo-too-large = { $what }; up to { $limit } will do: export a smaller copy
photo-file-size = the file has { $size } MB
photo-unpacked-size = the photo unpacks to { $size } MB
photo-pixels = the photo has { $width } by { $height } pixels ({ $millions } million)
photo-megabytes = { $size } MB
photo-megabytes-bits = { $size } MB; export it with 8 bits a channel
photo-millions = { $size } million
photo-too-small = the photo has { $width } by { $height } pixels; { $least } along each side is the least: take it again, larger
photo-value = { $field } is { $value }; { $would_do }
photo-corners = { $why }: tap left rear, right rear, right front, left front, as seen from outside
photo-corner-outside = corner { $corner } is at { $x }, { $y }, outside the photo
photo-corners-reversed = the corners were tapped the other way round
photo-corners-crossed = the corners form no convex quadrilateral
photo-corners-short = the { $edge ->
    [rear] rear
    [right] right
    [front] front
   *[left] left
 } edge is only { $length } pixels long
photo-points-few = four pairs of points or more are needed, as many on each side
photo-points-number = a co-ordinate is not a number
photo-points-one = all the points are in one place
photo-points-line = the points lie on one line; spread them over the plane
photo-points-no-map = the points give no projective map
photo-edge = the { $edge ->
    [rear] rear
    [right] right
    [front] front
   *[left] left
 } edge of the plate is not seen near the taps: tap nearer to its corners, or take the photo on a ground of another brightness
photo-markers = { $found } of the sheet's four markers are seen and at least two are needed: show the whole sheet, evenly lit, each marker at least 20 pixels wide
photo-misfit = the { $what ->
    [edges] plate's edges
   *[markers] markers and edges
 } do not fit together (off by { $off } pixels): check the plate's size and which corner was tapped first, and that the plate is flat
photo-no-hole = no whole rim is seen around the tap: tap the middle of the hole, or take the photo nearer and with less glare

photo-of-tap = the tap
photo-of-least = the smallest diameter
photo-of-most = the largest diameter
photo-of-scale = the picture's scale (mm a pixel)
photo-of-line = the check line
photo-of-line-play = the play of the check line
photo-of-width = the plate's width
photo-of-depth = the plate's depth
photo-of-play = the play of the plate's size
photo-of-recorded-width = the plate's recorded width
photo-of-recorded-depth = the plate's recorded depth
photo-of-recorded-play = the play of the plate's recorded size
photo-of-sheet-width = the plate's width by the sheet
photo-of-sheet-depth = the plate's depth by the sheet
photo-do-tap = a place in the photo is from 0 to { $limit } pixels
photo-do-diameters = diameters are looked for from 1 to 500 mm, the least below the most
photo-do-scale = { $least } mm or more will do for this plate
photo-do-line = it is { $line } mm where the print is true; measure it with a steel rule
photo-do-side = { $least } to { $most } mm is read: measure the plate and enter its size
photo-do-play = 0 to { $most } mm makes sense

photo-note-markers = { $markers } of the sheet's 4 markers are seen: places far from them are less certain
photo-note-ground = the { $edge ->
    [rear] rear
    [right] right
    [front] front
   *[left] left
 } edge of the plate was found on the ground beside it: look at the outline and tap nearer to its corners; until then every hole may be off
photo-note-lens = the lens bends strongly ({ $bend } % at the picture's corners): stand back and use the main lens
photo-note-thickness = the plate's thickness at its { $edge ->
    [rear] rear
    [right] right
    [front] front
   *[left] left
 } edge is not told from its face: places may be off towards it; look at the outline
photo-note-coarse = the photo shows the plate with { $pixels } pixels a millimetre: go nearer for finer measures
photo-note-uncertain = a hole is not certain (confidence { $confidence }): look at it before it is taken over
photo-note-doubtful = { $count } of the shapes found may be no holes, or not as measured: look at each before it is taken over
photo-contradiction = the plate's { $side ->
    [width] width
   *[depth] depth
 } is recorded as { $recorded } mm, and the marker sheet makes it { $sheet } mm: off by { $off } mm. Look whether the outline lies on the plate's edges, and measure the plate and the check line again; until then every hole may be off by as much

photo-doubt-no-depth = cannot say whether it is a hole: no depth is seen. A stain, a sticker or a cap looks like that too; look, or take a photo more from the side
photo-doubt-stands-up = cannot say whether it is a hole: it looks as if it stood up from the plate
photo-doubt-uneven = cannot say whether it is a hole: its inside is of several colours, as of a cable's end or a label
photo-doubt-small = cannot say whether it is a hole: it is smaller than any cable's entry, and a fixing screw's head looks like that
photo-doubt-soft = cannot say whether it is a hole: its edge is soft, as of a stain
photo-doubt-shadow = its size is not sure: the edge of a shadow or of its wall lies near its rim
photo-doubt-hidden = its rim is seen in part only: something stands in it or lies over it
photo-doubt-outside = cannot say whether it is a hole, or as large as said: what lies round it is not the plate's face everywhere, as where something stands up from the plate
photo-doubt-ragged = cannot say whether it is a hole, or as large as said: its outline is no true circle or slot, as a stain's or a shadow's
photo-doubt-loose = its place or its size is known to no better than 2 mm: take the photo nearer or measure it by rule
photo-doubt-edge = its place rests on an edge of the plate that was not found for sure: tap nearer to the corners, or lay the plate on a ground of another colour
photo-doubt-scale = its place rests on sizes that contradict each other

photo-hole-round = Ø { $diameter } ± { $within } mm { $place }, within { $at_within } mm
photo-hole-slot = slot { $length } × { $width } mm { $place }, within { $at_within } mm
photo-no-scale = the plate's size gives the photo its scale, and it is not known
photo-no-scale-remedy = measure the plate, or lay the printed marker sheet beside it
photo-taps = too many holes tapped
photo-taps-remedy = tap up to { $most }

photo-sheet-print = Marker sheet. Print at 100 % on stiff paper; do not cut the white margins of the markers.
photo-sheet-lay = Lay it flat, its face level with the plate's face: on the plate, or beside it on packing as thick as the plate.
photo-sheet-show = Have all four markers and the whole plate in the photo.
photo-sheet-line = Between the end strokes: 200 mm. Measure it with a steel rule and enter what you read.
