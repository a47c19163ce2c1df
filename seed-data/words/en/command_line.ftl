# What the command line prints. Names of commands, options and files stay as they are.

## What goes wrong before or around a command

cli-no-language = there are no words in the language "{ $language }"
cli-no-place = no place for the store: give --data FOLDER
cli-no-window = this program was built without the window: use "waywright serve"
cli-standard-input = standard input: { $why }
cli-standard-output = standard output: { $why }
cli-file = { $file }: { $why }
cli-no-file = { $file }: there is no such file
cli-no-folder = { $folder }: there is no such folder
cli-read-only = { $folder } cannot be written: the store is read, nothing in it is changed
cli-clock = this device's clock says { $date }: set it, since every reading is stamped with it
cli-bytes = { $bytes } bytes
cli-byte = byte { $place }
cli-several-boards = several boards are called { $board }: give the id, see "waywright boards"
cli-no-board = there is no board { $board }: see "waywright boards"
cli-no-site = there is no site "{ $site }"
cli-no-circuit = there is no circuit { $circuit } on { $board }
cli-no-circuit-here = there is no circuit { $circuit } on this board
cli-no-plate-here = { $place }: there is no such plate on this board
cli-no-photo-here = there is no such photo on this board

## The host

cli-serving = Waywright at { $address }
cli-no-host = the host does not start: { $why }
cli-no-key = no key can be made

## check

cli-checked = { $documents } boards and sites, { $changes } changes, { $photos } photos checked by their hashes; { $healed } mended from what was sound
cli-bad = bad: { $what }
cli-sound = all of it is sound

## boards

cli-circuits = { $count ->
    [one] 1 circuit
   *[other] { $count } circuits
 }

## findings

cli-finding = { $subject }: { $sentence }
cli-next = next: { $what }
cli-next-settles = next: { $what } (settles { $share } %)
cli-next-of = { $of }: { $what }
cli-reading = reading { $number } { $label }: { $what } (helps { $count ->
    [one] 1 check
   *[other] { $count } checks
 })
cli-conflict = conflict
cli-conflict-values = { $field } ({ $path }): { $values }
cli-wrong = wrong
cli-doubt = doubt

## what-if

cli-now = now: { $tally }
cli-then = then: { $tally }

## balance

cli-balance = largest line { $largest_before } -> { $largest }, neutral { $neutral_before } -> { $neutral }; no allocation comes below { $bound } ({ $proven ->
    [yes] proven
   *[no] not proven the best
 })

## size

cli-size = { $size }: { $verdict }
cli-size-with-cpc = { $size } with { $cpc }: { $verdict }
cli-size-holds = holds
cli-size-no = no
cli-size-only-if = only if what is undecided turns out well
cli-size-only-if-read = only if; { $next }
cli-size-none = with no cable that is made does every check hold as the cable runs

## fault-currents

cli-fault-from = at the board { $from }
cli-fault-three-phase = three-phase: { $current }
cli-fault-line-line = line to line: { $current }
cli-fault-line-neutral = line to neutral: { $current }
cli-fault-line-earth = line to earth: { $current }

## tables, add-tables, use-our-tables

cli-table-rows = { $count ->
    [one] 1 row
   *[other] { $count } rows
 }
cli-table-ours = came with the program
cli-table-users = the user
cli-table-counts = { $table }: counts from now on, { $rows }, of { $whose }
cli-table-put-back = { $table }: ours counts again, { $rows }
cli-table-none = there is no table "{ $table }"
cli-table-wrong = { $folder }: { $problem }; or take the file away
cli-table-whose = whose tables these are
cli-table-files = files
cli-table-table = table
cli-table-line = { $file }, line { $line }

## import

cli-kept = { $place }: { $here } stays; { $file } in the file stood here before: set it by hand if it is right
cli-replaced = { $place }: { $file } of the file took the place of { $here }: undo brings that back
cli-more-kept = { $count ->
    [one] 1 more field stays as it is here
   *[other] { $count } more fields stay as they are here
 }
cli-more-replaced = { $count ->
    [one] 1 more field was replaced
   *[other] { $count } more fields were replaced
 }

## Values and conflicts

value-empty = empty
value-yes = yes
value-no = no
value-known = { $value } ({ $known })
value-between = { $least } to { $most }
conflict-removed = { $subject } was removed while it was edited: { $fields }
conflict-removed-more = { $subject } was removed while it was edited: { $fields } and { $count } more
conflict-leave = leave it removed
conflict-keep = keep it

## Files of an earlier version that are taken into the store

side-note = { $file }, { $note }
side-no-role = { $file }, line 1: this is no role; set it again
side-taken = { $file } was taken into the store; the file is { $now } now
side-not-renamed = { $file } was taken into the store but cannot be renamed: { $why }
side-large = { $file }: { $length } bytes; up to { $most } are read
side-byte = line { $line }: a byte that is no letter was read as { $letter }
side-pattern = line { $line }: the pattern that begins here does not read ({ $why }); add it again
