# What is weighed before it is decided: an even loading of the lines, fault currents place by place, what to read next.

## An even loading of the lines

allocate-move = Move { $circuit } from { $from } to { $to }.
allocate-exchange = Take all of these out, then put each in its new place: { $parts }.
allocate-part = { $circuit } from { $from } to { $to }
allocate-rests-entered = on the currents entered
allocate-rests-ranges = on the currents entered, { $ranges } of { $all } circuits at the middle of what they may draw: measured currents may ask for other moves

allocate-three-phase = only a three-phase supply can be balanced
allocate-enclosure = pick the enclosure's pattern first
allocate-contradiction = circuits { $one } and { $other } cannot be kept as wished: drop one of the wishes
allocate-no-room = no allocation keeps all wishes: drop one, or allow more effort

## Fault currents

fault-at-origin = origin
fault-at-board = board
fault-at-end = end of { $circuit }
fault-from = from { $low }
fault-between = { $low } to { $high }
fault-note-range = Smallest: warm conductors, lowest voltage, what a device must trip on. Largest: cold conductors, highest voltage, what it must break. By the method of IEC 60909-0, on ranges.
fault-note-motors = Motors that feed a fault are not counted.

## What to read next: whom it concerns

errand-circuit = { $name } { $description }
errand-circuit-unnamed = unnamed circuit
errand-incoming = incoming cable
errand-kind = { $kind }: { $circuits }
errand-circuits = { $circuits }
errand-more = { $circuits } and { $count } more
place-field = { $subject }: { $field }
