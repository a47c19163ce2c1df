# Words of the papers: circuit chart, findings, drilling template, marker sheet, order list, circuit schedule, as pages,
# drawings and tables.

## Names

paper-circuit-chart = Circuit chart
paper-findings = Findings
paper-marker-sheet = Marker sheet for photos
paper-order-list = Order list
paper-schedule = Circuit schedule
paper-template = Drilling template
paper-template-of = Drilling template, { $plate }
paper-template-variant = { $paper }, { $variant ->
    [a3] on A3
    [mirrored] mirrored for the inside
   *[a3-mirrored] on A3, mirrored for the inside
 }

# The title of a paper in its properties.
paper-of-board = { $paper } { $board }
paper-of-plate = { $paper } { $board }, { $plate }
paper-of-plate-mirrored = { $paper } { $board }, { $plate }, mirrored

## Head and foot of every page

# In the head of every paper of a board that lacks changes which were saved once.
paper-incomplete = INCOMPLETE: saved changes are lost
paper-mirrored = MIRRORED
paper-page = page { $page } of { $pages }
paper-preview = { $paper }, page { $page } of { $pages }

## Why a paper cannot be written

paper-no-such = "{ $paper }" is no paper: write circuit-chart, findings, marker-sheet, drilling-template:<plate id>, order-list or schedule
paper-no-such-format = "{ $format }" is no format: write pdf, dxf, svg, xlsx or csv
paper-not-in-format = { $paper } does not come as { $format }: pick another format
paper-plate-not-ready = { $place }: { $why }
paper-too-many-sheets = the template would take { $sheets } sheets, { $most } at most: use the DXF or SVG
paper-no-pages = this build sets no pages: drawings and tables are written by it, papers by one with the feature `typeset`
paper-fault-set = the paper could not be set: { $why }
paper-fault-written = the paper could not be written: { $why }
paper-fault-scaling = the PDF has no place for its print scaling
paper-fault-spreadsheet = the spreadsheet could not be written: { $why }

## Words that several papers share

paper-known = { $value } ({ $known })
paper-residual = { $current }, type { $rcd }
paper-residual-unknown = residual current not known
paper-rating-unknown = rating not known
paper-size-unknown = size not known
paper-device-unknown = device of unknown kind
paper-poles-unknown = poles not known
paper-device = { $kind } { $poles }
paper-device-type = type { $curve } { $rated }
paper-device-type-unknown = { $rated }, type not known
paper-cores = { $cores } × { $size }
paper-material-unknown = material not known
paper-metal-unknown = metal not known
paper-finding = { $verdict }: { $sentence }
paper-circuit = circuit { $circuit }

## Circuit chart

chart-way = Way
chart-poles = Poles
chart-circuit = Circuit
chart-feeds = Feeds
chart-device = Device
chart-cable = Cable
chart-neutral = Neutral
chart-earth = Earth
chart-phase = Phase
chart-checks = Checks

chart-enclosure = Enclosure
chart-fed-from = Fed from
chart-supply = Supply
chart-voltage = Voltage to earth U0
chart-earthing = Earthing
chart-upstream = Device upstream
chart-incomer = Incomer
chart-incomer-rated = Incomer rating
chart-colours = Colours
chart-follows = { $supply } (follows from the incomer)

chart-construction-unknown = construction not known
chart-method = method { $method }
chart-method-unknown = method not known
chart-length-unknown = length not known
chart-cable-words = { $cores } { $construction }, { $cpc }, { $method }, { $length }
chart-cpc = cpc { $cpc }
chart-cpc-sized = cpc { $cpc }, { $size }
chart-cpc-core = cpc a core
chart-cpc-unknown = cpc not known
chart-cable-unknown = cable not known
chart-no-device = no device
chart-not-described = not described
chart-current-range = { $least } to { $most } A

chart-not-checked = not checked
chart-checks-hold = { $count ->
    [one] one check
   *[other] { $count } checks
 }
chart-and-more = { $sentence } (and { $count } more)

chart-spare = spare: device without a circuit
chart-free = { $count ->
    [one] free: one blank
   *[other] free: { $count } blanks
 }
chart-no-place = no place
chart-not-placed = { $pole }, not placed

chart-against-touch = The enclosure against touch
chart-mark = Mark
chart-part = Part
chart-found = Found
chart-door = door or cover, taken off
chart-drawn-incomer = Incomer

chart-terminals = Terminals
chart-neutral-direct = The incoming neutral runs straight to the neutral bar: the incomer does not switch it.
chart-neutral-through = The incoming neutral runs through the incomer.
chart-neutral-unknown = How the incoming neutral runs is not known.
chart-leave-empty = Leave the neutral bar's own incoming terminal empty: a neutral there would bypass the incomer.
chart-phase-link = A phase link joins the three busbars: every pole is on the same line.
chart-incoming = Incoming: { $ends }.
chart-incoming-end = { $wire } to { $place }
chart-spare-neutrals = Spare neutral terminals: { $names }; { $count } terminals free in all.
chart-spare-earths = Spare earth terminals: { $names }; { $count } terminals free in all.
chart-none = none
chart-incomer-blanks = { $count ->
    [one] Beside the incomer one module needs a blank.
   *[other] Beside the incomer { $count } modules need blanks.
 }

chart-findings = Findings on the board
chart-doubt = doubt: { $problem }; { $remedy }.
chart-enclosure-unknown = undecided: the enclosure is not known, so poles and terminals are not shown.

chart-not-read = Assumed, stated or not known
chart-all-read = Everything on this chart is measured, read from a label or decided.
chart-unread = { $who }. { $fields }
chart-unread-supply = Supply
chart-unread-circuit = Circuit { $circuit }
chart-fields-unknown = Not known: { $fields }.
chart-fields-assumed = Assumed: { $fields }.
chart-fields-stated = Stated, not checked: { $fields }.

chart-labels = Labels required
chart-label-words = Words
chart-label-where = Where
chart-label-why = Why

## Findings

findings-tally = { $fail } fail, { $advised } go beyond advice, { $undecided } undecided, { $hold } hold.
findings-readings = Readings to take next
findings-readings-first = Those that settle the most come first.
findings-reading = { $of }: { $what }.
findings-verdict = Verdict
findings-finding = Finding
findings-numbers = Numbers and clause
findings-next = Next:
findings-next-of = { $of }: { $what }
findings-tables = Tables: { $tables }

## Drilling template

template-before = Before drilling
template-plate = The plate
template-size = { $width } × { $depth } mm, { $thickness }, { $material }
template-thick = { $thickness } mm thick
template-thickness-unknown = thickness not known
template-seen = { $seen ->
    [inside] MIRRORED: seen from inside
   *[outside] Seen from outside
 }, { $near } up. Datum: { $datum ->
    [upper-left] upper left corner. X runs right, Y down
    [upper-right] upper right corner. X runs left, Y down
    [lower-left] lower left corner. X runs right, Y up
   *[lower-right] lower right corner. X runs left, Y up
 }, in millimetres.
template-rear-edge = rear edge
template-front-edge = front edge
template-upper-edge = upper edge
template-lower-edge = lower edge
template-not-on-it = Not on this template:
template-unplaced = { $entry }: { $why }
template-findings = Findings on this plate
template-sheets = Sheets
template-sheets-of = { $sheets } of { $paper }, { $columns } across and { $rows } down. Neighbouring sheets share a strip of { $overlap } mm. Down its middle runs the joint line, a thin full line with two ringed crosses: cut one sheet along it, lay it on the joint line of its neighbour, ring on ring, and tape them.
template-sheet = Sheet { $sheet } of { $last }
template-inside-line = drill inside this line
template-keep-whole = keep whole
template-datum = datum 0, 0
template-fitted = { $kind } { $size }
template-made-already = { $hole }, made already
template-none-made = none: made already
template-to-sheet = to { $sheet }
template-bars = 100 mm: measure both bars with a steel rule
    before use. Print at 100 %.
template-coordinates = Coordinates from the datum
template-no-entry = No entry is set out yet.
template-entry = Entry
template-hole-limits = Hole (limits)
template-fitting = Fitting
template-for = For
template-tool = Tool
template-bolt = bolt of the earth tag
template-one-after-another = Dimensions one after another
template-step = step
template-entries = Entries
template-order = Drilling order, fewest changes of tool
template-hole = Hole
template-count = Count
template-after = After drilling

## Drawings of a plate

drawing-title = { $site } { $board } { $plate }
drawing-title-first = { $board } { $plate }, { $site }
drawing-how = Millimetres. Seen from outside, { $near } up. Origin: upper left corner, 0,0.
drawing-plate = Plate { $width } x { $depth } mm. { $date }
drawing-foot = { $title }, { $date }. Seen from outside; origin upper left; millimetres.
drawing-bolt = { $entry }T, bolt of the earth tag
drawing-hole = { $hole }, { $serves }

## Order list

order-part = Part
order-item = Item
order-quantity = Quantity
order-unit = Unit
order-needed = Needed
order-fitted = Fitted
order-for = For
order-note = Note
order-note-row = note
order-nothing = Nothing to buy: no device or cable is decided, no entry is to be made.

order-group-devices = Devices
order-group-blanks = Blanks
order-group-entries = Entries
order-group-labels = Labels
order-group-cable = Cable

order-unit-pieces = pcs
order-unit-modules = modules
order-unit-metres = m

order-for-board = the board
order-for-single-phase = single-phase supply
order-for-circuit = circuit { $which }
order-for-circuits = circuits { $which }
order-for-spare = spare at { $which }
order-for-no-place = without a place
order-for-free-poles = free poles { $which }
order-for-beside-incomer = room left beside the incomer
order-for-plate = { $plate } { $which }
order-for-sets = one set for each circuit, where terminals do not follow the poles (BS 7671 514.1.2)
order-for-enclosure = enclosure: { $which }
order-for-label = { $place } ({ $source })
order-for-incoming = incoming
order-range = { $first } … { $last } ({ $count })

order-enclosure = enclosure: { $name }
order-incomer = incomer: { $arrangement }, { $rating }
order-phase-link = phase link for the busbars
order-blank = blank, one module
order-label = label: "{ $text }"
order-circuit-number = circuit number at the device
order-conductor-numbers = conductor numbers, neutral and cpc
order-cable-single = single-core cable { $size }
order-cable-flat = flat twin and earth cable { $size }/{ $cpc } mm²
order-cable-flat-unknown = flat twin and earth cable { $size }, cpc not known
order-cable = { $construction } cable { $cores }
order-cable-unknown = cable of unknown construction { $cores }
order-cpc = protective conductor, single-core, { $size }, { $metal }
order-strap = bonding strap
order-strap-case = case
order-strap-door = door or cover
order-strap-plates = gland plates
order-earth-terminal = earth terminal for the incoming protective conductor
order-barrier = barrier before the busbars
order-shrouds = shrouds for the incoming terminals
order-earthing-conductor = earthing conductor, { $size }
order-bonding-conductor = main bonding conductor, { $size }

order-note-count = Count those fitted already: nobody did.
order-note-made-for = Use the one made for this enclosure only.
order-note-complete = Complete the device before buying.
order-note-allowance = { $percent } % added for ends and waste (common practice, no source).
order-note-length = The length of { $purpose } is not known and not counted: measure it.
order-note-flexible = Flexible where the part moves; bare metal under the joint.
order-note-no-length = Its length is not recorded: measure it.

## Circuit schedule

schedule-circuits = Circuits
schedule-entries = Entries
schedule-board = Board and supply
schedule-field = field
schedule-value = value
schedule-known = how known

## Time-current bands

curve-title = { $board }, { $circuit }
curve-or = { $one } or { $other }
curve-upstream = { $devices }, upstream
curve-of-circuit = { $devices }, of this circuit
curve-fault = Upright bar: prospective fault current at the board.
curve-not-shown = Not shown: { $what }.
