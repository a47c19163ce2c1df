# What follows from the incomer and the supply: terminals, blanks, labels. And names of what is built and drawn.

terminal-incomer-pole = incomer pole { $conductor }
terminal-busbar-lug = busbar lug { $conductor }
terminal-busbar-lug-only = busbar lug
terminal-neutral-direct = neutral bar, direct terminal
terminal-earth-main = earth bar, main terminal

direct-neutral-carries = takes the incoming neutral
direct-neutral-empty = leave empty: a neutral here would bypass the incomer
direct-neutral-unknown = not settled: the arrangement is not known

incomer-not-known = incomer not known

# The wire in a rewirable fuse, by its rating.
rating-wire = wire { $rated }

cable-method = method { $method }

## Labels: the words on each, where it goes, why it is owed and where that stands

label-on-board = on the board
label-on-cover = on the cover
label-on-chart = on the chart
label-at-incomer = at the incomer
label-common-practice = common practice, no source

label-chart = Circuit chart
label-chart-place = inside the door or next to the board
label-chart-source = BS 7671 514.9.1

label-inspection = Last inspected … Next inspection due …
label-inspection-source = BS 7671 514.12.1, owed at or near the origin; on the board itself common practice, no source

label-rcd-test = Residual current device fitted. Press the test button every six months: it must switch off. If it does not, call a competent person.
label-rcd-test-place = one, at or near the origin of the installation
label-rcd-test-source = BS 7671 514.12.2

label-voltage = More than 230 V to earth
label-voltage-between = { $voltage } between neighbouring poles
label-voltage-place = seen before the cover comes off
label-voltage-source = BS 7671 514.10.1, from memory

label-protective-current = Circuits with more than 10 mA of protective conductor current: see the chart. Do not disconnect their protective conductors while live.
label-protective-current-place = at the board, seen by whoever works on or adds to these circuits
label-protective-current-source = BS 7671 543.7.1.205, from memory

label-solid-neutral = The incomer does not switch the neutral

label-phase-link = Single-phase supply. The three busbars are linked: every way is on the same line. No two- or three-pole line devices.
label-phase-link-place = at the incomer and on the chart

label-isolate-elsewhere = No isolator here. Isolate at { $from }, lock off and prove dead.
label-isolate-elsewhere-source = BS 7671 514.11.1, from memory

label-two-colours = Wiring in two versions of the conductor colours. Take care before any change.
label-two-colours-source = BS 7671 514.14.1

label-surge = Surge protective device fitted: disconnect before insulation testing.
label-surge-source = BS 7671 514.16.1, from memory
