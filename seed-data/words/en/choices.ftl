# Words of the choices of a field, by the list and the key of each.


## EarthingSystem

EarthingSystem-TnS = TN-S
EarthingSystem-TnCS = TN-C-S
EarthingSystem-Tt = TT
EarthingSystem-It = IT

## SupplyPhases

SupplyPhases-Single = single-phase
SupplyPhases-Three = three-phase

## ConductorColours

ConductorColours-Current = brown, black, grey, blue
ConductorColours-Older = red, yellow, blue, black
ConductorColours-Mixed = both

## Arrangement

Arrangement-ThreePole = three-pole switched, neutral direct
Arrangement-FourPole = four-pole switched
Arrangement-FourPoleRcd = four-pole RCD
Arrangement-TwoPole = two-pole switched
Arrangement-TwoPoleRcd = two-pole RCD
Arrangement-Lugs = none: fed through lugs

## DeviceKind

DeviceKind-CircuitBreaker = circuit-breaker
DeviceKind-Rcbo = RCBO
DeviceKind-Fuse = gG fuse
DeviceKind-RewirableFuse = rewirable fuse
DeviceKind-AdjustableBreaker = adjustable breaker (IEC 60947-2)
DeviceKind-Rcd = RCD
DeviceKind-Isolator = isolator
DeviceKind-Spd = SPD

## Poles

Poles-P1 = 1P
Poles-P1N = 1P+N
Poles-P2 = 2P
Poles-P3 = 3P
Poles-P3N = 3P+N

## Curve

Curve-B = B
Curve-C = C
Curve-D = D

## EnergyClass

EnergyClass-One = 1, not limited
EnergyClass-Three = 3

## RcdType

RcdType-Ac = AC
RcdType-A = A
RcdType-F = F
RcdType-B = B

## LoadKind

LoadKind-Lighting = lighting
LoadKind-Sockets = socket-outlets
LoadKind-FixedEquipment = fixed equipment
LoadKind-Motor = motor
LoadKind-Heating = heating
LoadKind-VehicleCharging = vehicle charging
LoadKind-Distribution = distribution circuit

## RcdDelay

RcdDelay-None = general, no delay
RcdDelay-S = S, time-delayed

## ResidualForm

ResidualForm-Sine = plain a.c.
ResidualForm-Pulsating = pulsating d.c. (electronics)
ResidualForm-MixedFrequency = mixed frequencies (single-phase converter)
ResidualForm-SmoothDc = smooth d.c. (three-phase converter, vehicle charging)

## Network

Network-Public = public network
Network-Private = own transformer or generator

## YesNo

YesNo-Yes = yes
YesNo-No = no

## Layout

Layout-Bunched = bunched or in one enclosure
Layout-WallLayer = one layer on a wall or unperforated tray
Layout-PerforatedTray = one layer on a perforated tray
Layout-Ladder = one layer on ladder or cleats
Layout-Buried = buried side by side

## Mounting

Mounting-Free = free on all sides
Mounting-OnWall = on a wall
Mounting-OnWallBetween = on a wall between others
Mounting-Recessed = recessed in a wall

## Bond

Bond-Bonded = bonded
Bond-NotBonded = not bonded
Bond-NoMetal = not of metal

## Ip

Ip-Ip00 = IP00
Ip-Ip10 = IP10
Ip-Ip20 = IP20
Ip-Ip21 = IP21
Ip-Ip30 = IP30
Ip-Ip31 = IP31
Ip-Ip40 = IP40
Ip-Ip41 = IP41
Ip-Ip43 = IP43
Ip-Ip44 = IP44
Ip-Ip54 = IP54
Ip-Ip55 = IP55
Ip-Ip65 = IP65
Ip-Ip66 = IP66

## TouchLimit

TouchLimit-Fifty = 50 V
TouchLimit-TwentyFive = 25 V, where asked for

## Frequency

Frequency-Hz50 = 50 Hz
Frequency-Hz60 = 60 Hz

## CurrentForm

CurrentForm-Ac = a.c.
CurrentForm-Dc = d.c., one pole or none earthed
CurrentForm-DcMidpoint = d.c., midpoint earthed

## Seen

Seen-BorrowedNeutral = neutral borrowed from another circuit
Seen-UnlinkedPoles = poles of one circuit not linked
Seen-InterruptedRing = ring interrupted
Seen-Spur = spur without a fuse, more than one point on it
Seen-SpareEnd = spare cable end
Seen-MixedColours = conductors of one circuit in old and new colours
Seen-DoubledConductor = two conductors under a terminal made for one
Seen-MissingBlank = blank missing over an unused way
Seen-LiveInReach = live parts within reach, cover on
Seen-OpenHole = hole in the enclosure left open
Seen-BareEntry = cable through a hole without gland or bush
Seen-SheathShort = sheath ends outside the enclosure
Seen-NoEarth = protective conductor missing or cut
Seen-Loose = loose terminal
Seen-Heat = marks of heat
Seen-Damaged = damaged part
Seen-Wet = water, dirt or rust inside
Seen-ForeignDevice = device of another make than the board is made for

## Material

Material-Copper = copper
Material-Aluminium = aluminium

## Insulation

Insulation-Pvc70 = PVC 70 °C
Insulation-Xlpe90 = XLPE or EPR 90 °C

## Construction

Construction-SingleCore = single-core
Construction-Multicore = multicore
Construction-FlatTwinEarth = flat twin and earth
Construction-Armoured = armoured multicore
Construction-Flexible = flexible

## Band

Band-Power = low-voltage power
Band-ExtraLow = extra-low voltage
Band-Data = data or telecommunication
Band-Fire = fire alarm or emergency lighting

## Method

Method-A1 = A1: conductors in conduit in an insulating wall
Method-A2 = A2: multicore in conduit in an insulating wall
Method-B1 = B1: conductors in conduit on a wall
Method-B2 = B2: multicore in conduit on a wall
Method-C = C: cable on a wall
Method-D1 = D1: multicore in a buried duct
Method-D2 = D2: multicore direct in the ground
Method-E = E: multicore in free air
Method-F = F: single-core touching in free air

## Formation

Formation-Trefoil = trefoil, touching (method F)
Formation-Flat = flat, touching (method F)
Formation-SpacedFlat = flat, one diameter apart, horizontal (method G)
Formation-SpacedUpright = flat, one diameter apart, vertical (method G)

## CpcForm

CpcForm-Core = a core
CpcForm-Armour = armour
CpcForm-Conduit = conduit
CpcForm-Trunking = trunking
CpcForm-Separate = separate conductor

## PlateMaterial

PlateMaterial-Steel = steel
PlateMaterial-StainlessSteel = stainless steel
PlateMaterial-Aluminium = aluminium
PlateMaterial-Brass = brass
PlateMaterial-Plastic = plastic

## Corner

Corner-LeftRear = left rear corner
Corner-RightRear = right rear corner
Corner-LeftFront = left front corner
Corner-RightFront = right front corner

## EntryKind

EntryKind-ArmouredGland = armoured-cable gland
EntryKind-CompressionGland = compression gland
EntryKind-Conduit = conduit
EntryKind-FlexibleConduit = flexible conduit
EntryKind-Bush = bush
EntryKind-TrunkingCutOut = trunking cut-out
EntryKind-Blanked = blanked spare

## Stage

Stage-Existing = existing
Stage-New = new

## MarkShape

MarkShape-Arrow = arrow
MarkShape-Box = box
MarkShape-Text = text

## Known

known-measured = measured
known-label = read from label
known-decided = decided
known-stated = stated
known-assumed = assumed
known-unknown = unknown

## Verdict

verdict-fails = fails
verdict-undecided = undecided
verdict-advised = beyond advice
verdict-holds = holds

## PartState

part-there = there
part-missing = missing
part-without = none, or not of metal
part-not-looked-at = not looked at

## Face

face-top = top
face-bottom = bottom
face-left = left side
face-right = right side
face-back = back
part-fitted = fitted
part-none = none
part-assumed = not looked at (assumed: { $words })
part-known = { $words } ({ $known })
part-live = Live with the cover off and the incomer open: { $words }
part-door = Door or cover, taken off
