//! One circuit as its checks see it: every field a range or a set of choices.
//!
//! A check reads what it needs; what it read is what it rests on, so the list of inputs is never
//! kept by hand.

use std::cell::Cell;

use smallvec::SmallVec;
use survey::arrangement::Conductor;
use survey::range::Span;
use survey::units::Quantity;
use survey::{
    Argument, Construction, CpcForm, CurrentForm, Curve, DeviceKind, EarthingSystem, EnergyClass, Formation, Frequency,
    Insulation, Layout, LoadKind, Material, Message, Method, Network, Poles, Range, RcdDelay, RcdType, ResidualForm,
    SupplyPhases, TouchLimit, YesNo, say,
};

use crate::cable::times;
use crate::field::{About, Field, Key, TINY};
use crate::tables::Tables;

mod kept;
mod slots;
mod trial;

use kept::Kept;
pub(crate) use slots::Slot;
use slots::Slots;

/// Why a check has no numbers.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Gap {
    /// This field is not known and no range can be taken for it.
    Missing(Field),
    /// This field's value does not fit; the words say why.
    Unfit(Field, Message),
}

/// How a circuit is connected.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Feed {
    /// Line and neutral; `None`: which line is not known.
    OneLine(Option<Conductor>),
    /// Between two lines of a three-phase supply, the second following the first in rotation.
    TwoLines(Option<[usize; 2]>),
    /// All three lines.
    ThreeLines,
}

impl Feed {
    /// Loaded conductors, as the capacity tables count them.
    pub(crate) const fn loaded(self) -> u8 {
        match self {
            Self::ThreeLines => 3,
            Self::OneLine(_) | Self::TwoLines(_) => 2,
        }
    }
}

/// All that one circuit's checks read.
#[derive(Clone)]
pub(crate) struct Case<'a> {
    pub(crate) tables: &'a Tables,
    pub(crate) slots: Slots,
    pub(crate) kinds: &'static [LoadKind],
    pub(crate) systems: &'static [EarthingSystem],
    pub(crate) curves: &'static [Curve],
    pub(crate) materials: &'static [Material],
    pub(crate) insulations: &'static [Insulation],
    pub(crate) methods: &'static [Method],
    /// `None`: every layout that the method allows.
    pub(crate) layout: Option<Layout>,
    pub(crate) mixed_sizes: Option<YesNo>,
    /// `None`: single cores in free air touch each other, in trefoil or flat.
    pub(crate) formation: Option<Formation>,
    pub(crate) network: Option<Network>,
    pub(crate) residual_forms: &'static [ResidualForm],
    pub(crate) dc_detection: &'static [YesNo],
    pub(crate) neutral_distributed: &'static [YesNo],
    pub(crate) earthed_together: &'static [YesNo],
    pub(crate) rcd_types: &'static [RcdType],
    pub(crate) delays: &'static [RcdDelay],
    pub(crate) energy_classes: &'static [EnergyClass],
    pub(crate) cpc_apart: &'static [YesNo],
    /// It is a ring.
    pub(crate) rings: &'static [YesNo],
    /// Metal of a separate protective conductor; none: that of the lines.
    pub(crate) cpc_material: Option<Material>,
    pub(crate) touch_limit: Option<TouchLimit>,
    pub(crate) frequency: Option<Frequency>,
    /// A device that opens on overcurrent stands, or may stand, upstream of the board.
    pub(crate) behind_overcurrent: bool,
    /// Readings of the supply deny each other: what rests on them holds nothing.
    pub(crate) denied: bool,
    /// The voltage, as read, is beyond what breakers and RCDs are made for.
    pub(crate) beyond_breakers: bool,
    /// Somebody read what the device upstream is, and its rating.
    pub(crate) upstream_read: bool,
    /// An RCD stands upstream of the board.
    pub(crate) upstream_rcd: bool,
    pub(crate) upstream_delays: &'static [RcdDelay],
    /// The device upstream is an RCD that a PEN conductor behind it blinds.
    pub(crate) pen_behind_rcd: bool,
    /// The incomer is an RCD with poles for one line, on a supply of three: it may watch the circuit or not.
    pub(crate) incomer_in_doubt: bool,
    /// Smooth direct current from behind them blinds the RCDs: the circuit's own, the incomer's, the one upstream.
    pub(crate) blinded: [&'static [YesNo]; 3],
    /// The load's current leads its voltage.
    pub(crate) leading: &'static [YesNo],
    pub(crate) terminals_90: &'static [YesNo],
    pub(crate) neutral_protected: &'static [YesNo],
    pub(crate) for_it: &'static [YesNo],
    /// Reduced low voltage, each answer that is possible.
    pub(crate) reduced: &'static [YesNo],
    pub(crate) phases: Option<SupplyPhases>,
    /// `None`: a.c.
    pub(crate) current_form: Option<CurrentForm>,
    pub(crate) dc_rated: &'static [YesNo],
    pub(crate) incomer_rcd_types: &'static [RcdType],
    pub(crate) incomer_delays: &'static [RcdDelay],
    /// Whether a three-phase circuit has a neutral, each answer that is possible.
    pub(crate) neutral: &'static [bool],
    pub(crate) device_kind: Option<DeviceKind>,
    pub(crate) poles: Option<Poles>,
    /// Circuits that run in the same cable, this one included.
    pub(crate) in_cable: u8,
    pub(crate) construction: Option<Construction>,
    pub(crate) cpc: Option<CpcForm>,
    pub(crate) has_device: bool,
    pub(crate) has_cable: bool,
    pub(crate) incomer_rcd: bool,
    /// Why its armour is not shown to be joined to earth.
    pub(crate) armour_not_joined: Option<Message>,
    /// Several charging points of the board have no RCD of their own.
    pub(crate) points_share: bool,
    /// Its protective conductor was seen missing or cut, and that is not put right.
    pub(crate) no_earth: bool,
    pub(crate) feed: Result<Feed, Gap>,
    used: Cell<u128>,
    kept: Kept,
}

const _: () = assert!(Field::ALL.len() <= 128, "the mask of used fields has 128 places");

/// The one choice that is known, or all that are left.
pub(crate) fn choices<T: PartialEq>(all: &'static [T], known: Option<T>, open: &'static [T]) -> &'static [T] {
    known
        .and_then(|known| all.iter().position(|one| *one == known))
        .and_then(|index| all.get(index..=index))
        .unwrap_or(open)
}

impl<'a> Case<'a> {
    /// A case with nothing known.
    pub(crate) fn blank(tables: &'a Tables) -> Self {
        let mut slots = Slots::EMPTY;
        for open in [Field::TimeCurve, Field::LoopAngle] {
            slots.set(open, Slot { span: Some(Span { lo: 0.0, hi: 1.0 }), taken: true });
        }
        Self {
            tables,
            slots,
            kinds: LoadKind::ALL,
            systems: OPEN_SYSTEMS,
            curves: Curve::ALL,
            materials: Material::ALL,
            insulations: Insulation::ALL,
            methods: Method::ALL,
            layout: None,
            mixed_sizes: None,
            formation: None,
            network: None,
            residual_forms: ResidualForm::ALL,
            dc_detection: YesNo::ALL,
            neutral_distributed: YesNo::ALL,
            earthed_together: YesNo::ALL,
            rcd_types: RcdType::ALL,
            delays: RcdDelay::ALL,
            energy_classes: EnergyClass::ALL,
            cpc_apart: YesNo::ALL,
            rings: NO,
            cpc_material: None,
            touch_limit: None,
            frequency: None,
            behind_overcurrent: true,
            denied: false,
            beyond_breakers: false,
            upstream_read: false,
            upstream_rcd: false,
            upstream_delays: RcdDelay::ALL,
            pen_behind_rcd: false,
            incomer_in_doubt: false,
            blinded: [NO; 3],
            leading: NO,
            terminals_90: YesNo::ALL,
            neutral_protected: YesNo::ALL,
            for_it: YesNo::ALL,
            reduced: NO,
            phases: None,
            current_form: None,
            dc_rated: YesNo::ALL,
            incomer_rcd_types: RcdType::ALL,
            incomer_delays: RcdDelay::ALL,
            neutral: EITHER,
            device_kind: None,
            poles: None,
            in_cable: 1,
            construction: None,
            cpc: None,
            has_device: false,
            has_cable: false,
            incomer_rcd: false,
            armour_not_joined: None,
            points_share: false,
            no_earth: false,
            feed: Err(Gap::Missing(Field::Device)),
            used: Cell::new(0),
            kept: Kept::default(),
        }
    }

    /// Puts a quantity in.
    pub(crate) fn put<Q: Quantity>(&mut self, key: Key<Q>, range: Option<Range<Q>>) {
        self.slots.set(key.field, Slot { span: range.map(Range::numbers), taken: false });
    }

    /// Takes a range for a quantity that has none.
    pub(crate) fn take<Q: Quantity>(&mut self, key: Key<Q>, span: Option<Span>) {
        if self.slots.span(key.field).is_none() {
            self.slots.set(key.field, Slot { span, taken: span.is_some() });
        }
    }

    pub(crate) fn mark(&self, field: Field) {
        self.used.set(self.used.get() | 1 << field as u128);
    }

    /// Forgets what was read.
    pub(crate) fn forget(&self) {
        self.used.set(0);
    }

    /// Fields read since the last [`Case::forget`], one bit each.
    pub(crate) fn used_mask(&self) -> u128 {
        self.used.get()
    }

    /// A quantity, given or taken.
    #[inline]
    pub(crate) fn get<Q: Quantity>(&self, key: Key<Q>) -> Result<Range<Q>, Gap> {
        self.owner(key.field)?;
        self.mark(key.field);
        let span = self.slots.span(key.field).ok_or(Gap::Missing(key.field))?;
        Self::sane(key.field, span)?;
        Ok(span.of())
    }

    /// A quantity only if a reading gives it; not counted as read where it is not there.
    pub(crate) fn given<Q: Quantity>(&self, key: Key<Q>) -> Result<Option<Range<Q>>, Gap> {
        match self.slots.get(key.field) {
            Slot { span: Some(_), taken: false } => self.get(key).map(Some),
            _ => Ok(None),
        }
    }

    /// The same where the tables hold for a usual value as long as nobody says another: the answer rests on that,
    /// so it is counted as read either way. See [`taken_as_usual`].
    pub(crate) fn given_or_usual<Q: Quantity>(&self, key: Key<Q>) -> Result<Option<Range<Q>>, Gap> {
        self.mark(key.field);
        self.given(key)
    }

    #[inline]
    fn sane(field: Field, span: Span) -> Result<(), Gap> {
        let (lo, hi) = field.about().sane;
        if span.hi < lo || span.lo > hi || span.lo < lo.min(0.0) { Err(no_sense(field, span)) } else { Ok(()) }
    }

    #[inline]
    fn owner(&self, field: Field) -> Result<(), Gap> {
        use Field::{Ambient, Grouped, Insulation, Layout, Material, Method, NeutralSize, Parallel};
        use Field::{
            Breaking, Construction, Cores, Cpc, CpcSize, Curve, DeviceKind, Length, Poles, Rated, Residual, Size,
        };
        match field {
            DeviceKind | Rated | Curve | Breaking | Residual | Poles if !self.has_device => {
                Err(Gap::Missing(Field::Device))
            }
            Construction | Cores | Size | Material | Insulation | Method | Ambient | Grouped | Length | Cpc
            | CpcSize | Layout | NeutralSize | Parallel
                if !self.has_cable =>
            {
                Err(Gap::Missing(Field::Cable))
            }
            _ => Ok(()),
        }
    }

    pub(crate) fn kinds(&self) -> &'static [LoadKind] {
        self.mark(Field::Kind);
        self.kinds
    }
    pub(crate) fn systems(&self) -> &'static [EarthingSystem] {
        self.mark(Field::System);
        self.systems
    }
    pub(crate) fn curves(&self) -> &'static [Curve] {
        self.mark(Field::Curve);
        self.curves
    }
    pub(crate) fn materials(&self) -> Result<&'static [Material], Gap> {
        self.owner(Field::Material)?;
        self.mark(Field::Material);
        Ok(self.materials)
    }
    pub(crate) fn insulations(&self) -> Result<&'static [Insulation], Gap> {
        self.owner(Field::Insulation)?;
        self.mark(Field::Insulation);
        Ok(self.insulations)
    }
    pub(crate) fn methods(&self) -> Result<&'static [Method], Gap> {
        self.owner(Field::Method)?;
        self.mark(Field::Method);
        Ok(self.methods)
    }
    /// How the circuits lie together, for a method: what is known, else all that the method allows.
    /// Counted as read only where the method leaves a choice.
    pub(crate) fn lies(&self, method: Method) -> &'static [Layout] {
        let open = Tables::lies(method);
        if open.len() > 1 {
            self.mark(Field::Layout);
        }
        match self.layout {
            Some(known) if open.len() > 1 => choices(Layout::ALL, Some(known), open),
            _ => open,
        }
    }
    /// Sizes differ too much for the grouping tables; unknown counts as no, and is counted as read.
    pub(crate) fn mixed(&self) -> bool {
        self.mark(Field::MixedSizes);
        self.mixed_sizes == Some(YesNo::Yes)
    }
    /// Cables in parallel; unknown counts as one.
    pub(crate) fn parallel(&self) -> Result<Span, Gap> {
        Ok(self.given(crate::field::PARALLEL)?.map_or(Span::point(1.0), Range::numbers))
    }
    /// Whose network it is; unknown counts as public, which allows the smaller drop.
    pub(crate) fn network(&self) -> Network {
        if self.network.is_some() {
            self.mark(Field::Network);
        }
        self.network.unwrap_or(Network::Public)
    }
    pub(crate) fn residual_forms(&self) -> &'static [ResidualForm] {
        self.mark(Field::ResidualForm);
        self.residual_forms
    }
    pub(crate) fn dc_detection(&self) -> &'static [YesNo] {
        self.mark(Field::DcDetection);
        self.dc_detection
    }
    pub(crate) fn neutral_distributed(&self) -> &'static [YesNo] {
        self.mark(Field::NeutralDistributed);
        self.neutral_distributed
    }
    pub(crate) fn earthed_together(&self) -> &'static [YesNo] {
        self.mark(Field::EarthedTogether);
        self.earthed_together
    }
    pub(crate) fn rcd_types(&self) -> &'static [RcdType] {
        self.mark(Field::RcdType);
        self.rcd_types
    }
    pub(crate) fn incomer_rcd_types(&self) -> &'static [RcdType] {
        self.mark(Field::IncomerRcdType);
        self.incomer_rcd_types
    }
    pub(crate) fn delays(&self) -> &'static [RcdDelay] {
        self.mark(Field::Delay);
        self.delays
    }
    pub(crate) fn energy_classes(&self) -> &'static [EnergyClass] {
        self.mark(Field::EnergyClass);
        self.energy_classes
    }
    pub(crate) fn cpc_apart(&self) -> &'static [YesNo] {
        self.mark(Field::CpcApart);
        self.cpc_apart
    }
    /// Its device's three poles all stand on the one line of a single-phase supply: its neutral carries their sum. The
    /// load counts as shared evenly by the three, as one on three lines does.
    pub(crate) fn linked(&self) -> bool {
        let linked = self.has_device && linked(self.phases, self.poles);
        if linked {
            self.mark(Field::Poles);
        }
        linked
    }
    /// What one pole carries of a current of the whole circuit.
    pub(crate) fn of_a_pole(&self, current: Span) -> Span {
        of_a_pole(self.linked(), current)
    }
    /// Whether it is a ring, each answer that is possible. Counted as read only where it may be one.
    pub(crate) fn rings(&self) -> &'static [YesNo] {
        if self.rings.contains(&YesNo::Yes) {
            self.mark(Field::Ring);
        }
        self.rings
    }
    /// Share of the cable's length that counts on the way to the farthest point: all of a radial; of a ring a
    /// quarter, two halves of its cable side by side.
    pub(crate) fn reach(&self) -> Span {
        const QUARTER: f64 = 0.25;
        match self.rings() {
            [YesNo::No] => Span::point(1.0),
            [YesNo::Yes] => Span::point(QUARTER),
            _ => Span { lo: QUARTER, hi: 1.0 },
        }
    }
    /// Metals that a separate protective conductor may be of, where the lines are of this one.
    pub(crate) fn cpc_metal(&self, line: Material) -> Material {
        if self.cpc_material.is_some() {
            self.mark(Field::CpcMaterial);
        }
        self.cpc_material.filter(|_| self.cpc == Some(CpcForm::Separate)).unwrap_or(line)
    }
    /// Touch voltage that may stay, V; unknown counts as 50 V: IEC 60364-4-41, 411.5.3 and 411.6.2. Some
    /// parts 7 ask for 25 V.
    pub(crate) fn touch_voltage(&self) -> f64 {
        self.mark(Field::TouchLimit);
        match self.touch_limit {
            // IEC 60364-4-41, 411.5.3 and 411.6.2: 120 V of direct current; where 25 V are asked for, 60 V (both from
            // memory).
            Some(TouchLimit::TwentyFive) if self.direct() => 60.0,
            _ if self.direct() => 120.0,
            Some(TouchLimit::TwentyFive) => 25.0,
            _ => 50.0,
        }
    }
    /// How the single cores lie. Counted as read where they lie in free air.
    pub(crate) fn formation(&self) -> Option<Formation> {
        self.mark(Field::Formation);
        self.formation
    }
    /// Reactance of a cable's conductor, mΩ/m: that of the tables at 50 Hz, in proportion to the frequency; of single
    /// cores as they lie.
    pub(crate) fn reactance(&self) -> Span {
        if self.direct() {
            return Span::point(0.0);
        }
        let as_they_lie = reactance_times(self.methods, self.formation);
        if as_they_lie != Span::point(1.0) {
            self.mark(Field::Formation);
        }
        self.mark(Field::Frequency);
        let plain = match self.frequency {
            Some(Frequency::Hz60) => self.tables.reactance() * 1.2,
            _ => self.tables.reactance(),
        };
        times(Span::point(plain), as_they_lie)
    }
    /// Whether smooth direct current blinds an RCD on the way, each answer that is possible: [`BLIND`] gives their
    /// order. Counted as read only where it may.
    pub(crate) fn blinded(&self, which: usize) -> &'static [YesNo] {
        let blinded = self.blinded.get(which).copied().unwrap_or(NO);
        if blinded.contains(&YesNo::Yes) {
            BLIND.get(which).into_iter().for_each(|field| self.mark(*field));
        }
        blinded
    }
    pub(crate) fn leading(&self) -> &'static [YesNo] {
        self.mark(Field::Leading);
        self.leading
    }
    pub(crate) fn terminals_90(&self) -> &'static [YesNo] {
        self.mark(Field::Terminals);
        self.terminals_90
    }
    pub(crate) fn neutral_protected(&self) -> &'static [YesNo] {
        self.mark(Field::NeutralProtected);
        self.neutral_protected
    }
    pub(crate) fn for_it(&self) -> &'static [YesNo] {
        self.mark(Field::ForIt);
        self.for_it
    }
    /// Whether the supply is of reduced low voltage. Counted as read only where it may be.
    pub(crate) fn reduced(&self) -> &'static [YesNo] {
        if self.reduced.contains(&YesNo::Yes) {
            self.mark(Field::Reduced);
        }
        self.reduced
    }
    /// The current is direct; unknown counts as a.c., and is counted as read.
    pub(crate) fn direct(&self) -> bool {
        self.mark(Field::CurrentForm);
        self.current_form.is_some_and(|form| form != CurrentForm::Ac)
    }
    pub(crate) fn dc_rated(&self) -> &'static [YesNo] {
        self.mark(Field::DcRated);
        self.dc_rated
    }
    /// What the tables tell of devices is of alternating current: nothing for a direct one.
    pub(crate) fn alternating(&self) -> Result<(), Gap> {
        if self.direct() {
            return Err(Gap::Unfit(Field::DcRated, say!("gap-direct-current")));
        }
        Ok(())
    }
    /// One pole of a supply of direct current with its midpoint earthed: the other conductor goes to the midpoint or to the
    /// other pole.
    fn open_to_midpoint(&self) -> bool {
        self.current_form == Some(CurrentForm::DcMidpoint) && self.poles == Some(Poles::P1)
    }
    /// Voltage across a circuit of line and neutral as a multiple of that to earth: 2 where both its conductors are
    /// lines of a centre-tapped supply (BS 7671, 411.8.4.2, from memory).
    pub(crate) fn across(&self) -> Span {
        if self.direct() {
            if self.current_form != Some(CurrentForm::DcMidpoint) {
                return Span::point(1.0);
            }
            // With its midpoint earthed: a device of one pole leaves open where the other conductor goes.
            self.mark(Field::Poles);
            return match self.poles {
                Some(Poles::P1N) => Span::point(1.0),
                Some(Poles::P1) => Span { lo: 1.0, hi: 2.0 },
                _ => Span::point(2.0),
            };
        }
        match (self.reduced(), self.phases) {
            ([YesNo::No], _) | (_, Some(SupplyPhases::Three)) => Span::point(1.0),
            ([YesNo::Yes], Some(SupplyPhases::Single)) => Span::point(2.0),
            _ => Span { lo: 1.0, hi: 2.0 },
        }
    }
    /// Voltage between the conductors of a circuit of line and neutral, V, from that to earth: see [`Case::across`].
    pub(crate) fn between(&self, to_earth: Span) -> Span {
        times(to_earth, self.across())
    }
    pub(crate) fn poles(&self) -> Result<Poles, Gap> {
        self.owner(Field::Poles)?;
        self.mark(Field::Poles);
        self.poles.ok_or(Gap::Missing(Field::Poles))
    }
    pub(crate) fn incomer_delays(&self) -> &'static [RcdDelay] {
        self.mark(Field::IncomerDelay);
        self.incomer_delays
    }
    /// Whether a three-phase circuit has a neutral: by the poles of its device and the cores.
    pub(crate) fn neutral(&self) -> &'static [bool] {
        self.mark(Field::Poles);
        if self.neutral.len() > 1 && self.has_cable {
            self.mark(Field::Cores);
        }
        self.neutral
    }
    pub(crate) fn device_kind(&self) -> Result<DeviceKind, Gap> {
        self.owner(Field::DeviceKind)?;
        self.mark(Field::DeviceKind);
        self.device_kind.ok_or(Gap::Missing(Field::DeviceKind))
    }
    pub(crate) fn construction(&self) -> Result<Option<Construction>, Gap> {
        self.owner(Field::Construction)?;
        self.mark(Field::Construction);
        Ok(self.construction)
    }
    pub(crate) fn cpc(&self) -> Result<CpcForm, Gap> {
        self.owner(Field::Cpc)?;
        self.mark(Field::Cpc);
        self.cpc.ok_or(Gap::Missing(Field::Cpc))
    }
    pub(crate) fn feed(&self) -> Result<Feed, Gap> {
        if self.has_device {
            self.mark(Field::Poles);
        } else {
            self.mark(Field::Device);
        }
        self.feed.clone()
    }
}

/// A number beyond what makes sense for a field.
#[cold]
fn no_sense(field: Field, span: Span) -> Gap {
    let About { label, unit, sane: (lo, hi), .. } = field.about();
    let (what, found) = (label.clone(), Argument::span(span, unit));
    let why = match *lo > 0.0 && *lo <= TINY {
        true => say!("gap-no-sense-above-nothing", what = what, found = found, most = (*hi, *unit)),
        false => say!("gap-no-sense", what = what, found = found, bounds = (Span { lo: *lo, hi: *hi }, *unit)),
    };
    Gap::Unfit(field, why)
}

/// What is taken for a field that nobody read, where no range is: words for a person, so that an answer says what it
/// rests on. Ground and depth: IEC 60364-5-52, 523.3 and B.52.3, what the tables are for.
pub(crate) const fn taken_as_usual(field: Field) -> Option<Message> {
    Some(match field {
        Field::Soil => say!("usual-soil"),
        Field::Depth => say!("usual-depth"),
        Field::InInsulation => say!("usual-in-insulation"),
        Field::MixedSizes => say!("usual-mixed-sizes"),
        Field::TouchLimit => say!("usual-touch-limit"),
        Field::CurrentForm => say!("usual-current-form"),
        Field::Frequency => say!("usual-frequency"),
        _ => return None,
    })
}

/// Reactance of single cores as they lie, over that of cores in trefoil or in one cable: 0.08 mΩ/m together, 0.09 mΩ/m
/// flat and touching, 0.13 mΩ/m a diameter apart. Source: UTE C 15-105, table of reactances, from memory.
pub(crate) fn reactance_times(methods: &[Method], formation: Option<Formation>) -> Span {
    const FLAT: f64 = 0.09 / 0.08;
    const SPACED: f64 = 0.13 / 0.08;
    let hi = match formation {
        _ if !methods.contains(&Method::F) => 1.0,
        Some(Formation::Trefoil) => 1.0,
        None | Some(Formation::Flat) => FLAT,
        Some(Formation::SpacedFlat | Formation::SpacedUpright) => SPACED,
    };
    // By any other method they lie together.
    Span { lo: if methods.len() > 1 || formation.is_none() { 1.0 } else { hi }, hi }
}

/// What is said of a load's current where its kind tells that it never leads.
pub(crate) const NO: &[YesNo] = &[YesNo::No];

/// RCDs that smooth direct current may blind, in the order of [`Case::blinded`].
pub(crate) const BLIND: [Field; 3] = [Field::OwnBlind, Field::IncomerBlind, Field::UpstreamBlind];

/// Three poles that all stand on the one line of a single-phase supply.
pub(crate) fn linked(phases: Option<SupplyPhases>, poles: Option<Poles>) -> bool {
    phases == Some(SupplyPhases::Single) && matches!(poles, Some(Poles::P3 | Poles::P3N))
}

/// What one pole carries of a current of the whole circuit.
pub(crate) fn of_a_pole(linked: bool, current: Span) -> Span {
    if linked { current / Span::point(3.0) } else { current }
}

/// With a neutral or without.
const EITHER: &[bool] = &[false, true];

/// Systems an unknown one may be. An IT system announces itself by its insulation monitor.
const OPEN_SYSTEMS: &[EarthingSystem] = &[EarthingSystem::TnS, EarthingSystem::TnCS, EarthingSystem::Tt];

/// The fields of a mask, in order.
pub(crate) fn fields(mask: u128) -> impl Iterator<Item = Field> {
    // In two halves: machines count in words of 64 bits.
    let halves = [(mask as u64, 0), ((mask >> u64::BITS) as u64, u64::BITS)];
    halves.into_iter().flat_map(|(mut half, before)| {
        std::iter::from_fn(move || {
            let place = (half != 0).then(|| half.trailing_zeros() + before)?;
            half &= half - 1;
            Field::ALL.get(place as usize).copied()
        })
    })
}

/// What each thing that a conductor may be gives for a size: of one of which not every size of a range is made, the sizes
/// that are, as long as another is made in all of them. `look` is told whether such a part is enough.
pub(crate) fn of_sizes_made<T: Copy, V>(
    all: &[T],
    look: impl Fn(T, bool) -> Option<V>,
) -> SmallVec<[(T, Option<V>); 2]> {
    let mut found: SmallVec<[_; 2]> = all.iter().map(|one| (*one, look(*one, false))).collect();
    if found.iter().any(|(_, whole)| whole.is_some()) {
        for (one, none) in found.iter_mut().filter(|(_, whole)| whole.is_none()) {
            *none = look(*one, true);
        }
    }
    found
}

/// The smallest range that holds both.
pub(crate) fn hull(a: Option<Span>, b: Span) -> Option<Span> {
    Some(a.map_or(b, |a| Span { lo: a.lo.min(b.lo), hi: a.hi.max(b.hi) }))
}
