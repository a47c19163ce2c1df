# The interface's own words: headings, buttons, hints, what it says of what was done. An id begins with "ui-" and the
# screen or part.

## All screens

ui-try-again = Try again
ui-to-content = To the content
ui-all-boards = All boards
ui-opening-board = Opening the board…
ui-circuit-named = Circuit { $circuit }
ui-gland-plate = Gland plate
ui-board = Board
ui-pick-one = pick one
ui-not-added = Not added.
ui-back-to-board = Back to the board
ui-not-known = not known
ui-remove = Remove
ui-now = now
ui-then = then
ui-go-there = Go there
ui-close = Close
ui-back = Back

## The frame around every screen

ui-working = working…
ui-settings = Settings
ui-parts = Parts of this board
ui-dismiss = Dismiss
ui-undo = Undo
ui-redo = Redo
ui-waywright = Waywright
ui-opening = Opening…
ui-undo-what = Undo { $what }
ui-undo-nothing-left = Undo: nothing to undo
ui-redo-what = Redo { $what }
ui-redo-nothing-left = Redo: nothing to redo
ui-nav-board = Board
ui-nav-findings = Findings
ui-nav-plates = Plates
ui-nav-supply = Supply
ui-nav-papers = Papers
ui-nav-photos = Photos
ui-nav-notes = Notes

## What was done, what went wrong

ui-undo-nothing = There is nothing to undo.
ui-redo-nothing = There is nothing to redo.
ui-saved = Saved.
ui-saved-what = Saved: { $what }.
ui-not-saved = Not saved.
ui-look-whether-saved = Look whether this is saved.
ui-undone = Undone: { $what }.
ui-done-again = Done again: { $what }.
# What is wrong with a field, what was found in it, and what would put it right.
ui-problem = { $field }: { $message }{ $found ->
    [yes] { " " }(found { $value })
   *[no] {""}
 }.{ $mended ->
    [yes] { " " }To put it right: { $remedy }.
   *[no] {""}
 }
ui-call-unsent = This cannot be sent: { $why }.
ui-call-unread = The reply cannot be read: { $why }.
ui-call-failed = The app could not do this: { $why }.
ui-call-answered = The app could not do this (answer { $status }).
ui-call-silent = The app does not answer. Check that it is running, then look whether this was saved before you try again.
ui-file-unread = The file { $file } cannot be read.

## Checks

ui-verdict-holds = holds
ui-verdict-fails = fails
ui-verdict-undecided = undecided
ui-verdict-advised = beyond advice
ui-verdict-none = no checks
ui-check-settle = Would settle it, most useful first:
ui-check-rests = What this rests on
ui-cautions-all = All cautions
ui-cautions = Cautions
# A reading to take, the circuits it is of, and how much of the doubt it settles.
ui-check-next = { $what }{ $named ->
    [yes] : { $circuits }
   *[no] {""}
 }{ $worth ->
    [yes] { " " }(settles { $share } %)
   *[no] {""}
 }
ui-check-input = { $label }: { $value }, { $known }
ui-check-tables = Tables: { $tables }.
ui-checks = Checks

## Two values of one field

ui-conflict-two = ⇄ Two values:{" "}
ui-conflict-both = { $field }. Both were entered and both are kept. Pick one:
ui-conflict-use = Use { $value }{ $said ->
    [yes] { " " }(entered by { $by })
   *[no] {""}
 }
ui-conflict-settled = Settled: { $value }.

## Fields

ui-field-range = { $low } to { $high } { $unit }
ui-field-put-back = Put the old value back
ui-field-look-again = Look again:{" "}
ui-field-not-said = not said yet
ui-field-say-how = Not saved yet: say how it is known.
ui-field-unsaved = Not saved yet.
ui-field-to = to
ui-field-two = Only known to lie between two values
ui-field-change-how = { $field }: { $known }. Change how it is known
ui-field-with = With { $instrument }.
ui-field-with-tolerance = With { $instrument }, ± { $tolerance }.
ui-field-tolerance = ± { $tolerance }.
ui-field-by = By { $by }.
ui-field-by-rule = By the rule: { $rule }.
ui-field-entered-on = Entered on { $day }.
ui-field-entered-by = Entered by the { $role }.
ui-field-entered-by-on = Entered by the { $role } on { $day }.
ui-field-least = { $field }, least
ui-field-most = { $field }, most
ui-field-tolerance-of = Tolerance, ±
ui-field-instrument = Instrument
ui-field-stated-by = Stated by
ui-field-rule = Rule
ui-field-how = How is it known: { $field }

## Sites and boards

ui-boards-none = There is no board yet. Make a site, then a board on it.
ui-boards-no-match = No board matches these words.
ui-boards = Boards
ui-boards-unread = The list could not be read.
ui-boards-bundle-in = Bundle brought in.
ui-boards-bundle-out = Bundle written.
ui-boards-find = Find a board
ui-boards-find-by = reference, place, site or circuit
ui-boards-make = Make, bring in, hand on
ui-boards-sites = Sites
ui-boards-bring-in = Bring in a file
ui-boards-merge = A bundle from a colleague is merged: nothing is overwritten. Where both of you changed one field, both values are kept until one is picked.
ui-boards-bundle = Bundle of a site…
ui-boards-survey = Survey of one board (JSON)…
ui-boards-hand-on = Hand on as a bundle
ui-boards-site-first = Make a site first: every board stands on one.
ui-boards-not-made = No board was made.
ui-boards-new = New board or site
ui-boards-new-site = New site
ui-boards-add-site = Add site
ui-boards-on-site = Board on site
ui-boards-reference = Reference
ui-boards-place = Where it hangs
ui-boards-not-known = not known yet
ui-boards-to-build = It is yet to be built
ui-boards-make-it = Make the board
ui-boards-to-settle = ⇄ { $count } to settle
ui-boards-circuits = { $count ->
    [one] 1 circuit
   *[other] { $count } circuits
 }
ui-boards-count = { $count ->
    [one] 1 board
   *[other] { $count } boards
 }
ui-boards-first = The first { $shown } of { $count } boards. Add words to narrow the list.
ui-boards-brought-in = { $file } was brought in.
ui-boards-not-brought-in = { $file } was not brought in.
ui-boards-new-merged = New boards: { $new }. Boards merged: { $merged }.
ui-boards-changes = Changes: { $changes }. Photos: { $photos }.{ $healed ->
    [0] {""}
   *[other] { " " }Sound again that had gone bad here: { $healed }.
 }
ui-boards-conflicts = { $count ->
    [0] Nothing is left to settle.
    [one] One field has two values: pick one under the findings of its board.
   *[other] { $count } fields have two values: pick one each under the findings of their boards.
 }
ui-boards-missing-photos = Photos that its boards name and nobody sent: { $count }.
ui-boards-read = { $file } was read: board { $board }.
ui-boards-not-read = { $file } was not read. Nothing was changed.
ui-boards-browser-saves = { $site }: the browser saves the bundle.
ui-boards-written = { $site }: written to { $file }.
ui-boards-saved-as = Saved as { $path }
ui-boards-not-in-it = Not in it: { $what }
ui-boards-site-made = Site { $site } made.
ui-boards-made = Board { $board } made.

## The board

ui-enclosure = Enclosure
ui-board-drawing = Drawing
ui-board-which-enclosure = Which enclosure is it?
ui-board-not-drawn = The board is drawn once its enclosure is known.
ui-board-follows = What follows
ui-enclosure-found = Found so on site
ui-enclosure-decided = Decided so
ui-board-all-findings = All findings ›
ui-add-circuit = Add a circuit
ui-follows-incomer = What follows from the incomer
ui-follows-incoming = Incoming conductors
ui-follows-blanks = Blanks
ui-follows-labels = Labels required
ui-currents = Currents
ui-board-survey-written = Survey file written.
ui-board-hand-on = Hand on this board
ui-board-survey-file = Survey file (JSON)
ui-add-no-pole = There is no free pole on this board: remove or move a circuit first.
ui-add-pole = First pole
ui-add-feeds = What it feeds
ui-add-poles = Poles
ui-add-device = Device
ui-add-load = Load
ui-add-it = Add it
ui-enclosure-now = { $name } (now)
ui-board-look-again = Look again: { $count }
ui-board-two-values = ⇄ Two values: { $count }
ui-board-circuits = Circuits ({ $count })
ui-follows-label = Where: { $place }. Why: { $source }.
ui-follows-poles = { $count ->
    [0] No pole needs a blank.
    [one] 1 pole needs a blank: { $poles }.
   *[other] { $count } poles need a blank: { $poles }.
 }
ui-follows-incomer-blanks = The incomer's space needs { $count } more.
ui-follows-link = Phase link:{" "}
ui-follows-link-what = the three busbars are joined, every way is on the one line.
ui-follows-direct = Direct neutral terminal:{" "}
ui-currents-unbalance = Unbalance

## The drawing of the board

ui-drawing-size = Size of the drawing
ui-drawing-smaller = Smaller
ui-drawing-larger = Larger
ui-drawing-tap = Finger size
ui-drawing-whole = Whole board
ui-drawing-frame = The board as it hangs, to scale
ui-drawing-board = Board, seen from the front
ui-drawing-housing = Enclosure against touch
ui-drawing-link = Phase link: all ways on one line
ui-drawing-no-description = no description
ui-drawing-no-rating = rating not known
ui-drawing-plate = { $face ->
    [bottom] bottom
    [left] left side
    [right] right side
    [back] back
   *[top] top
 } plate: { $count ->
    [one] 1 entry
   *[other] { $count } entries
 }
ui-drawing-neutral-of = { $terminal }, neutral terminal of circuit { $circuit }
ui-drawing-earth-of = { $terminal }, earth terminal of circuit { $circuit }
ui-drawing-neutral-bar = Neutral bar
ui-drawing-earth-bar = Earth bar
ui-drawing-used = { $count } used
ui-drawing-free = { $count } free
ui-drawing-bar = { $bar }: { $used } used, { $free } free
ui-drawing-incomer = Incomer
ui-drawing-blanked = { $count ->
    [one] 1 module blanked
   *[other] { $count } modules blanked
 }
ui-drawing-to-supply = { $incomer }; opens supply and incomer
ui-drawing-direct = Direct neutral terminal: { $terminal }
ui-drawing-blank = blank
ui-drawing-not-live = not live
# What is seen of a way comes first, so that a person can call it by what it says.
ui-drawing-way = { $pole } { $rating } { $description }; circuit { $circuit }, poles { $poles }, on { $carries }, { $verdict }
ui-drawing-no-circuit = { $pole } { $rating }; a device with no circuit, on { $carries }
ui-drawing-free-way = { $pole } blank; on { $carries }. Add a circuit

## One circuit

ui-circuit-removed = This circuit was removed. Undo brings it back.
ui-circuit-sections = Sections
ui-circuit-load = Circuit and load
ui-circuit-more-load = More of the load
ui-circuit-more-device = More of the device
ui-circuit-more-cable = More of the cable
ui-circuit-place = Place
ui-circuit-move-to = Move to pole
ui-circuit-stay = stay
ui-circuit-move = Move
ui-circuit-remove = Remove this circuit
ui-circuit-remove-what = Its device and cable go with it. Undo brings them back.
ui-circuit = Circuit
ui-circuit-device = Device
ui-circuit-cable = Cable
ui-circuit-readings = Readings
ui-circuit-terminals = Terminals
ui-circuit-none = none
ui-circuit-first-pole-terminal = that of its first pole
ui-circuit-checks = Checks: { $fails } fail, { $advised ->
    [0] {""}
   *[other] { $advised } beyond advice,{ " " }
 }{ $undecided } undecided, { $holds } hold
ui-circuit-terminal-used = { $terminal } (used)
ui-circuit-terminals-used = Neutral terminal: { $neutral }. Earth terminals: { $earth }.

## Supply and incomer

ui-supply-checks = Checks of the board
ui-supply = Supply and incomer
ui-supply-incomer = Incomer
ui-supply-more-incomer = More of the incomer
ui-supply-at-terminals = Supply at the incoming terminals
ui-supply-upstream = More of the device upstream
ui-supply-origin = Origin of the supply
ui-supply-earthing = Earthing and bonding
ui-supply-cable = Incoming cable
ui-supply-add-cable = Add the incoming cable
ui-supply-surroundings = Where the enclosure stands
ui-supply-housing = Enclosure against touch
ui-supply-labels = Labels there already
ui-supply-enclosure = Enclosure now: { $name }.

## Weighing before deciding

ui-readings = Readings to take next
ui-readings-order = Those that settle the most come first.
ui-size-holds = ✓ holds
ui-size-no = ✗ no
ui-size-only-if = ? only if
ui-size-none = With no cable that is made does every check hold: take the readings named, or look at load, method or length.
ui-size = Find the smallest cable that holds
ui-try-nothing = No check would change.
ui-try-decide = Decide so
ui-try = What would a change do?
ui-try-pick = Try
ui-try-pick-one = pick a change
ui-try-unsaved = Nothing is saved until you decide so.
ui-balance-enter = Enter these moves
ui-balance-even = Nothing need move.
ui-balance-none-better = No better allocation was found.
ui-balance-largest = Largest line
ui-balance-neutral = Neutral
ui-balance = Even out the lines
ui-balance-ask = Work it out
ui-readings-helps = { $label } · { $checks ->
    [1] helps 1 check
   *[other] { $circuits ->
        [0] helps { $checks } checks
        [1] helps { $checks } checks
       *[other] helps { $checks } checks of { $circuits } circuits
     }
 }
ui-size-with = { $size } with { $cpc }
ui-size-decide = Decide { $size }
ui-try-cable = Cable { $size } mm²
ui-try-device = Device { $rated } A
ui-try-curve = Type { $curve }
ui-try-move = Move to { $pole }
ui-try-before = Now: { $fails } fail, { $advised ->
    [0] {""}
   *[other] { $advised } beyond advice,{ " " }
 }{ $undecided } undecided, { $holds } hold.
ui-try-after = Then: { $fails } fail, { $advised ->
    [0] {""}
   *[other] { $advised } beyond advice,{ " " }
 }{ $undecided } undecided, { $holds } hold.
ui-balance-proven = Proven { $rests }: no allocation loads the lines more evenly.
ui-balance-not-proven = Not proven the best: { $rests }, no allocation comes below { $bound } on the largest line.

## Fault currents

ui-faults-three-phase = three-phase
ui-faults-line-line = line to line
ui-faults-line-neutral = line to neutral
ui-faults-line-earth = line to earth
ui-faults-more = to know more
ui-faults = Fault currents
ui-faults-ask = Work out from origin to ends
ui-faults-bands = Time-current bands of the circuit's device and the one upstream
ui-faults-bands-what = What the standards allow each device: below its band it stays closed, above it has opened. Where two bands overlap, both may open: the makers' tables decide.
ui-faults-first = Which opens first
ui-faults-draw = Draw the time-current bands
ui-faults-from = At the board { $from }.

## Findings

ui-findings = Findings
ui-findings-two-values = Two values
ui-findings-settle = To settle
ui-findings-look = Look again
ui-findings-show = Show checks that
ui-findings-none = No check is of the kinds shown.

## Gland plates

ui-plate-not-drawn = The plate is drawn once its width and depth are known: enter them below.
ui-plate-rear = rear
ui-plate-front = front
ui-plate-datum = datum 0,0
ui-plate-entry = { $entry }{ $feeds ->
    [yes] , { $cable }
   *[no] {""}
 }{ $state ->
    [there] , there already
    [locked] , locked
   *[free] {""}
 }: { $placed ->
    [yes] x { $x } mm, y { $y } mm
   *[no] not placed
 }
ui-plate-stays = It stays. { $why }
ui-plate-moved = Moved to the nearest place that will do, x { $x }, y { $y } mm. { $why }
ui-plate-drawing = { $plate }, { $width } mm across, { $depth } mm from rear to front, seen from outside
ui-plate-size = { $width } × { $depth } mm
ui-plates = Gland plates
ui-plate-none = There is no such plate on this board. Plates come with the enclosure: pick it under Supply.
ui-plate-dimensions = All dimensions from the datum corner
ui-plate-how = Seen from outside. Places count from the left and from the rear, dimensions from the datum corner. Drag an entry, use the arrow keys, or type its place. ■ there already, ▣ locked.
ui-plate-entries = Entries
ui-plate = Plate
ui-plate-checks = Checks of the plate
ui-plate-next-number = Give it the next free number
ui-plate-remove-entry = Remove this entry
ui-plate-no-room = There is no room left on this plate for this entry: move or remove one, or use another plate.
ui-plate-add = Add an entry
ui-plate-add-it = Add it at the next free place
ui-plate-usable = May be drilled: x y width height, mm
ui-plate-keep-out = Must stay whole: x y width height, mm
ui-plate-add-area = Add
ui-plate-at = x { $x } · y { $y } mm
ui-plate-not-placed = not placed
ui-plate-hole = hole { $hole } mm
ui-plate-there = there already
ui-plate-is-locked = locked
ui-plate-cable = Cable
ui-plate-no-cable = none
ui-plate-no-cable-yet = none yet
ui-plate-x = x, from the left
ui-plate-y = y, from the rear
ui-plate-kind = Kind
ui-plate-trade-size = Trade size
ui-plate-remove-area = Remove the part { $area }
ui-plate-incoming-cable = incoming cable
ui-plate-loose-cable = cable without a circuit
ui-plate-entry-removed = Removed entry
ui-plate-place-wrong = Not saved: write x and y as numbers in millimetres, such as 1200 or 12.5.
ui-plate-area-wrong = Not saved: write four numbers, x y width height, such as 20 20 320 70.

## Slots between the holes of a plate

ui-slots-pick = pick a hole
ui-slots = Slots between holes
ui-slots-why = Line and neutral cores of one a.c. circuit that pass a steel plate by holes of their own heat it: a slot from hole to hole opens the ring of steel.
ui-slots-from = From
ui-slots-to = To
ui-slots-width = Width, mm
ui-slots-cut = Cut this slot
ui-slots-no-width = width not known
ui-slots-removed = a removed entry
ui-slots-slot = { $from } to { $to }, { $width }
ui-slots-remove = Remove the slot { $from } to { $to }, { $width }

## Setting a plate out

ui-set-out-all = Every cable whose gland can be chosen has its entry.
ui-set-out-add = Add these entries
ui-set-out-to-add = To add, not set out yet:
ui-set-out-left-out = Left out:
ui-set-out-same = Every entry stands where it should: nothing moves.
ui-set-out-none-better = Nothing moves: the search found no better place for any entry.
ui-set-out-enter = Enter these places
ui-set-out-crossings = crossings
ui-set-out-along = cable along the plate
ui-set-out-rows = rows
ui-set-out-then = set out
ui-set-out-places = Places:
ui-set-out-room = Room kept for:
ui-set-out-not = Not set out:
ui-set-out-look = Look at:
ui-set-out-drilling = Before drilling
ui-set-out = Set out
ui-set-out-choose = Entries for all cables
ui-set-out-solve = Set the plate out
ui-set-out-wishes = Wishes
ui-set-out-spares = Keep room for blanked spares, sizes with commas
ui-set-out-keep = Entries that have a place stay there
ui-set-out-proven = Proven: nothing better exists on whole millimetres.
ui-set-out-not-proven = Not proven the best: it weighs { $total }, and no setting-out comes below { $bound }.

## Measuring a plate on a photo

ui-measure-no-hole = No hole was found: tap each, then measure again.
ui-measure-tick = Tick the holes to take over.
ui-measure-line-wrong = Write the check line's length in millimetres, or leave it empty.
ui-measure-not = Not measured.
ui-measure-under-way = Measuring…
ui-measure-holes = Holes found
ui-measure-straightened = Photo, straightened
ui-measure-plate-entered = Plate as entered
ui-measure-take = Take the ticked holes over as measured
ui-measure = Measure a plate on this photo
ui-measure-plate = Plate
ui-measure-line = Check line of the printed marker sheet, as measured
ui-measure-line-empty = Empty: the plate's own width and depth give the scale.
ui-measure-again = Tap anew
ui-measure-go = Measure
ui-measure-left-rear = Tap the plate's left rear corner, as seen from outside.
ui-measure-right-rear = Tap the plate's right rear corner, as seen from outside.
ui-measure-right-front = Tap the plate's right front corner, as seen from outside.
ui-measure-left-front = Tap the plate's left front corner, as seen from outside.
ui-measure-now = Measure now. A hole that was not found can be tapped, then measure again.
ui-measure-hole = { $hole }.{ $known ->
    [yes] { " " }It is an entry already.
   *[no] { " " }New.
 }{ $doubt ->
    [doubts] { " " }Note: { $doubts }. Tick it only after a look.
    [unsure] { " " }Not certain: look at it.
   *[none] {""}
 }

## Papers

ui-papers = Papers
ui-paper = Paper
ui-papers-pick = Pick a paper to see its pages.
ui-papers-before = Before you use it
ui-papers-setting = Setting the pages…
ui-papers-save = Save { $format }
ui-papers-saved = Saved: { $file }.{ $lacking ->
    [yes] { " " }Not in it: { $lacks }.
   *[no] {""}
 }
ui-papers-page = { $paper }, page { $page } of { $count }
ui-papers-saved-as = Saved as{" "}

## Photos

ui-photos = Photos
ui-photos-take = Take a photo…
ui-photos-file = From a file…
ui-photos-none = No photo yet. The original is kept as it is; marks lie over it.
ui-photos-words-first = Write the words first, then tap where they go.
ui-photos-mark-words = Words of the mark
ui-photos-words = words
ui-photos-tap = Write the words, then tap where they go.
ui-photos-drag = Drag over the picture.
ui-photos-pick = Pick a mark to draw.
ui-photos-shows = Shows
ui-photos-remove = Remove this photo
ui-photos-kept = Photo kept.
ui-photos-photo = Photo, { $about }
ui-photos-the-board = the board
ui-photos-pole = pole { $pole }{ $feeds ->
    [yes] , { $description }
   *[no] {""}
 }
ui-photos-marks = { $count ->
    [one] 1 mark
   *[other] { $count } marks
 }
ui-photos-arrow = Arrow
ui-photos-box = Box
ui-photos-shape-text = Text
ui-photos-text = Text: { $text }
ui-photos-mark = Mark

## Notes

ui-notes-seen = Seen and noted
ui-notes = Notes
ui-notes-new = New note
ui-notes-keep = Keep the note
ui-notes-about = About
ui-notes-the-board = the board
ui-notes-not-right = What is not as it should be
ui-notes-where = Where
ui-notes-record = Record it
ui-notes-circuit = circuit { $circuit }

## Settings

ui-theme-auto = As the device
ui-theme-light = Light
ui-theme-dark = Dark
ui-theme-contrast = High contrast
ui-settings-patterns-added = Enclosure patterns added.
ui-settings-pattern-not-added = No pattern was added.
ui-settings-look = Look
ui-settings-role = Your role: it is kept with every reading you enter
ui-settings-role-set = Role set.
ui-settings-patterns = Enclosure patterns
ui-settings-add-patterns = Add patterns (TOML)…
ui-settings-sound = Is what is stored sound?
ui-settings-sound-how = Every change and photo is read now and then and compared with its hash.
ui-settings-sound-check = Check all of it now
ui-tables-taken = Your tables are taken. They count from now on.
ui-tables-put-back = The tables that came with the program count again.
ui-tables-save-csv = Save as CSV
ui-tables = Tables
ui-tables-what = The checks read published tables. Give your own in their place: CSV files of the same names and columns. Each check that looks one up says whose it is.
ui-tables-use-ours = Use ours
ui-tables-none = None is yours: all came with the program.
ui-tables-yours = Yours
ui-tables-use-all-ours = Use the tables that came with the program
ui-tables-choose = Choose tables (CSV)…
ui-tables-whose = Whose tables are these? A standard and its edition
ui-tables-take = Take these tables
ui-tables-refused = No table was taken; what counted before counts on.
ui-tables-mend = Put it right in the file, then choose the files again.
ui-settings-surveyor = Surveyor
ui-settings-office = Office
ui-settings-patterns-known = { $count } patterns are known here.
ui-settings-version = Waywright { $version }
ui-settings-sound-under-way = Under way: { $documents } boards and sites, { $changes } changes, { $photos } photos read.
ui-settings-sound-found = { $bad ->
    [0] All of it is sound
    [one] One thing is bad
   *[other] { $bad } things are bad
 }: { $documents } boards and sites, { $changes } changes, { $photos } photos read, { $healed } mended; { $at }.
ui-tables-save = Save { $file }
ui-tables-own = : of { $whose }, { $count ->
    [one] 1 row
   *[other] { $count } rows
 }
ui-tables-use-our = Use our { $file }
ui-tables-ours = Tables that came with the program ({ $count })
ui-tables-file = { $file }, { $count ->
    [one] 1 row
   *[other] { $count } rows
 }
ui-tables-chosen = Chosen: { $files }.
# A refused table: file and line, what is wrong, what was found there, what would put it right.
ui-tables-refusal = { $place }: { $message }{ $found ->
    [yes] { " " }(found "{ $value }")
   *[no] {""}
 }. To put it right: { $remedy }.
