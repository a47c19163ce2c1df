//! The fields a circuit's checks rest on: what each is called, how to get it, what it may be.

use std::marker::PhantomData;

use survey::{
    Amps, AmpsSquaredSeconds, Celsius, KelvinMetresPerWatt, Metres, Ohms, Ratio, Seconds, SquareMillimetres, Volts,
    Watts,
};

/// What is to be known about a field itself.
pub(crate) struct About {
    /// What a person calls it.
    pub(crate) label: &'static str,
    /// A short order that gets it.
    pub(crate) ask: &'static str,
    /// Its unit's symbol.
    pub(crate) unit: &'static str,
    /// Bounds beyond which a number makes no sense; both are allowed themselves.
    pub(crate) sane: (f64, f64),
}

macro_rules! fields {
    ($($name:ident, $label:literal, $ask:literal, $unit:literal, $lo:expr, $hi:expr;)+) => {
        /// A field of the survey as one circuit sees it.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub(crate) enum Field { $($name),+ }

        impl Field {
            /// Every field, in the order inputs are listed.
            pub(crate) const ALL: &'static [Self] = &[$(Self::$name),+];

            /// What is to be known about it.
            pub(crate) const fn about(self) -> &'static About {
                match self {
                    $(Self::$name => &About { label: $label, ask: $ask, unit: $unit, sane: ($lo, $hi) }),+
                }
            }
        }
    };
}

/// The smallest number above zero that any reading could mean.
const TINY: f64 = 1e-9;
const HUGE: f64 = 1e9;

fields! {
    Kind, "kind of load", "find what the circuit feeds", "", 0.0, 0.0;
    Power, "power", "read the power on the load's rating plate", "W", 0.0, HUGE;
    Current, "design current", "measure the load's current with a clamp at full load", "A", 0.0, HUGE;
    PowerFactor, "power factor", "read the power factor on the rating plate or measure it", "", 0.01, 1.0;
    Leading, "whether the current leads the voltage", "see with an analyser whether the load's current leads or lags the voltage", "", 0.0, 0.0;
    Efficiency, "efficiency", "read the efficiency on the motor's rating plate", "", 0.01, 1.0;
    Demand, "demand factor", "find how much of the load runs at once", "", 0.0, 1.0;
    ThirdHarmonic, "third harmonic of the load", "measure the third harmonic of the current with an analyser", "", 0.0, 1.0;
    ResidualForm, "form of the earth fault current", "find whether electronics or a converter feed the load", "", 0.0, 0.0;
    DcDetection, "6 mA d.c. detection of the charger", "read in the charger's papers whether it cuts off d.c. above 6 mA", "", 0.0, 0.0;
    Start, "starting current, times the rated", "read the starting current on the motor's rating plate", "", 0.5, 30.0;
    Voltage, "voltage to earth", "measure the voltage between line and earth", "V", 1.0, 1000.0;
    System, "earthing system", "find the earthing system at the origin", "", 0.0, 0.0;
    Network, "network", "find whose network feeds the installation", "", 0.0, 0.0;
    Electrode, "resistance of the earth electrode", "measure the earth electrode's resistance", "Ω", 0.0, HUGE;
    TouchLimit, "touch voltage allowed", "find whether a part of the rules asks for 25 V here", "", 0.0, 0.0;
    Frequency, "frequency", "find the frequency of the supply", "", 0.0, 0.0;
    FirstFault, "current of a first fault, Id", "find the current that a first fault to earth draws", "A", 0.0, HUGE;
    NeutralDistributed, "neutral of the IT system", "find whether the neutral is distributed", "", 0.0, 0.0;
    EarthedTogether, "earthing of exposed parts", "find whether all exposed parts share one earth", "", 0.0, 0.0;
    Ze, "loop impedance at the board, Ze", "measure the loop impedance at the board's incoming terminals", "Ω", 0.0, HUGE;
    Ipf, "fault current at the board, Ipf", "measure the prospective fault current at the board", "A", 0.0, HUGE;
    DropBefore, "drop before the board", "measure the voltage at the origin and here under load, or enter the supply cable", "", 0.0, 1.0;
    Device, "protective device", "find the circuit's protective device", "", 0.0, 0.0;
    DeviceKind, "kind of device", "read what kind of device it is", "", 0.0, 0.0;
    Poles, "poles of the device", "count the poles of the device", "", 0.0, 0.0;
    At, "place of the device", "enter the pole the device starts on", "", 0.0, 0.0;
    Rated, "rated current of the device, In", "read the rating on the device", "A", TINY, HUGE;
    Curve, "type of the device", "read the type letter on the device", "", 0.0, 0.0;
    BackedUp, "fault current backed up to", "read in the makers' table up to which fault current the device upstream backs this one up; give 0 A where no table pairs them", "A", 0.0, HUGE;
    Breaking, "short-circuit capacity of the device", "read the short-circuit capacity on the device", "A", TINY, HUGE;
    Residual, "rated residual current, IΔn", "read the rated residual current on the device", "A", TINY, HUGE;
    UpstreamResidual, "rated residual current of the RCD upstream", "read the rated residual current on the device upstream", "A", TINY, HUGE;
    Upstream, "rated current of the device upstream", "read the rating of the device upstream", "A", TINY, HUGE;
    IncomerResidual, "rated residual current of the incomer", "read the rated residual current on the incomer", "A", TINY, HUGE;
    RcdType, "type of the RCD", "read the RCD's type on the device: AC, A, F or B", "", 0.0, 0.0;
    Delay, "delay of the RCD", "look for the S of a time-delayed RCD on the device", "", 0.0, 0.0;
    IncomerRcdType, "type of the incomer's RCD", "read the RCD's type on the incomer: AC, A, F or B", "", 0.0, 0.0;
    IncomerDelay, "delay of the incomer's RCD", "look for the S of a time-delayed RCD on the incomer", "", 0.0, 0.0;
    Terminals, "terminals for conductors at 90 °C", "read on the device or in its data whether its terminals take conductors at 90 °C", "", 0.0, 0.0;
    NeutralProtected, "release in the neutral pole", "read on the device whether its neutral pole opens on overcurrent too", "", 0.0, 0.0;
    ForIt, "device in an IT system", "read in the device's data whether one pole breaks the voltage between lines, as an IT system asks", "", 0.0, 0.0;
    EnergyClass, "energy-limiting class of the device", "look for the energy-limiting class on the device: a 3 in a square below its short-circuit capacity", "", 0.0, 0.0;
    LetThrough, "let-through energy of the device", "take the let-through energy from the device's data sheet", "A²s", TINY, 1e12;
    LetThroughAt, "fault current of the let-through energy", "read in the data sheet at which fault current the let-through energy is said", "A", TINY, HUGE;
    Cable, "cable", "enter the circuit's cable", "", 0.0, 0.0;
    Construction, "construction of the cable", "look how the cable is built", "", 0.0, 0.0;
    Cores, "cores of the cable", "count the cores", "", 1.0, 255.0;
    Size, "cable size", "read the size on the sheath or measure a core", "mm²", TINY, HUGE;
    Material, "conductor material", "look at the conductor: copper or aluminium", "", 0.0, 0.0;
    Insulation, "insulation", "read the insulation on the sheath", "", 0.0, 0.0;
    Method, "installation method", "look how the cable runs", "", 0.0, 0.0;
    Ambient, "temperature around the cable", "measure the temperature where the run is hottest", "°C", -60.0, 200.0;
    Grouped, "circuits grouped together", "count the circuits that run together", "", 1.0, 255.0;
    GroupedLight, "lightly loaded circuits among them", "count those of the group that carry no more than 30 % of what they may", "", 0.0, 255.0;
    Layout, "how the circuits lie together", "look how the circuits lie: bunched, in one layer, on tray or ladder", "", 0.0, 0.0;
    MixedSizes, "sizes that lie together", "look whether much larger or smaller cables lie in the same bunch", "", 0.0, 0.0;
    Parallel, "cables in parallel", "count the cables that feed the circuit side by side", "", 1.0, 255.0;
    NeutralSize, "size of the neutral", "read or measure the neutral's size", "mm²", TINY, HUGE;
    InInsulation, "length in thermal insulation", "measure the length that runs in thermal insulation", "m", 0.0, HUGE;
    Soil, "thermal resistivity of the ground", "find the ground's thermal resistivity", "K·m/W", 0.01, 100.0;
    Depth, "depth of burial", "measure how deep the cable lies", "m", 0.0, 100.0;
    Length, "length of the cable", "measure the length of the run", "m", 0.0, HUGE;
    Cpc, "protective conductor", "look what the protective conductor is", "", 0.0, 0.0;
    CpcMaterial, "metal of the protective conductor", "look what metal the protective conductor is of", "", 0.0, 0.0;
    CpcApart, "whether the protective conductor is laid apart", "look whether the protective conductor runs bunched with the lines or apart", "", 0.0, 0.0;
    CpcSize, "size of the protective conductor", "read or measure the protective conductor's size", "mm²", TINY, HUGE;
    Ring, "ring final circuit", "look whether both ends of the circuit's cable are on its device", "", 0.0, 0.0;
    R1R2, "R1+R2", "measure R1+R2, supply isolated and proved dead", "Ω", 0.0, HUGE;
    Formation, "how the single cores lie", "look how the single cores of the circuit lie: in trefoil, flat and touching, or a diameter apart", "", 0.0, 0.0;
    CurrentForm, "form of the current", "find whether the supply is a.c. or d.c.", "", 0.0, 0.0;
    DcRated, "device for direct current", "read in the device's data whether it is for direct current of this voltage, when it opens on it and what it lets through", "", 0.0, 0.0;
    Reduced, "reduced low voltage", "find whether the supply is of reduced low voltage: 110 V between lines, its midpoint or star point earthed", "", 0.0, 0.0;
    Ir, "overload setting of the device, Ir", "read the overload setting on the breaker, in amperes", "A", TINY, HUGE;
    Ii, "instantaneous setting of the device, Ii", "read the setting of the instantaneous release on the breaker, in amperes", "A", TINY, HUGE;
    Isd, "short-time setting of the device, Isd", "read the setting of the short-time release on the breaker, in amperes; without one give that of the instantaneous release", "A", TINY, HUGE;
    Tsd, "longest opening time of the short-time release", "take from the breaker's data in which time its short-time release opens at its delay setting", "s", 0.0, HUGE;
    TimeCurve, "time/current curve of the device", "take from the maker's time/current curve which current opens the device in this time", "", 0.0, 1.0;
    Inside, "air in the enclosure", "measure the air at the top of the enclosure under load, or the room where and when it is hottest", "°C", -60.0, 1000.0;
    Diversity, "rated diversity factor", "read the rated diversity factor (RDF) on the board's label or papers", "", 0.0, 1.0;
    Derating, "what the device carries in that air", "take from the maker's data what the device carries at the temperature in the enclosure", "", 0.0, 1.0;
    OwnBlind, "smooth d.c. through the circuit's RCD", "find whether the loads of the other circuits on this RCD leak smooth direct current, and whether it is of type B", "", 0.0, 0.0;
    IncomerBlind, "smooth d.c. through the incomer's RCD", "find whether the load that may leak smooth direct current does, and whether the incomer is of type B", "", 0.0, 0.0;
    UpstreamBlind, "smooth d.c. through the RCD upstream", "find whether the load that may leak smooth direct current does, and whether the RCD upstream is of type B", "", 0.0, 0.0;
    LoopAngle, "angle of the loop before the board", "measure the loop impedance at the far end", "", 0.0, 1.0;
    Zs, "measured loop impedance, Zs", "measure the loop impedance at the far end", "Ω", 0.0, HUGE;
}

/// A field that holds a quantity: the unit is part of its type.
pub(crate) struct Key<Q> {
    pub(crate) field: Field,
    unit: PhantomData<fn() -> Q>,
}

impl<Q> Clone for Key<Q> {
    fn clone(&self) -> Self {
        *self
    }
}
impl<Q> Copy for Key<Q> {}

impl<Q> Key<Q> {
    const fn new(field: Field) -> Self {
        Self { field, unit: PhantomData }
    }
}

pub(crate) const POWER: Key<Watts> = Key::new(Field::Power);
pub(crate) const CURRENT: Key<Amps> = Key::new(Field::Current);
pub(crate) const POWER_FACTOR: Key<Ratio> = Key::new(Field::PowerFactor);
pub(crate) const EFFICIENCY: Key<Ratio> = Key::new(Field::Efficiency);
pub(crate) const DEMAND: Key<Ratio> = Key::new(Field::Demand);
pub(crate) const VOLTAGE: Key<Volts> = Key::new(Field::Voltage);
pub(crate) const ZE: Key<Ohms> = Key::new(Field::Ze);
pub(crate) const IPF: Key<Amps> = Key::new(Field::Ipf);
pub(crate) const DROP_BEFORE: Key<Ratio> = Key::new(Field::DropBefore);
pub(crate) const RATED: Key<Amps> = Key::new(Field::Rated);
pub(crate) const BACKED_UP: Key<Amps> = Key::new(Field::BackedUp);
pub(crate) const GROUPED_LIGHT: Key<Ratio> = Key::new(Field::GroupedLight);
pub(crate) const BREAKING: Key<Amps> = Key::new(Field::Breaking);
pub(crate) const RESIDUAL: Key<Amps> = Key::new(Field::Residual);
pub(crate) const INCOMER_RESIDUAL: Key<Amps> = Key::new(Field::IncomerResidual);
pub(crate) const UPSTREAM: Key<Amps> = Key::new(Field::Upstream);
pub(crate) const UPSTREAM_RESIDUAL: Key<Amps> = Key::new(Field::UpstreamResidual);
pub(crate) const CORES: Key<Ratio> = Key::new(Field::Cores);
pub(crate) const SIZE: Key<SquareMillimetres> = Key::new(Field::Size);
pub(crate) const AMBIENT: Key<Celsius> = Key::new(Field::Ambient);
pub(crate) const GROUPED: Key<Ratio> = Key::new(Field::Grouped);
pub(crate) const LENGTH: Key<Metres> = Key::new(Field::Length);
pub(crate) const CPC_SIZE: Key<SquareMillimetres> = Key::new(Field::CpcSize);
pub(crate) const R1_R2: Key<Ohms> = Key::new(Field::R1R2);
pub(crate) const IR: Key<Amps> = Key::new(Field::Ir);
pub(crate) const II: Key<Amps> = Key::new(Field::Ii);
pub(crate) const ISD: Key<Amps> = Key::new(Field::Isd);
pub(crate) const TSD: Key<Seconds> = Key::new(Field::Tsd);
/// Where between what may and what surely opens the device in time its own curve lies: a share.
pub(crate) const TIME_CURVE: Key<Ratio> = Key::new(Field::TimeCurve);
pub(crate) const INSIDE: Key<Celsius> = Key::new(Field::Inside);
/// Share of their ratings that all circuits of the assembly carry at once, in a room of up to 40 °C.
pub(crate) const DIVERSITY: Key<Ratio> = Key::new(Field::Diversity);
/// Share of its rating that a device loses for each kelvin above [`crate::temperature::DEVICES`].
pub(crate) const DERATING: Key<Ratio> = Key::new(Field::Derating);
/// Where between what the parts of a loop come to at the worst angle and their plain sum it lies: a share.
pub(crate) const LOOP_ANGLE: Key<Ratio> = Key::new(Field::LoopAngle);
pub(crate) const ZS: Key<Ohms> = Key::new(Field::Zs);
pub(crate) const THIRD_HARMONIC: Key<Ratio> = Key::new(Field::ThirdHarmonic);
pub(crate) const START: Key<Ratio> = Key::new(Field::Start);
pub(crate) const ELECTRODE: Key<Ohms> = Key::new(Field::Electrode);
pub(crate) const FIRST_FAULT: Key<Amps> = Key::new(Field::FirstFault);
pub(crate) const LET_THROUGH: Key<AmpsSquaredSeconds> = Key::new(Field::LetThrough);
pub(crate) const LET_THROUGH_AT: Key<Amps> = Key::new(Field::LetThroughAt);
pub(crate) const PARALLEL: Key<Ratio> = Key::new(Field::Parallel);
pub(crate) const NEUTRAL_SIZE: Key<SquareMillimetres> = Key::new(Field::NeutralSize);
pub(crate) const IN_INSULATION: Key<Metres> = Key::new(Field::InInsulation);
pub(crate) const SOIL: Key<KelvinMetresPerWatt> = Key::new(Field::Soil);
pub(crate) const DEPTH: Key<Metres> = Key::new(Field::Depth);
