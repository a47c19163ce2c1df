//! The fields a circuit's checks rest on: what each is called, how to get it, what it may be.

use std::marker::PhantomData;

use survey::{
    Amps, AmpsSquaredSeconds, Board, Celsius, KelvinMetresPerWatt, Message, Metres, Ohms, Ratio, Seconds,
    SquareMillimetres, Volts, Watts,
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
    // A field of the survey: the catalogue says what it is called, how to get it, its unit and its bounds.
    (@about $record:ident $field:literal) => {{
        const FIELD: &survey::Field = survey::field::named(survey::$record::FIELDS, $field);
        const ABOUT: &About = &About {
            label: Message::bare(FIELD.label),
            ask: Message::bare(FIELD.ask),
            unit: FIELD.symbol(),
            sane: FIELD.bounds(),
        };
        ABOUT
    }};
    (@about $label:literal, $ask:literal, $unit:literal, $lo:expr, $hi:expr) => {{
        const ABOUT: &About = &About {
            label: Message::bare($label),
            ask: Message::bare($ask),
            unit: $unit,
            sane: ($lo, $hi),
        };
        ABOUT
    }};
    ($($name:ident => [$($about:tt)+];)+) => {
        /// A field of the survey as one circuit sees it, or what stands between the survey and its checks.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub(crate) enum Field { $($name),+ }

        impl Field {
            /// Every field, in the order inputs are listed.
            pub(crate) const ALL: &'static [Self] = &[$(Self::$name),+];

            /// What is to be known about it.
            pub(crate) const fn about(self) -> &'static About {
                match self {
                    $(Self::$name => fields!(@about $($about)+)),+
                }
            }
        }
    };
}

/// What a person calls the loop impedance at the board's terminals: by what feeds it.
pub(crate) fn loop_label(board: &Board) -> &'static Message {
    const ZE: &Message = &Message::bare("Supply-ze");
    const ZDB: &Message = &Message::bare("field-zdb");
    if board.is_sub_board() { ZDB } else { ZE }
}

/// The smallest number above zero that any reading could mean.
pub(crate) const TINY: f64 = 1e-9;

fields! {
    Kind => [Circuit "kind"];
    Power => [Load "power"];
    Current => [Load "current"];
    PowerFactor => [Load "power_factor"];
    Leading => [Load "leading"];
    Efficiency => [Load "efficiency"];
    Demand => [Load "demand"];
    ThirdHarmonic => [Load "third_harmonic"];
    ResidualForm => [Load "residual_form"];
    DcDetection => [Load "dc_detection"];
    Start => [Load "start"];
    Voltage => [Supply "voltage"];
    System => [Supply "system"];
    Network => [Supply "network"];
    Electrode => [Supply "electrode"];
    TouchLimit => [Supply "touch_limit"];
    Frequency => [Supply "frequency"];
    FirstFault => [Supply "first_fault"];
    NeutralDistributed => [Supply "neutral_distributed"];
    EarthedTogether => [Supply "earthed_together"];
    Ze => [Supply "ze"];
    Ipf => [Supply "ipf"];
    DropBefore => ["field-drop-before", "ask-drop-before", "", 0.0, 1.0];
    Device => [Circuit "device"];
    DeviceKind => [Device "kind"];
    Poles => [Device "poles"];
    At => [Device "at"];
    Rated => [Device "rated"];
    Curve => [Device "curve"];
    BackedUp => [Device "backed_up"];
    Breaking => [Device "breaking"];
    Residual => [Device "residual"];
    UpstreamResidual => [Supply "upstream_residual"];
    Upstream => [Supply "upstream"];
    IncomerResidual => [Incomer "residual"];
    RcdType => [Device "rcd_type"];
    Delay => [Device "delay"];
    IncomerRcdType => [Incomer "rcd_type"];
    IncomerDelay => [Incomer "delay"];
    Terminals => [Device "terminals_90"];
    NeutralProtected => [Device "neutral_protected"];
    ForIt => [Device "for_it"];
    EnergyClass => [Device "energy_class"];
    LetThrough => [Device "let_through"];
    LetThroughAt => [Device "let_through_at"];
    Cable => [Circuit "cable"];
    Construction => [Cable "construction"];
    Cores => [Cable "cores"];
    Size => [Cable "size"];
    Material => [Cable "material"];
    Insulation => [Cable "insulation"];
    Method => [Cable "method"];
    Ambient => [Cable "ambient"];
    Grouped => [Cable "grouped"];
    GroupedLight => [Cable "grouped_light"];
    Layout => [Cable "layout"];
    MixedSizes => [Cable "mixed_sizes"];
    Parallel => [Cable "parallel"];
    NeutralSize => [Cable "neutral_size"];
    InInsulation => [Cable "in_insulation"];
    Soil => [Cable "soil"];
    Depth => [Cable "burial_depth"];
    Length => [Cable "length"];
    Cpc => [Cable "cpc"];
    CpcMaterial => [Cable "cpc_material"];
    CpcApart => [Cable "cpc_apart"];
    CpcSize => [Cable "cpc_size"];
    Ring => [Circuit "ring"];
    R1R2 => [Tests "r1_r2"];
    Formation => [Cable "formation"];
    CurrentForm => [Supply "current_form"];
    DcRated => [Device "dc_rated"];
    Reduced => [Supply "reduced"];
    Ir => [Device "ir"];
    Ii => [Device "ii"];
    Isd => [Device "isd"];
    Tsd => [Device "tsd"];
    TimeCurve => ["field-time-curve", "ask-time-curve", "", 0.0, 1.0];
    Inside => ["field-inside", "ask-inside", "°C", -60.0, 1000.0];
    Diversity => [Surroundings "diversity"];
    Derating => ["field-derating", "ask-derating", "", 0.0, 1.0];
    OwnBlind => ["field-own-blind", "ask-own-blind", "", 0.0, 0.0];
    IncomerBlind => ["field-incomer-blind", "ask-incomer-blind", "", 0.0, 0.0];
    UpstreamBlind => ["field-upstream-blind", "ask-upstream-blind", "", 0.0, 0.0];
    LoopAngle => ["field-loop-angle", "ask-loop-angle", "", 0.0, 1.0];
    Zs => [Tests "zs"];
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
