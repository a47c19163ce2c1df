# Words of the fields. Those of a field of the survey bear its name: what a person calls it (in the middle of a
# sentence), -hint: more about it, -ask: a short order that gets it.

## Site

Site-id = id
Site-name = name of the site
Site-note = note on the site
Site-removed = removed

## Board

Board-model = version of the model
Board-id = id
Board-site = site
Board-reference = reference of the board
Board-reference-hint = As on its label.
Board-place = where the board hangs
Board-stage = stage
Board-removed = removed
Board-supply = supply
Board-enclosure = enclosure
Board-incomer = incomer
Board-surroundings = surroundings
Board-housing = enclosure against touch
Board-devices = devices
Board-circuits = circuits
Board-cables = cables
Board-plates = gland plates
Board-photos = photos
Board-observations = what was seen
Board-notes = notes
Board-settled = settled conflicts

## Supply

Supply-system = earthing system
Supply-system-ask = find the earthing system at the origin
Supply-phases = phases of the supply
Supply-voltage = voltage to earth
Supply-voltage-hint = U0: between a line and earth.
Supply-voltage-ask = measure the voltage between line and earth
Supply-ze = loop impedance at the board, Ze
Supply-ze-hint = Measured at the board's own incoming terminals.
Supply-ze-ask = measure the loop impedance at the board's incoming terminals
Supply-ipf = fault current at the board, Ipf
Supply-ipf-hint = The larger of line to neutral and three-phase.
Supply-ipf-ask = measure the prospective fault current at the board
Supply-upstream = rated current of the device upstream
Supply-upstream-ask = read the rating of the device upstream
Supply-upstream_kind = kind of the device upstream
Supply-upstream_curve = type of the device upstream
Supply-upstream_residual = rated residual current of the RCD upstream
Supply-upstream_residual-hint = IΔn, where it is an RCD.
Supply-upstream_residual-ask = read the rated residual current on the device upstream
Supply-upstream_delay = delay of the RCD upstream
Supply-upstream_let_through = let-through energy of the device upstream
Supply-upstream_let_through-hint = From its data sheet; said of one fault current.
Supply-upstream_let_through_at = fault current of the upstream let-through energy
Supply-upstream_ir = overload setting of the device upstream, Ir
Supply-upstream_ir-hint = Of an adjustable breaker, in amperes.
Supply-upstream_ii = instantaneous setting of the device upstream, Ii
Supply-upstream_isd = short-time setting of the device upstream, Isd
Supply-upstream_isd-hint = Without such a release: Ii again.
Supply-upstream_tsd = longest opening time of the upstream short-time release
Supply-upstream_tsd-hint = At its delay setting, from its data.
Supply-network = network
Supply-network-ask = find whose network feeds the installation
Supply-transformer = rating of the transformer
Supply-transformer_voltage = short-circuit voltage of the transformer
Supply-origin_ipf = fault current at the origin, Ipf
Supply-origin_ze = loop impedance at the origin, Ze
Supply-electrode = resistance of the earth electrode
Supply-electrode-hint = RA.
Supply-electrode-ask = measure the earth electrode's resistance
Supply-electrode_length = length of the electrode rod
Supply-electrode_length-hint = In the ground, where its resistance was not measured.
Supply-electrode_diameter = diameter of the electrode rod
Supply-electrode_ground = resistivity of the ground at the electrode
Supply-touch_limit = touch voltage allowed
Supply-touch_limit-ask = find whether a part of the rules asks for 25 V here
Supply-reduced = reduced low voltage
Supply-reduced-hint = 110 V between lines, midpoint or star point earthed.
Supply-reduced-ask = find whether the supply is of reduced low voltage: 110 V between lines, its midpoint or star point earthed
Supply-current_form = form of the current
Supply-current_form-ask = find whether the supply is a.c. or d.c.
Supply-frequency = frequency
Supply-frequency-ask = find the frequency of the supply
Supply-first_fault = current of a first fault, Id
Supply-first_fault-hint = IT system.
Supply-first_fault-ask = find the current that a first fault to earth draws
Supply-neutral_distributed = neutral of the IT system
Supply-neutral_distributed-hint = Whether it is distributed.
Supply-neutral_distributed-ask = find whether the neutral is distributed
Supply-earthed_together = earthing of exposed parts
Supply-earthed_together-hint = IT system: whether they are earthed together.
Supply-earthed_together-ask = find whether all exposed parts share one earth
Supply-earthing_conductor = cross-section of the earthing conductor
Supply-bonding = cross-section of the main bonding conductors
Supply-colours = conductor colours
Supply-cable = incoming cable
Supply-fed_from = where the board is fed from

## Incomer

Incomer-arrangement = arrangement of the incomer
Incomer-rated = rated current of the incomer
Incomer-residual = rated residual current of the incomer
Incomer-residual-hint = IΔn, where it is an RCD.
Incomer-residual-ask = read the rated residual current on the incomer
Incomer-rcd_type = type of the incomer's RCD
Incomer-rcd_type-ask = read the RCD's type on the incomer: AC, A, F or B
Incomer-delay = delay of the incomer's RCD
Incomer-delay-ask = look for the S of a time-delayed RCD on the incomer
Incomer-loss = power loss of the incomer, per pole
Incomer-loss-hint = At its rated current.
Incomer-conditional = conditional short-circuit current of the incomer
Incomer-conditional-hint = With the device upstream, from its maker's data.
Incomer-short_time = short-time withstand current of the incomer, Icw
Incomer-short_time-hint = For 1 s.
Incomer-terminals_90 = incomer's terminals for conductors at 90 °C

## Surroundings

Surroundings-ambient = temperature of the room
Surroundings-ambient-hint = Where and when it is hottest.
Surroundings-mounting = how the enclosure stands
Surroundings-diversity = rated diversity factor
Surroundings-diversity-hint = RDF, on the board's label.
Surroundings-diversity-ask = read the rated diversity factor (RDF) on the board's label or papers
Surroundings-conditional = conditional short-circuit current of the board, Icc
Surroundings-conditional-hint = On its label.
Surroundings-short_time = short-time withstand current of the busbars, Icw
Surroundings-short_time-hint = For 1 s, on the board's label.

## Housing

Housing-case_bond = bond of the case
Housing-case_bond-hint = Its case and the protective conductor.
Housing-door_bond = bond of the door
Housing-door_bond-hint = Door or cover, and what hangs in it.
Housing-plates_bond = bond of the plates
Housing-plates_bond-hint = Gland plates and mounting plate.
Housing-incoming_earth = terminal for the incoming protective conductor
Housing-outside_studs = earth studs outside
Housing-barriers = barriers before the busbars
Housing-barriers-hint = Cover off.
Housing-shrouds = shrouds over the incoming terminals
Housing-shrouds-hint = Cover off.
Housing-live_uncovered = what is live with the cover off
Housing-live_uncovered-hint = And the incomer open.
Housing-ip_closed = degree of protection, cover on
Housing-ip_open = degree of protection, cover off
Housing-blanks_fitted = blanks fitted over unused ways
Housing-blanks_fitted-hint = In modules.
Housing-labels_fitted = labels fitted

## Device

Device-removed = removed
Device-kind = kind of device
Device-kind-ask = read what kind of device it is
Device-poles = poles of the device
Device-poles-ask = count the poles of the device
Device-at = place of the device
Device-at-ask = enter the pole the device starts on
Device-rated = rated current of the device, In
Device-rated-ask = read the rating on the device
Device-curve = type of the device
Device-curve-hint = The letter before its rated current.
Device-curve-ask = read the type letter on the device
Device-breaking = short-circuit capacity of the device
Device-breaking-ask = read the short-circuit capacity on the device
Device-residual = rated residual current, IΔn
Device-residual-ask = read the rated residual current on the device
Device-rcd_type = type of the RCD
Device-rcd_type-ask = read the RCD's type on the device: AC, A, F or B
Device-delay = delay of the RCD
Device-delay-ask = look for the S of a time-delayed RCD on the device
Device-energy_class = energy-limiting class of the device
Device-energy_class-hint = The 3 in a square below its short-circuit capacity.
Device-energy_class-ask = look for the energy-limiting class on the device: a 3 in a square below its short-circuit capacity
Device-let_through = let-through energy of the device
Device-let_through-hint = From its data sheet; said of one fault current.
Device-let_through-ask = take the let-through energy from the device's data sheet
Device-let_through_at = fault current of the let-through energy
Device-let_through_at-ask = read in the data sheet at which fault current the let-through energy is said
Device-selective = selectivity limit
Device-selective-hint = Fault current up to which it opens alone under the device upstream, by the makers' table.
Device-backed_up = fault current backed up to
Device-backed_up-hint = By the device upstream, by the makers' table.
Device-backed_up-ask = read in the makers' table up to which fault current the device upstream backs this one up; give 0 A where no table pairs them
Device-loss = power loss of the device, per pole
Device-loss-hint = At its rated current.
Device-terminals_90 = terminals for conductors at 90 °C
Device-terminals_90-ask = read on the device or in its data whether its terminals take conductors at 90 °C
Device-neutral_protected = release in the neutral pole
Device-neutral_protected-hint = Whether it opens on overcurrent too.
Device-neutral_protected-ask = read on the device whether its neutral pole opens on overcurrent too
Device-for_it = device in an IT system
Device-for_it-hint = Whether one pole breaks the voltage between lines, by its data.
Device-for_it-ask = read in the device's data whether one pole breaks the voltage between lines, as an IT system asks
Device-dc_rated = device for direct current
Device-dc_rated-hint = Of this voltage, by its data.
Device-dc_rated-ask = read in the device's data whether it is for direct current of this voltage, when it opens on it and what it lets through
Device-ir = overload setting of the device, Ir
Device-ir-hint = In amperes.
Device-ir-ask = read the overload setting on the breaker, in amperes
Device-ii = instantaneous setting of the device, Ii
Device-ii-ask = read the setting of the instantaneous release on the breaker, in amperes
Device-isd = short-time setting of the device, Isd
Device-isd-hint = Without such a release: Ii again.
Device-isd-ask = read the setting of the short-time release on the breaker, in amperes; without one give that of the instantaneous release
Device-tsd = longest opening time of the short-time release
Device-tsd-hint = At its delay setting, from its data.
Device-tsd-ask = take from the breaker's data in which time its short-time release opens at its delay setting

## Circuit

Circuit-removed = removed
Circuit-number = number on the chart
Circuit-number-hint = Empty: the pole it starts on.
Circuit-description = what the circuit feeds
Circuit-kind = kind of load
Circuit-kind-ask = find what the circuit feeds
Circuit-device = protective device
Circuit-device-ask = find the circuit's protective device
Circuit-cable = cable
Circuit-cable-ask = enter the circuit's cable
Circuit-ring = ring final circuit
Circuit-ring-hint = Both ends of its cable are on the device.
Circuit-ring-ask = look whether both ends of the circuit's cable are on its device
Circuit-load = load
Circuit-neutral_terminal = neutral terminal
Circuit-earth_terminals = earth terminals
Circuit-high_protective_current = protective conductor current above 10 mA
Circuit-high_protective_current-hint = It takes two earth terminals.
Circuit-tests = readings

## Load

Load-power = power
Load-power-hint = Connected: electrical input; of a motor the shaft power.
Load-power-ask = read the power on the load's rating plate
Load-current = design current
Load-current-hint = Where it is known directly.
Load-current-ask = measure the load's current with a clamp at full load
Load-power_factor = power factor
Load-power_factor-ask = read the power factor on the rating plate or measure it
Load-leading = whether the current leads the voltage
Load-leading-ask = see with an analyser whether the load's current leads or lags the voltage
Load-efficiency = efficiency
Load-efficiency-ask = read the efficiency on the motor's rating plate
Load-demand = demand factor
Load-demand-hint = Share of the load that runs at once.
Load-demand-ask = find how much of the load runs at once
Load-third_harmonic = third harmonic of the load
Load-third_harmonic-hint = As a share of the line current.
Load-third_harmonic-ask = measure the third harmonic of the current with an analyser
Load-leakage = protective conductor current in normal use
Load-residual_form = form of the earth fault current
Load-residual_form-hint = Of the load: it sets the RCD type.
Load-residual_form-ask = find whether electronics or a converter feed the load
Load-dc_detection = 6 mA d.c. detection of the charger
Load-dc_detection-ask = read in the charger's papers whether it cuts off d.c. above 6 mA
Load-start = starting current, times the rated
Load-start-ask = read the starting current on the motor's rating plate

## Tests

Tests-zs = measured loop impedance, Zs
Tests-zs-hint = At the far end.
Tests-zs-ask = measure the loop impedance at the far end
Tests-r1_r2 = R1+R2
Tests-r1_r2-ask = measure R1+R2, supply isolated and proved dead
Tests-ring_line = r1 of the ring
Tests-ring_line-hint = Line conductor from end to end.
Tests-ring_neutral = rn of the ring
Tests-ring_neutral-hint = Neutral conductor from end to end.
Tests-ring_cpc = r2 of the ring
Tests-ring_cpc-hint = Protective conductor from end to end.
Tests-polarity = polarity right
Tests-polarity-hint = Line, neutral and protective conductor on their own terminals, from the device to every point.
Tests-insulation = insulation resistance
Tests-insulation-hint = Live to earth.

## Cable

Cable-removed = removed
Cable-construction = construction of the cable
Cable-construction-ask = look how the cable is built
Cable-cores = cores of the cable
Cable-cores-hint = The protective one among them.
Cable-cores-ask = count the cores
Cable-size = cable size
Cable-size-hint = Cross-section of the line conductor.
Cable-size-ask = read the size on the sheath or measure a core
Cable-cpc_size = size of the protective conductor
Cable-cpc_size-ask = read or measure the protective conductor's size
Cable-cpc_apart = whether the protective conductor is laid apart
Cable-cpc_apart-hint = From the lines, not bunched with them.
Cable-cpc_apart-ask = look whether the protective conductor runs bunched with the lines or apart
Cable-cpc = protective conductor
Cable-cpc-ask = look what the protective conductor is
Cable-cpc_material = metal of the protective conductor
Cable-cpc_material-ask = look what metal the protective conductor is of
Cable-material = conductor material
Cable-material-ask = look at the conductor: copper or aluminium
Cable-insulation = insulation
Cable-insulation-ask = read the insulation on the sheath
Cable-method = installation method
Cable-method-ask = look how the cable runs
Cable-length = length of the cable
Cable-length-hint = From this board to the load.
Cable-length-ask = measure the length of the run
Cable-ambient = temperature around the cable
Cable-ambient-hint = Where it is hottest.
Cable-ambient-ask = measure the temperature where the run is hottest
Cable-grouped = circuits grouped together
Cable-grouped-hint = This one included.
Cable-grouped-ask = count the circuits that run together
Cable-grouped_light = lightly loaded circuits among them
Cable-grouped_light-hint = Those that carry no more than 30 % of what they may carry there.
Cable-grouped_light-ask = count those of the group that carry no more than 30 % of what they may
Cable-layout = how the circuits lie together
Cable-layout-ask = look how the circuits lie: bunched, in one layer, on tray or ladder
Cable-formation = how the single cores lie
Cable-formation-hint = In free air.
Cable-formation-ask = look how the single cores of the circuit lie: in trefoil, flat and touching, or a diameter apart
Cable-mixed_sizes = sizes that lie together
Cable-mixed_sizes-hint = Whether cables of much larger or smaller sizes lie with it.
Cable-mixed_sizes-ask = look whether much larger or smaller cables lie in the same bunch
Cable-parallel = cables in parallel
Cable-parallel-hint = Per circuit.
Cable-parallel-ask = count the cables that feed the circuit side by side
Cable-neutral_size = size of the neutral
Cable-neutral_size-hint = Where it is another than the line's.
Cable-neutral_size-ask = read or measure the neutral's size
Cable-in_insulation = length in thermal insulation
Cable-in_insulation-hint = Surrounded by it.
Cable-in_insulation-ask = measure the length that runs in thermal insulation
Cable-soil = thermal resistivity of the ground
Cable-soil-ask = find the ground's thermal resistivity
Cable-burial_depth = depth of burial
Cable-burial_depth-ask = measure how deep the cable lies
Cable-band = what the cable carries
Cable-band-hint = Low-voltage power, where nothing else is said.
Cable-diameter = diameter of the cable
Cable-diameter-hint = Overall.
Cable-bedding_diameter = diameter under the armour
Cable-bend_factor = bend radius, times the diameter
Cable-bend_factor-hint = The smallest, by its maker.

## Plate

Plate-removed = removed
Plate-face = face of the plate
Plate-width = width of the plate
Plate-width-hint = Across the front.
Plate-depth = depth of the plate
Plate-depth-hint = Front to back.
Plate-thickness = thickness of the plate
Plate-material = material of the plate
Plate-datum = datum corner
Plate-datum-hint = Dimensions on papers run from it.
Plate-usable = part that may be drilled
Plate-keep_outs = parts that stay whole
Plate-wiring_depth = free depth behind the plate
Plate-wiring_depth-hint = Up to the nearest terminal or part.
Plate-slots = slots
Plate-entries = entries

## Entry

Entry-removed = removed
Entry-number = number of the entry
Entry-number-hint = On plate and paper, after the E.
Entry-kind = kind of entry
Entry-size = size of the entry
Entry-size-hint = Trade size: 20S, M25, 25.
Entry-at = place of the entry
Entry-hole = hole of the entry
Entry-hole-hint = Empty: the clearance hole of its size. Of a cut-out: its width.
Entry-cut_out_height = height of the cut-out
Entry-cable = cable of the entry
Entry-others = more cables of the entry
Entry-hole_measured = measured hole
Entry-at_within = how far the centre may be off
Entry-run_length = length of the conduit run
Entry-run_length-hint = To the next box.
Entry-run_bends = bends in the conduit run
Entry-run_bends-hint = Right-angled; a double set counts as one.
Entry-growth = share kept free
Entry-growth-hint = Of trunking, for cables to come.
Entry-evidence = photo of the entry
Entry-existing = hole that is there already
Entry-locked = stays where it is

## Slot

Slot-removed = removed
Slot-from = first entry of the slot
Slot-to = second entry of the slot
Slot-width = width of the slot

## Photo

Photo-removed = removed
Photo-hash = hash of the photo
Photo-media = media type of the photo
Photo-width = pixels across
Photo-height = pixels down
Photo-caption = caption of the photo
Photo-pinned = what the photo shows
Photo-at = time of the photo
Photo-marks = marks on the photo

## Mark

Mark-removed = removed
Mark-shape = shape of the mark
Mark-points = points of the mark
Mark-text = words of the mark

## Note

Note-removed = removed
Note-text = note
Note-about = what the note is about
Note-at = time of the note
Note-role = role of who wrote the note

## Observation

Observation-removed = removed
Observation-seen = what was seen
Observation-about = what it is about
Observation-place = where it was seen
Observation-photo = photo that shows it
Observation-put_right = put right
Observation-at = when it was seen
Observation-role = role of who saw it

## Settled

Settled-path = field of the conflict
Settled-from = values that stood
Settled-to = value picked
Settled-role = role of who picked
Settled-at = when it was settled

## What a circuit's checks rest on beside those

field-drop-before = drop before the board
field-time-curve = time/current curve of the device
field-inside = air in the enclosure
field-derating = what the device carries in that air
field-own-blind = smooth d.c. through the circuit's RCD
field-zdb = loop impedance at this board (Zdb)
field-incomer-blind = smooth d.c. through the incomer's RCD
field-upstream-blind = smooth d.c. through the RCD upstream
field-loop-angle = angle of the loop before the board

## How a person gets it: short orders, in the middle of a sentence or alone

ask-drop-before = measure the voltage at the origin and here under load, or enter the supply cable
ask-time-curve = take from the maker's time/current curve which current opens the device in this time
ask-inside = measure the air at the top of the enclosure under load, or the room where and when it is hottest
ask-derating = take from the maker's data what the device carries at the temperature in the enclosure
ask-own-blind = find whether the loads of the other circuits on this RCD leak smooth direct current, and whether it is of type B
ask-incomer-blind = find whether the load that may leak smooth direct current does, and whether the incomer is of type B
ask-upstream-blind = find whether the load that may leak smooth direct current does, and whether the RCD upstream is of type B
ask-loop-angle = measure the loop impedance at the far end

## What is taken for a field that nobody read

usual-soil = 2.5 K·m/W: not known, what the tables are for
usual-depth = 0.7 m: not known, what the tables are for
usual-in-insulation = none: nobody saw it run through thermal insulation
usual-mixed-sizes = no: not looked at
usual-touch-limit = the usual one: no lower was asked for
usual-current-form = a.c.: not known
usual-frequency = 50 Hz: not known
