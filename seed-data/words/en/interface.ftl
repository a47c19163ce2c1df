# The interface's own words: headings, buttons, hints, what it says of what was done. An id begins with "ui-" and the
# screen or part.

## All screens

ui-try-again = Try again
ui-to-content = To the content
ui-all-boards = All boards
ui-opening-board = Opening the board…
ui-theme-auto = As the device
ui-theme-light = Light
ui-theme-dark = Dark
ui-theme-contrast = High contrast

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
ui-verdict-holds = holds
ui-verdict-fails = fails
ui-verdict-undecided = undecided
ui-verdict-advised = beyond advice
ui-verdict-none = no checks
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

ui-check-settle = Would settle it, most useful first:
ui-check-rests = What this rests on
ui-cautions-all = All cautions
ui-cautions = Cautions
ui-circuit-named = Circuit { $circuit }
ui-gland-plate = Gland plate
ui-board = Board
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

## Two values of one field

ui-conflict-two = ⇄ Two values:{" "}
ui-conflict-both = { $field }. Both were entered and both are kept. Pick one:
ui-conflict-use = Use { $value }{ $said ->
    [yes] { " " }(entered by { $by })
   *[no] {""}
 }
ui-conflict-settled = Settled: { $value }.

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
ui-enclosure = Enclosure
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

ui-board-drawing = Drawing
ui-board-which-enclosure = Which enclosure is it?
ui-board-not-drawn = The board is drawn once its enclosure is known.
ui-board-follows = What follows
ui-pick-one = pick one
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
ui-not-added = Not added.
ui-add-pole = First pole
ui-add-feeds = What it feeds
ui-add-poles = Poles
ui-add-device = Device
ui-add-load = Load
ui-add-it = Add it
ui-back-to-board = Back to the board
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
