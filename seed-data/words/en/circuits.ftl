# Sentences of the electrical checks. { $verdict } chooses the form: holds, fails, undecided. { $value } and { $limit }
# are what a rule compares, with their units.

not-settled = Not settled: { $why }.
not-settled-for-want-of = Not settled, for want of: { $what }.
not-settled-for-want-of-more = Not settled, for want of: { $what } and { $more } more.
to-settle-it = To settle it, { $ask }.

## A circuit: device, cable and load

device-current = { $verdict ->
    [holds] The load draws { $value }; the { $limit } device carries it.
   *[fails] The load draws { $value }, too much for the { $limit } device.
    [undecided] The load draws { $value }; whether the { $limit } device carries it is undecided.
 }
device-current-linked = { $verdict ->
    [holds] A third of the load, { $value }, is on each pole; the { $limit } device carries it.
   *[fails] A third of the load, { $value }, is on each pole; the { $limit } device does not carry it.
    [undecided] A third of the load, { $value }, is on each pole; whether the { $limit } device carries it is undecided.
 }
device-current-warm = The load draws { $value }; in an enclosure whose air reaches { $inside } the device carries { $limit }: undecided.

cable-current = { $verdict ->
    [holds] { $lies } the cable carries { $limit }, enough for the { $value } { $device }.
   *[fails] { $lies } the cable carries only { $limit }; the { $value } { $device } is too large for it.
    [undecided] { $lies } the cable carries { $limit }; whether that suits the { $value } { $device } is undecided.
 }
cable-lies = As it lies
cable-lies-with-harmonics = As it lies, its neutral loaded by third harmonics,
cable-device = device
cable-device-upstream = device upstream
no-overcurrent-device = The circuit has no overcurrent device of its own.

overload-trip = { $verdict ->
    [holds] The device surely opens at { $value }, before the cable's overload limit of { $limit }.
   *[fails] The device may carry { $value } for an hour or more, beyond the cable's overload limit of { $limit }.
    [undecided] The device surely opens at { $value }; the cable's overload limit lies at { $limit }: undecided.
 }

volt-drop = { $verdict ->
    [holds] From origin to load { $lost } is lost, within { $limit }.
   *[fails] From origin to load { $lost } is lost, more than { $limit }.
    [undecided] From origin to load { $lost } is lost against { $limit }: undecided.
 }
volt-drop-in-volts = { $value } ({ $volts })

fault-loop = { $verdict ->
    [holds] Warm, the earth fault loop comes to { $value }; { $by } opens in time up to { $limit }.
   *[fails] Warm, the earth fault loop comes to { $value }; { $by } opens in time only up to { $limit }.
    [undecided] Warm, the earth fault loop comes to { $value }; { $by } opens in time up to { $limit }: undecided.
 }
fault-loop-blind = The RCD before it is blind: a load behind it leaks smooth direct current, and it is not of type B.
opened-by-rcd-rated = the { $rated } RCD
opened-by-rcd-rated-upstream = the { $rated } RCD upstream
opened-by-rcd = the RCD
opened-by-fuse = the { $rated } fuse
opened-by-breaker = the { $rated } breaker
opened-by-breaker-type = the { $type }{ $rated } breaker
opened-by-device = the device

fault-loop-measured = { $verdict ->
    [holds] Cold, the loop is { $value }, within { $limit }.
   *[fails] Cold, the loop is { $value }, above { $limit }: warm, it may not open the device in time.
    [undecided] Cold, the loop is { $value } against { $limit }: undecided.
 }
zs-below-line = Zs of { $read } was read, but the line conductor alone has { $line } by its length and size: measure both again
zs-below-electrode = the electrode is a part of this loop, and was read larger than all of it: measure both again
zs-far-above = Zs of { $read } was read where length and sizes give { $most } at most: a bad joint, another length, another conductor
loop-by-rcd-upstream = the loop comes to { $value }, and on overcurrent the device opens in time only up to { $limit }; an RCD upstream may open: read its rated residual current

breaking-capacity = { $verdict ->
    [holds] A fault here draws { $value }; the device breaks { $limit }.
   *[fails] A fault here draws { $value }; the device breaks only { $limit }.
    [undecided] A fault here draws { $value }; whether the device breaks it ({ $limit }) is undecided.
 }
breaking-direct = A fault here draws { $value } of direct current; the device is not for that.
breaking-it = A fault here draws { $value }; the device is not for an IT system, where one pole has to break the voltage between lines.
breaking-direct-unread = what a device breaks of direct current is another figure: read whether its data allow it, and that short-circuit capacity
breaking-it-unread = in an IT system a second fault leaves the voltage between lines to one pole of the device (IEC 60364-4-43, 431.2.2 and IEC 60947-2, annex H, from memory): read whether it is for that
backed-up-unread = makers' tables back up one device by another: read what the device upstream is, and its rating
backed-up-perhaps = a fault here draws { $value } and the device breaks only { $limit }; by the makers' table the device upstream may back it up

line-energy = { $verdict ->
    [holds] At worst a short circuit needs { $most } of conductor; it has { $limit }.
   *[fails] A short circuit needs { $value } of conductor to stay cool enough; it has only { $limit }.
    [undecided] A short circuit needs { $value } of conductor to stay cool enough; it has { $limit }: undecided.
 }
cpc-energy = { $verdict ->
    [holds] At worst the protective conductor needs { $most }; it has { $limit }.
   *[fails] The protective conductor needs { $value }; it has only { $limit }.
    [undecided] The protective conductor needs { $value }; it has { $limit }: undecided.
 }
cpc-energy-by-table = By table 54.2 the protective conductor needs { $most } at most; it has { $limit }.

socket-rcd = { $verdict ->
    [holds] An RCD of { $value } protects the { $what }.
   *[fails] The RCD of { $value } is too coarse for the { $what }: { $limit } at most.
    [undecided] The RCD is rated { $value }; the { $what } may have { $limit } at most: undecided.
 }
socket-rcd-blind = The RCD before the { $what } is blind: a load behind it leaks smooth direct current, and it is not of type B.
socket-rcd-none = No RCD protects the { $what }; a new one needs an RCD of { $limit } at most.
socket-outlets = socket-outlets
charging-point = charging point
socket-rcd-reduced-unread = whether an RCD is required or only advised: find whether the supply is of reduced low voltage
socket-rcd-points-share = one RCD watches several charging points, and each needs its own: look whether the charger has one inside, else fit one to each circuit
socket-rcd-delayed = no RCD of 30 mA is made with a delay, and one that waits protects nobody: read both again
socket-rcd-rating-unread = socket-outlets of up to 32 A need an RCD of 30 mA whatever device feeds them: read their rating
two-poles-of-three = the incomer is a two-pole RCD on a supply of three lines: look whether line and neutral of this circuit pass through it

ring-or-radial = as a radial circuit its cable carries { $carried }, too little for the device; as a ring 20 A would do
beyond-breakers = so high a voltage to earth is not one that breakers or RCDs are made for: measure it again, and read the device's rated voltage
supply-readings-deny = readings of the supply deny each other, and one of them is wrong: measure Ze and Ipf again

## A circuit: faults beside the loop itself

touch-voltage = { $verdict ->
    [holds] Before the RCD opens no more than { $value } can stay on exposed parts, within { $limit }.
   *[fails] Up to { $value } can stay on exposed parts with the RCD closed, more than { $limit }: a finer RCD or a better electrode is needed.
    [undecided] { $value } can stay on exposed parts before the RCD opens, against { $limit }: undecided.
 }
first-fault = { $verdict ->
    [holds] A first fault puts { $value } on exposed parts, within { $limit }: supply goes on and the insulation monitor must tell.
   *[fails] A first fault puts { $value } on exposed parts, more than { $limit }.
    [undecided] A first fault puts { $value } on exposed parts, against { $limit }: undecided.
 }
short-circuit-trip = { $verdict ->
    [holds] A short circuit at the far end draws at least { $least }; the device opens { $when } at { $value }.
   *[fails] A short circuit at the far end draws { $limit } at least, too little for the device, which opens { $when } only at { $value }.
    [undecided] A short circuit at the far end draws { $limit } at least; the device opens { $when } at { $value }: undecided.
 }
opens-within-5-s = within 5 s
opens-by-short-circuit-releases = within 5 s by its short-circuit releases
opens-at-once = at once
conductor-bears-it = The conductor bears it for { $time }.
short-time-release-opens = Its short-time release opens it from { $current } on, in { $time }.

## A circuit: its neutral

neutral-overcurrent = { $verdict ->
    [holds] An overcurrent in the neutral opens every live conductor, as an IT system asks.
   *[fails] In this IT system the neutral is distributed, and no release watches this circuit's: the device must open line and neutral on an overcurrent in either.
    [undecided] Whether an overcurrent in the neutral opens every live conductor, as an IT system with a distributed neutral asks, is undecided.
 }
neutral-load = { $verdict ->
    [holds] Third harmonics put { $value } into the neutral; it carries { $limit }.
   *[fails] Third harmonics put { $value } into the neutral, which carries only { $limit }: choose the size by the neutral.
    [undecided] Third harmonics put { $value } into the neutral; whether its { $limit } are enough is undecided.
 }
neutral-linked = { $verdict ->
    [holds] The three poles are on one line, and their sum returns in the neutral: { $value }; it bears { $limit }.
   *[fails] The three poles are on one line, and their sum returns in the neutral: { $value }, and it bears only { $limit }. Each pole's device lets three times its rating into it.
    [undecided] The three poles are on one line, and their sum returns in the neutral: { $value }; whether it bears that ({ $limit }) is undecided.
 }
neutral-energy = { $verdict ->
    [holds] A short circuit needs { $value } of neutral; it has { $limit }.
   *[fails] A short circuit needs { $value } of neutral; it has only { $limit }.
    [undecided] A short circuit needs { $value } of neutral; it has { $limit }: undecided.
 }
neutral-size = { $verdict ->
    [holds] The neutral must have { $value }; it has { $limit }.
   *[fails] The neutral must have { $value }; it has only { $limit }.
    [undecided] The neutral must have { $value } and has { $limit }: undecided.
 }

## A circuit: what the load does

start-drop = { $verdict ->
    [holds] While the motor starts { $value } is lost on the way to it, within { $limit }.
   *[fails] While the motor starts { $value } is lost on the way to it, more than { $limit }: it may not come up.
    [undecided] While the motor starts { $value } is lost on the way to it, against { $limit }: undecided.
 }
start-trip = { $verdict ->
    [holds] The motor starts with { $value }; the breaker stays closed up to { $least } at least.
   *[fails] The motor starts with { $value }; the breaker trips at once at { $limit }.
    [undecided] The motor starts with { $value }; the breaker begins to trip at once somewhere at { $limit }: undecided.
 }
start-trip-fuse = { $verdict ->
    [holds] The motor starts with { $value }; the fuse stays closed to { $least } for 10 s at least.
   *[fails] The motor starts with { $value }; from { $limit } on the fuse opens within 5 s: the start must be shorter.
    [undecided] The motor starts with { $value }; the fuse begins to open within 5 s somewhere at { $limit }: undecided.
 }
terminal-temperature = { $verdict ->
    [holds] With { $value } the conductors are no warmer than the device's terminals bear; they may carry { $limit } there.
   *[fails] With { $value } the conductors are warmer than 70 °C; the device's terminals are not for that: { $limit } at most.
    [undecided] With { $value } the conductors may be warmer than the device's terminals bear ({ $limit }): undecided.
 }
continuous-load = { $verdict ->
    [holds] The load runs on: it counts in full, { $value }.
   *[fails] The load may run for hours at full power: it counts in full here, not by { $limit }.
    [undecided] The load may run for hours at full power: it counts in full here, not by { $limit }.
 }

## A circuit: the RCD's type

rcd-type = { $verdict ->
    [holds] The load's earth fault current needs an RCD of type { $value }; type { $limit } detects it.
   *[fails] The load's earth fault current needs an RCD of type { $value }; { $whose }, of type { $limit }, may not see it, or be blinded by it.
    [undecided] The load's earth fault current needs an RCD of type { $value }; whether { $whose }, of type { $limit }, will do is undecided.
 }

# The governing inequality with its numbers: { $left } and { $right } are the symbols of its two sides.
relation = { $verdict ->
    [holds] { $left } { $value } ≤ { $right } { $limit }
   *[fails] { $left } { $value } > { $right } { $limit }
    [undecided] { $left } { $value } ≤? { $right } { $limit }
 }
relation-bare = { $left } ≤ { $right }

## The board: what carries its current

bearer-carries = { $verdict ->
    [holds] { $carries }; the { $what } may carry { $limit }.
   *[fails] { $carries }; the { $what } may carry only { $limit }.
    [undecided] { $carries }; whether the { $what } ({ $limit }) carries that is undecided.
 }
neutral-carries = The neutral carries { $value }
line-carries = The line carries { $value }
lines-carry = The lines carry { $a }, { $b } and { $c }
lines-carry-unbalanced = The lines carry { $a }, { $b } and { $c }, { $unbalance } unbalance

shared-neutral-carries = { $verdict ->
    [holds] By their loads it carries { $value } of the { $limit } it bears, and no device opens on more.
   *[fails] It carries { $value } and bears { $limit }.
    [undecided] It carries { $value }; whether it bears that ({ $limit }) is undecided.
 }
neutrals-one-for-each = neutrals of { $circuits } circuits: one for each

## What checks rest on

input-assumed = { $value }: { $why }
input-reduced-low-voltage = { $value }: reduced low voltage
input-circuits-share-cable = { $value }, but { $circuits } circuits share the cable
input-in-supply-cable = { $value } in the supply cable
input-quarter-of-ends = { $value }, a quarter of r1 + r2
input-from-rod = { $value }, from the rod and the ground
input-air-inside = { $value } at the top, from the loads, the enclosure and the room
input-diversity = { $value }: the standard's figure, or what the maker states
input-calculated = { $value }, { $from }
input-no-curve = not at hand: by its standard it may open in time, or not
input-no-angle = 0° to 90°: an instrument tells the size alone

## Why a check of a circuit has no numbers: what does not fit, and what to do

gap-no-sense = { $what } of { $found } makes no sense: give { $bounds }
gap-no-sense-above-nothing = { $what } of { $found } makes no sense: give more than 0 and no more than { $most }
gap-direct-current = when a device opens on direct current and what it lets through then is not tabulated: read its data for direct current
gap-no-breaker = the tables have no breaker of this rating
gap-no-fuse = the fuse table has no such rating
gap-no-armour = the armour table has no such cable
gap-no-armour-resistance = the armour table has no such cable: measure R1+R2
gap-no-conduit-resistance = the resistance of conduit or trunking is not tabulated: measure R1+R2
gap-no-factor = the table of adiabatic factors has no such conductor
gap-no-conductor = the resistance table has no such conductor
gap-no-capacity = the capacity tables have no such cable
gap-no-soil = the table of soils ends below this ground
gap-no-depth = the table of depths ends above this one
gap-no-time = the table of disconnection times has no such voltage
gap-no-harmonic = the table of harmonics has no such share

gap-no-phases-linked = three poles on a single-phase supply all carry the one line, on which no three-phase motor runs
gap-not-overcurrent = this kind of device ({ $kind }) opens on no overcurrent: find what protects the circuit
gap-rewirable = the tables have no curve of a rewirable fuse: put a fuse or breaker of a known curve in its place
gap-rcd-blinded = smooth direct current of a load behind the RCD may blind it for all that it watches: look whether that load leaks such current, and whether the RCD is of type B
gap-rcd-type = whether the RCD is of a type that sees the load's earth fault current is undecided: read its type (AC, A, F or B), and in the load's data what form that current has
gap-rcd-direct = RCDs of type B are made for circuits of alternating current too, and those for direct current have a standard of their own (IEC TS 63053, from memory): read in its data whether it is for direct current
gap-rcd-wrong-type = { $whose } is of type { $fitted }, and the load's earth fault current needs type { $needed }: it may not see the fault, and nothing else is shown to end it in time
rcd-of-circuit = the circuit's RCD
rcd-of-circuit-own = the circuit's own RCD
rcd-of-incomer = the incomer's RCD
rcd-of-both = the circuit's own RCD, as the incomer's
rcd-types = { $least } to { $most }

gap-r1-r2-below-line = R1+R2 of { $read } was read, but the line conductor alone has { $line } by its length and size: measure both again
gap-no-earth = the protective conductor was seen missing or cut: restore it, measure it through, and mark what was seen as put right
gap-armour-not-joined = { $why }: look how the armour is joined to earth, and measure R1+R2 through it
armour-entry = its entry neither holds nor bonds the armour, which is its protective conductor
armour-plastic = its gland stands in a plate of plastic, and only a tag with a lead to the earth bar joins the armour, its protective conductor, to earth
gap-no-armour-there = a { $construction } cable has no armour: look what its protective conductor is
gap-reduced-it = reduced low voltage has its midpoint or star point earthed (BS 7671, 411.8.4.2, from memory), and an IT system has nothing earthed: one of the two was read wrongly
gap-ir-above-rating = an overload setting Ir of { $set } was read on a breaker rated { $rated }: none can be set above its rating; read both again
gap-ii-below-ir = a short-circuit setting Ii of { $short } was read below the overload setting Ir of { $set }: the breaker would open at the current it is to carry; read both again
gap-isd-below-ir = a short-circuit setting Isd of { $short } was read below the overload setting Ir of { $set }: the breaker would open at the current it is to carry; read both again
gap-current-and-power = a current of { $current } was entered, and a power that draws { $power }: look which of the two is the load's, or enter how much of it runs at once
gap-start-fuse = the motor starts with { $value }; its fuse stays closed to { $stays } for 10 s and opens within 5 s from { $opens } on: between the two the fuse's own curve decides, and how long the start lasts

gap-energy = at worst a fault here needs { $needed } of conductor and there is { $size }; { $ask }
gap-energy-endless = how long a fault here may last is not known, and so not whether the conductor of { $size } bears it; { $ask }
gap-energy-by-table = { $why }; table 54.2 alone asks for { $least }, but beside a line that bears the fault
energy-ask-class = read the energy-limiting class on the device (a 3 in a square), or take from its data what it lets through at the board's fault current
energy-ask-energy = take from the device's data what it lets through at the board's fault current
energy-ask-at = read in the data sheet at which fault current its let-through energy is said
energy-ask-setting = read what the breaker's short-circuit releases are set to
energy-ask-delay = take from the breaker's data in which time its short-time release opens at its delay setting
energy-ask-no-delay = no breaker opens in the time that was read: take from its data in which time its short-time release opens, all in all
energy-ask-slow = at the far end the device may be slow to open: take its time at that current from its own curve

## A circuit and what is on its way, as a person calls them

circuit-unnamed = unnamed circuit
device-rated = { $rated } { $kind }
device-not-rated = { $kind }, its rating not known
device-of-no-kind = device
blind-from-charging = from a charging point
blind-from-load = from a load that leaks it
leakage-of = leakage of { $circuit }
load-of = load of { $circuit }

## What the rules of a circuit rest on: standard and clause

device-current-clause = IEC 60364-4-43, 433.1: Ib ≤ In
device-current-warm-clause = IEC 60364-4-43, 433.1: Ib ≤ In; IEC 60898-1, 5.2.2 and 7.1: In is that at 30 °C, in air of up to 40 °C; above that the maker says what is left, or the assembly's by its diversity factor (IEC 61439-3; clauses from memory)
cable-current-clause = IEC 60364-4-43, 433.1: In ≤ Iz, with Iz by IEC 60364-5-52, 523
overload-trip-clause = IEC 60364-4-43, 433.1: I2 ≤ 1.45 Iz
volt-drop-clause = IEC 60364-5-52, annex G, table G.52.1
fault-loop-reduced-clause = BS 7671, 411.8.3 (from memory): reduced low voltage, 5 s; Zs ≤ Cmin·U0/Ia, by an RCD Zs ≤ 50 V/IΔn
fault-loop-tt-rcd-clause = IEC 60364-4-41, 411.5.3: RA·IΔn ≤ 50 V
fault-loop-tt-clause = IEC 60364-4-41, 411.5.4: Zs·Ia ≤ U0
fault-loop-it-clause = IEC 60364-4-41, 411.6.4: second fault, 2·Zs·Ia ≤ 0.95 U or RA·Ia ≤ 50 V
fault-loop-rcd-clause = IEC 60364-4-41, 411.4.4 and 411.4.5: Zs ≤ U0/5 IΔn, with Cmin 0.95 of HD 60364-4-41 and BS 7671
fault-loop-fuse-clause = IEC 60364-4-41, 411.4.4: Zs ≤ U0/Ia, with Cmin 0.95 of HD 60364-4-41 and BS 7671; Ia by BS 7671, tables 41.2 and 41.4, where they print it, else by the gates of IEC 60269-1 (all from memory)
fault-loop-type-d-clause = IEC 60364-4-41, 411.4.4: Zs ≤ U0/Ia, with Cmin 0.95 of HD 60364-4-41 and BS 7671; a type D may open by test d of IEC 60898-1, table 7, in 5 s (BS 7671, table 41.3; times from memory)
fault-loop-clause = IEC 60364-4-41, 411.4.4: Zs ≤ U0/Ia, with Cmin 0.95 of HD 60364-4-41 and BS 7671
fault-loop-no-system-clause = IEC 60364-4-41, 411.4.4 (TN), 411.5.3 (TT)
fault-loop-measured-clause = BS 7671, appendix 3: Zs measured cold ≤ 0.8 of the limit with Cmin; IEC 60364-6, annex D, advises two thirds of U0/Ia
breaking-capacity-clause = IEC 60364-4-43, 434.5.1: Ipf ≤ Icn, or backed up by the device upstream
line-energy-clause = IEC 60364-4-43, 434.5.2: I²t ≤ k²S² for every fault from the board to the far end
cpc-energy-clause = IEC 60364-5-54, 543.1: S ≥ √(I²t)/k or table 54.2
socket-rcd-charging-clause = IEC 60364-7-722, 722.531.3.101 and 722.411.3.3: IΔn ≤ 30 mA for each charging point
socket-rcd-clause = IEC 60364-4-41, 411.3.3 and 415.1: IΔn ≤ 30 mA for socket-outlets up to 32 A
touch-voltage-clause = IEC 60364-4-41, 411.5.3: RA·IΔn ≤ 50 V
first-fault-clause = IEC 60364-4-41, 411.6.2: RA·Id ≤ 50 V
short-circuit-trip-fuse-clause = IEC 60364-4-43, 434.5.2: the smallest Ik opens the fuse within 5 s
short-circuit-trip-adjustable-clause = IEC 60364-4-43, 434.5.2, with IEC 60947-2, 8.3.3.1.2 (from memory): the smallest Ik opens the breaker by its short-circuit releases, 20 % above their setting
short-circuit-trip-clause = IEC 60364-4-43, 434.5.2, with IEC 60898-1 table 7: the smallest Ik opens the breaker at once
start-drop-clause = IEC 60364-5-52, 525: a larger drop is allowed while a motor starts; 10 % is common practice
start-trip-adjustable-clause = IEC 60947-2, 8.3.3.1.2 (from memory): starting current below the band in which the breaker's short-circuit releases open, 20 % either way of their setting
start-trip-fuse-clause = IEC 60269-1, gates of gG (from memory): starting current below the one that opens the fuse within 5 s
start-trip-clause = IEC 60898-1, table 7: starting current below the band in which the breaker trips at once
terminal-temperature-clause = IEC 60364-5-52, table 52.1, note on conductors above 70 °C; BS 7671, 512.1.5 (both from memory): the device's terminals bear the conductor's temperature
continuous-load-charging-clause = IEC 60364-7-722, 722.311: demand factor 1 for a charging point
continuous-load-clause = common practice: heating may run for hours at full power
neutral-overcurrent-clause = IEC 60364-4-43, 431.2.2: IT with a distributed neutral: overcurrent in it opens all live conductors
neutral-load-clause = IEC 60364-5-52, 523.6.3 and annex E: IN = 3·h·Ib ≤ what the neutral carries
neutral-linked-clause = IEC 60364-4-43, 431.2.1; IEC 60364-5-52, 523.6.3 (both from memory): a neutral that carries the sum of three poles on one line bears it
neutral-energy-clause = IEC 60364-4-43, 434.5.2 and 431.2: I²t ≤ k²S² of the neutral for every fault to it
neutral-size-clause = IEC 60364-5-52, 524.2: the neutral as thick as the lines, or 16 mm² Cu, 25 mm² Al where balanced
rcd-type-charging-clause = IEC 60364-7-722, 722.531.3.101: type B, or type A where 6 mA of smooth d.c. is cut off
rcd-type-clause = IEC 60364-5-53, 531.3.3: the RCD's type suits the load's earth fault current

## Symbols of the rules of a circuit that hold words

symbol-limit = limit
symbol-s-needed = S needed
symbol-sn-needed = SN needed
symbol-u-start = ΔU start
symbol-i-start = I start
symbol-trips-at = trips at
symbol-iz-at-terminals = Iz with what the terminals bear
symbol-counted = counted
symbol-given = given
symbol-live-conductors = live conductors
symbol-watched = watched
symbol-type-needed = type needed
symbol-type-fitted = type fitted

## The rows of tables that a check looked up

tables-looked-up = { $tables }
table-rows = { $form ->
    [one] { $table } row { $rows }
    [many] { $table } { $count } rows from { $first } to { $last }
   *[some] { $table } rows { $rows }
 }, { $trust ->
    [read] read
    [computed] computed
    [derived] derived another way
    [practice] common practice
   *[memory] from memory: confirm before relying on it
 }
table-rows-own = { $form ->
    [one] { $table } row { $rows }
    [many] { $table } { $count } rows from { $first } to { $last }
   *[some] { $table } rows { $rows }
 }, { $trust ->
    [read] read
    [computed] computed
    [derived] derived another way
    [practice] common practice
   *[memory] from memory: confirm before relying on it
 } (own table: { $whose })
