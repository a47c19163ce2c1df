//! From the board's records to cases, and back from a field to the record a person reads.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::BTreeMap;

use survey::arrangement::{self, Conductor, Consequences};
use survey::known::Shown;
use survey::range::Span;
use survey::sketch::{Label, Place, Records, Rough, Sketch};
use survey::units::Quantity;
use survey::{
    Amps, Arrangement, Board, Cable, CableId, Celsius, Circuit, CircuitId, CpcForm, Device, DeviceId, EarthingSystem,
    EnergyClass, Fact, Insulation, Known, Material, Message, Method, Ohms, PoleAt, Poles, Range, Ratio, RcdDelay,
    RcdType, Reading, ResidualForm, Seconds, SupplyPhases, Text, Volts, YesNo, say, terminal,
};

use crate::armour;
use crate::as_found;
use crate::before;
use crate::case::{self, Case, Feed, Gap, Slot, choices};
use crate::fault_level::{self, Level};
use crate::field::{
    self, AMBIENT, About, BACKED_UP, BREAKING, CORES, CPC_SIZE, CURRENT, DEMAND, DEPTH, DERATING, DIVERSITY,
    DROP_BEFORE, EFFICIENCY, ELECTRODE, FIRST_FAULT, Field, GROUPED, GROUPED_LIGHT, II, IN_INSULATION,
    INCOMER_RESIDUAL, INSIDE, IPF, IR, ISD, LENGTH, LET_THROUGH, LET_THROUGH_AT, NEUTRAL_SIZE, PARALLEL, POWER,
    POWER_FACTOR, R1_R2, RATED, RESIDUAL, SIZE, SOIL, START, THIRD_HARMONIC, TSD, UPSTREAM, UPSTREAM_RESIDUAL, VOLTAGE,
    ZE, ZS,
};
use crate::pen;
use crate::residual;
use crate::supply_form;
use crate::tables::{Assumable, Medium, Tables};
use crate::temperature::Thermal;

/// What all circuits of a board share.
pub(crate) struct Common<'a> {
    pub(crate) board: &'a Board,
    pub(crate) tables: &'a Tables,
    pub(crate) supply: Option<SupplyPhases>,
    conductors: BTreeMap<PoleAt, Conductor>,
    /// Poles of the enclosure that no device holds.
    pub(crate) free_poles: usize,
    voltage: Option<Range<Volts>>,
    system: Option<EarthingSystem>,
    ze: Option<Range<Ohms>>,
    ipf: Option<Range<Amps>>,
    /// Fault currents from the origin to the board.
    pub(crate) level: Level,
    /// Readings of the supply deny each other, or what is calculated from its origin.
    denied: bool,
    blind: Blinds,
    incomer_rcd: bool,
    incomer_in_doubt: bool,
    incomer_residual: Option<Range<Amps>>,
    /// Circuits in each cable that feeds more than one.
    in_cable: BTreeMap<CableId, u8>,
    /// Drop in the supply cable, once it is worked out.
    pub(crate) drop_before: Option<Range<Ratio>>,
    /// What all circuits' cases begin with, but for what is worked out from the circuits together.
    start: Case<'a>,
    /// What warms the enclosure, once it is worked out.
    pub(crate) thermal: Option<Thermal<'a>>,
    /// Air at the top of the enclosure, once it is worked out.
    pub(crate) inside: Option<Range<Celsius>>,
    /// Share of their ratings that its circuits carry at once, where its room is one that assemblies are made for.
    pub(crate) diversity: Option<Range<Ratio>>,
}

/// An RCD that smooth direct current blinds, or may.
#[derive(Clone, Copy)]
struct Blind {
    surely: bool,
    /// The circuit that it comes from.
    by: CircuitId,
    /// That circuit feeds a charging point.
    charging: bool,
}

/// RCDs that smooth direct current blinds: those that watch more than one circuit.
#[derive(Default)]
struct Blinds {
    incomer: Option<Blind>,
    upstream: Option<Blind>,
    devices: BTreeMap<DeviceId, Blind>,
}

impl Blinds {
    fn of(board: &Board) -> Self {
        let mut found = Self::default();
        if direct(&board.supply) {
            return found;
        }
        let known = |one: Option<&RcdType>| choices(RcdType::ALL, one.copied(), RcdType::ALL);
        for (id, circuit) in board.live_circuits() {
            let blind = |types: &[RcdType]| {
                let blinds = residual::blinds(circuit, types);
                let charging = circuit.kind == Some(survey::LoadKind::VehicleCharging);
                blinds.contains(&YesNo::Yes).then_some(Blind { surely: blinds == YES, by: id, charging })
            };
            let worse = |old: Option<Blind>, new: Option<Blind>| match (old, new) {
                (Some(old), Some(new)) if new.surely && !old.surely => Some(new),
                (old, new) => old.or(new),
            };
            found.incomer = worse(found.incomer, blind(known(board.incomer.rcd_type.get())));
            // Of what stands upstream the type is not surveyed.
            found.upstream = worse(found.upstream, blind(RcdType::ALL));
            let shared = |device| board.live_circuits().filter(|(_, one)| one.device == Some(device)).count() > 1;
            if let Some((device, of)) = board.device_of(circuit)
                && let Some(new) = blind(known(of.rcd_type.get()))
                && shared(device)
            {
                let old = found.devices.get(&device).copied();
                found.devices.extend(worse(old, Some(new)).map(|blind| (device, blind)));
            }
        }
        found
    }
}

impl Blind {
    fn choices(one: Option<&Self>) -> &'static [YesNo] {
        one.map_or(case::NO, |one| if one.surely { YES } else { YesNo::ALL })
    }
}

/// One circuit with its records.
pub(crate) struct Source<'a> {
    pub(crate) id: CircuitId,
    pub(crate) circuit: &'a Circuit,
    pub(crate) device: Option<(DeviceId, &'a Device)>,
    pub(crate) cable: Option<(CableId, &'a Cable)>,
    /// See [`Source::name`].
    name: OnceCell<Message>,
}

impl<'a> Common<'a> {
    pub(crate) fn of(board: &'a Board, tables: &'a Tables) -> Self {
        let consequences: Consequences = arrangement::consequences(board);
        let arrangement = board.incomer.arrangement.get();
        let in_doubt =
            arrangement == Some(&Arrangement::TwoPoleRcd) && board.supply.phases.get() == Some(&SupplyPhases::Three);
        let voltage = board.supply.voltage.range();
        let system = board.supply.system.get().copied();
        let nominal = voltage
            .map(Range::numbers)
            .or(reduced_voltage(&board.supply, consequences.supply))
            .or(tables.assumed(Assumable::Voltage, None).map(|assumed| assumed.span))
            .unwrap_or(Span::point(230.0));
        let supply = supply_form::phases(board, consequences.supply);
        let level = Level::of(board, tables, supply, nominal, system);
        let mut common = Self {
            board,
            tables,
            supply,
            conductors: consequences.conductors(),
            free_poles: consequences.blanks.len(),
            voltage,
            system,
            ze: board.supply.ze.range().or_else(|| level.ze()),
            ipf: board.supply.ipf.range().or_else(|| level.ipf()),
            denied: fault_level::denied(&board.supply, &level),
            level,
            blind: Blinds::of(board),
            // Poles for one line on a supply of three watch no board.
            incomer_rcd: matches!(arrangement, Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd)) && !in_doubt,
            incomer_in_doubt: in_doubt,
            incomer_residual: board.incomer.residual.range(),
            in_cable: shared_cables(board),
            drop_before: None,
            thermal: None,
            inside: None,
            diversity: None,
            start: Case::blank(tables),
        };
        common.start = common.of_the_board();
        common
    }

    /// Live circuits in the order of their poles; those without a place come last, by id.
    pub(crate) fn circuits(&self) -> Vec<Source<'a>> {
        let mut found: Vec<Source<'a>> = self
            .board
            .live_circuits()
            .map(|(id, circuit)| {
                let (device, cable) = (self.board.device_of(circuit), self.board.cable_of(circuit));
                Source { id, circuit, device, cable, name: OnceCell::new() }
            })
            .collect();
        found.sort_by_key(|source| {
            let at = source.device.and_then(|(_, device)| device.at);
            (at.is_none(), at, source.id)
        });
        found
    }

    /// What all circuits' cases begin with.
    fn blank(&self) -> Case<'a> {
        let mut case = self.start.clone();
        self.put_drop_before(&mut case);
        case
    }

    /// Puts the drop in the supply cable in, as far as it is worked out.
    fn put_drop_before(&self, case: &mut Case) {
        case.put(DROP_BEFORE, self.drop_before);
        case.take(DROP_BEFORE, self.tables.assumed(Assumable::DropBefore, None).map(|assumed| assumed.span));
    }

    /// Puts in what is worked out from the circuits together, once it is.
    pub(crate) fn put_worked_out(&self, case: &mut Case) {
        self.put_drop_before(case);
        if case.has_device {
            case.put(INSIDE, self.inside);
            case.put(DIVERSITY, self.diversity);
        }
    }

    fn of_the_board(&self) -> Case<'a> {
        let mut case = Case::blank(self.tables);
        case.systems = choices(EarthingSystem::ALL, self.system, case.systems);
        case.incomer_rcd = self.incomer_rcd;
        case.points_share = points_share(self.board);
        case.no_earth = as_found::supply_without_earth(self.board);
        let (supply, incomer) = (&self.board.supply, &self.board.incomer);
        case.network = supply.network.get().copied();
        case.neutral_distributed = choices(YesNo::ALL, supply.neutral_distributed.get().copied(), YesNo::ALL);
        case.earthed_together = choices(YesNo::ALL, supply.earthed_together.get().copied(), YesNo::ALL);
        case.incomer_rcd_types = choices(RcdType::ALL, incomer.rcd_type.get().copied(), RcdType::ALL);
        case.incomer_delays = choices(RcdDelay::ALL, incomer.delay.get().copied(), RcdDelay::ALL);
        case.put(ELECTRODE, supply.electrode.range().or_else(|| rod(supply)));
        case.reduced = reduced(supply);
        case.current_form = supply.current_form.get().copied();
        case.phases = self.supply;
        case.touch_limit = supply.touch_limit.get().copied();
        case.frequency = supply.frequency.get().copied();
        case.denied = self.denied;
        case.beyond_breakers = supply_form::beyond(supply);
        case.upstream_read = !supply.upstream.is_unknown() && supply.upstream_kind.get().is_some();
        case.upstream_rcd =
            matches!(supply.upstream_kind.get(), Some(survey::DeviceKind::Rcd | survey::DeviceKind::Rcbo));
        case.pen_behind_rcd = pen::behind_rcd(self.board, self.supply);
        case.upstream_rcd &= !case.pen_behind_rcd;
        case.upstream_delays = choices(RcdDelay::ALL, supply.upstream_delay.get().copied(), RcdDelay::ALL);
        case.incomer_in_doubt = self.incomer_in_doubt;
        case.put(UPSTREAM_RESIDUAL, supply.upstream_residual.range());
        case.blinded =
            [case::NO, Blind::choices(self.blind.incomer.as_ref()), Blind::choices(self.blind.upstream.as_ref())];
        case.behind_overcurrent =
            supply.upstream_kind.get().copied().is_none_or(survey::DeviceKind::opens_on_overcurrent);
        case.put(UPSTREAM, before::lets_flow(supply).map(Span::of));
        case.put(FIRST_FAULT, supply.first_fault.range());
        case.put(VOLTAGE, self.voltage);
        case.put(ZE, self.ze);
        case.put(IPF, self.ipf);
        case.put(INCOMER_RESIDUAL, self.incomer_residual);
        let any = |field| self.tables.assumed(field, None).map(|assumed| assumed.span);
        case.take(
            VOLTAGE,
            reduced_voltage(supply, self.supply).or(any(Assumable::Voltage)).filter(|_| !direct(supply)),
        );
        case.take(INCOMER_RESIDUAL, any(Assumable::Residual));
        case.take(UPSTREAM_RESIDUAL, any(Assumable::Residual));
        case.take(RESIDUAL, any(Assumable::Residual));
        case
    }

    /// The case of a circuit.
    pub(crate) fn case(&self, source: &Source<'a>) -> Case<'a> {
        let mut case = self.blank();
        self.put_circuit(&mut case, source);
        case
    }

    /// The cases of circuits, in their order.
    pub(crate) fn cases(&self, sources: &[Source<'a>]) -> Vec<Case<'a>> {
        // A case is large: each is made where it stays.
        let mut cases = vec![self.blank(); sources.len()];
        cases.iter_mut().zip(sources).for_each(|(case, source)| self.put_circuit(case, source));
        cases
    }

    /// Puts in all that is known of a circuit.
    fn put_circuit(&self, case: &mut Case<'a>, source: &Source<'a>) {
        let circuit = source.circuit;
        case.kinds = choices(survey::LoadKind::ALL, circuit.kind, case.kinds);
        case.no_earth |= as_found::without_earth(self.board, source);
        case.put(POWER, circuit.load.power.range());
        case.put(CURRENT, circuit.load.current.range());
        case.put(POWER_FACTOR, circuit.load.power_factor.range());
        case.put(EFFICIENCY, circuit.load.efficiency.range());
        case.put(DEMAND, circuit.load.demand.range());
        case.put(R1_R2, circuit.tests.r1_r2.range());
        case.put(ZS, circuit.tests.zs.range());
        let assumed = |field| self.tables.assumed(field, circuit.kind).map(|assumed| assumed.span);
        case.take(POWER_FACTOR, assumed(Assumable::PowerFactor));
        case.put(THIRD_HARMONIC, circuit.load.third_harmonic.range());
        case.put(START, circuit.load.start.range());
        if circuit.kind.is_none_or(|kind| kind == survey::LoadKind::Motor) {
            case.take(EFFICIENCY, assumed(Assumable::Efficiency));
        }
        let leading = if circuit.kind.is_some_and(never_leads) { case::NO } else { YesNo::ALL };
        case.leading = choices(YesNo::ALL, circuit.load.leading.get().copied(), leading);
        let of = harmonic_of(source);
        case.take(THIRD_HARMONIC, self.tables.assumed(Assumable::ThirdHarmonic, of).map(|assumed| assumed.span));
        case.take(START, assumed(Assumable::Start));
        let forms = self.tables.laid.residual_forms(circuit.kind);
        case.residual_forms = choices(ResidualForm::ALL, circuit.load.residual_form.get().copied(), forms);
        case.dc_detection = choices(YesNo::ALL, circuit.load.dc_detection.get().copied(), YesNo::ALL);
        if let Some((id, device)) = source.device {
            case.has_device = true;
            case.blinded[0] = Blind::choices(self.blind.devices.get(&id));
            self.put_worked_out(case);
            case.take(DERATING, assumed(Assumable::Derating));
            case.device_kind = device.kind;
            case.poles = device.poles;
            case.terminals_90 = choices(YesNo::ALL, device.terminals_90.get().copied(), YesNo::ALL);
            case.neutral_protected = choices(YesNo::ALL, device.neutral_protected.get().copied(), YesNo::ALL);
            case.dc_rated = choices(YesNo::ALL, device.dc_rated.get().copied(), YesNo::ALL);
            case.for_it = choices(YesNo::ALL, device.for_it.get().copied(), YesNo::ALL);
            case.curves = choices(survey::Curve::ALL, device.curve.get().copied(), case.curves);
            case.put(RATED, device.rated.range());
            case.put(BREAKING, device.breaking.range());
            case.put(BACKED_UP, device.backed_up.range());
            if let Some(residual) = device.residual.range() {
                case.put(RESIDUAL, Some(residual));
            }
            if device
                .kind
                .is_some_and(|kind| matches!(kind, survey::DeviceKind::CircuitBreaker | survey::DeviceKind::Rcbo))
            {
                case.take(BREAKING, assumed(Assumable::Breaking));
            }
            case.feed = self.feed(device);
            if case.linked() && circuit.kind == Some(survey::LoadKind::Motor) {
                case.feed = Err(Gap::Unfit(Field::Poles, say!("gap-no-phases-linked")));
            }
            case.rcd_types = choices(RcdType::ALL, device.rcd_type.get().copied(), RcdType::ALL);
            case.delays = choices(RcdDelay::ALL, device.delay.get().copied(), RcdDelay::ALL);
            case.energy_classes = choices(EnergyClass::ALL, device.energy_class.get().copied(), EnergyClass::ALL);
            case.put(LET_THROUGH, device.let_through.range());
            case.put(LET_THROUGH_AT, device.let_through_at.range());
            self.set(case, [&device.ir, &device.ii, &device.isd], &device.tsd);
            case.neutral = neutral(circuit, device, source.cable.map(|(_, cable)| cable));
        }
        if let Some((id, cable)) = source.cable {
            self.lay(case, cable);
            if case.cpc == Some(CpcForm::Armour) {
                case.armour_not_joined = armour::not_joined(self.board, id);
            }
            case.in_cable = self.in_cable.get(&id).copied().unwrap_or(1);
        }
        case.rings = self.rings(source, case);
        if case.rings == YES {
            case.put(R1_R2, circuit.tests.r1_r2.range().or_else(|| quarter(circuit)));
        }
    }

    /// Puts the settings of an adjustable breaker in; one that nobody read may be anything it can be set to.
    pub(crate) fn set(&self, case: &mut Case, [ir, ii, isd]: [&Reading<Amps>; 3], tsd: &Reading<Seconds>) {
        if case.device_kind != Some(survey::DeviceKind::AdjustableBreaker) {
            return;
        }
        case.put(IR, ir.range());
        case.put(II, ii.range());
        case.put(ISD, isd.range());
        case.put(TSD, tsd.range());
        let any = |field| self.tables.assumed(field, None).map(|assumed| assumed.span);
        let of = |case: &Case, field: Field| case.slots[field as usize].span;
        if let Some((rated, share)) = of(case, Field::Rated).zip(any(Assumable::OverloadSetting)) {
            case.take(IR, Some(rated * share));
        }
        if let Some((set, times)) = of(case, Field::Ir).zip(any(Assumable::ShortCircuitSetting)) {
            let may = set * times;
            case.take(II, Some(may));
            let most = of(case, Field::Ii).unwrap_or(may);
            case.take(ISD, Some(Span { lo: may.lo.min(most.lo), hi: most.hi }));
        }
    }

    /// Whether a circuit is a ring, each answer that is possible.
    ///
    /// Where nobody looked it may be one if it feeds socket-outlets by a device of 30 or 32 A, as
    /// BS 7671, 433.1.204 allows (from memory). One that is interrupted is none.
    fn rings(&self, source: &Source, case: &Case) -> &'static [YesNo] {
        if as_found::interrupted(self.board, source) {
            return case::NO;
        }
        let may_be = source.circuit.kind == Some(survey::LoadKind::Sockets)
            && matches!(case.feed, Ok(Feed::OneLine(_)))
            && case.slots[Field::Rated as usize].span.is_some_and(|rated| rated.hi >= 30.0 && rated.lo <= 32.0);
        choices(YesNo::ALL, source.circuit.ring.get().copied(), if may_be { YesNo::ALL } else { case::NO })
    }

    /// Puts a cable in.
    fn lay(&self, case: &mut Case<'a>, cable: &Cable) {
        let count = |fact: &Fact<u8>| fact.get().map(|count| Range::point(Ratio::new(f64::from(*count))));
        case.has_cable = true;
        case.construction = cable.construction.get().copied();
        case.materials = choices(Material::ALL, cable.material.get().copied(), case.materials);
        case.insulations = choices(Insulation::ALL, cable.insulation.get().copied(), case.insulations);
        case.methods = choices(Method::ALL, cable.method.get().copied(), case.methods);
        case.cpc = cable.cpc.get().copied();
        case.cpc_apart = choices(YesNo::ALL, cable.cpc_apart.get().copied(), YesNo::ALL);
        case.cpc_material = cable.cpc_material.get().copied();
        case.put(GROUPED_LIGHT, count(&cable.grouped_light));
        case.put(CORES, count(&cable.cores));
        case.put(SIZE, cable.size.range());
        case.put(CPC_SIZE, cable.cpc_size.range());
        case.put(LENGTH, cable.length.range());
        case.put(AMBIENT, cable.ambient.range());
        case.put(GROUPED, count(&cable.grouped));
        case.layout = cable.layout.get().copied();
        case.formation = cable.formation.get().copied();
        case.mixed_sizes = cable.mixed_sizes.get().copied();
        case.put(PARALLEL, count(&cable.parallel));
        case.put(NEUTRAL_SIZE, cable.neutral_size.range());
        case.put(IN_INSULATION, cable.in_insulation.range());
        case.put(SOIL, cable.soil.range());
        case.put(DEPTH, cable.burial_depth.range());
        let any = |field| self.tables.assumed(field, None).map(|assumed| assumed.span);
        case.take(AMBIENT, any(ambient_of(case.methods)));
        case.take(GROUPED, any(Assumable::Grouped));
        match case.cpc {
            Some(CpcForm::Conduit) => case.take(CPC_SIZE, any(Assumable::ConduitArea)),
            Some(CpcForm::Trunking) => case.take(CPC_SIZE, any(Assumable::TrunkingArea)),
            _ => {}
        }
    }

    /// The incoming cable, unless removed.
    pub(crate) fn supply_cable(&self) -> Option<(CableId, &'a Cable)> {
        let id = self.board.supply.cable?;
        self.board.cables.get(&id).filter(|cable| !cable.removed).map(|cable| (id, cable))
    }

    /// The supply cable as a case of its own, loaded by the line current given.
    pub(crate) fn supply_case(&self, current: Range<Amps>, factor: Range<Ratio>) -> Option<Case<'a>> {
        let (_, cable) = self.supply_cable()?;
        let mut case = self.blank();
        case.has_device = true;
        case.feed = Ok(self.incoming()?);
        // Harmonics of the whole board are not known here.
        case.neutral = &[false];
        case.put(CURRENT, Some(current));
        case.put(POWER_FACTOR, Some(factor));
        self.lay(&mut case, cable);
        Some(case)
    }

    /// A supply whose cable nobody entered, as a case of its own; `None` where its phases are not known.
    pub(crate) fn bare_case(&self) -> Option<Case<'a>> {
        let mut case = self.blank();
        case.has_device = true;
        case.feed = Ok(self.incoming()?);
        Some(case)
    }

    /// How the supply connects the board.
    fn incoming(&self) -> Option<Feed> {
        Some(match self.supply? {
            SupplyPhases::Single => Feed::OneLine(Some(Conductor::L)),
            SupplyPhases::Three => Feed::ThreeLines,
        })
    }

    /// Loop impedance at the board: as read, else calculated from the origin.
    pub(crate) fn loop_at_board(&self) -> Option<Range<Ohms>> {
        self.ze
    }

    /// How a device connects its circuit.
    pub(crate) fn feed(&self, device: &Device) -> Result<Feed, Gap> {
        let poles = device.poles.ok_or(Gap::Missing(Field::Poles))?;
        let at = |at| self.conductors.get(&at).copied();
        match poles {
            Poles::P1 | Poles::P1N => Ok(Feed::OneLine(device.at.and_then(at))),
            Poles::P2 => {
                let taken = self
                    .board
                    .enclosure
                    .get()
                    .zip(device.at)
                    .and_then(|(pattern, at)| terminal::span(pattern, at, poles).ok())
                    .unwrap_or_default();
                let lines: Vec<Conductor> = taken.into_iter().filter_map(at).collect();
                match (lines.as_slice(), self.supply) {
                    ([Conductor::L, ..], _) => Ok(Feed::OneLine(Some(Conductor::L))),
                    ([a, b], _) => Ok(Feed::TwoLines(line_index(*a).zip(line_index(*b)).map(<[usize; 2]>::from))),
                    (_, Some(SupplyPhases::Single)) => Ok(Feed::OneLine(Some(Conductor::L))),
                    (_, Some(SupplyPhases::Three)) => Ok(Feed::TwoLines(None)),
                    (_, None) => Err(Gap::Missing(Field::At)),
                }
            }
            // The busbars are linked: see [`Case::linked`].
            Poles::P3 | Poles::P3N if self.supply == Some(SupplyPhases::Single) => {
                Ok(Feed::OneLine(Some(Conductor::L)))
            }
            Poles::P3 | Poles::P3N if direct(&self.board.supply) => {
                Err(Gap::Unfit(Field::CurrentForm, supply_form::NO_PHASES))
            }
            Poles::P3 | Poles::P3N => Ok(Feed::ThreeLines),
        }
    }

    /// As [`Case::linked`], without a case.
    pub(crate) fn linked(&self, source: &Source) -> bool {
        case::linked(self.supply, source.device.and_then(|(_, device)| device.poles))
    }

    /// As [`Case::of_a_pole`], without a case.
    pub(crate) fn of_a_pole(&self, source: &Source, current: Span) -> Span {
        case::of_a_pole(self.linked(source), current)
    }

    /// Path of a field in the board.
    pub(crate) fn path(&self, source: &Source, field: Field) -> Text {
        self.seen(source, field).0.path(&source.records())
    }

    /// A field as an input: where it stands, its value as a person reads it, how it is known.
    pub(crate) fn input(&self, source: &Source, case: &Case, field: Field) -> Sketch {
        let (place, seen, known) = self.seen(source, field);
        let About { label, unit, .. } = field.about();
        let (value, known) = self.value(source, case, field, unit, (seen, known));
        let label = if field == Field::Ze { field::loop_label(self.board) } else { label };
        Sketch { place, label: label.into(), value, known }
    }

    fn value(
        &self,
        source: &Source,
        case: &Case,
        field: Field,
        unit: &'static str,
        (seen, known): (Rough, Known),
    ) -> (Rough, Known) {
        let Slot { span: Some(span), taken } = case.slots[field as usize] else {
            return match case::taken_as_usual(field).filter(|_| known == Known::Unknown) {
                Some(usual) => (Rough::Said(usual), Known::Assumed),
                None => (seen, known),
            };
        };
        let (span, unit) = match field {
            Field::DropBefore => (Span { lo: span.lo * 100.0, hi: span.hi * 100.0 }, "%"),
            _ => (span, unit),
        };
        let number = |id| Rough::Number(id, span, unit);
        match (taken, field) {
            (true, Field::Voltage) if case.reduced == YES => (number("input-reduced-low-voltage"), Known::Assumed),
            (true, Field::LoopAngle) => (Rough::Said(NO_ANGLE), Known::Assumed),
            (true, Field::TimeCurve) => (Rough::Said(NO_CURVE), Known::Assumed),
            (true, _) => match self.why(field, case, source) {
                Some(why) => (Rough::Assumed(span, unit, why), Known::Assumed),
                None => (number("input-value"), Known::Assumed),
            },
            (false, Field::Grouped) if span.hi < f64::from(case.in_cable) => {
                let share = u32::from(case.in_cable);
                let said = say!("input-circuits-share-cable", value = (span, unit), circuits = share);
                (Rough::Said(said), known)
            }
            (false, Field::DropBefore) => (number("input-in-supply-cable"), known),
            (false, Field::R1R2) if known == Known::Unknown => (number("input-quarter-of-ends"), Known::Measured),
            (false, Field::Electrode) if known == Known::Unknown => (number("input-from-rod"), Known::Assumed),
            (false, Field::Inside) => (number("input-air-inside"), Known::Assumed),
            (false, Field::Diversity) if known == Known::Unknown => (number("input-diversity"), Known::Assumed),
            (false, Field::Ipf | Field::Ze) if known == Known::Unknown => {
                let said = say!("input-calculated", value = (span, unit), from = self.level.from.clone());
                (Rough::Said(said), Known::Assumed)
            }
            (false, _) => match case::taken_as_usual(field).filter(|_| known == Known::Unknown) {
                Some(usual) => (Rough::Said(usual), Known::Assumed),
                None => (seen, known),
            },
        }
    }

    /// Why a range was taken for a field.
    fn why(&self, field: Field, case: &Case, source: &Source) -> Option<Message> {
        let assumable = match field {
            Field::Voltage => Assumable::Voltage,
            Field::PowerFactor => Assumable::PowerFactor,
            Field::Efficiency => Assumable::Efficiency,
            Field::Ambient => ambient_of(case.methods),
            Field::Grouped => Assumable::Grouped,
            Field::DropBefore => Assumable::DropBefore,
            Field::Residual | Field::IncomerResidual | Field::UpstreamResidual => Assumable::Residual,
            Field::Breaking => Assumable::Breaking,
            Field::ThirdHarmonic => {
                let taken = self.tables.assumed(Assumable::ThirdHarmonic, harmonic_of(source));
                return taken.map(|assumed| assumed.why.clone());
            }
            Field::Start => Assumable::Start,
            Field::Ir => Assumable::OverloadSetting,
            Field::Ii | Field::Isd => Assumable::ShortCircuitSetting,
            Field::Derating => Assumable::Derating,
            Field::CpcSize if case.cpc == Some(CpcForm::Trunking) => Assumable::TrunkingArea,
            Field::CpcSize => Assumable::ConduitArea,
            _ => return None,
        };
        self.tables.assumed(assumable, source.circuit.kind).map(|assumed| assumed.why.clone())
    }

    fn blind_at(blind: Option<&Blind>) -> (Place, Rough, Known) {
        match blind {
            Some(Blind { by, charging: true, .. }) => {
                (Place::CircuitOf(*by, "load/dc_detection"), Rough::Said(say!("blind-from-charging")), Known::Stated)
            }
            Some(Blind { by, .. }) => {
                (Place::CircuitOf(*by, "load/residual_form"), Rough::Said(say!("blind-from-load")), Known::Stated)
            }
            None => (Place::Board("/circuits"), Rough::Said(say!("not-known")), Known::Unknown),
        }
    }

    fn seen(&self, source: &Source, field: Field) -> (Place, Rough, Known) {
        let supply = &self.board.supply;
        let circuit = source.circuit;
        let on_circuit = |name, (words, known): Seen| (Place::Circuit(name), words, known);
        let on_board = |path, (words, known): Seen| (Place::Board(path), words, known);
        let device = |name, seen: fn(&Device) -> Seen| match source.device {
            Some((_, device)) => {
                let (words, known) = seen(device);
                (Place::Device(name), words, known)
            }
            None => on_circuit("device", UNKNOWN),
        };
        let cable = |name, seen: fn(&Cable) -> Seen| match source.cable {
            Some((_, cable)) => {
                let (words, known) = seen(cable);
                (Place::Cable(name), words, known)
            }
            None => on_circuit("cable", UNKNOWN),
        };
        match field {
            Field::Kind => on_circuit("kind", plain(circuit.kind.map(survey::LoadKind::words))),
            Field::Power => on_circuit("load/power", reading(&circuit.load.power)),
            Field::Current => on_circuit("load/current", reading(&circuit.load.current)),
            Field::PowerFactor => on_circuit("load/power_factor", reading(&circuit.load.power_factor)),
            Field::Efficiency => on_circuit("load/efficiency", reading(&circuit.load.efficiency)),
            Field::Demand => on_circuit("load/demand", reading(&circuit.load.demand)),
            Field::ThirdHarmonic => on_circuit("load/third_harmonic", reading(&circuit.load.third_harmonic)),
            Field::Start => on_circuit("load/start", reading(&circuit.load.start)),
            Field::ResidualForm => {
                on_circuit("load/residual_form", fact(&circuit.load.residual_form, |one| one.words()))
            }
            Field::DcDetection => on_circuit("load/dc_detection", fact(&circuit.load.dc_detection, |one| one.words())),
            Field::Network => on_board("/supply/network", fact(&supply.network, |one| one.words())),
            Field::Electrode => on_board("/supply/electrode", reading(&supply.electrode)),
            Field::FirstFault => on_board("/supply/first_fault", reading(&supply.first_fault)),
            Field::NeutralDistributed => {
                on_board("/supply/neutral_distributed", fact(&supply.neutral_distributed, |one| one.words()))
            }
            Field::EarthedTogether => {
                on_board("/supply/earthed_together", fact(&supply.earthed_together, |one| one.words()))
            }
            Field::RcdType => device("rcd_type", |device| fact(&device.rcd_type, |one| one.words())),
            Field::Delay => device("delay", |device| fact(&device.delay, |one| one.words())),
            Field::Leading => on_circuit("load/leading", fact(&circuit.load.leading, |one| one.words())),
            Field::Terminals => device("terminals_90", |device| fact(&device.terminals_90, |one| one.words())),
            Field::NeutralProtected => {
                device("neutral_protected", |device| fact(&device.neutral_protected, |one| one.words()))
            }
            Field::ForIt => device("for_it", |device| fact(&device.for_it, |one| one.words())),
            Field::EnergyClass => device("energy_class", |device| fact(&device.energy_class, |one| one.words())),
            Field::LetThroughAt => device("let_through_at", |device| reading(&device.let_through_at)),
            Field::CpcMaterial => cable("cpc_material", |cable| fact(&cable.cpc_material, |one| one.words())),
            Field::GroupedLight => cable("grouped_light", |cable| count(&cable.grouped_light)),
            Field::Ring => on_circuit("ring", fact(&circuit.ring, |one| one.words())),
            Field::TouchLimit => on_board("/supply/touch_limit", fact(&supply.touch_limit, |one| one.words())),
            Field::Frequency => on_board("/supply/frequency", fact(&supply.frequency, |one| one.words())),
            Field::CpcApart => cable("cpc_apart", |cable| fact(&cable.cpc_apart, |one| one.words())),
            Field::LetThrough => device("let_through", |device| reading(&device.let_through)),
            Field::IncomerRcdType => {
                on_board("/incomer/rcd_type", fact(&self.board.incomer.rcd_type, |one| one.words()))
            }
            Field::IncomerDelay => on_board("/incomer/delay", fact(&self.board.incomer.delay, |one| one.words())),
            Field::Layout => cable("layout", |cable| fact(&cable.layout, |one| one.words())),
            Field::MixedSizes => cable("mixed_sizes", |cable| fact(&cable.mixed_sizes, |one| one.words())),
            Field::Parallel => cable("parallel", |cable| count(&cable.parallel)),
            Field::NeutralSize => cable("neutral_size", |cable| reading(&cable.neutral_size)),
            Field::InInsulation => cable("in_insulation", |cable| reading(&cable.in_insulation)),
            Field::Soil => cable("soil", |cable| reading(&cable.soil)),
            Field::Depth => cable("burial_depth", |cable| reading(&cable.burial_depth)),
            Field::Voltage => on_board("/supply/voltage", reading(&supply.voltage)),
            Field::System => on_board("/supply/system", fact(&supply.system, |one| one.words())),
            Field::Ze => on_board("/supply/ze", reading(&supply.ze)),
            Field::Ipf => on_board("/supply/ipf", reading(&supply.ipf)),
            Field::DropBefore => on_board("/supply/cable", (Rough::Said(say!("not-known")), Known::Assumed)),
            Field::Device => match source.device {
                Some((_, device)) => on_circuit("device", (Rough::Said(device_words(device)), Known::Stated)),
                None => on_circuit("device", UNKNOWN),
            },
            Field::DeviceKind => device("kind", |device| plain(device.kind.map(survey::DeviceKind::words))),
            Field::Poles => device("poles", |device| plain(device.poles.map(Poles::words))),
            Field::At => device("at", |device| {
                device.at.map_or(UNKNOWN, |at| (Rough::Said(at.to_string().into()), Known::Stated))
            }),
            Field::Rated => device("rated", |device| reading(&device.rated)),
            Field::Curve => device("curve", |device| fact(&device.curve, |one| one.words())),
            Field::BackedUp => device("backed_up", |device| reading(&device.backed_up)),
            Field::Breaking => device("breaking", |device| reading(&device.breaking)),
            Field::Residual => device("residual", |device| reading(&device.residual)),
            Field::Upstream => on_board("/supply/upstream", reading(&supply.upstream)),
            Field::UpstreamResidual => on_board("/supply/upstream_residual", reading(&supply.upstream_residual)),
            Field::IncomerResidual => on_board("/incomer/residual", reading(&self.board.incomer.residual)),
            Field::Cable => on_circuit("cable", UNKNOWN),
            Field::Construction => cable("construction", |cable| fact(&cable.construction, |one| one.words())),
            Field::Cores => cable("cores", |cable| count(&cable.cores)),
            Field::Size => cable("size", |cable| reading(&cable.size)),
            Field::Material => cable("material", |cable| fact(&cable.material, |one| one.words())),
            Field::Insulation => cable("insulation", |cable| fact(&cable.insulation, |one| one.words())),
            Field::Method => cable("method", |cable| fact(&cable.method, |one| one.words())),
            Field::Ambient => cable("ambient", |cable| reading(&cable.ambient)),
            Field::Grouped => cable("grouped", |cable| count(&cable.grouped)),
            Field::Length => cable("length", |cable| reading(&cable.length)),
            Field::Cpc => cable("cpc", |cable| fact(&cable.cpc, |one| one.words())),
            Field::CpcSize => cable("cpc_size", |cable| reading(&cable.cpc_size)),
            Field::R1R2 => on_circuit("tests/r1_r2", reading(&circuit.tests.r1_r2)),
            Field::Formation => cable("formation", |cable| fact(&cable.formation, |one| one.words())),
            Field::CurrentForm => on_board("/supply/current_form", fact(&supply.current_form, |one| one.words())),
            Field::DcRated => device("dc_rated", |device| fact(&device.dc_rated, |one| one.words())),
            Field::Reduced => on_board("/supply/reduced", fact(&supply.reduced, |one| one.words())),
            Field::Ir => device("ir", |device| reading(&device.ir)),
            Field::Ii => device("ii", |device| reading(&device.ii)),
            Field::Isd => device("isd", |device| reading(&device.isd)),
            Field::Tsd => device("tsd", |device| reading(&device.tsd)),
            Field::OwnBlind => Self::blind_at(source.device.and_then(|(id, _)| self.blind.devices.get(&id))),
            Field::IncomerBlind => Self::blind_at(self.blind.incomer.as_ref()),
            Field::UpstreamBlind => Self::blind_at(self.blind.upstream.as_ref()),
            Field::LoopAngle => on_circuit("tests/zs", UNKNOWN),
            Field::Inside => on_board("/surroundings/ambient", UNKNOWN),
            Field::Diversity => on_board("/surroundings/diversity", reading(&self.board.surroundings.diversity)),
            // No readings of a survey: the maker's data.
            Field::Derating => device("rated", |_| UNKNOWN),
            Field::TimeCurve => device("rated", |_| UNKNOWN),
            Field::Zs => on_circuit("tests/zs", reading(&circuit.tests.zs)),
        }
    }
}

/// Several charging points have no RCD of their own.
fn points_share(board: &Board) -> bool {
    let without = |circuit: &&Circuit| {
        let device = board.device_of(circuit).and_then(|(_, device)| device.kind);
        circuit.kind == Some(survey::LoadKind::VehicleCharging)
            && !matches!(device, Some(survey::DeviceKind::Rcbo | survey::DeviceKind::Rcd))
    };
    board.live_circuits().map(|(_, circuit)| circuit).filter(without).nth(1).is_some()
}

/// Resistance of an electrode rod, Ω: ρ/(2πL)·(ln(8L/d) − 1), for a rod of length L and diameter d in ground of
/// resistivity ρ. Source: BS 7430, single rod (from memory); IEC 60364-5-54 annex D gives the coarser ρ/L. The
/// ground dries and freezes: how far its resistivity was seen to vary belongs into that reading.
fn rod(supply: &survey::Supply) -> Option<Range<Ohms>> {
    let length = supply.electrode_length.range()?.numbers();
    let diameter = supply.electrode_diameter.range()?.numbers();
    let ground = supply.electrode_ground.range()?.numbers();
    let one = |ground: f64, length: f64, millimetres: f64| {
        ground / (2.0 * std::f64::consts::PI * length) * (libm::log(8.0 * length * 1000.0 / millimetres) - 1.0)
    };
    // Longer and thicker is better; the formula is for rods much longer than thick.
    let span = Span { lo: one(ground.lo, length.hi, diameter.hi), hi: one(ground.hi, length.lo, diameter.lo) };
    (length.lo > 0.0 && diameter.lo > 0.0 && length.lo * 1000.0 >= 10.0 * diameter.hi && span.lo > 0.0)
        .then(|| span.of())
}

/// Whether a supply is of reduced low voltage, each answer that is possible. Where nobody said, one of about 55 V or
/// 63.5 V to earth may be; where somebody said so of a higher voltage, one of the two is wrong.
pub(crate) fn reduced(supply: &survey::Supply) -> &'static [YesNo] {
    let voltage = supply.voltage.range().map(Range::numbers);
    match supply.reduced.get() {
        Some(YesNo::No) => case::NO,
        Some(YesNo::Yes) if voltage.is_none_or(|voltage| voltage.lo <= 70.0) => YES,
        Some(YesNo::Yes) => YesNo::ALL,
        None if direct(supply) => case::NO,
        None if voltage.is_some_and(|voltage| voltage.lo <= 70.0 && voltage.hi >= 50.0) => YesNo::ALL,
        None => case::NO,
    }
}

/// The supply is of direct current.
pub(crate) fn direct(supply: &survey::Supply) -> bool {
    supply.current_form.get().is_some_and(|form| *form != survey::CurrentForm::Ac)
}

/// Voltage to earth of a reduced low voltage supply, V: BS 7671, 411.8.1.2 (from memory).
fn reduced_voltage(supply: &survey::Supply, phases: Option<SupplyPhases>) -> Option<Span> {
    const CENTRE_TAPPED: f64 = 55.0;
    const STAR: f64 = 63.5;
    (supply.reduced.get() == Some(&YesNo::Yes)).then(|| match phases {
        Some(SupplyPhases::Single) => Span::point(CENTRE_TAPPED),
        Some(SupplyPhases::Three) => Span::point(STAR),
        None => Span { lo: CENTRE_TAPPED, hi: STAR },
    })
}

/// R1+R2 at the farthest point of a ring from its ends, (r1 + r2)/4: BS 7671 guidance on testing, from memory.
fn quarter(circuit: &Circuit) -> Option<Range<Ohms>> {
    let both = circuit.tests.ring_line.range()?.numbers() + circuit.tests.ring_cpc.range()?.numbers();
    Some((both * Span::point(0.25)).of())
}

/// What is said of the maker's curve.
pub(crate) const NO_CURVE: Message = Message::bare("input-no-curve");

/// What is said of the angle of a loop that was read as a plain number.
pub(crate) const NO_ANGLE: Message = Message::bare("input-no-angle");

const YES: &[YesNo] = &[YesNo::Yes];

impl Source<'_> {
    /// Path of a field of the circuit.
    pub(crate) fn at(&self, field: &str) -> Text {
        Text::joined(&["/circuits/", self.id.written().as_str(), "/", field])
    }

    /// A field of the circuit as an input of a check that names several circuits; `label` is a message with a circuit
    /// in it.
    pub(crate) fn named(&self, field: &'static str, label: &'static str, (value, known): Seen) -> Sketch {
        let label = Label::OfCircuit(label, self.name());
        Sketch { place: Place::CircuitOf(self.id, field), label, value, known }
    }

    /// The records that its fields stand in.
    pub(crate) fn records(&self) -> Records {
        Records { circuit: Some(self.id), device: self.device.map(|(id, _)| id), cable: self.cable.map(|(id, _)| id) }
    }

    /// What a person calls the circuit: its number or pole, and what it feeds. Several checks of the board name it.
    pub(crate) fn name(&self) -> Message {
        self.name.get_or_init(|| self.called()).clone()
    }

    fn called(&self) -> Message {
        let number: Cow<str> = match (self.circuit.number.as_str(), self.device.and_then(|(_, device)| device.at)) {
            ("", Some(at)) => at.to_string().into(),
            (number, _) => number.into(),
        };
        match (&*number, self.circuit.description.as_str()) {
            ("", "") => say!("circuit-unnamed"),
            ("", words) | (words, "") => Text::joined(&[words]).into(),
            (_, description) => Text::joined(&[&number, " ", description]).into(),
        }
    }
}

/// 0, 1 or 2 for a line of a three-phase supply.
pub(crate) const fn line_index(conductor: Conductor) -> Option<usize> {
    match conductor {
        Conductor::L => None,
        Conductor::L1 => Some(0),
        Conductor::L2 => Some(1),
        Conductor::L3 => Some(2),
    }
}

/// Cables in which more than one circuit runs, with their number.
fn shared_cables(board: &Board) -> BTreeMap<CableId, u8> {
    let mut found = BTreeMap::<CableId, u8>::new();
    for id in board.live_circuits().filter_map(|(_, circuit)| circuit.cable) {
        let count = found.entry(id).or_default();
        *count = count.saturating_add(1);
    }
    found.retain(|_, count| *count > 1);
    found
}

/// Kind of load by which a third harmonic that nobody read is taken. A neutral thinner than the lines wants proof that it
/// is 15 % at most (IEC 60364-5-52, 523.6.3 and 524.2): fixed equipment on one may be any load.
pub(crate) fn harmonic_of(source: &Source) -> Option<survey::LoadKind> {
    let thinner = source.cable.is_some_and(|(_, cable)| {
        let sizes = cable.neutral_size.range().zip(cable.size.range());
        sizes.is_some_and(|(neutral, line)| neutral.lo() < line.hi())
    });
    source.circuit.kind.filter(|kind| !(thinner && *kind == survey::LoadKind::FixedEquipment))
}

/// True for loads whose current never leads: windings and resistance.
const fn never_leads(kind: survey::LoadKind) -> bool {
    matches!(kind, survey::LoadKind::Motor | survey::LoadKind::Heating)
}

/// Where a cable lies decides which temperature is taken for it.
fn ambient_of(methods: &[Method]) -> Assumable {
    match methods {
        [one] if Medium::of(*one) == Medium::Ground => Assumable::AmbientGround,
        _ => Assumable::AmbientAir,
    }
}

/// Whether a three-phase circuit has a neutral, each answer that is possible: a device that takes
/// it along says so, else the cores left beside the protective one; a motor needs none.
fn neutral(circuit: &Circuit, device: &Device, cable: Option<&Cable>) -> &'static [bool] {
    if device.poles == Some(Poles::P3N) {
        return &[true];
    }
    let Some(cores) = cable.and_then(|cable| cable.cores.get()) else {
        return if circuit.kind == Some(survey::LoadKind::Motor) { &[false] } else { &[false, true] };
    };
    match (*cores, cable.and_then(|cable| cable.cpc.get())) {
        (5.., _) | (4, Some(CpcForm::Armour | CpcForm::Conduit | CpcForm::Trunking)) => &[true],
        (4, None) => &[false, true],
        _ => &[false],
    }
}

/// Value of a field, and how it is known.
pub(crate) type Seen = (Rough, Known);

const UNKNOWN: Seen = (Rough::Said(Message::bare("not-known")), Known::Unknown);

/// A device as a value: its rating and kind.
fn device_words(device: &Device) -> Message {
    let kind = device.kind.map_or(say!("device-of-no-kind"), |kind| kind.words());
    match device.rated.is_unknown() {
        true => say!("device-not-rated", kind = kind),
        false => say!("device-rated", rated = device.rated.said(), kind = kind),
    }
}

/// A reading as it was entered.
pub(crate) fn reading<Q: Quantity>(reading: &Reading<Q>) -> Seen {
    match reading.is_unknown() {
        true => (UNKNOWN.0, reading.from.known),
        false => (Rough::Read(reading.to_show()), reading.from.known),
    }
}

fn fact<T>(fact: &Fact<T>, words: impl Fn(&T) -> Message) -> Seen {
    fact.get().map_or(UNKNOWN, |value| (Rough::Said(words(value)), fact.from.known))
}

fn count(fact: &Fact<u8>) -> Seen {
    fact.get().map_or(UNKNOWN, |value| (Rough::Read(Shown::count(*value)), fact.from.known))
}

/// A field kept without provenance: it is what the chart or the surveyor says.
fn plain(words: Option<Message>) -> Seen {
    words.map_or(UNKNOWN, |words| (Rough::Said(words), Known::Stated))
}
