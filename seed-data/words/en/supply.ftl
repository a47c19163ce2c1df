# Words of the supply side and of the board as a whole: its currents, its supply cable, incomer and busbars, its
# earthing, its fault currents, what opens first. { $verdict } chooses the form: holds, fails, undecided.

## What carries the board's current

bearer-incomer = incomer
bearer-busbars = busbars
bearer-upstream = upstream device

board-label-design-current = design current of { $circuit }
board-label-third-harmonic = third harmonic of { $circuit }
board-ask-load = measure the circuit's current with a clamp at full load, or read the load's rating plate

input-up-to-device = { $value }: up to its device's rating
input-no-share = what was entered is no number: counted as anything from 0 to 100 %

## Labels that several checks share

supply-label-incomer-rated = rated current of the incomer
supply-label-busbars-rated = rated current of the busbars
supply-label-upstream = rated current of the upstream device
supply-label-phases = phases of the supply

## Readings that several checks ask for

supply-ask-incomer-rated = read the rating on the incomer
supply-ask-busbars-rated = read the rating plate of the board
supply-ask-upstream = read the rating of the device upstream
supply-ask-phases = find whether the supply is single- or three-phase

## Clauses

incomer-current-clause = IEC 61439-1, 5.3.2, with IEC 61439-3 (clauses from memory): line current ≤ rated current of the incomer
neutral-current-clause = IEC 61439-1, 5.3.2, with IEC 61439-3 (clauses from memory): neutral current ≤ rated current of the incomer
busbar-current-clause = IEC 61439-1, 5.3.1, with IEC 61439-3 (clauses from memory): line current ≤ rated current of the busbars
upstream-current-clause = IEC 60364-4-43, 433.1: Ib ≤ In, for the cable that feeds the board
