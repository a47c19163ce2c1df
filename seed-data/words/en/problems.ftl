# What is wrong with a survey, a file or a call ("problem-") and what would do ("remedy-"): each refused or doubted value
# has both. The value itself stands beside them.

## Any field

problem-newer-model = was written by a newer version
remedy-newer-model = update this app, then open it again
remedy-newer-file = update this app, then import it again
problem-quantity = no possible { $what }
remedy-quantity = a { $what } here is { $range }
problem-number = no possible number
remedy-number = give a whole number from { $range }
problem-too-long = text is too long
remedy-too-long = keep it under { $most } letters
problem-records = too many records
remedy-records = up to { $most } are kept in one place
problem-board-size = the board is too large
remedy-board-size = a board takes up to { $size } MB and { $values } values
problem-no-cable = no such cable
remedy-no-cable = add the cable first, or leave it out
problem-no-device = no such device
remedy-no-device = add the device first, or leave it out
problem-no-photo = no such photo
remedy-no-photo = add the photo first, or leave it out

quantity-current = current
quantity-voltage = voltage
quantity-impedance = impedance
quantity-impedance-per-length = impedance per length
quantity-power = power
quantity-apparent-power = apparent power
quantity-let-through = let-through energy
quantity-thermal-resistivity = thermal resistivity
quantity-resistivity = resistivity
quantity-length = length
quantity-cross-section = cross-section
quantity-temperature = temperature
quantity-time = time
quantity-ratio = ratio

## Supply, devices, cables, circuits

problem-reduced = no reduced low voltage: that has 55 V or 63.5 V to earth
remedy-reduced = measure it between line and earth
problem-dc-phases = direct current has no three phases
remedy-dc-phases = read both again; direct current counts as single-phase
problem-setting = above the rated current of { $rated }
remedy-setting = read setting and rating again
problem-place-without-enclosure = placed on a board whose enclosure is not known
remedy-place-without-enclosure = pick the enclosure
problem-grouped = of { $all } in the group
remedy-grouped = count those of the group that carry little; this circuit is not among them
problem-bedding = larger than the cable itself
remedy-bedding = measure both again
problem-shared-device = two circuits on one device
remedy-shared-device = give each its own, or join them
problem-same-number = two circuits bear this number
remedy-same-number = number them apart

problem-incomer-supply = a { $incomer } incomer does not go with a { $supply } supply
remedy-incomer-supply = check the supply at the incoming cable, then change one of the two
problem-incomer-room = the enclosure has room for { $poles } incomer poles
remedy-incomer-room = pick an arrangement with fewer poles or another enclosure
problem-one-line = a single-phase enclosure takes one line only
remedy-one-line = record the line it is fed from and set the supply to single-phase
problem-linked = the busbars are linked: all poles are one line, and this device expects different ones
remedy-linked = use single-pole devices on a phase-linked board

problem-no-pole = the enclosure has no pole { $pole }: it has { $first } to { $last }
problem-two-poles = a two-pole device at { $pole } needs a neighbouring pole below it: start one pole earlier
problem-no-three-poles = a single-phase enclosure takes no three-pole device
problem-whole-way = a three-pole device takes a whole way: place it at { $pole }
remedy-fits = give the device a place it fits
problem-pole-held = pole { $pole } holds another device, { $holder }
remedy-pole-held = move or remove one of the two
problem-no-terminal = the enclosure has no terminal { $terminal }
problem-terminal-twice = terminal { $terminal }: given twice
remedy-terminal = give it another terminal; spare ones are free

## Plates and photos

problem-slot-entry = no such entry on this plate
remedy-slot-entry = join two entries of this plate
problem-slot-itself = a slot from an entry to itself
remedy-slot-itself = join two different entries
problem-rectangle = rectangle { $number } is not one
remedy-rectangle = give [x, y, width, height] in millimetres
problem-entry-place = not a place on a plate
remedy-entry-place = give [x, y] in millimetres
problem-hash = not a SHA-256
remedy-hash = give 64 hexadecimal digits
problem-points = not points on the picture
remedy-points = give up to 500 points as shares of width and height, 0 to 1

## Patterns of enclosures

remedy-pattern = correct the pattern
remedy-pattern-other = correct the pattern or pick another
pattern-key = a pattern needs a key of its own
pattern-too-long = longer than { $most } letters
pattern-plates = { $count } plates: give up to { $most }
pattern-ways = { $count } ways: give 1 to { $most }
pattern-columns = { $columns } columns but { $corners } corners: give one corner each
pattern-phases = name each phase once on a three-phase board, none on a single-phase one
pattern-size = { $size } is no size of an enclosure: give 1 mm to 5000 mm
pattern-far = a place on the drawing is not within 10 m
pattern-usable = the usable part of the { $face } plate reaches outside it
pattern-fault = pattern { $number } "{ $key }", { $field }: { $fault }
pattern-twice = pattern { $number } "{ $key }", key: used twice

## Edits

problem-too-deep = the value is nested too deeply
remedy-too-deep = give it as in a survey file
problem-there-already = it is there already
remedy-there-already = edit that one
problem-parts = nothing, or too much, for one step
remedy-parts = give 1 to { $most }
remedy-unchangeable = this board cannot be changed
remedy-finite = give numbers that are finite
problem-no-record = there is no such record on this board
remedy-no-record = open the board again: it may have been removed
problem-hole-made = this hole is there already
problem-entry-locked = this entry is locked
remedy-entry-stays = unlock it, or mark it as not yet made, before moving it
problem-path-parts = a path of { $count } parts
remedy-path-parts = give the path of a field, such as /supply/ze
problem-not-by-hand = this field is not set by hand
remedy-not-by-hand = name a field of the board, such as /place
problem-whole-record = this sets a whole record
remedy-whole-record = set one of its fields

## Survey files

problem-file-large = the file is too large for a survey of one board
remedy-file-large = a survey file has up to { $size } MB; photos travel in a bundle
problem-file-values = the file has more than { $most } values
remedy-file-values = no survey of one board has so many: give a survey file as exported
remedy-file-short = the file is cut short: fetch it again
remedy-file-form = give a survey file as exported
problem-file-format = not a survey file
remedy-file-format = "format" is "{ $format }"
problem-file-version = written by a newer version than this one, which reads up to { $version }
problem-unknown-field = unknown field `{ $field }`, { $known }
remedy-unknown-field = leave it out, or check its spelling
remedy-unreadable = correct it, or leave it out

## The store

problem-newer-field = a field of a newer version
remedy-newer-field = it is kept; update the app to see it
problem-unknown-kind = a value of a kind this version does not know
remedy-unknown-kind = it is kept; update the app to see it, or enter the value again
problem-document-form = the document could not be read with this: { $reason }
remedy-document-form = give the value in the form of the survey file
problem-change-lost = the change { $change } of this { $kind ->
    [board] board
   *[site] site
 } does not read as it was saved, found { $since }{ $waiting ->
    [0] { "" }
    [one] ; one later change builds on it and waits
   *[other] ; { $waiting } later changes build on it and wait
 }
problem-since-now = just now
problem-since = on { $when }
remedy-change-lost = import a bundle of this site that holds it: it replaces the bad bytes; until then what is sound is shown
problem-photo-lost = the photo { $photo } does not read as it was taken in, found { $since }
remedy-photo-lost = import a bundle of this site that holds it, or take the picture file in again: it replaces the bad bytes
problem-slow = the board and its history are larger than { $size } kB and open slowly
remedy-slow = carry on; for much more work on it, export the survey and start a new board from it
problem-changed-since = changed since "{ $step }": left as it is
remedy-changed-since = look at the field and set it as it should be
problem-nothing-to-undo = there is nothing to undo
problem-nothing-to-redo = there is nothing to redo
remedy-nothing = make an edit first
problem-settled = no such value stands here any more
remedy-settled = look at the field again: it may be settled already
remedy-picture = give a JPEG or PNG picture
remedy-as-in-file = set a field as it stands in the survey file
problem-exists = this { $kind ->
    [board] board
   *[site] site
 } is in the store already
remedy-exists = open it instead
problem-read-only = the store is on a medium, or in a folder, that cannot be written
remedy-read-only = copy the whole folder to where it can be, then open it there

## Calls and files

problem-in-full = { $message }; { $remedy }
problem-site-name = a site needs a name
remedy-site-name = give up to 200 letters
problem-reference = a board needs a reference
remedy-reference = give one such as "DB1"
problem-no-pattern = there is no such pattern
remedy-of-list = pick one of the list
problem-picture-short = the file ends before the picture does: a part of it is missing
remedy-picture-short = copy the picture from the camera again, or take it again
problem-lost = changes of this board were lost on the disk, and a survey file would pass older values off as the newest
remedy-lost = hand on the site's bundle, which says what is missing; a bundle that holds the lost changes heals the board
problem-newer-fields = { $count } of its fields cannot be read by this version, such as { $fields }: a survey file would lose them
remedy-newer-fields = update this app; until then hand on the site's bundle, which keeps them
remedy-contract = send what the contract says
problem-call-values = the call has more than { $most } values
problem-call-json = the call is not JSON: { $why }
problem-base64 = not base64: { $why }
remedy-base64 = send the whole file
remedy-paper = see what the paper needs
remedy-fetch-bundle = fetch the bundle again
remedy-bundle = give a bundle made by this app
problem-cannot-be-worked-out = this cannot be worked out yet
problem-weigh = nothing to weigh, or too much at once
remedy-weigh = give 1 to { $most } edits
problem-role = not a role
remedy-role = give a word such as "surveyor" or "office", up to { $most } letters
remedy-toml = give [[pattern]] tables as in the shipped list
problem-patterns = { $count } patterns of your own are there; up to { $most } are kept
problem-large = the file is too large
problem-too-large = too large
remedy-large = up to { $size } MB will do
remedy-bundle-large = a bundle has up to { $size } MB
problem-no-tables = no table is in it
remedy-no-tables = give a folder with tables as CSV, of the names that "waywright tables" lists
problem-no-utf8 = the file is not UTF-8 text
remedy-no-utf8 = give a text file
problem-no-set = no field and value
remedy-no-set = write PATH=VALUE, such as /devices/ID/at="3L2"
problem-not-told = not told
remedy-not-told = say in one line of up to { $most } letters whose tables they are: a standard and its edition
problem-no-table = no table is among them
remedy-names = give one or more of: { $names }
problem-table-twice = the table is there twice
remedy-table-twice = give each table once
problem-not-own = this is no table of your own
remedy-none-own = none is: the tables that came with the program count
problem-no-such-table = there is no table of this name
problem-table-utf8 = this is no text in UTF-8
remedy-table-utf8 = save the table as CSV in UTF-8
problem-table = the table does not read

# The value that was found, behind a problem in brackets.
problem-found = found { $value }
