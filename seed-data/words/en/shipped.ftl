# Words that stand in the tables and patterns as they are shipped, letter by letter: a person's own stay as they are.

## Why a range is taken for a value that is not known (assumed_range.csv)

taken-voltage = nominal voltages to earth in use: 230 V of IEC 60038, older 220 V and 240 V
taken-power-factor-heating = resistive
taken-power-factor-vehicle-charging = power electronics with correction
taken-power-factor-lighting = electronic drivers
taken-power-factor = usual loads
taken-efficiency = a motor's plate states shaft power; small motors down to 50 %; a power taken at the terminals counts whole
taken-ambient-air = indoors
taken-ambient-ground = ground at 0.7 m
taken-grouped = few boards send out more than six circuits bunched
taken-drop-before = share of the drop often left to the supply cable
taken-residual = rated residual currents 30 mA, 100 mA, 300 mA of IEC 61008
taken-breaking = rated short-circuit capacities of IEC 60898-1
taken-third-harmonic-lighting = the most that IEC 61000-3-2 class C allows lamps above 25 W at unity power factor
taken-third-harmonic-motor = no third harmonic expected
taken-third-harmonic-fixed-equipment = it may hold some electronics; up to here annex E of IEC 60364-5-52 takes nothing off; where its neutral is thinner than its lines it counts as any load
taken-third-harmonic-vehicle-charging = chargers with correction
taken-third-harmonic-distribution-circuit = mixed loads
taken-third-harmonic = single-phase electronics among the loads
taken-start-motor = direct on line
taken-start = the load may be a motor
taken-conduit-area = steel of the conduits of IEC 61386 from 16 mm, 1.2 mm wall, to 63 mm
taken-trunking-area = steel of trunking from 50 by 50 mm without its lid
taken-overload-setting = adjustable breakers are made to be set from 0.4 of their rating up to it
taken-short-circuit-setting = from 1.5 times the overload setting up; an instantaneous release may also be switched off
taken-derating = share of its rating that a device loses for each kelvin of air above 40 °C: makers' tables take off no more

## Enclosures (patterns.toml)

pattern-three-phase-4 = Three-phase, 4 ways, two columns
pattern-three-phase-6 = Three-phase, 6 ways, two columns
pattern-three-phase-8 = Three-phase, 8 ways, two columns
pattern-three-phase-12 = Three-phase, 12 ways, two columns
pattern-three-phase-16 = Three-phase, 16 ways, two columns
pattern-three-phase-18 = Three-phase, 18 ways, two columns
pattern-three-phase-24 = Three-phase, 24 ways, two columns
pattern-single-phase-6 = Single-phase, 6 ways, one row
pattern-single-phase-12 = Single-phase, 12 ways, one row
pattern-single-phase-18 = Single-phase, 18 ways, one row
