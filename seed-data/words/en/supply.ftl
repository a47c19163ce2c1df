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
supply-label-upstream-kind = upstream device
supply-label-upstream-curve = type of the upstream device
supply-label-upstream-residual = residual current of the upstream device
supply-label-upstream-delay = delay of the upstream RCD
supply-label-upstream-dc = upstream device for direct current
supply-label-upstream-ir = overload setting of the upstream device, Ir
supply-label-upstream-ii = instantaneous setting of the upstream device, Ii
supply-label-upstream-isd = short-time setting of the upstream device, Isd
supply-label-upstream-tsd = opening time of the upstream short-time release
supply-label-upstream-time-curve = time/current curve of the upstream device
supply-label-origin-ze = loop impedance at the origin of the supply cable
supply-label-origin-ipf = fault current at the origin of the supply cable
supply-label-let-through = let-through energy of the upstream device
supply-label-let-through-at = fault current that its let-through energy is said of
supply-label-kinds = kinds of load
supply-label-loads = loads of the board
supply-label-drop = drop in the supply cable
supply-label-cable = supply cable
supply-label-ipf = fault current at the board, Ipf
supply-label-conditional = conditional short-circuit current, with the device upstream
supply-label-short-time = short-time withstand current, 1 s

## Readings that several checks ask for

supply-ask-incomer-rated = read the rating on the incomer
supply-ask-busbars-rated = read the rating plate of the board
supply-ask-upstream = read the rating of the device upstream
supply-ask-phases = find whether the supply is single- or three-phase
supply-ask-upstream-kind = read what the device upstream is and its type
supply-ask-upstream-kind-rated = read what the device upstream is, and its rating
supply-ask-upstream-curve = read the type letter on the device upstream
supply-ask-of-upstream = device upstream: { $ask }
supply-ask-of-cable = supply cable: { $ask }
supply-ask-read = read the { $what }
supply-ask-let-through = take the let-through energy of the device upstream from its data
supply-ask-cable = enter the cable that feeds the board: its size, length and how it lies
supply-ask-cable-entered = enter the supply cable
supply-ask-origin-ipf = measure the prospective fault current at the origin of the supply cable
supply-ask-origin-ze = measure the loop impedance at the origin of the supply cable
supply-ask-ze = measure the loop impedance at the board's incoming terminals
supply-ask-ipf = measure the prospective fault current at the board
supply-ask-conditional = read the conditional short-circuit current, and with which device upstream, in the maker's data
supply-ask-short-time = read the short-time withstand current (1 s) on the rating plate

supply-as-entered = as entered

## The supply cable

supply-cable = The cable that feeds the board is not entered: whether it bears its load and a fault, and what it loses of the voltage, is undecided.
supply-cable-and-device = The cable that feeds the board is not entered, nor all of the device that protects it: whether it bears its load and a fault, and what it loses of the voltage, is undecided.
supply-cable-relation = In upstream ≤? Iz of the supply cable

supply-cable-current = { $verdict ->
    [holds] The supply cable carries { $limit }, enough for the { $value } device upstream.
   *[fails] The supply cable carries only { $limit }; the { $value } device upstream is too large for it.
    [undecided] The supply cable carries { $limit }; whether that suits the { $value } device upstream is undecided.
 }
supply-overload-trip = { $verdict ->
    [holds] The device upstream surely opens at { $value }, before the supply cable's overload limit of { $limit }.
   *[fails] The device upstream may carry { $value } for an hour or more, beyond the supply cable's overload limit of { $limit }.
    [undecided] The device upstream surely opens at { $value }; the supply cable's overload limit lies at { $limit }: undecided.
 }
supply-disconnection = { $verdict ->
    [holds] A fault to earth at the board meets { $value }; the device upstream opens in time up to { $limit }.
   *[fails] A fault to earth at the board meets { $value }; the device upstream opens in time only up to { $limit }.
    [undecided] A fault to earth at the board meets { $value }; the device upstream opens in time up to { $limit }: undecided.
 }
supply-line-energy = { $verdict ->
    [holds] A short circuit along the supply cable needs { $value } of conductor; it has { $limit }.
   *[fails] A short circuit along the supply cable needs { $value } of conductor; it has only { $limit }.
    [undecided] A short circuit along the supply cable needs { $value } of conductor; it has { $limit }: undecided.
 }
supply-cpc-energy = { $verdict ->
    [holds] The supply cable's protective conductor needs { $value }; it has { $limit }.
   *[fails] The supply cable's protective conductor needs { $value }; it has only { $limit }.
    [undecided] The supply cable's protective conductor needs { $value }; it has { $limit }: undecided.
 }
supply-drop = { $verdict ->
    [holds] The supply cable loses { $value } of the voltage under the board's load; { $limit } is allowed up to the loads.
   *[fails] The supply cable alone loses { $value } of the voltage under the board's load; { $limit } is all that is allowed.
    [undecided] The supply cable loses { $value } of the voltage under the board's load, against { $limit }: undecided.
 }
supply-disconnection-pen = the RCD upstream sees no fault to earth where the supply cable's neutral is its protective conductor too: look what its protective conductor is
supply-disconnection-tt = in a TT system all before the board's own RCD needs an RCD upstream, or double or reinforced insulation: look which it has

supply-neutral-size = { $verdict ->
    [holds] The supply's neutral of { $limit } is no thinner than the { $value } it needs at least.
   *[fails] The supply's neutral of { $limit } is too thin: { $value } at least.
    [undecided] The supply's neutral is of { $limit }; it needs { $value } at least: undecided.
 }
supply-neutral-size-ask = look at the supply's conductors: copper or aluminium
supply-neutral = { $verdict ->
    [holds] The supply's neutral carries { $limit }, all that the device upstream lets flow.
   *[fails] The supply's neutral carries only { $limit }, and { $value } flow in it.
    [undecided] The supply's neutral carries { $limit }; the device upstream lets up to { $most } flow in it: undecided.
 }
supply-neutral-ask = show that the neutral's largest current stays below what it carries, or fit a device that watches it

## The incomer and the busbars

supply-terminals = { $verdict ->
    [holds] The lines carry { $value } at most; the incomer's terminals bear the supply cable at { $limit }.
   *[fails] The lines carry { $value }; beyond { $limit } the supply cable is warmer than 70 °C, and the incomer's terminals are not for that.
    [undecided] The lines carry { $value }; the supply cable may be warmer than the incomer's terminals bear ({ $limit }): undecided.
 }
supply-terminals-load-unknown = what the board draws is not known
supply-terminals-no-such-cable = the capacity tables have no such cable
supply-terminals-ask = read on the incomer or in its data whether its terminals take conductors at 90 °C
supply-terminals-ask-cable = check what was entered for the supply cable ({ $size })

incomer-overload = { $verdict ->
    [holds] No more than { $value } can flow for long through the incomer, rated { $limit }.
   *[fails] { $value } can flow for long through the incomer, rated only { $limit }: neither the device upstream nor those behind it open before.
    [undecided] { $value } can flow for long through the incomer, rated { $limit }: undecided.
 }
incomer-overload-label-sum = sum of the ratings behind it, per line
incomer-overload-sum-or-more = { $least } or more: a rating or what stands on a pole is not known
incomer-overload-rated-unknown = the rated current of the incomer is not known
incomer-overload-unknown = neither the device upstream nor the sum of those behind is known well enough
incomer-overload-ask-before = find the device that opens on overcurrent before the one upstream, and read its kind and its rating

incomer-short-circuit = { $verdict ->
    [holds] A fault at the board draws { $value }; by the maker's figure the incomer bears { $limit }.
   *[fails] A fault at the board draws { $value }; the incomer bears only { $limit }.
    [undecided] A fault at the board draws { $value }, and the incomer bears { $limit }: undecided.
 }
incomer-short-circuit-unknown = what the incomer bears of a fault is not known
assembly-short-circuit = { $verdict ->
    [holds] A fault at the board draws { $value }; by the maker's figure the busbars bear { $limit }.
   *[fails] A fault at the board draws { $value }; the busbars bear only { $limit }.
    [undecided] A fault at the board draws { $value }, and the busbars bear { $limit }: undecided.
 }
assembly-short-circuit-unknown = what the busbars bear of a fault is not known
short-circuit-direct = the ratings are read as of alternating current: read in the maker's data what it bears of direct current
short-circuit-behind-none = the conditional rating stands only behind a device that opens on overcurrent, and the one upstream does not
short-circuit-behind-unread = the conditional rating stands only behind the device that its maker names: read what the one upstream is
short-circuit-partly-known = a fault at the board draws { $value }, by what is known it may be { $limit }

## Earthing and bonding

earthing-conductor-label = earthing conductor
earthing-conductor = { $verdict ->
    [holds] { $most } of copper would do as earthing conductor; it has { $limit }.
   *[fails] The earthing conductor has { $limit }; no less than { $least } of copper is allowed.
    [undecided] The earthing conductor has { $limit }; { $most } of copper would surely do, less only where the fault is ended fast enough.
 }
earthing-conductor-in-ground = Bare in the ground without protection against corrosion it takes { $size } (table 54.1).
earthing-conductor-unknown = it takes the sizes of the earthing conductor and of the incoming line conductor
earthing-conductor-ask = read or measure the size of the earthing conductor
earthing-conductor-ask-upstream = read what the device upstream is: it tells how long a fault lasts
earthing-label-line = size of the incoming line conductor
earthing-label-cable = incoming cable
earthing-ask-line = enter the incoming cable with its size

main-bonding-label = main bonding conductor
main-bonding = { $verdict ->
    [holds] Main bonding needs { $value } of copper and has { $limit }.
   *[fails] Main bonding needs { $value } of copper and has only { $limit }.
    [undecided] Main bonding needs { $value } of copper and has { $limit }: undecided.
 }
main-bonding-operator = On a TN-C-S supply BS 7671, table 54.8 (from memory) asks for 10 mm² with a PEN of up to 35 mm², and the network operator may ask for more: ask.
main-bonding-unknown = the size of the main bonding conductors is not known
main-bonding-ask = read or measure the size of the main bonding conductors

## A neutral that is the protective conductor too (PEN)

charging-earth = A broken PEN before a TN-C-S supply would make the vehicle live. Outdoors the charging point needs protection that opens on it, or an earth electrode of its own instead; look which this one has.
charging-earth-relation = TN-C-S: charging outdoors
pen-label-system = earthing system
pen-label-cores = cores of the supply cable
pen-label-cpc = its protective conductor
pen-label-neutral = size of its neutral
pen-label-material = material
pen-ask = look what the supply's protective conductor is: a conductor of its own, the armour, or the neutral as a PEN
pen-size = { $verdict ->
    [holds] The supply's neutral is its protective conductor too; it has { $limit } of { $value } needed.
   *[fails] The supply's neutral is its protective conductor too, and has only { $limit }: a PEN needs { $value }. Count the cores again, or lay a protective conductor.
    [undecided] The supply's neutral is its protective conductor too and has { $limit }; it needs { $value }: undecided.
 }
pen-size-perhaps = the supply cable has no core for a protective conductor beside its neutral; as a PEN a neutral of { $size } is too thin. To settle it, { $ask }
pen-size-ask = measure the supply's neutral, and look of what metal it is
pen-rcd-relation = PEN: parted before the RCD
pen-rcd-upstream = The RCD upstream has a PEN conductor behind it: it cannot see a fault to earth. The PEN has to be parted before the RCD, and a protective conductor laid to this board.
pen-rcd-upstream-perhaps = The cable behind the RCD upstream has no core for a protective conductor: whether its neutral is a PEN is undecided.
pen-rcd-incomer = A PEN conductor comes to an incomer that is an RCD: whether it is parted before the RCD is undecided.
pen-rcd-incomer-perhaps = The supply cable has no core for a protective conductor and the incomer is an RCD: whether a PEN passes through it is undecided.
pen-rcd-ask-parted = look, isolated upstream and proved dead, whether the PEN ends at the earth bar or a terminal before the RCD, and only the neutral passes the RCD

## Surge-protective devices

spd-backup-spd = SPD
spd-backup-spd-at = SPD at { $place }
spd-backup-label = fault current up to which the device upstream backs it up
spd-backup-ask = read in the SPD's data which device may stand before it at most, and up to which fault current (ISCCR); behind a larger one it needs a fuse or breaker of its own
spd-backup-alone = the { $spd } stands behind { $behind } with no device of its own, more than most are made for
spd-backup = { $verdict ->
    [holds] A fault at the board draws { $value }; behind { $behind } the { $spd } is cut off safely up to { $limit }.
   *[fails] A fault at the board draws { $value }; behind { $behind } the { $spd } is cut off safely only up to { $limit }: put the fuse or breaker that its maker names before it.
    [undecided] A fault at the board draws { $value }; behind { $behind } the { $spd } is cut off safely up to { $limit }: undecided.
 }

## Voltage, current and phases of the supply

supply-voltage-no-phases = direct current has no three phases: one of the two was read wrongly
supply-voltage-phases = The supply is entered as three-phase and as { $form }: { $why }. To settle it, { $ask }.
supply-voltage-agree = readings: agree
supply-voltage-ask-form = find whether the supply is a.c. or d.c., and count its lines
supply-voltage-label-form = form of the current
supply-voltage-beyond = { $voltage } to earth is far more than the breakers and RCDs on the ways are made for, { $most } between lines: the voltage between lines may have been entered for that to earth. To settle it, { $ask }.
supply-voltage-relation = √3 · { $voltage } ≤? { $most }
supply-voltage-ask = measure the voltage between line and earth, and read the rated voltage on the devices
supply-voltage-label = voltage to earth
supply-voltage-label-devices = breakers and RCDs

## Fault currents of the supply

calculated-from-origin-current = calculated from the fault current at the origin and the supply cable
calculated-from-transformer = calculated from the transformer and the supply cable
calculated-from-origin-loop = calculated from the loop impedance at the origin and the supply cable

# { $symbol } is Ipf or Ze.
fault-level = { $verdict ->
    [holds] { $symbol } at the board is { $read }; { $from } it comes to { $calculated }: they agree.
   *[fails] { $symbol } at the board is { $read }, but { $from } it comes to { $calculated }: one of the two is wrong. Take the reading again, then look at the cable and the data of the origin.
 }
fault-level-relation = { $verdict ->
    [holds] { $symbol } { $read } within { $calculated }
   *[fails] { $symbol } { $read } not within { $calculated }
 }
fault-level-label-read = { $symbol } at the board
fault-level-label-calculated = { $symbol } from the origin

supply-readings-beyond-origin = Ze of { $ze } would let more flow at the board than what feeds it gives: { $most } at most. One of the two is wrong, and what rests on it. Measure Ze again, and look at the data of the origin.
supply-readings-relation-origin = Ze ≥ Ze of the origin
supply-readings-label-origin = largest fault current at the origin
supply-readings-deny-each-other = Ze of { $ze } would let more flow than the Ipf of { $ipf } that was read: one of the two is wrong, and what rests on it. Measure both again, at the same terminals.

fault-ask-cable = enter the circuit's cable
fault-ask-size = read the size on the sheath or measure a core
fault-ask-length = measure the length of the run
fault-ask-r1-r2 = measure R1+R2, supply isolated and proved dead

## What opens first

selectivity-breaker = { $type }{ $rated } breaker
selectivity-fuse = { $rated } fuse
selectivity-device = device

# { $down } and { $up } are devices by the names above; { $draws } is the most that a fault draws.
selectivity = { $verdict ->
    [holds] Up to { $draws }, the most a fault here draws, the { $down } opens before the { $up } upstream.
   *[fails] The { $up } upstream opens first: from { $limit } on, a fault on this circuit takes the whole board off.
 }
selectivity-rated = { $surely ->
    [yes] The { $up } upstream is rated no higher than the { $down }: in overload it may open first and take the whole board off; the makers' table decides.
   *[no] The { $up } upstream may be rated no higher than the { $down }: in overload it may open first and take the whole board off; the makers' table decides.
 }
selectivity-partial = The { $down } opens alone up to { $alone }; above that, up to the { $draws } of a fault here, the { $up } upstream may open too: the makers' table decides.
selectivity-partial-slow = The { $down } opens alone up to { $alone }, where the curves on both data sheets decide from { $slow }; above that, up to the { $draws } of a fault here, the { $up } upstream may open too: the makers' table decides.
selectivity-slow = The { $down } opens before the { $up } upstream at a fault of { $draws }; in overload the curves on both data sheets decide from { $slow }.
selectivity-undecided = Whether the { $down } opens before the { $up } upstream is undecided.
selectivity-relation = { $verdict ->
    [holds] Ipf { $draws } ≤ Is { $limit }
   *[fails] Ipf { $draws } > Is { $limit }
    [undecided] Ipf { $draws } ≤? Is, at least { $limit }
 }
selectivity-relation-no-limit = Ipf { $draws }; no limit
selectivity-by-table = { $verdict ->
    [holds] By the makers' table it opens alone up to { $limit }; a fault here draws { $value }.
   *[fails] By the makers' table it opens alone only up to { $limit }; a fault here draws { $value }, and the { $up } upstream may open too.
    [undecided] By the makers' table it opens alone up to { $limit }; a fault here draws { $value }: undecided.
 }
selectivity-upstream-unknown = what opens first needs the kind and the rating of the device upstream
selectivity-rating-unknown = the device's rating is not known
selectivity-fault-unknown = how large a fault current may be here is not known
selectivity-no-band = the tables have no band for one of the two ratings; the makers' table for the two decides
selectivity-label-rated = rated current of the device, In
selectivity-label-limit = selectivity limit by the makers' table
selectivity-label-capacity = short-circuit capacity of the device
selectivity-ask-rated = read the rating on the device
selectivity-ask-table = take the selectivity limit of this device under the one upstream from the makers' table for the two
selectivity-ask-class = look for the energy-limiting class on the device: a 3 in a square below its short-circuit capacity
selectivity-ask-at = read in the data sheet at which fault current the let-through energy is said
selectivity-ask-energy = take the energy let through at this fault current from the device's data sheet

# Two RCDs in series: { $whose } tells which is above (incomer, upstream), { $what } which is below (incomer, circuit).
rcd-selectivity = { $verdict ->
    [holds] The delayed { $up } RCD { $whose ->
        [incomer] of the incomer
       *[upstream] upstream
    } waits for the { $down } one of this { $what ->
        [incomer] incomer
       *[circuit] circuit
    }.
   *[fails] The RCD { $whose ->
        [incomer] of the incomer
       *[upstream] upstream
    } ({ $up }) is not three times as coarse as the { $down } one of this { $what ->
        [incomer] incomer
       *[circuit] circuit
    }.
    [undecided] Whether the RCD { $whose ->
        [incomer] of the incomer
       *[upstream] upstream
    } ({ $up }) waits for the { $down } one of this { $what ->
        [incomer] incomer
       *[circuit] circuit
    } is undecided.
 }
rcd-selectivity-at-once = The RCD { $whose ->
    [incomer] of the incomer
   *[upstream] upstream
 } ({ $up }) does not wait for the { $down } one of this { $what ->
    [incomer] incomer
   *[circuit] circuit
 }: an earth fault may open both.
rcd-selectivity-relation = { $verdict ->
    [holds] 3 × { $down } ≤ { $up }, delayed
   *[fails] 3 × { $down } > { $up }
    [undecided] 3 × { $down } ≤? { $up }
 }
rcd-selectivity-relation-at-once = { $up } without delay over { $down }
rcd-selectivity-unknown = unknown
rcd-selectivity-label-above = { $whose ->
    [incomer] rated residual current of the incomer
   *[upstream] rated residual current upstream
 }
rcd-selectivity-label-delay = { $whose ->
    [incomer] delay of the incomer
   *[upstream] delay upstream
 }
rcd-selectivity-label-own = { $what ->
    [incomer] rated residual current of the incomer
   *[circuit] rated residual current of the circuit
 }
rcd-selectivity-ask-delay = look for the S in a square on the RCD
rcd-selectivity-ask-above = read the rated residual current on the RCD
rcd-selectivity-ask-own = read the rated residual current on the device

## What a plot of the devices lacks; after "Not shown:"

chain-upstream-by-data = the device upstream: its data alone tell its band
chain-upstream-none = nothing upstream opens on overcurrent
chain-upstream-unknown = the device upstream: its kind or its rating is not known
chain-rewirable = the tables have no band for a rewirable fuse
chain-adjustable = the circuit's adjustable breaker: its data tell its band
chain-no-overcurrent = the circuit's device does not open on overcurrent
chain-rating-unknown = the circuit's device: its rating is not known
chain-no-device = the circuit has no device yet
chain-no-band = the tables have no band for a { $device }

## Symbols with words in them

supply-symbol-in-upstream = In upstream
supply-symbol-i2-upstream = I2 upstream
supply-symbol-zs-at-board = Zs at the board
supply-symbol-zs-max = Zs max
supply-symbol-limit = limit
supply-symbol-s-needed = S needed
supply-symbol-sn-needed = SN needed
supply-symbol-iz-neutral = Iz of the neutral
supply-symbol-iz-terminals = Iz with what the terminals bear
supply-symbol-least-in = least of In upstream and Σ In behind
supply-symbol-incomer-bears = what the incomer bears
supply-symbol-busbars-bear = what the busbars bear
supply-symbol-s-pen = S of the PEN
supply-symbol-isccr = ISCCR with the device upstream
supply-symbol-ipf-calculated = Ipf calculated
supply-symbol-ze-calculated = Ze calculated
supply-symbol-idn-upstream = IΔn upstream

## Clauses

incomer-current-clause = IEC 61439-1, 5.3.2, with IEC 61439-3 (clauses from memory): line current ≤ rated current of the incomer
neutral-current-clause = IEC 61439-1, 5.3.2, with IEC 61439-3 (clauses from memory): neutral current ≤ rated current of the incomer
busbar-current-clause = IEC 61439-1, 5.3.1, with IEC 61439-3 (clauses from memory): line current ≤ rated current of the busbars
upstream-current-clause = IEC 60364-4-43, 433.1: Ib ≤ In, for the cable that feeds the board
supply-neutral-size-clause = IEC 60364-5-52, 524.2: the neutral as thick as the lines, or 16 mm² Cu, 25 mm² Al at least
supply-neutral-clause = IEC 60364-4-43, 431.2.1: a neutral thinner than its lines carries In, or surely less flows in it
assembly-short-circuit-clause = IEC 61439-3 with IEC 61439-1, 5.3.4 to 5.3.6 and 9.3: the busbars bear a fault at the board (Icc or Icw)
supply-cable-current-clause = IEC 60364-4-43, 433.1: In ≤ Iz, with Iz by IEC 60364-5-52, 523
supply-overload-trip-clause = IEC 60364-4-43, 433.1: I2 ≤ 1.45 Iz, for the cable that feeds the board
supply-line-energy-clause = IEC 60364-4-43, 434.5.2: I²t ≤ k²S² for every fault from the origin to the board
supply-cpc-energy-clause = IEC 60364-5-54, 543.1: S ≥ √(I²t)/k or table 54.2, for the supply cable's protective conductor
supply-cable-clause = IEC 60364-4-43, 433.1 and 434.5.2, and IEC 60364-4-41, 411.3.2.3: the cable that feeds the board and what protects it
earthing-conductor-clause = IEC 60364-5-54, 542.3.1 and 543.1: S ≥ table 54.2 or √(I²t)/k
main-bonding-clause = IEC 60364-5-54, 544.1.1: half the largest protective conductor, 6 mm² to 25 mm² of copper
pen-rcd-clause = IEC 60364-4-41, 411.4.5 (from memory): no PEN conductor on the load side of an RCD; it is parted before
fault-level-clause = IEC 60364-4-43, 434.1: fault current by calculation or measurement; IEC 60909-0
external-loop-clause = IEC 60364-6, 6.4.3.7.3: loop impedance by measurement or calculation
supply-readings-clause = IEC 60364-6, 6.4.3.7.3; IEC 60909-0: the largest fault current at a point is not below U0 over its loop
selectivity-clause = IEC 60364-5-53:2019, 536.4.1, where selectivity is asked for; bands by IEC 60898-1 table 7 and IEC 60269-1
supply-voltage-clause = IEC 60898-1, clause 1, and IEC 61008-1 (both from memory): for at most 440 V between lines; direct current has no phases
supply-terminals-clause = IEC 60364-5-52, table 52.1, note on conductors above 70 °C; BS 7671, 512.1.5 (both from memory): the incomer's terminals bear the conductor's temperature
incomer-overload-clause = IEC 60364-5-53, 536.4.3: a switch or RCD is protected by the device before it or by those behind it (clause from memory)
incomer-short-circuit-clause = IEC 60364-5-53, 536.4.2 (clause from memory); IEC 60947-3 (Icw, conditional) or IEC 61008-1 (Inc): the incomer bears a fault at the board
supply-disconnection-clause = IEC 60364-4-41, 411.3.2.3 and 411.4.4: a fault at the board itself, in the time of a distribution circuit; a fuse by BS 7671, table 41.4, where it prints one, else by the gates of IEC 60269-1 (both from memory)
supply-drop-clause = IEC 60364-5-52, annex G, table G.52.1: the drop before the board leaves none for its circuits
pen-size-clause = IEC 60364-5-54, 543.4.1 (BS 7671, 543.4.2), from memory: a PEN conductor of 10 mm² copper or 16 mm² aluminium at least
charging-earth-clause = BS 7671, 722.411.4.1 (from memory): no charging point outdoors on the earth of a TN-C-S supply without protection against a broken PEN
spd-backup-clause = IEC 60364-5-53, 534.4.5 (from memory): an SPD that fails short is cut off by the overcurrent device that its maker names, up to the fault current here (ISCCR)
rcd-selectivity-clause = IEC 60364-5-53:2019, 536.4.1.4 (clause from memory), where selectivity is asked for: type S upstream, IΔn at least three times
