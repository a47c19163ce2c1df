//! The model of a board and all that hangs on it.
//!
//! Every record sits in a map under its own id and is never taken out: `removed` hides it, so an
//! edit made elsewhere on a removed record is still there to be seen.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::field::{Field, Form, Held, Holds, Listed, Plain, Record, Section, When};
use crate::ids::{
    BoardId, CableId, CircuitId, DeviceId, EntryId, MarkId, NoteId, ObservationId, PhotoId, PlateId, SiteId, SlotId,
};
use crate::known::{Fact, Known, Reading};
use crate::message::Message;
use crate::pattern::{Face, Pattern, Point, Rect};
use crate::pole::PoleAt;
use crate::units::{
    Amps, AmpsSquaredSeconds, Celsius, KelvinMetresPerWatt, Metres, Millimetres, OhmMetres, Ohms, Ratio, Seconds,
    SquareMillimetres, VoltAmperes, Volts, Watts,
};

macro_rules! choice {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $words:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        pub enum $name { $($(#[$vdoc])* #[doc = $words] $variant),+ }
        impl $name {
            /// Every choice, in the order it is offered.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];
            /// The word a file holds.
            #[must_use]
            pub const fn key(self) -> &'static str { match self { $(Self::$variant => stringify!($variant)),+ } }
            /// What a person calls it.
            #[must_use]
            pub const fn words(self) -> Message {
                Message::bare(match self {
                    $(Self::$variant => concat!(stringify!($name), "-", stringify!($variant))),+
                })
            }
            /// The word that a table file holds, whatever language is spoken.
            #[must_use]
            pub const fn written(self) -> &'static str { match self { $(Self::$variant => $words),+ } }
        }
        impl Plain for $name {
            const HOLDS: Holds = Holds::Choice(|| Self::ALL.iter().map(|one| (one.key(), one.words())).collect());
            fn shown(&self) -> String { self.words().to_string() }
        }
        impl Form for $name {
            const HOLDS: Holds = <Self as Plain>::HOLDS;
        }
        impl Held for $name {
            fn shown(&self) -> String { Plain::shown(self) }
        }
    };
}

choice!(/// Earthing system, IEC 60364-1.
    EarthingSystem { TnS = "TN-S", TnCS = "TN-C-S", Tt = "TT", It = "IT" });
choice!(/// Phases of the supply to the board.
    SupplyPhases { Single = "single-phase", Three = "three-phase" });
choice!(/// Colours of the conductors found, IEC 60445 or the older national ones.
    ConductorColours { Current = "brown, black, grey, blue", Older = "red, yellow, blue, black", Mixed = "both" });
choice!(/// Incomer arrangement.
Arrangement {
    ThreePole = "three-pole switched, neutral direct",
    FourPole = "four-pole switched",
    FourPoleRcd = "four-pole RCD",
    TwoPole = "two-pole switched",
    TwoPoleRcd = "two-pole RCD",
    Lugs = "none: fed through lugs",
});
choice!(/// Kind of protective device.
DeviceKind {
    CircuitBreaker = "circuit-breaker",
    Rcbo = "RCBO",
    Fuse = "gG fuse",
    RewirableFuse = "rewirable fuse",
    AdjustableBreaker = "adjustable breaker (IEC 60947-2)",
    Rcd = "RCD",
    Isolator = "isolator",
    Spd = "SPD",
});
impl DeviceKind {
    /// It opens on overcurrent.
    #[must_use]
    pub const fn opens_on_overcurrent(self) -> bool {
        matches!(self, Self::CircuitBreaker | Self::Rcbo | Self::Fuse | Self::RewirableFuse | Self::AdjustableBreaker)
    }
}

choice!(/// Poles a device takes. `N` switches the neutral too, or carries it by a flying lead.
    Poles { P1 = "1P", P1N = "1P+N", P2 = "2P", P3 = "3P", P3N = "3P+N" });
choice!(/// Instantaneous tripping type, IEC 60898-1.
    Curve { B = "B", C = "C", D = "D" });
choice!(/// Energy-limiting class of a circuit-breaker, EN 60898-1 annex ZA.
    EnergyClass { One = "1, not limited", Three = "3" });
choice!(/// RCD type by waveform.
    RcdType { Ac = "AC", A = "A", F = "F", B = "B" });
choice!(/// What a circuit feeds.
LoadKind {
    Lighting = "lighting",
    Sockets = "socket-outlets",
    FixedEquipment = "fixed equipment",
    Motor = "motor",
    Heating = "heating",
    VehicleCharging = "vehicle charging",
    Distribution = "distribution circuit",
});
choice!(/// Whether an RCD trips at once or waits for those after it.
    RcdDelay { None = "general, no delay", S = "S, time-delayed" });
choice!(/// What a load's earth fault current looks like: it decides the RCD type.
ResidualForm {
    Sine = "plain a.c.",
    Pulsating = "pulsating d.c. (electronics)",
    MixedFrequency = "mixed frequencies (single-phase converter)",
    SmoothDc = "smooth d.c. (three-phase converter, vehicle charging)",
});
choice!(/// Whose low-voltage network feeds the installation.
    Network { Public = "public network", Private = "own transformer or generator" });
choice!(/// Yes or no.
    YesNo { Yes = "yes", No = "no" });
choice!(/// How circuits lie together, IEC 60364-5-52 tables B.52.17 to B.52.21.
Layout {
    Bunched = "bunched or in one enclosure",
    WallLayer = "one layer on a wall or unperforated tray",
    PerforatedTray = "one layer on a perforated tray",
    Ladder = "one layer on ladder or cleats",
    Buried = "buried side by side",
});
choice!(/// How the enclosure stands, for the surface that gives off heat.
Mounting {
    Free = "free on all sides",
    OnWall = "on a wall",
    OnWallBetween = "on a wall between others",
    Recessed = "recessed in a wall",
});
choice!(/// How a metal part of the enclosure is joined to the protective conductor.
Bond {
    Bonded = "bonded",
    NotBonded = "not bonded",
    NoMetal = "not of metal",
});
choice!(/// Degree of protection, IEC 60529: first figure against touch and dust, second against water.
Ip {
    Ip00 = "IP00",
    Ip10 = "IP10",
    Ip20 = "IP20",
    Ip21 = "IP21",
    Ip30 = "IP30",
    Ip31 = "IP31",
    Ip40 = "IP40",
    Ip41 = "IP41",
    Ip43 = "IP43",
    Ip44 = "IP44",
    Ip54 = "IP54",
    Ip55 = "IP55",
    Ip65 = "IP65",
    Ip66 = "IP66",
});
impl Ip {
    /// Its first figure: 2 keeps a finger out, 4 a wire.
    #[must_use]
    pub const fn touch(self) -> u8 {
        match self {
            Self::Ip00 => 0,
            Self::Ip10 => 1,
            Self::Ip20 | Self::Ip21 => 2,
            Self::Ip30 | Self::Ip31 => 3,
            Self::Ip40 | Self::Ip41 | Self::Ip43 | Self::Ip44 => 4,
            Self::Ip54 | Self::Ip55 => 5,
            Self::Ip65 | Self::Ip66 => 6,
        }
    }
}
choice!(/// Longest-lasting touch voltage allowed, a.c.: IEC 60364-4-41, and part 7 for wet places.
    TouchLimit { Fifty = "50 V", TwentyFive = "25 V, where asked for" });
choice!(/// Frequency of the supply.
    Frequency { Hz50 = "50 Hz", Hz60 = "60 Hz" });
choice!(/// Form of the supply's current.
CurrentForm {
    Ac = "a.c.",
    Dc = "d.c., one pole or none earthed",
    DcMidpoint = "d.c., midpoint earthed",
});
choice!(/// What was seen that should not stay so.
Seen {
    BorrowedNeutral = "neutral borrowed from another circuit",
    UnlinkedPoles = "poles of one circuit not linked",
    InterruptedRing = "ring interrupted",
    Spur = "spur without a fuse, more than one point on it",
    SpareEnd = "spare cable end",
    MixedColours = "conductors of one circuit in old and new colours",
    DoubledConductor = "two conductors under a terminal made for one",
    MissingBlank = "blank missing over an unused way",
    LiveInReach = "live parts within reach, cover on",
    OpenHole = "hole in the enclosure left open",
    BareEntry = "cable through a hole without gland or bush",
    SheathShort = "sheath ends outside the enclosure",
    NoEarth = "protective conductor missing or cut",
    Loose = "loose terminal",
    Heat = "marks of heat",
    Damaged = "damaged part",
    Wet = "water, dirt or rust inside",
    ForeignDevice = "device of another make than the board is made for",
});
choice!(/// Conductor material.
    Material { Copper = "copper", Aluminium = "aluminium" });
choice!(/// Insulation, by the conductor temperature it allows.
    Insulation { Pvc70 = "PVC 70 °C", Xlpe90 = "XLPE or EPR 90 °C" });
choice!(/// How a cable is built.
Construction {
    SingleCore = "single-core",
    Multicore = "multicore",
    FlatTwinEarth = "flat twin and earth",
    Armoured = "armoured multicore",
    Flexible = "flexible",
});
choice!(/// What a cable carries, for what it may run together with (IEC 60364-5-52 clause 528.1).
Band {
    Power = "low-voltage power",
    ExtraLow = "extra-low voltage",
    Data = "data or telecommunication",
    Fire = "fire alarm or emergency lighting",
});
choice!(/// Reference installation method, IEC 60364-5-52 annex B.
Method {
    A1 = "A1: conductors in conduit in an insulating wall",
    A2 = "A2: multicore in conduit in an insulating wall",
    B1 = "B1: conductors in conduit on a wall",
    B2 = "B2: multicore in conduit on a wall",
    C = "C: cable on a wall",
    D1 = "D1: multicore in a buried duct",
    D2 = "D2: multicore direct in the ground",
    E = "E: multicore in free air",
    F = "F: single-core touching in free air",
});
choice!(/// How single-core cables of one circuit lie in free air, IEC 60364-5-52 tables B.52.10 to B.52.13.
Formation {
    Trefoil = "trefoil, touching (method F)",
    Flat = "flat, touching (method F)",
    SpacedFlat = "flat, one diameter apart, horizontal (method G)",
    SpacedUpright = "flat, one diameter apart, vertical (method G)",
});
choice!(/// What the protective conductor is.
    CpcForm { Core = "a core", Armour = "armour", Conduit = "conduit", Trunking = "trunking", Separate = "separate conductor" });
choice!(/// Plate material: a ferrous one must not part the conductors of an a.c. circuit.
    PlateMaterial { Steel = "steel", StainlessSteel = "stainless steel", Aluminium = "aluminium", Brass = "brass", Plastic = "plastic" });
choice!(/// Corner of a plate, seen from outside with its rear edge up (upper edge for a plate in the back).
Corner {
    LeftRear = "left rear corner",
    RightRear = "right rear corner",
    LeftFront = "left front corner",
    RightFront = "right front corner",
});
impl Corner {
    /// It is on the right.
    #[must_use]
    pub const fn is_right(self) -> bool {
        matches!(self, Self::RightRear | Self::RightFront)
    }
    /// It is at the front.
    #[must_use]
    pub const fn is_front(self) -> bool {
        matches!(self, Self::LeftFront | Self::RightFront)
    }
}

choice!(/// Kind of entry in a plate.
EntryKind {
    ArmouredGland = "armoured-cable gland",
    CompressionGland = "compression gland",
    Conduit = "conduit",
    FlexibleConduit = "flexible conduit",
    Bush = "bush",
    TrunkingCutOut = "trunking cut-out",
    Blanked = "blanked spare",
});
choice!(/// Whether the board stands already.
    Stage { Existing = "existing", New = "new" });
choice!(/// Shape of a mark on a photo.
    MarkShape { Arrow = "arrow", Box = "box", Text = "text" });

/// A record and its list of fields: behind a field's type stands what is said of it beside what its type says.
macro_rules! record {
    ($(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident : $type:ty $({ $($about:tt)* })?),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(default, deny_unknown_fields)]
        pub struct $name { $($(#[$fdoc])* pub $field: $type),+ }
        record!(@listed $name { $($field : $type { $($($about)*)? }),+ });
        impl Form for $name {
            const HOLDS: Holds = Holds::Record(Self::list);
        }
        impl Held for $name {
            fn within(&self, each: &mut dyn FnMut(Option<String>, &dyn Record)) {
                each(None, self);
            }
        }
    };
    // A record that says itself what a file may leave out.
    (whole $(#[$doc:meta])* $name:ident { $($(#[$fdoc:meta])* $field:ident : $type:ty $({ $($about:tt)* })?),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $($(#[$fdoc])* pub $field: $type),+ }
        record!(@listed $name { $($field : $type { $($($about)*)? }),+ });
    };
    (@listed $name:ident { $($field:ident : $type:ty { $($about:tt)* }),+ }) => {
        impl $name {
            /// The catalogue's fields of this record, in the order of the file.
            pub const FIELDS: &'static [Field] = &[$(Field {
                $($about)*
                ..Field::new(
                    stringify!($name),
                    stringify!($field),
                    [
                        concat!(stringify!($name), "-", stringify!($field)),
                        concat!(stringify!($name), "-", stringify!($field), "-hint"),
                        concat!(stringify!($name), "-", stringify!($field), "-ask"),
                    ],
                    <$type as Form>::HOLDS,
                    <$type as Form>::SURVEYED,
                )
            }),+];
        }
        impl Listed for $name {
            fn list() -> &'static [Field] {
                Self::FIELDS
            }
        }
        impl Record for $name {
            fn fields(&self) -> &'static [Field] {
                Self::FIELDS
            }
            fn each(&self, each: &mut dyn FnMut(&'static Field, &dyn Held)) {
                let mut fields = Self::FIELDS.iter();
                $(if let Some(field) = fields.next() {
                    each(field, &self.$field);
                })+
            }
        }
    };
}

record!(/// A site.
Site {
    /// Its id; nil until it is stored.
    id: Option<SiteId>,
    /// Name.
    name: String,
    /// Free text.
    note: String { long: true, },
    /// Hidden.
    removed: bool,
});

/// The version of the model written by this code.
pub const MODEL_VERSION: u32 = 1;

record!(whole /// A board.
Board {
    /// Version of the model, [`MODEL_VERSION`].
    model: u32,
    /// Its id.
    id: BoardId,
    /// The site it stands on.
    site: SiteId,
    /// Its reference: "PH-DB1".
    #[serde(default)]
    reference: String,
    /// Where it hangs.
    #[serde(default)]
    place: String { long: true, },
    /// Existing or new.
    #[serde(default = "new_stage")]
    stage: Stage,
    /// Hidden.
    #[serde(default)]
    removed: bool,
    /// The supply at its incoming terminals.
    #[serde(default)]
    supply: Supply,
    /// The enclosure's pattern, copied from the list when picked.
    #[serde(default)]
    enclosure: Fact<Pattern>,
    /// The incomer.
    #[serde(default)]
    incomer: Incomer,
    /// Where the enclosure stands.
    #[serde(default)]
    surroundings: Surroundings,
    /// The enclosure against touch: bonds, barriers, degree of protection.
    #[serde(default)]
    housing: Housing,
    /// Protective devices on the ways.
    #[serde(default)]
    devices: BTreeMap<DeviceId, Device>,
    /// Outgoing circuits.
    #[serde(default)]
    circuits: BTreeMap<CircuitId, Circuit>,
    /// Cables.
    #[serde(default)]
    cables: BTreeMap<CableId, Cable>,
    /// Gland plates.
    #[serde(default)]
    plates: BTreeMap<PlateId, Plate>,
    /// Photos.
    #[serde(default)]
    photos: BTreeMap<PhotoId, Photo>,
    /// What was seen that should not stay so.
    #[serde(default)]
    observations: BTreeMap<ObservationId, Observation>,
    /// Notes.
    #[serde(default)]
    notes: BTreeMap<NoteId, Note>,
    /// Who settled a conflict, from which values: written, never taken out.
    #[serde(default)]
    settled: BTreeMap<Uuid, Settled>,
});

fn new_stage() -> Stage {
    Stage::Existing
}

impl Board {
    /// An empty board.
    #[must_use]
    pub fn new(id: BoardId, site: SiteId, reference: impl Into<String>) -> Self {
        Self {
            model: MODEL_VERSION,
            id,
            site,
            reference: reference.into(),
            place: String::new(),
            stage: Stage::Existing,
            removed: false,
            supply: Supply::default(),
            enclosure: Fact::default(),
            incomer: Incomer::default(),
            surroundings: Surroundings::default(),
            housing: Housing::default(),
            devices: BTreeMap::new(),
            circuits: BTreeMap::new(),
            cables: BTreeMap::new(),
            plates: BTreeMap::new(),
            photos: BTreeMap::new(),
            observations: BTreeMap::new(),
            notes: BTreeMap::new(),
            settled: BTreeMap::new(),
        }
    }

    /// Devices that are not removed.
    pub fn live_devices(&self) -> impl Iterator<Item = (DeviceId, &Device)> {
        self.devices.iter().filter(|(_, device)| !device.removed).map(|(id, device)| (*id, device))
    }

    /// Circuits that are not removed.
    pub fn live_circuits(&self) -> impl Iterator<Item = (CircuitId, &Circuit)> {
        self.circuits.iter().filter(|(_, circuit)| !circuit.removed).map(|(id, circuit)| (*id, circuit))
    }

    /// What was seen, is not removed and was not put right.
    pub fn open_observations(&self) -> impl Iterator<Item = (ObservationId, &Observation)> {
        let open = self.observations.iter().filter(|(_, one)| !one.removed && !one.put_right);
        open.map(|(id, one)| (*id, one))
    }

    /// Plates that are not removed.
    pub fn live_plates(&self) -> impl Iterator<Item = (PlateId, &Plate)> {
        self.plates.iter().filter(|(_, plate)| !plate.removed).map(|(id, plate)| (*id, plate))
    }

    /// The device of a circuit, unless either is removed.
    #[must_use]
    pub fn device_of(&self, circuit: &Circuit) -> Option<(DeviceId, &Device)> {
        let id = circuit.device?;
        self.devices.get(&id).filter(|device| !device.removed).map(|device| (id, device))
    }

    /// The cable of a circuit, unless removed.
    #[must_use]
    pub fn cable_of(&self, circuit: &Circuit) -> Option<(CableId, &Cable)> {
        let id = circuit.cable?;
        self.cables.get(&id).filter(|cable| !cable.removed).map(|cable| (id, cable))
    }

    /// The circuit that a field belongs to: its own, its device's or its cable's.
    #[must_use]
    pub fn circuit_at(&self, path: &str) -> Option<CircuitId> {
        let mut parts = path.split('/').skip(1);
        let (record, id) = (parts.next()?, parts.next()?.parse::<Uuid>().ok()?);
        let owns = |own: &CircuitId, circuit: &Circuit| match record {
            "circuits" => own.0 == id,
            "devices" => circuit.device == Some(DeviceId(id)),
            "cables" => circuit.cable == Some(CableId(id)),
            _ => false,
        };
        self.live_circuits().find(|(own, circuit)| owns(own, circuit)).map(|(own, _)| own)
    }

    /// Another board feeds it: an incoming cable of its own is surveyed.
    #[must_use]
    pub fn is_sub_board(&self) -> bool {
        self.supply.cable.and_then(|id| self.cables.get(&id)).is_some_and(|cable| !cable.removed)
    }

    /// The circuit fed by a device.
    #[must_use]
    pub fn circuit_of(&self, device: DeviceId) -> Option<(CircuitId, &Circuit)> {
        self.live_circuits().find(|(_, circuit)| circuit.device == Some(device))
    }
}

record!(/// The supply at the board's incoming terminals.
Supply {
    /// Earthing system.
    system: Fact<EarthingSystem> { place: 1, },
    /// Single- or three-phase.
    phases: Fact<SupplyPhases> { place: 2, },
    /// Nominal voltage to earth, U0.
    voltage: Reading<Volts> { within: Some((1.0, 1000.0)), usual: Known::Measured, place: 3, },
    /// External earth fault loop impedance at the board, Ze.
    ze: Reading<Ohms> { within: Some((0.0, 2000.0)), usual: Known::Measured, place: 8, },
    /// Prospective fault current at the board, Ipf: the larger of line-neutral and three-phase.
    ipf: Reading<Amps> { within: Some((0.0, 200_000.0)), unit: Some("kA"), usual: Known::Measured, place: 8, },
    /// Rated current of the device upstream.
    upstream: Reading<Amps> { within: Some((0.1, 6300.0)), usual: Known::Label, place: 9, },
    /// What the device upstream is.
    upstream_kind: Fact<DeviceKind> { section: Section::Upstream, },
    /// Its instantaneous type, where it is a breaker.
    upstream_curve: Fact<Curve> { when: Some(When::is("upstream_kind", &["CircuitBreaker", "Rcbo"])), section: Section::Upstream, },
    /// Its rated residual current, where it is an RCD.
    upstream_residual: Reading<Amps> { within: Some((0.001, 30.0)), unit: Some("mA"), section: Section::Upstream, place: 12, },
    /// Its delay, where it is an RCD.
    upstream_delay: Fact<RcdDelay> { section: Section::Upstream, place: 12, },
    /// Energy that the device upstream lets through, from its data sheet; said of one fault current.
    upstream_let_through: Reading<AmpsSquaredSeconds> { within: Some((0.0, 1e9)), section: Section::Upstream, place: 13, },
    /// Fault current that this let-through energy is said of.
    upstream_let_through_at: Reading<Amps> { within: Some((1.0, 200_000.0)), unit: Some("kA"), section: Section::Upstream, place: 13, },
    /// Its overload setting, Ir, where it is an adjustable breaker.
    upstream_ir: Reading<Amps> { within: Some((0.1, 6300.0)), when: Some(When::is("upstream_kind", &["AdjustableBreaker"])), section: Section::Upstream, },
    /// Setting of its instantaneous release, Ii.
    upstream_ii: Reading<Amps> { within: Some((0.1, 200_000.0)), when: Some(When::is("upstream_kind", &["AdjustableBreaker"])), section: Section::Upstream, },
    /// Setting of its short-time release, Isd; without such a release, Ii again.
    upstream_isd: Reading<Amps> { within: Some((0.1, 200_000.0)), when: Some(When::is("upstream_kind", &["AdjustableBreaker"])), section: Section::Upstream, },
    /// Longest time in which its short-time release opens at its delay setting, from its data.
    upstream_tsd: Reading<Seconds> { within: Some((0.0, 10.0)), when: Some(When::is("upstream_kind", &["AdjustableBreaker"])), section: Section::Upstream, },
    /// Whose network feeds the installation: it decides the volt drop allowed.
    network: Fact<Network> { section: Section::Origin, },
    /// Rating of the transformer at the origin.
    transformer: Reading<VoltAmperes> { within: Some((100.0, 10_000_000.0)), unit: Some("kVA"), section: Section::Origin, },
    /// Its short-circuit voltage.
    transformer_voltage: Reading<Ratio> { within: Some((0.001, 0.3)), unit: Some("%"), section: Section::Origin, },
    /// Prospective fault current at the origin of the incoming cable.
    origin_ipf: Reading<Amps> { within: Some((0.0, 200_000.0)), unit: Some("kA"), usual: Known::Measured, section: Section::Origin, },
    /// External earth fault loop impedance at the origin of the incoming cable.
    origin_ze: Reading<Ohms> { within: Some((0.0, 2000.0)), usual: Known::Measured, section: Section::Origin, },
    /// Resistance of the earth electrode, RA.
    electrode: Reading<Ohms> { within: Some((0.0, 10_000.0)), usual: Known::Measured, when: Some(When::is("system", &["Tt", "It"])), section: Section::Earthing, place: 12, },
    /// Length of an electrode rod in the ground, where its resistance was not measured.
    electrode_length: Reading<Metres> { within: Some((0.1, 100.0)), usual: Known::Measured, when: Some(When::is("system", &["Tt", "It"])), section: Section::Earthing, place: 12, },
    /// Diameter of that rod.
    electrode_diameter: Reading<Millimetres> { within: Some((1.0, 500.0)), usual: Known::Measured, when: Some(When::is("system", &["Tt", "It"])), section: Section::Earthing, place: 12, },
    /// Resistivity of the ground around it.
    electrode_ground: Reading<OhmMetres> { within: Some((0.1, 100_000.0)), when: Some(When::is("system", &["Tt", "It"])), section: Section::Earthing, place: 12, },
    /// Longest-lasting touch voltage allowed; unknown counts as 50 V.
    touch_limit: Fact<TouchLimit> { section: Section::Earthing, place: 13, },
    /// Reduced low voltage: 110 V between lines, 55 V (single-phase, centre-tapped) or 63.5 V (three-phase star) to
    /// earth. Unknown: either, where the voltage to earth is about that.
    reduced: Fact<YesNo> { place: 6, },
    /// Form of its current; unknown counts as a.c.
    current_form: Fact<CurrentForm> { place: 5, },
    /// Frequency; unknown counts as 50 Hz.
    frequency: Fact<Frequency> { place: 7, },
    /// IT: current of a first fault to earth, Id.
    first_fault: Reading<Amps> { within: Some((0.0, 1000.0)), when: Some(When::is("system", &["It"])), section: Section::Earthing, place: 15, },
    /// IT: the neutral is distributed.
    neutral_distributed: Fact<YesNo> { when: Some(When::is("system", &["It"])), section: Section::Earthing, place: 14, },
    /// IT: exposed parts are earthed together, so a second fault is like one in a TN system.
    earthed_together: Fact<YesNo> { when: Some(When::is("system", &["It"])), section: Section::Earthing, place: 14, },
    /// Cross-section of the earthing conductor.
    earthing_conductor: Reading<SquareMillimetres> { within: Some((0.2, 1000.0)), section: Section::Earthing, place: 11, },
    /// Cross-section of the main bonding conductors.
    bonding: Reading<SquareMillimetres> { within: Some((0.2, 1000.0)), section: Section::Earthing, place: 11, },
    /// Colours of the fixed wiring.
    colours: Fact<ConductorColours> { usual: Known::Label, section: Section::Colours, place: 10, },
    /// Incoming cable.
    cable: Option<CableId>,
    /// Where it is fed from, as written on the chart.
    fed_from: String { long: true, },
});

record!(/// The incomer.
Incomer {
    /// Its arrangement.
    arrangement: Fact<Arrangement>,
    /// Rated current.
    rated: Reading<Amps> { within: Some((0.1, 6300.0)), },
    /// Rated residual current, where it is an RCD.
    residual: Reading<Amps> { within: Some((0.001, 30.0)), unit: Some("mA"), when: Some(When::is("arrangement", &["FourPoleRcd", "TwoPoleRcd"])), },
    /// RCD type.
    rcd_type: Fact<RcdType> { when: Some(When::is("arrangement", &["FourPoleRcd", "TwoPoleRcd"])), },
    /// Its delay, where it is an RCD.
    delay: Fact<RcdDelay> { when: Some(When::is("arrangement", &["FourPoleRcd", "TwoPoleRcd"])), section: Section::More, },
    /// Power it gives off per pole at its rated current.
    loss: Reading<Watts> { within: Some((0.0, 500.0)), section: Section::More, },
    /// Conditional short-circuit current with the device upstream, from its maker's data.
    conditional: Reading<Amps> { within: Some((1.0, 200_000.0)), unit: Some("kA"), section: Section::More, },
    /// Short-time withstand current for 1 s, Icw.
    short_time: Reading<Amps> { within: Some((1.0, 200_000.0)), unit: Some("kA"), section: Section::More, },
    /// Its terminals are stated for conductors at 90 °C.
    terminals_90: Fact<YesNo> { section: Section::More, },
});

record!(/// Where the enclosure stands, for its temperature.
Surroundings {
    /// Temperature of the room where it is hottest.
    ambient: Reading<Celsius> { within: Some((-40.0, 80.0)), usual: Known::Measured, },
    /// How it stands.
    mounting: Fact<Mounting>,
    /// Rated diversity factor on the assembly's label, IEC 61439-3.
    diversity: Reading<Ratio> { within: Some((0.01, 1.0)), },
    /// Conditional short-circuit current of the assembly, Icc, on its label.
    conditional: Reading<Amps> { within: Some((1.0, 200_000.0)), unit: Some("kA"), },
    /// Short-time withstand current of its busbars for 1 s, Icw, on its label.
    short_time: Reading<Amps> { within: Some((1.0, 200_000.0)), unit: Some("kA"), },
});

record!(/// The enclosure against touch, as it stands.
Housing {
    /// Its case and the protective conductor.
    case_bond: Fact<Bond>,
    /// Its door or cover, and what hangs in it.
    door_bond: Fact<Bond>,
    /// Its gland plates and mounting plate.
    plates_bond: Fact<Bond>,
    /// It has a terminal for the incoming protective conductor.
    incoming_earth: Fact<YesNo>,
    /// Earth studs outside.
    outside_studs: Fact<u8> { within: Some((0.0, 200.0)), },
    /// Barriers stand before its busbars, cover off.
    barriers: Fact<YesNo> { place: 13, },
    /// Shrouds cover its incoming terminals, cover off.
    shrouds: Fact<YesNo> { place: 13, },
    /// What is live with the cover off and the incomer open.
    live_uncovered: String { long: true, },
    /// Degree of protection with the cover on.
    ip_closed: Fact<Ip> { place: 11, },
    /// Degree of protection with the cover off.
    ip_open: Fact<Ip> { place: 11, },
    /// Blanks fitted over unused ways, in modules.
    blanks_fitted: Fact<u8> { within: Some((0.0, 255.0)), place: 12, },
    /// Keys of the labels that are there, of those the board owes.
    labels_fitted: Vec<String>,
});

/// Cross-sections that are usual, IEC 60228.
const SIZES: &[&str] =
    &["1", "1.5", "2.5", "4", "6", "10", "16", "25", "35", "50", "70", "95", "120", "150", "185", "240"];
/// Rated currents that are usual, IEC 60898-1.
const RATINGS: &[&str] = &["6", "10", "16", "20", "25", "32", "40", "50", "63", "80", "100", "125"];

record!(/// A protective device.
Device {
    /// Hidden.
    removed: bool,
    /// Kind.
    kind: Option<DeviceKind>,
    /// Poles it takes.
    poles: Option<Poles>,
    /// Its first pole.
    at: Option<PoleAt>,
    /// Rated current, In.
    rated: Reading<Amps> { within: Some((0.1, 1600.0)), offers: RATINGS, },
    /// Instantaneous type of a breaker or RCBO.
    curve: Fact<Curve> { when: Some(When::is("kind", &["CircuitBreaker", "Rcbo"])), },
    /// Rated short-circuit capacity.
    breaking: Reading<Amps> { within: Some((100.0, 200_000.0)), unit: Some("kA"), },
    /// Rated residual current, IΔn.
    residual: Reading<Amps> { within: Some((0.001, 30.0)), unit: Some("mA"), when: Some(When::is("kind", &["Rcd", "Rcbo"])), },
    /// RCD type.
    rcd_type: Fact<RcdType> { when: Some(When::is("kind", &["Rcd", "Rcbo"])), },
    /// Its delay, where it is an RCD.
    delay: Fact<RcdDelay> { when: Some(When::is("kind", &["Rcd", "Rcbo"])), section: Section::More, },
    /// Its energy-limiting class, where it is a breaker or RCBO.
    energy_class: Fact<EnergyClass> { when: Some(When::is("kind", &["CircuitBreaker", "Rcbo"])), section: Section::More, },
    /// Energy it lets through, from its data sheet; said of one fault current.
    let_through: Reading<AmpsSquaredSeconds> { within: Some((0.0, 1e9)), section: Section::More, place: 13, },
    /// Fault current that the let-through energy is said of.
    let_through_at: Reading<Amps> { within: Some((1.0, 200_000.0)), unit: Some("kA"), section: Section::More, place: 13, },
    /// Fault current up to which it opens alone under the device upstream, from the makers' table.
    selective: Reading<Amps> { within: Some((0.0, 200_000.0)), unit: Some("kA"), section: Section::More, place: 13, },
    /// Fault current up to which the device upstream backs it up, from the makers' table.
    backed_up: Reading<Amps> { within: Some((0.0, 200_000.0)), unit: Some("kA"), section: Section::More, place: 13, },
    /// Power it gives off per pole at its rated current.
    loss: Reading<Watts> { within: Some((0.0, 500.0)), section: Section::More, place: 13, },
    /// Its terminals are stated for conductors at 90 °C.
    terminals_90: Fact<YesNo> { section: Section::More, },
    /// Its neutral pole opens on overcurrent in the neutral.
    neutral_protected: Fact<YesNo> { when: Some(When::is("poles", &["P1N", "P2", "P3N"])), section: Section::More, },
    /// Its data allow it in an IT system of this voltage: one pole breaks the voltage between lines.
    for_it: Fact<YesNo> { section: Section::More, place: 12, },
    /// Its data allow it for direct current of this voltage; its short-circuit capacity is then that for d.c.
    dc_rated: Fact<YesNo> { section: Section::More, place: 11, },
    /// Overload setting of an adjustable breaker, Ir.
    ir: Reading<Amps> { within: Some((0.1, 6300.0)), when: Some(When::is("kind", &["AdjustableBreaker"])), section: Section::More, },
    /// Setting of its instantaneous release, Ii.
    ii: Reading<Amps> { within: Some((0.1, 200_000.0)), when: Some(When::is("kind", &["AdjustableBreaker"])), section: Section::More, },
    /// Setting of its short-time release, Isd; without such a release, Ii again.
    isd: Reading<Amps> { within: Some((0.1, 200_000.0)), when: Some(When::is("kind", &["AdjustableBreaker"])), section: Section::More, },
    /// Longest time in which its short-time release opens at its delay setting, from its data.
    tsd: Reading<Seconds> { within: Some((0.0, 10.0)), when: Some(When::is("kind", &["AdjustableBreaker"])), section: Section::More, },
});

record!(/// An outgoing circuit.
Circuit {
    /// Hidden.
    removed: bool,
    /// Its reference on the chart; empty: the pole it starts on.
    number: String,
    /// What it feeds, as the chart says.
    description: String { long: true, },
    /// What kind of load.
    kind: Option<LoadKind>,
    /// Its device.
    device: Option<DeviceId>,
    /// Its cable.
    cable: Option<CableId>,
    /// It is a ring final circuit: both ends of its cable are on the device. Unknown: either, where it could be one.
    ring: Fact<YesNo> { when: Some(When::is("kind", &["Sockets", "Lighting", "FixedEquipment"])), },
    /// The load.
    load: Load,
    /// Neutral terminal it uses, where it is not the one of its first pole.
    neutral_terminal: Option<String>,
    /// Earth terminals it uses, where they are not those of its first pole.
    earth_terminals: Vec<String>,
    /// Carries more than 10 mA of protective conductor current: two earth terminals.
    high_protective_current: bool,
    /// Readings taken on it.
    tests: Tests,
});

record!(/// What a circuit is asked to carry.
Load {
    /// Connected power: electrical input; of a motor, or where an efficiency is given, shaft power.
    power: Reading<Watts> { within: Some((0.0, 2_000_000.0)), unit: Some("kW"), },
    /// Design current where it is known directly; else it follows from the power.
    current: Reading<Amps> { within: Some((0.0, 3000.0)), usual: Known::Measured, },
    /// Power factor.
    power_factor: Reading<Ratio> { within: Some((0.01, 1.0)), },
    /// Its current leads the voltage, as of capacitors and some drivers of lamps.
    leading: Fact<YesNo> { section: Section::More, },
    /// Efficiency of a motor.
    efficiency: Reading<Ratio> { within: Some((0.01, 1.0)), },
    /// Demand factor.
    demand: Reading<Ratio> { within: Some((0.0, 1.0)), usual: Known::Decided, },
    /// Third harmonic of the line current, as a share of it.
    third_harmonic: Reading<Ratio> { within: Some((0.0, 1.0)), unit: Some("%"), usual: Known::Measured, section: Section::More, place: 12, },
    /// Current in the protective conductor in normal use.
    leakage: Reading<Amps> { within: Some((0.0, 10.0)), unit: Some("mA"), usual: Known::Measured, section: Section::More, place: 12, },
    /// What its earth fault current looks like.
    residual_form: Fact<ResidualForm> { section: Section::More, place: 12, },
    /// Vehicle charging: the charger itself cuts off smooth d.c. above 6 mA, IEC 62955.
    dc_detection: Fact<YesNo> { when: Some(When::is("kind", &["VehicleCharging"])), section: Section::More, place: 12, },
    /// Starting current of a motor, as a multiple of its rated current.
    start: Reading<Ratio> { within: Some((0.5, 20.0)), when: Some(When::is("kind", &["Motor"])), section: Section::More, place: 11, },
});

record!(/// Readings taken on a circuit.
Tests {
    /// Earth fault loop impedance at the far end, Zs, as measured (cold).
    zs: Reading<Ohms> { within: Some((0.0, 2000.0)), usual: Known::Measured, },
    /// R1+R2, as measured (cold).
    r1_r2: Reading<Ohms> { within: Some((0.0, 1e13)), usual: Known::Measured, },
    /// Ring: line conductor from end to end, r1, as measured (cold).
    ring_line: Reading<Ohms> { within: Some((0.0, 1e13)), usual: Known::Measured, when: Some(When::is("ring", &["Yes"])), },
    /// Ring: neutral conductor from end to end, rn, as measured (cold).
    ring_neutral: Reading<Ohms> { within: Some((0.0, 1e13)), usual: Known::Measured, when: Some(When::is("ring", &["Yes"])), },
    /// Ring: protective conductor from end to end, r2, as measured (cold).
    ring_cpc: Reading<Ohms> { within: Some((0.0, 1e13)), usual: Known::Measured, when: Some(When::is("ring", &["Yes"])), },
    /// Line, neutral and protective conductor are on their own terminals, from the device to every point.
    polarity: Fact<YesNo> { usual: Known::Measured, },
    /// Insulation resistance, live to earth.
    insulation: Reading<Ohms> { within: Some((0.0, 1e13)), unit: Some("Mohm"), usual: Known::Measured, },
});

record!(/// A cable.
Cable {
    /// Hidden.
    removed: bool,
    /// How it is built.
    construction: Fact<Construction> { usual: Known::Label, place: 4, },
    /// Number of cores, the protective core among them.
    cores: Fact<u8> { within: Some((1.0, 61.0)), place: 5, },
    /// Cross-section of the line conductor.
    size: Reading<SquareMillimetres> { within: Some((0.2, 1000.0)), section: Section::Size, place: 1, offers: SIZES, },
    /// Cross-section of the protective conductor, where it is a conductor.
    cpc_size: Reading<SquareMillimetres> { within: Some((0.2, 1000.0)), when: Some(When::is("cpc", &["Core", "Separate"])), place: 9, },
    /// A separate protective conductor runs apart from the line conductors, not bunched with them.
    cpc_apart: Fact<YesNo> { when: Some(When::is("cpc", &["Separate"])), place: 11, },
    /// What the protective conductor is.
    cpc: Fact<CpcForm> { place: 8, },
    /// Metal of a separate protective conductor; unknown counts as that of the lines.
    cpc_material: Fact<Material> { when: Some(When::is("cpc", &["Separate"])), place: 10, },
    /// Conductor material.
    material: Fact<Material> { place: 6, },
    /// Insulation.
    insulation: Fact<Insulation> { place: 7, },
    /// Installation method.
    method: Fact<Method> { place: 3, },
    /// Length from this board to the load.
    length: Reading<Metres> { within: Some((0.0, 5000.0)), usual: Known::Measured, place: 2, },
    /// Ambient temperature where it is hottest.
    ambient: Reading<Celsius> { within: Some((-40.0, 120.0)), usual: Known::Measured, place: 12, },
    /// Circuits grouped together, this one included.
    grouped: Fact<u8> { within: Some((1.0, 200.0)), place: 13, },
    /// Of these, how many carry no more than 30 % of what they may carry in the group; unknown counts as none.
    grouped_light: Fact<u8> { within: Some((0.0, 199.0)), place: 14, },
    /// How they lie.
    layout: Fact<Layout> { section: Section::More, },
    /// How the single cores of its circuit lie in free air; unknown counts as touching, in trefoil or flat.
    formation: Fact<Formation> { when: Some(When::is("construction", &["SingleCore"])), section: Section::More, },
    /// Sizes more than three standard steps apart lie together; unknown counts as no.
    mixed_sizes: Fact<YesNo> { section: Section::More, },
    /// Cables in parallel per circuit; unknown counts as one.
    parallel: Fact<u8> { within: Some((1.0, 16.0)), section: Section::More, },
    /// Cross-section of the neutral, where it is another than the line's.
    neutral_size: Reading<SquareMillimetres> { within: Some((0.2, 1000.0)), section: Section::More, },
    /// Length run in thermal insulation, surrounded by it.
    in_insulation: Reading<Metres> { within: Some((0.0, 5000.0)), usual: Known::Measured, section: Section::More, },
    /// Thermal resistivity of the ground, for buried cables.
    soil: Reading<KelvinMetresPerWatt> { within: Some((0.1, 10.0)), when: Some(When::is("method", &["D1", "D2"])), section: Section::More, },
    /// Depth of burial.
    burial_depth: Reading<Metres> { within: Some((0.0, 20.0)), when: Some(When::is("method", &["D1", "D2"])), section: Section::More, },
    /// What it carries; unknown counts as low-voltage power.
    band: Fact<Band> { section: Section::More, },
    /// Overall diameter.
    diameter: Reading<Millimetres> { within: Some((1.0, 200.0)), usual: Known::Measured, place: 15, },
    /// Diameter under the armour.
    bedding_diameter: Reading<Millimetres> { within: Some((1.0, 200.0)), usual: Known::Measured, when: Some(When::is("construction", &["Armoured"])), place: 16, },
    /// Smallest radius it may be bent to, as a multiple of its diameter, from its maker's data.
    bend_factor: Reading<Ratio> { within: Some((0.1, 50.0)), section: Section::More, },
});

record!(/// A gland plate.
Plate {
    /// Hidden.
    removed: bool,
    /// The face it closes.
    face: Face,
    /// Size across the front.
    width: Reading<Millimetres> { within: Some((10.0, 3000.0)), usual: Known::Measured, },
    /// Size from front to back.
    depth: Reading<Millimetres> { within: Some((10.0, 3000.0)), usual: Known::Measured, },
    /// Sheet thickness.
    thickness: Reading<Millimetres> { within: Some((0.3, 30.0)), usual: Known::Measured, },
    /// Material.
    material: Fact<PlateMaterial>,
    /// Corner that the dimensions on papers run from; none: the left rear one. Places in this file never count from
    /// it: they count from the left rear corner, whatever stands here.
    datum: Option<Corner>,
    /// The part that may be drilled: [x, y, width, depth] in millimetres from the left rear corner, seen from outside.
    usable: Option<Rect>,
    /// Parts that must stay whole: fixings, folds, the earth stud. Written as the part that may be drilled.
    keep_outs: Vec<Rect>,
    /// Free depth behind it, up to the nearest terminal or part.
    wiring_depth: Reading<Millimetres> { within: Some((0.0, 2000.0)), usual: Known::Measured, section: Section::Apart, },
    /// Slots cut between holes, so that no iron closes round a single conductor.
    slots: BTreeMap<SlotId, Slot>,
    /// Entries.
    entries: BTreeMap<EntryId, Entry>,
});

impl Plate {
    /// The number every entry bears on plate and paper, removed ones too: the one it was given when it was made. An
    /// entry of an older survey that was given none has the place of its id among the others, or, where that number is
    /// given already, the next free one; the first edit of the board keeps it.
    #[must_use]
    pub fn entry_numbers(&self) -> BTreeMap<EntryId, u32> {
        let mut taken: BTreeSet<u32> = self.entries.values().filter_map(|entry| entry.number).collect();
        let mut numbers = BTreeMap::new();
        let mut late = Vec::new();
        for (place, (id, entry)) in (1..).zip(&self.entries) {
            match entry.number {
                Some(number) => drop(numbers.insert(*id, number)),
                None if taken.insert(place) => drop(numbers.insert(*id, place)),
                None => late.push(*id),
            }
        }
        let mut next = taken.last().copied().unwrap_or_default();
        for id in late {
            next = next.saturating_add(1);
            numbers.insert(id, next);
        }
        numbers
    }

    /// The smallest number above those of all entries that were ever on this plate.
    #[must_use]
    pub fn next_entry_number(&self) -> u32 {
        self.entry_numbers().into_values().max().map_or(1, |most| most.saturating_add(1))
    }
}

record!(/// An entry in a plate.
Entry {
    /// Hidden.
    removed: bool,
    /// Its number on plate and paper, "E3": given when it is made, and never to another. None in an older survey:
    /// the place of its id among the plate's entries.
    number: Option<u32> { within: Some((1.0, 99_999.0)), },
    /// Kind.
    kind: Option<EntryKind>,
    /// Trade size: "20S", "M25", "25".
    size: String,
    /// Centre in millimetres from the left rear corner of the plate, seen from outside with its rear edge up (upper edge
    /// for a plate in the back): first to the right, then to the front. The plate's datum corner does not change it.
    at: Option<Point>,
    /// Hole, where it is not the clearance hole of its size; the width of a cut-out.
    hole: Option<Millimetres> { within: Some((1.0, 600.0)), },
    /// Height of a trunking cut-out.
    cut_out_height: Option<Millimetres> { within: Some((1.0, 600.0)), },
    /// The cable it takes.
    cable: Option<CableId>,
    /// More cables through the same opening: conduit, trunking, single cores of one circuit.
    others: Vec<CableId>,
    /// Diameter of the hole as measured; the width of a cut-out.
    hole_measured: Reading<Millimetres> { within: Some((1.0, 600.0)), usual: Known::Measured, section: Section::Apart, },
    /// How far the true centre may be from `at`, where the place was measured.
    at_within: Reading<Millimetres> { within: Some((0.0, 100.0)), usual: Known::Measured, section: Section::Apart, },
    /// Length of the conduit's run to the next box.
    run_length: Reading<Metres> { within: Some((0.0, 1000.0)), usual: Known::Measured, when: Some(When::is("kind", &["Conduit", "FlexibleConduit"])), },
    /// Right-angled bends in that run; a double set counts as one.
    run_bends: Fact<u8> { within: Some((0.0, 100.0)), when: Some(When::is("kind", &["Conduit", "FlexibleConduit"])), },
    /// Share of the trunking to be kept free for cables to come.
    growth: Reading<Ratio> { within: Some((0.0, 0.95)), unit: Some("%"), usual: Known::Decided, when: Some(When::is("kind", &["TrunkingCutOut"])), },
    /// The photo the hole was measured on.
    evidence: Option<PhotoId>,
    /// The hole is there already.
    existing: bool,
    /// Must stay where it is.
    locked: bool,
});

record!(/// A slot cut from one hole to another.
Slot {
    /// Hidden.
    removed: bool,
    /// Entry it starts at.
    from: Option<EntryId>,
    /// Entry it ends at.
    to: Option<EntryId>,
    /// Width of the cut.
    width: Reading<Millimetres> { within: Some((0.2, 50.0)), section: Section::Apart, },
});

record!(/// A photo; the picture itself is kept by its hash.
Photo {
    /// Hidden.
    removed: bool,
    /// SHA-256 of the original file, in hexadecimal.
    hash: String,
    /// Media type of the original.
    media: String,
    /// Pixels across, as shown upright.
    width: u32,
    /// Pixels down, as shown upright.
    height: u32,
    /// Caption.
    caption: String { long: true, },
    /// What it shows: a pole ("3L2"), a plate's id, or nothing in particular.
    pinned: String,
    /// When it was taken or brought in.
    at: Option<DateTime<Utc>>,
    /// Marks drawn on it.
    marks: BTreeMap<MarkId, Mark>,
});

record!(/// A mark on a photo, kept as a vector.
Mark {
    /// Hidden.
    removed: bool,
    /// Shape.
    shape: Option<MarkShape>,
    /// Points as shares of the upright picture's width and height: tail and head of an arrow, two
    /// corners of a box, the place of a text.
    points: Vec<Point>,
    /// Words of a text mark.
    text: String { long: true, },
});

record!(/// A note.
Note {
    /// Hidden.
    removed: bool,
    /// The words.
    text: String { long: true, },
    /// What it is about: a path in the board, or empty.
    about: String,
    /// When.
    at: Option<DateTime<Utc>>,
    /// Role of who wrote it.
    role: String,
});

record!(/// Something seen that should not stay so.
Observation {
    /// Hidden.
    removed: bool,
    /// What.
    seen: Option<Seen>,
    /// What it is about: a path in the board, or empty for the board.
    about: String,
    /// Where, in words: "lower left, behind the cover".
    place: String { long: true, },
    /// The photo that shows it.
    photo: Option<PhotoId>,
    /// It was put right.
    put_right: bool,
    /// When it was seen.
    at: Option<DateTime<Utc>>,
    /// Role of who saw it.
    role: String,
});

record!(/// A conflict that a person settled.
Settled {
    /// The field.
    path: String,
    /// The values that stood side by side, as JSON.
    from: Vec<String>,
    /// The value picked, as JSON.
    to: String,
    /// Role of who picked.
    role: String,
    /// When.
    at: Option<DateTime<Utc>>,
});
