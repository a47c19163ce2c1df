//! The fields a circuit's checks rest on: what each is called, how to get it, what it may be.

use std::marker::PhantomData;

use survey::{
    Amps, AmpsSquaredSeconds, Celsius, KelvinMetresPerWatt, Message, Metres, Ohms, Ratio, Seconds, SquareMillimetres,
    Volts, Watts,
};

/// What is to be known about a field itself.
pub(crate) struct About {
    /// What a person calls it.
    pub(crate) label: Message,
    /// A short order that gets it.
    pub(crate) ask: Message,
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
                    $(Self::$name => {
                        const ABOUT: &About = &About {
                            label: Message::bare($label),
                            ask: Message::bare($ask),
                            unit: $unit,
                            sane: ($lo, $hi),
                        };
                        ABOUT
                    })+
                }
            }
        }
    };
}

/// The smallest number above zero that any reading could mean.
pub(crate) const TINY: f64 = 1e-9;
const HUGE: f64 = 1e9;

fields! {
    Kind, "field-kind", "ask-kind", "", 0.0, 0.0;
    Power, "field-power", "ask-power", "W", 0.0, HUGE;
    Current, "field-current", "ask-current", "A", 0.0, HUGE;
    PowerFactor, "field-power-factor", "ask-power-factor", "", 0.01, 1.0;
    Leading, "field-leading", "ask-leading", "", 0.0, 0.0;
    Efficiency, "field-efficiency", "ask-efficiency", "", 0.01, 1.0;
    Demand, "field-demand", "ask-demand", "", 0.0, 1.0;
    ThirdHarmonic, "field-third-harmonic", "ask-third-harmonic", "", 0.0, 1.0;
    ResidualForm, "field-residual-form", "ask-residual-form", "", 0.0, 0.0;
    DcDetection, "field-dc-detection", "ask-dc-detection", "", 0.0, 0.0;
    Start, "field-start", "ask-start", "", 0.5, 30.0;
    Voltage, "field-voltage", "ask-voltage", "V", 1.0, 1000.0;
    System, "field-system", "ask-system", "", 0.0, 0.0;
    Network, "field-network", "ask-network", "", 0.0, 0.0;
    Electrode, "field-electrode", "ask-electrode", "Ω", 0.0, HUGE;
    TouchLimit, "field-touch-limit", "ask-touch-limit", "", 0.0, 0.0;
    Frequency, "field-frequency", "ask-frequency", "", 0.0, 0.0;
    FirstFault, "field-first-fault", "ask-first-fault", "A", 0.0, HUGE;
    NeutralDistributed, "field-neutral-distributed", "ask-neutral-distributed", "", 0.0, 0.0;
    EarthedTogether, "field-earthed-together", "ask-earthed-together", "", 0.0, 0.0;
    Ze, "field-ze", "ask-ze", "Ω", 0.0, HUGE;
    Ipf, "field-ipf", "ask-ipf", "A", 0.0, HUGE;
    DropBefore, "field-drop-before", "ask-drop-before", "", 0.0, 1.0;
    Device, "field-device", "ask-device", "", 0.0, 0.0;
    DeviceKind, "field-device-kind", "ask-device-kind", "", 0.0, 0.0;
    Poles, "field-poles", "ask-poles", "", 0.0, 0.0;
    At, "field-at", "ask-at", "", 0.0, 0.0;
    Rated, "field-rated", "ask-rated", "A", TINY, HUGE;
    Curve, "field-curve", "ask-curve", "", 0.0, 0.0;
    BackedUp, "field-backed-up", "ask-backed-up", "A", 0.0, HUGE;
    Breaking, "field-breaking", "ask-breaking", "A", TINY, HUGE;
    Residual, "field-residual", "ask-residual", "A", TINY, HUGE;
    UpstreamResidual, "field-upstream-residual", "ask-upstream-residual", "A", TINY, HUGE;
    Upstream, "field-upstream", "ask-upstream", "A", TINY, HUGE;
    IncomerResidual, "field-incomer-residual", "ask-incomer-residual", "A", TINY, HUGE;
    RcdType, "field-rcd-type", "ask-rcd-type", "", 0.0, 0.0;
    Delay, "field-delay", "ask-delay", "", 0.0, 0.0;
    IncomerRcdType, "field-incomer-rcd-type", "ask-incomer-rcd-type", "", 0.0, 0.0;
    IncomerDelay, "field-incomer-delay", "ask-incomer-delay", "", 0.0, 0.0;
    Terminals, "field-terminals", "ask-terminals", "", 0.0, 0.0;
    NeutralProtected, "field-neutral-protected", "ask-neutral-protected", "", 0.0, 0.0;
    ForIt, "field-for-it", "ask-for-it", "", 0.0, 0.0;
    EnergyClass, "field-energy-class", "ask-energy-class", "", 0.0, 0.0;
    LetThrough, "field-let-through", "ask-let-through", "A²s", TINY, 1e12;
    LetThroughAt, "field-let-through-at", "ask-let-through-at", "A", TINY, HUGE;
    Cable, "field-cable", "ask-cable", "", 0.0, 0.0;
    Construction, "field-construction", "ask-construction", "", 0.0, 0.0;
    Cores, "field-cores", "ask-cores", "", 1.0, 255.0;
    Size, "field-size", "ask-size", "mm²", TINY, HUGE;
    Material, "field-material", "ask-material", "", 0.0, 0.0;
    Insulation, "field-insulation", "ask-insulation", "", 0.0, 0.0;
    Method, "field-method", "ask-method", "", 0.0, 0.0;
    Ambient, "field-ambient", "ask-ambient", "°C", -60.0, 200.0;
    Grouped, "field-grouped", "ask-grouped", "", 1.0, 255.0;
    GroupedLight, "field-grouped-light", "ask-grouped-light", "", 0.0, 255.0;
    Layout, "field-layout", "ask-layout", "", 0.0, 0.0;
    MixedSizes, "field-mixed-sizes", "ask-mixed-sizes", "", 0.0, 0.0;
    Parallel, "field-parallel", "ask-parallel", "", 1.0, 255.0;
    NeutralSize, "field-neutral-size", "ask-neutral-size", "mm²", TINY, HUGE;
    InInsulation, "field-in-insulation", "ask-in-insulation", "m", 0.0, HUGE;
    Soil, "field-soil", "ask-soil", "K·m/W", 0.01, 100.0;
    Depth, "field-depth", "ask-depth", "m", 0.0, 100.0;
    Length, "field-length", "ask-length", "m", 0.0, HUGE;
    Cpc, "field-cpc", "ask-cpc", "", 0.0, 0.0;
    CpcMaterial, "field-cpc-material", "ask-cpc-material", "", 0.0, 0.0;
    CpcApart, "field-cpc-apart", "ask-cpc-apart", "", 0.0, 0.0;
    CpcSize, "field-cpc-size", "ask-cpc-size", "mm²", TINY, HUGE;
    Ring, "field-ring", "ask-ring", "", 0.0, 0.0;
    R1R2, "field-r1-r2", "ask-r1-r2", "Ω", 0.0, HUGE;
    Formation, "field-formation", "ask-formation", "", 0.0, 0.0;
    CurrentForm, "field-current-form", "ask-current-form", "", 0.0, 0.0;
    DcRated, "field-dc-rated", "ask-dc-rated", "", 0.0, 0.0;
    Reduced, "field-reduced", "ask-reduced", "", 0.0, 0.0;
    Ir, "field-ir", "ask-ir", "A", TINY, HUGE;
    Ii, "field-ii", "ask-ii", "A", TINY, HUGE;
    Isd, "field-isd", "ask-isd", "A", TINY, HUGE;
    Tsd, "field-tsd", "ask-tsd", "s", 0.0, HUGE;
    TimeCurve, "field-time-curve", "ask-time-curve", "", 0.0, 1.0;
    Inside, "field-inside", "ask-inside", "°C", -60.0, 1000.0;
    Diversity, "field-diversity", "ask-diversity", "", 0.0, 1.0;
    Derating, "field-derating", "ask-derating", "", 0.0, 1.0;
    OwnBlind, "field-own-blind", "ask-own-blind", "", 0.0, 0.0;
    IncomerBlind, "field-incomer-blind", "ask-incomer-blind", "", 0.0, 0.0;
    UpstreamBlind, "field-upstream-blind", "ask-upstream-blind", "", 0.0, 0.0;
    LoopAngle, "field-loop-angle", "ask-loop-angle", "", 0.0, 1.0;
    Zs, "field-zs", "ask-zs", "Ω", 0.0, HUGE;
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
