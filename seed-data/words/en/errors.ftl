# What goes wrong with what is read or saved. What a library says of it stands in quotes or brackets, as it came.

place-line-column = line { $line }, column { $column }
problem-file-json = the file does not read as JSON of a survey: { $why }
problem-unreadable = this does not read: { $why }

## A value as it is written in a file or typed

value-bytes = { $count } bytes
value-plain-number = write the { $what } as a plain number, such as 0.85
value-in-unit = write the { $what } in one of { $units }, such as "10 { $unit }"
value-no-number = "{ $value }" does not start with a number: { $wanted }
value-other-unit = "{ $value }" is not a { $what }: { $wanted }
value-too-large = "{ $value }" is too large a number
value-no-pole = "{ $value }" is no pole: write way and phase, such as "3L2", or the way alone on a single-phase board
value-way-from-1 = "{ $value }": ways are numbered from 1
value-both = give the { $what } as "value" or as "between", not both
value-order = "between" runs from { $from } to { $to }: write the smaller { $what } first
value-needed = a { $what } that is { $known } needs a "value" or "between"
value-needed-thing = something that is { $known } needs a "value"
value-unknown = an unknown { $what } has no value: say it is assumed, and by which rule
value-unknown-thing = an unknown thing has no value: say it is assumed, and by which rule
value-tolerance = the tolerance of a { $what } is not negative

## The store

store-newer = { $path } was written by a newer version (format { $found }; this version reads up to { $known }): update the app
store-too-old = { $path } has format { $found }; this version reads { $oldest } and later: open it with an earlier version first
store-foreign = { $path } is a database of another program: choose another place for the store
store-damaged = the database is damaged ({ $why }): close the app and open it again to recover what can be read
store-no-room = { $path } is damaged ({ $why }), and there is no room on its disk to recover it: make room for { $need } MB, then open it again. Nothing was changed
store-held = { $path } is open in { $who }: { $why }
store-gone = { $path } is no longer the file that was opened: it was renamed, deleted or replaced. This was not saved; what was saved before is in the file that was opened. Close the app, put the file back and open it again
store-not-found = there is no { $kind ->
    [board] board
   *[site] site
 } { $id } in this store
store-exists = { $kind ->
    [board] board
   *[site] site
 } { $id } is in this store already
store-unreadable = document { $id } cannot be read: { $why }
store-refused = refused: { $problems }
store-nothing = { $what ->
    [redo] nothing to redo
   *[undo] nothing to undo
 }
store-no-conflict = no such value stands at { $path }: look at the field again, it may be settled already
store-photo = the photo cannot be taken in: { $why }
picture-changed = its bytes changed while it was read; take it in again
picture-unreadable = it cannot be read ({ $why }); take or export it again
picture-other-kind = it is neither JPEG nor PNG: export it as one of these
picture-large = it has { $size } MB; up to { $most } MB will do
picture-pixels = it has { $across } by { $down } pixels; up to { $most } million will do
picture-damaged = it is damaged; take or export it again
picture-short = it ends too soon; take or export it again
picture-heavy = its { $across } by { $down } pixels need { $need } MB of memory, and { $room } MB are used for one: { $format ->
    [png] save it without interlacing
   *[jpeg] save it as a plain JPEG, not a progressive one
 }, or with up to { $fit } million pixels
picture-no-smaller = a smaller picture of it cannot be made ({ $why })
store-no-photo = the photo { $hash } is not in this store
store-damaged-photo = the photo { $hash } is damaged in this store: import a bundle that holds it, or take the picture file in again
store-disk-full = the disk is full, or the store's files may not grow further ({ $why }): make room, then do it again. What was saved before is there
store-failed = the database failed: { $why }
store-file = { $path }: { $why }

document-unreadable = the bytes cannot be read as a document: { $why }
document-copied = two copies of one store made different changes under the same name ({ $actor }, number { $number })
document-missing = { $count } earlier changes are missing; send them first
document-broke = the bytes broke the reader; nothing of them was taken in
document-path = "{ $path }" is not a path of a field; one looks like /supply/ze
document-inside = { $path } lies inside a value that is stored whole: set the whole value
document-record = { $path } is a record: set its "removed" field to hide it
document-whole = the whole document can only be set to an object
document-not-one = it is not one document in the form a bundle has

## A bundle; { $entry } is a file in it

bundle-none = this is not a bundle of a site ({ $why }): give a file made by "export site"
bundle-newer = the bundle was written by a newer version (format { $found }; this version reads up to { $known }): update the app
bundle-entry = { $entry } in the bundle: { $why }
bundle-not-written = the bundle cannot be written: { $why }
bundle-changed = it changed while it was read
bundle-again = { $why }; ask for the bundle again
bundle-picture-short = it ends before the picture does: a part of it is missing; ask for the bundle again
bundle-reads-otherwise = it does not read as the manifest says; update both apps, then export again
bundle-not-all = not all of it arrived; import the bundle again
bundle-twice = it is there twice, and one may hide the other; ask for the bundle again
bundle-version-0 = it says version 0, and the first is 1, this one { $version }
bundle-manifest = it does not read: { $why }
bundle-named-twice = the manifest names it twice
bundle-not-named = the manifest does not name it; ask for the bundle again
bundle-missing = it is missing; ask for the bundle again
bundle-unreadable = it cannot be read ({ $why }); ask for the bundle again
bundle-large = it has { $size } bytes; up to { $most } are read
bundle-unpacks = it unpacks to far more than a survey would
bundle-longer = it has more bytes than it says; up to { $most } are read
bundle-one-site = a bundle holds one site and its boards
bundle-documents = the documents are larger than { $most } bytes
bundle-bytes-manifest = its bytes are not those the manifest names; ask for the bundle again
bundle-photos = the photos are larger than { $most } bytes
bundle-bytes-name = its bytes are not those its name says; ask for the bundle again

## A table of one's own

table-place = { $table }
table-place-column-alone = { $table }, column "{ $column }"
table-place-line = { $table }, line { $line }
table-place-column = { $table }, line { $line }, column "{ $column }"
table-error = { $table }, row { $row }, column "{ $column }", found "{ $value }": { $remedy }
table-begin-where-the-row-before-ends = begin where the row before ends, the first row at 0
table-give-rows-of-resistivity-and-of = give rows of resistivity and of depth for D1 and for D2
table-write-the-smaller-share-under-low = write the smaller share under low, neither above 1
table-give-a-row-for-power-factor = give a row for power_factor and one for drop_limit
table-write-the-less-demanding-form-under = write the less demanding form under least
table-drier-or-deeper-ground-allows-no = drier or deeper ground allows no more
table-a-longer-length-in-insulation-allows = a longer length in insulation allows no more
table-give-a-plain-number-with-a = give a plain number with a decimal point, such as 2.5
table-give-a-number-above-zero = give a number above zero
table-give-rows-for-b-52-17 = give rows for B.52.17 item 1, B.52.18 touch and B.52.19 multicore touch
table-this-row-is-missing-add-it = this row is missing: add it
table-give-a-row-for-lighting-and = give a row for lighting and one for other
table-a-breaker-trips-at-once-by = a breaker trips at once by type B, C or D; other rows are for any or gG
table-give-a-breaker-s-instantaneous-rows = give a breaker's instantaneous rows for B, C and D and one conventional row
table-put-the-rows-in-rising-order = put the rows in rising order of rating, each once
table-clearing-faster-takes-no-less-current = clearing faster takes no less current than imax_5s
table-give-the-sizes-of-a-construction = give the sizes of a construction in rising order
table-give-at-least-one-size-of = give at least one size of it
table-give-a-whole-number-of-cores = give a whole number of cores
table-write-the-smaller-number-under-low = write the smaller number under low
table-this-row-is-given-twice-keep = this row is given twice: keep one
table-give-a-row-of-this-field = give a row of this field for any load
table-give-the-derivation-s-residual-5 = give the derivation's residual, -5 to 5 percent, or mark the row memory
table-a-hotter-place-allows-no-more = a hotter place allows no more
table-more-circuits-together-carry-no-more = more circuits together carry no more each
table-a-larger-size-has-no-more = a larger size has no more resistance
table-a-larger-cable-has-no-less = a larger cable has no less armour
table-write-the-shorter-time-under-t = write the shorter time under t_min_s
table-give-a-factor-up-to-1 = give a factor up to 1
table-write-the-smaller-rating-under-in = write the smaller rating under in_over
table-give-b-for-top-top-covered = give b for top, top_covered, exposed and covered, and rows of k and c
table-more-circuits-carry-no-more-each = more circuits carry no more each
table-a-larger-surface-gets-no-warmer = a larger surface gets no warmer
table-a-taller-enclosure-is-no-cooler = a taller enclosure is no cooler at its top
table-csv = the table does not read as CSV: { $why }
table-no-column = this column is missing: give { $columns }
table-values = { $found } values in the row: give { $wanted }, one for each column
table-no-rows = the table has no rows: give at least one
table-one-of = give one of: { $words }
table-larger-size = a larger size carries no less
table-follows = at { $key }: { $rule }
table-why = say why this range is taken
table-source = name the standard, or say that there is none
table-row-each = give one row each for { $names }
