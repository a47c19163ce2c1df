# Words of what was found as it stands: in the board, along its cables, at its RCDs. { $verdict } chooses the form:
# holds, fails, undecided.

## Circuits in a sentence

another-circuit = another circuit
circuits-then = { $before }, { $next }
circuits-and = { $before } and { $last }

## Standard and clause

terminal-shared-clause = IEC 60364-5-52, 526.2; BS 7671, 526.2 (both from memory): a terminal takes as many conductors as it is made for
incomer-supply-clause = IEC 60364-5-53, 536 and 537 (from memory): the device for isolation opens every live conductor of the supply
second-earth-clause = IEC 60364-5-54, 543.7; BS 7671, 543.7.1.203 (both from memory): above 10 mA two protective conductors end at separate terminals
untraced-clause = IEC 60364-5-51, 514.5; BS 7671, 514.9.1 (both from memory): the chart says what each circuit feeds
ring-ends-clause = BS 7671, 643.2.1 and 433.1.204 (from memory): the conductors of a ring run on from end to end; r1 and rn alike within 0.05 Ω, by guidance on testing (from memory)
ring-cable-clause = BS 7671, 433.1.204 (from memory): a ring on 30 or 32 A has conductors of 2.5 mm² and a protective conductor of 1.5 mm² at least, and carries 20 A as it lies
insulation-clause = IEC 60364-6, 6.4.3.3 and table 6.1 (BS 7671, table 64), from memory: 1 MΩ at 500 V d.c. and more, live to earth
cores-clause = IEC 60364-5-52, 521.8.1 (from memory): all conductors of a circuit run together
cpc-reinforced-clause = IEC 60364-5-54, 543.7; BS 7671, 543.7.1.203 (both from memory): above 10 mA a protective conductor of 10 mm² copper or 16 mm² aluminium, or a second one
enclosure-bonded-clause = IEC 60364-4-41, 411.3.1.1; IEC 61439-1, 8.4.3.2 (both from memory): metal parts that can be touched are joined to the protective conductor
incoming-earth-clause = IEC 61439-1, 8.8 (from memory): the assembly has a terminal for the incoming protective conductor
touch-closed-clause = IEC 60364-4-41, A.2.1 (BS 7671, 416.2.1), from memory: live parts behind barriers of IP2X or IPXXB at least
touch-open-clause = IEC 60364-4-41, A.2.4 (BS 7671, 416.2.4), from memory: behind a cover that opens with a tool, dead first; barriers and shrouds inside are good practice
least-size-clause = IEC 60364-5-52, table 52.2; BS 7671, table 52.3 (both from memory): fixed conductors of power and lighting circuits 1.5 mm² of copper (BS 7671: lighting 1 mm²), 10 mm² of aluminium (BS 7671: 16 mm²); flexible ones 0.75 mm²
cpc-apart-clause = IEC 60364-5-54, 543.1.3 (from memory): a protective conductor not in a cable, 2.5 mm² of copper protected, 4 mm² not; 16 mm² of aluminium
buried-clause = IEC 60364-5-52, 522.3 and 522.8; BS 7671, 522.8.10 (both from memory): a cable direct in the ground is made for it, with an earthed armour or metal sheath by BS 7671, at a depth where nothing disturbs it
cable-readings-clause = IEC 60364-5-52, tables A.52.3 and B.52.1: which cable each installation method is of
neutral-shared-clause = IEC 60364-5-52, 521.8.2; IEC 60364-4-43, 431.2.1; BS 7671, 314.4 (all from memory): no neutral common to two circuits, but to those of different lines that one device isolates together; it bears what they return
safety-apart-clause = IEC 60364-5-56, 560.7.1; BS 5839-1 for fire alarms (both from memory): circuits of safety services run apart from all others
neutral-fuse-clause = IEC 60364-4-43, 431.3; BS 7671, 132.14.2 (both from memory): the neutral is not opened before the lines; no fuse in an earthed neutral
dc-poles-clause = IEC 60364-4-43, 431.1 and IEC 60364-4-46, 461.2 (both from memory): overcurrent is detected in every line conductor, and a one-pole device stands in none that is earthed
leakage-clause = IEC 60364-5-53, 531.3.2: standing protective conductor current ≤ 0.3 IΔn
rcd-poles-clause = IEC 60364-5-53, 531.3.1: all live conductors of the circuit pass through the RCD
neutral-switched-clause = IEC 60364-4-46, 461.2: in TT and IT systems the neutral is isolated too (from memory)
reduced-lines-clause = BS 7671, 411.8.3 (from memory): reduced low voltage, an overcurrent device in each line conductor
outgoing-loading-clause = IEC 61439-3, table 101: Ib ≤ RDF·In for circuits loaded together without a break
enclosure-temperature-clause = IEC TR 60890 (factors from memory); IEC 60898-1: breakers are made for 30 °C, up to 40 °C

## Symbols that hold words

symbol-air-inside = air inside
symbol-conductors = conductors
symbol-cover-off = cover off
symbol-insulation = insulation
symbol-iz-needed = Iz needed
symbol-leakage = leakage
symbol-least = least
symbol-out-of-reach = out of reach
symbol-poles = poles

## Seen on site and not yet put right: what it does, what to do, the clause

seen = Seen: { $what }; { $does }. To do: { $act }.
seen-at = Seen, { $place }: { $what }; { $does }. To do: { $act }.
seen-label = seen
seen-relation = seen: { $what }

seen-borrowed-neutral-does = it stays live when its circuit is off, and may carry two circuits' current
seen-borrowed-neutral-act = give the circuit a neutral of its own
seen-borrowed-neutral-clause = IEC 60364-5-52, 521.8; BS 7671, 314.4

seen-unlinked-poles-does = one line stays live when the other opens
seen-unlinked-poles-act = fit one device that opens all lines of the circuit together
seen-unlinked-poles-clause = IEC 60364-5-53, 530.4 and BS 7671, 530.4.1; IEC 60364-4-43, 431.3

seen-interrupted-ring-does = each leg is a radial on a device too large for its cable
seen-interrupted-ring-act = find and mend the break, or put each leg on a device that its cable bears
seen-interrupted-ring-clause = BS 7671, 433.1.204 and 643.2.1

seen-spur-does = its single cable may carry more than it bears
seen-spur-act = fuse the spur at 13 A, or bring the points into the ring
seen-spur-clause = BS 7671, appendix 15 (informative)

seen-spare-end-does = nobody knows whether it is live from its other end
seen-spare-end-act = find its other end, prove it dead, and end it in an insulated terminal or take it out
seen-spare-end-clause = IEC 60364-4-41, A.1; BS 7671, 416.1

seen-mixed-colours-does = blue may be a line or a neutral
seen-mixed-colours-act = prove by test which conductor is which, mark the ends, and put up the notice of mixed colours
seen-mixed-colours-clause = IEC 60445; BS 7671, 514.3 and 514.14

seen-doubled-conductor-does = one of the two works loose and the joint heats
seen-doubled-conductor-act = give each conductor a terminal of its own
seen-doubled-conductor-clause = IEC 60364-5-52, 526.2; BS 7671, 526.2

seen-missing-blank-does = a finger reaches live parts
seen-missing-blank-act = fit the blank now, dead
seen-missing-blank-clause = IEC 60364-4-41, A.2.1; BS 7671, 416.2.1

seen-live-in-reach-does = a finger reaches live parts with the cover on
seen-live-in-reach-act = isolate, and close it before anything else
seen-live-in-reach-clause = IEC 60364-4-41, A.2.1; BS 7671, 416.2.1

seen-open-hole-does = the enclosure is not what its degree of protection says
seen-open-hole-act = close the hole with a stopper of that degree
seen-open-hole-clause = IEC 60364-4-41, A.2.1; BS 7671, 416.2.1 and 522.3

seen-bare-entry-does = the plate's edge cuts into the cable
seen-bare-entry-act = fit a gland or a bush
seen-bare-entry-clause = IEC 60364-5-52, 522.8; BS 7671, 522.8.1

seen-sheath-short-does = basic insulation stands open to damage
seen-sheath-short-act = bring the sheath into the enclosure
seen-sheath-short-clause = IEC 60364-5-52, 526.8; BS 7671, 526.8

seen-no-earth-does = a fault makes what the circuit feeds live, and nothing opens
seen-no-earth-act = isolate the circuit and restore its protective conductor
seen-no-earth-clause = IEC 60364-4-41, 411.3.1.1; BS 7671, 411.3.1.1

seen-loose-does = the joint heats and may set the board on fire
seen-loose-act = isolate, look for heat, make the joint anew to its maker's torque
seen-loose-clause = IEC 60364-5-52, 526.1; BS 7671, 526.1

seen-heat-does = something was hotter than it bears
seen-heat-act = find the cause, replace what was burnt
seen-heat-clause = IEC 60364-4-42, 421.1; BS 7671, 421.1

seen-damaged-does = it is no longer what its maker says of it
seen-damaged-act = replace it
seen-damaged-clause = IEC 60364-6, 6.4.2; BS 7671, 642.2

seen-wet-does = insulation fails and terminals rust
seen-wet-act = find the way in, close it, dry and test the insulation
seen-wet-clause = IEC 60364-5-51, 512.2; BS 7671, 512.2

seen-foreign-device-does = its fit on the busbar and its short-circuit strength were not shown together
seen-foreign-device-act = find the board maker's word that it takes this device
seen-foreign-device-clause = IEC 61439-3, 9.6; BS 7671, 536.4.203

## What several of these name

found-relation = { $what }: { $value }
found-incomer = incomer
found-phases = phases of the supply
found-terminal = terminal
found-earth-terminals = earth terminals
found-earth-terminals-used = all in use
found-feeds = what it feeds
found-insulation = insulation resistance
found-leakage = protective conductor current

## In the board

incomer-supply = The incomer is { $incomer } and the supply has three lines: the others are not switched off by it, or one of the two was read wrongly. Prove every line dead before work, and look at both again.
terminal-shared = Terminal { $terminal } holds conductors of this circuit and of { $other }: whether it is made for that is undecided. Each circuit to a terminal of its own is the usual order.
terminal-shared-ask = look whether the terminal is made for two conductors, and which; a neutral shared by two circuits stays live when one of them is off
second-earth = More than 10 mA flow in its protective conductor in normal use, and no earth terminal is left for a second one: fit one.
untraced = Nothing says what this circuit feeds: until it is traced nobody may rely on it being off.
untraced-ask = trace the circuit: find what it feeds, isolated and proved dead where you have to touch it

## The ends of a ring

ring-ends-relation = r1 { $r1 }, rn { $rn }, r2 { $r2 }
ring-ends-open = { $name } from end to end reads { $read }: the ring is interrupted, and each leg is a radial. Find and mend the break.
ring-ends-seen = The ring was seen interrupted, and each leg is a radial. To do: { $ask }.
ring-ends-seen-whole = The ring was seen interrupted, and its conductors read as running on from end to end: one of the two is not so.
ring-ends-seen-ask = find and mend the break, measure r1, rn and r2 again, and mark what was seen as put right
ring-ends-unread = Whether the ring is whole is undecided: { $name } from end to end was not measured.
ring-ends-unread-ask = measure r1, rn and r2 from end to end, supply isolated and proved dead
ring-ends-short = { $name } of { $read } was read from end to end, and the conductor alone has { $least } by its length and size: the ring is bridged, or these are not its ends.
ring-ends-short-ask = measure r1, rn and r2 again between the ends of one conductor each, and look for a bridge in the ring and at its length
ring-ends-unlike = r2 is not what r1 and the sizes of the conductors give: { $ask }.
ring-ends-unlike-ask = look for a loose joint in the protective conductor of the ring, and at its size; then measure again
ring-ends-apart = r1 and rn lie more than 0.05 Ω apart: { $ask }.
ring-ends-apart-ask = look for a loose joint or a cross-connection in the ring, then measure again
ring-ends-whole = Line, neutral and protective conductor run on from end to end of the ring.

## Insulation, cores and protective conductors

insulation = { $verdict ->
    [holds] The insulation has { $limit }, at least the { $value } that a test asks for.
   *[fails] The insulation has only { $limit }, less than { $value }: find the fault before the circuit is made live again.
    [undecided] The insulation has { $limit }; whether that is the { $value } of a test is undecided.
 }
insulation-ask = measure the insulation resistance again
cores = The circuit needs { $needed } cores and the cable is entered with { $cores }: { $ask }.
cores-ask = count the cores, and look which conductors the circuit has
cpc-reinforced = { $current } flow in the protective conductor in normal use: it needs 10 mm² of copper (16 mm² of aluminium), or a second one.
cpc-reinforced-ask = look for a second protective conductor, from the board to the load
cpc-reinforced-relation = above 10 mA: 10 mm² or two

## The cable of a ring

ring-cable = { $verdict ->
    [holds] As it lies the ring's cable carries { $limit }, at least the { $value } that a ring needs.
   *[fails] As it lies the ring's cable carries only { $limit }; a ring needs { $value }.
    [undecided] As it lies the ring's cable carries { $limit }; whether that is { $value } is undecided.
 }
ring-cable-ask = look how the ring's cable runs and with what it is grouped
ring-cable-device = A ring stands on a device of 32 A at most.
ring-cable-device-relation = In ≤ 32 A
ring-cable-lines = What BS 7671, 433.1.204 allows is a ring on one line; this device feeds more: as it stands nothing shows that the cable bears it.
ring-cable-lines-ask = look whether both ends of its cable are on one pole of the device, and count the poles
ring-cable-lines-relation = ring: one line
ring-cable-thin = The ring's conductor of { $size } is thinner than the { $least } it needs.
ring-cable-thin-relation = S ≥ { $least }

## The enclosure against touch

housing-case = case
housing-door = door or cover
housing-plates = gland plates and mounting plate
housing-incoming-earth = terminal of the incoming protective conductor
housing-ip-closed = degree of protection, cover on
housing-ip-open = degree of protection, cover off
housing-barriers = barriers before the busbars
housing-shrouds = shrouds over the incoming terminals

enclosure-bonded = Case, door and plates are joined to the protective conductor, or not of metal.
enclosure-bonded-not = Not joined to the protective conductor: { $parts }. Bond them.
enclosure-bonded-unseen = Whether the { $part } is bonded was not looked at.
enclosure-bonded-ask = look for the bond and measure it: 0.1 Ω at most (IEC 61439-1, 10.5.2, from memory)
enclosure-bonded-relation = parts: bonded

incoming-earth = The incoming protective conductor has a terminal of its own.
incoming-earth-none = The incoming protective conductor has no terminal: fit one to its size.
incoming-earth-unseen = Whether the incoming protective conductor has a terminal was not looked at.
incoming-earth-ask = look for the terminal of the incoming protective conductor
incoming-earth-relation = terminal: there

touch-closed = With the cover on it is { $ip }: no finger reaches live parts.
touch-closed-reached = With the cover on it is only { $ip }: a finger reaches live parts.
touch-closed-unread = The degree of protection with the cover on is not known.
touch-closed-ask = read the degree of protection on the enclosure's label
touch-closed-relation = IP ≥ 2X

touch-open = { $verdict ->
    [holds] With the cover off live parts are out of a finger's reach. { $live }.
   *[fails] With the cover off live parts can be touched. { $live }. Isolate upstream and prove dead before the cover comes off; fit what is missing.
    [undecided] What can be touched with the cover off was not looked at. { $live }.
 }
touch-open-live = The incoming terminals stay live with the incomer open
touch-open-live-said = Live with the cover off and the incomer open: { $words }
touch-open-ask = look, isolated upstream and proved dead, what stands bare behind the cover
touch-open-relation = cover off: out of reach

## A cable as it lies

least-size = { $verdict ->
    [holds] The conductor of { $limit } has the { $value } that one of { $metal } has at least here.
   *[fails] The conductor of { $limit } is thinner than the { $value } that one of { $metal } has at least here.
    [undecided] A conductor of { $metal } has { $value } at least here; whether it has, with { $limit }, is undecided.
 }
cpc-apart = A protective conductor of { $size } is too thin to run on its own: 2.5 mm² where it is protected, 4 mm² where not.
cpc-apart-aluminium = A protective conductor of { $size } of aluminium is too thin to run on its own: 16 mm².
cpc-apart-perhaps-aluminium = A protective conductor of { $size } runs on its own: of aluminium, as the lines are, it needs 16 mm².
cpc-apart-relation = size of the protective conductor: { $size }, at least 2.5 mm²
cpc-apart-relation-aluminium = size of the protective conductor: { $size }, at least 16 mm² of aluminium
cpc-apart-relation-either = size of the protective conductor: { $size }, at least 16 mm² of aluminium, 2.5 mm² of copper

buried-armoured = The cable lies direct in the ground.
buried-armoured-act = Cover it or lay it deeper.
buried-flat = A flat twin and earth cable lies direct in the ground: it is not made for wet earth, and has no armour.
buried-flat-act = Lay an armoured cable, or draw it through a duct.
buried-bare = The cable lies direct in the ground without armour: BS 7671 asks for an earthed armour or metal sheath, IEC 60364-5-52 for a cable made for it, covered or deep enough.
buried-flexible = A flexible cable lies direct in the ground; few are made for that.
buried-flexible-ask = read on the sheath or in its data whether the cable is made to lie in the ground
buried-unseen = Whether the cable, direct in the ground, is made for that was not looked at.
buried-unseen-ask = look how the cable is built: armoured or not
buried-shallow = It lies only { $depth } deep, where a spade reaches it.
buried-relation = in the ground: made for it

cable-readings = The cable is entered as { $built }, and its { $what } as { $value }: one of the two is wrong.
cable-readings-formation = The cable is entered as { $formation }, and as { $method }: one of the two is wrong.
cable-readings-ask-method = look how the cable is built, and how it runs
cable-readings-ask-size = look how the cable is built, and read its size again
cable-readings-ask-cores = look how the cable is built, and count its cores again
cable-readings-ask-formation = look how the single cores lie: a diameter apart they run in free air
cable-readings-relation = readings: agree

## Supplies of direct current

dc-poles-midpoint = One pole does for a load between a pole and the midpoint; between the poles each of them needs its device. Which this circuit is, is undecided.
dc-poles-midpoint-ask = look whether the circuit goes to the midpoint or to the other pole; to the midpoint the device is entered as 1P+N
dc-poles-it = No pole of the supply is earthed, and one of the two has no device that opens on overcurrent: it takes two poles.
dc-poles-earthed = A one-pole device protects only in the pole that is not earthed: which that is, is undecided.
dc-poles-earthed-ask = find which pole of the supply is earthed, if any, and whether the device stands in the other
dc-poles-relation = poles: 1P

## Circuits that share a cable

cores-shared = { $circuits } run in one cable: they need { $needed } cores at least, and it is entered with { $cores }. One of them lacks its neutral or its protective conductor, takes it from elsewhere, or runs in another cable: { $ask }.
cores-shared-ask = count the cores, and trace which conductors of each circuit run in this cable
neutral-shared = { $circuits } share a neutral core.
neutral-shared-one-line = { $circuits } are on one line and share a neutral core, where their currents add up.
neutral-shared-act = Give each circuit a neutral of its own.
neutral-shared-only-if = { $circuits } share a neutral core; they may only where they are on different lines and one device isolates them all together.
neutral-shared-perhaps = { $circuits } run in one cable; whether each has a neutral of its own is not known.
neutral-shared-ask = trace the neutrals: which circuits share one, and whether one device opens all their lines together
neutral-shared-ask-own = count the cores, and look whether each circuit has a neutral of its own in the cable
neutral-shared-ask-cores = count the cores of the cable
safety-apart = { $circuits } run in one cable, which carries fire alarm or emergency lighting: a fault or work on the other circuit takes the safety service with it. Give it a cable of its own.
safety-apart-perhaps = { $circuits } run in one cable, which carries fire alarm or emergency lighting; a safety service runs apart from all other circuits.
safety-apart-ask = trace what each circuit in the cable feeds, and look whether they are parts of one safety service
safety-apart-relation = cable of the safety service: its own
found-band = what the cable carries
neutral-fuse = A fuse stands in the neutral: when it blows, what the circuit feeds looks dead and is live. Put a solid link in its place, or a breaker that opens line and neutral together.
neutral-fuse-relation = fuses in the neutral: none

## RCDs

reduced-lines = { $verdict ->
    [holds] Both lines of the circuit have a device that opens on overcurrent.
   *[fails] One of the two lines of the circuit, 55 V to earth each, has no device that opens on overcurrent.
    [undecided] Whether both lines of the circuit have a device that opens on overcurrent is undecided.
 }
reduced-lines-ask = read on the device whether both its poles open on overcurrent
reduced-lines-ask-supply = find whether the supply is of reduced low voltage

leakage = { $verdict ->
    [holds] In normal use { $value } leaks through the { $rated } RCD, within { $limit }.
   *[fails] In normal use { $value } leaks through the { $rated } RCD, more than { $limit }: it will open without a fault. Part the loads over more RCDs.
    [undecided] In normal use { $value } may leak through the { $rated } RCD; up to { $limit } is well: undecided.
 }
leakage-at-most = In normal use no more than { $most } leaks through the { $rated } RCD, within { $limit }.
leakage-marked = Behind the { $rated } RCD are loads marked as leaking more than 10 mA and not measured; up to { $limit } in all is well: undecided.
leakage-ask = measure the current that leaks through the RCD with a leakage clamp
leakage-ask-circuit = measure the circuit's protective conductor current with a leakage clamp, all loads switched on
leakage-ask-rated = read the rated residual current on the RCD
leakage-not-rated = the rated residual current of the RCD is not known
leakage-input-marked = marked as high protective conductor current, not measured
leakage-input-unmarked = up to 10 mA: more would be marked and carry two earths

rcd-poles-label = poles of the RCD
rcd-poles-one = An RCD works only with the neutral through it; this one is entered with one pole.
rcd-poles-one-relation = line and neutral ≤? 1P
rcd-poles-one-ask = look whether the neutral goes through the device or by its flying lead: 1P+N
rcd-poles-neutral = The cable has a neutral that passes by the three-pole RCD: the RCD opens on any load between line and neutral. It takes four poles.
rcd-poles-neutral-relation = three lines and neutral > 3P
rcd-poles-three = Three lines without a neutral pass through the three-pole RCD.
rcd-poles-three-relation = three lines ≤ 3P
rcd-poles-perhaps = Three poles do only where the circuit has no neutral.
rcd-poles-perhaps-relation = live conductors ≤? 3P
rcd-poles-perhaps-ask = count the cores of the cable: is there a neutral

neutral-switched = The incomer switches the neutral, as this { $system } system asks.
neutral-switched-relation = lines and neutral ≤ poles
neutral-switched-not = In a { $system } system the neutral may be live: the incomer must switch it too, and this one has three poles.
neutral-switched-not-relation = lines and neutral > 3P
neutral-switched-upstream = In this { $system } system the neutral is switched where the board is isolated: look there.
neutral-switched-upstream-relation = lines and neutral ≤? poles upstream
neutral-switched-ask = look whether the isolator upstream switches the neutral

## The assembly: how far its circuits may be loaded together

loading = { $verdict ->
    [holds] Loaded together, each of the { $circuits } circuits may carry { $limit } of its device's rating; the most loaded one, { $circuit }, carries { $value }.
   *[fails] { $circuit } draws { $draws }, { $value } of its device's rating, for hours on end; loaded together, { $circuits } circuits may carry { $limit } each.
    [undecided] { $circuit } draws { $draws }, { $value } of its device's rating; loaded together, { $circuits } circuits may carry { $limit } each: undecided.
 }
loading-more-do = { $more ->
    [one] So does 1 more.
   *[other] So do { $more } more.
 }
loading-more-are = { $more ->
    [one] So is 1 more.
   *[other] So are { $more } more.
 }
loading-no-spacer = No pole is free for a spacer: keep loads that run for hours apart from each other, or ask the devices' maker.
loading-spacer = Keep loads that run for hours apart: a blank beside each, where the { $free } free poles allow it (common practice).
loading-ask = find how much of the load runs for more than half an hour at a time
loading-diversity = { $value }: from the standard's figure for { $circuits } circuits up to whatever the maker states

## The assembly: how warm it gets inside

enclosure-temperature = { $verdict ->
    [holds] The board gives off { $losses }; the air at its top reaches { $value }, and up to 40 °C breakers carry their rating. (IEC TR 60890 with factors from memory.)
   *[fails] The board gives off { $losses }; the air at its top reaches { $value }, over the 70 °C of PVC wiring. Take loads off or a larger enclosure. (IEC TR 60890 with factors from memory.)
    [undecided] The board gives off { $losses }, up to { $rise } over the room; the air at its top reaches { $value }. Over 40 °C the devices' data sheets say what they still carry. (IEC TR 60890 with factors from memory.)
 }
enclosure-temperature-recessed = the method of IEC TR 60890 has no figures for an enclosure in a wall; the maker's data decide
enclosure-temperature-recessed-ask = take the power the enclosure may give off, recessed, from its maker's data
enclosure-temperature-surface = the factors for a surface of { $surface } are not at hand (over 1.25 m²); the maker's data decide
enclosure-temperature-form = the factors for an enclosure of this form are not at hand; the maker's data decide
enclosure-temperature-form-ask = take the power the enclosure may give off from its maker's data
enclosure-temperature-wide = what the board gives off is known only as { $losses }, too wide a range for IEC TR 60890 to tell how warm the air at its top gets
enclosure-temperature-wanting = { $count ->
    [one] one load or rating that warms the board is not known
   *[other] { $count } loads or ratings that warm the board are not known
 }
enclosure-temperature-ask-load = read the load's rating plate
enclosure-temperature-ask-incomer = read the rating on the incomer
enclosure-temperature-ask-room = measure the room's temperature where and when it is hottest
enclosure-temperature-ask-mounting = look how the enclosure stands
enclosure-temperature-ask-incomer-loss = take the power loss per pole from the incomer's data sheet
enclosure-temperature-ask-loss = take the power loss per pole from the device's data sheet, with the temperature it may stand in
enclosure-temperature-ask-devices = take from the devices' data sheets what they carry at this temperature
enclosure-label = enclosure
enclosure-size = { $height } by { $width } by { $depth } mm
enclosure-mounting = how the enclosure stands
enclosure-room = temperature of the room
enclosure-incomer-loss = power loss of the incomer per pole
enclosure-losses = power given off inside
enclosure-losses-from = { $value }, from loads, ratings and cable sizes
enclosure-loss-up-to = up to { $most }: the largest of IEC 60898-1 for this rating (from memory)

## What is tried without being entered, and why it cannot be

trial-no-circuit = no such circuit
trial-no-cable = enter the circuit's cable first
trial-no-device = enter the circuit's device first
trial-pole-taken = pole { $pole } is taken: move what is there first
sizing-no-cable = enter how the cable is to run first, its size may stay unknown
sizing-first = { $ask } first
