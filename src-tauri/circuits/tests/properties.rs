//! What must hold for every board.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{Tables, check_board, phase_currents};
use common::{Job, add, board, f, find, measured, r, tables};
use proptest::prelude::*;
use std::sync::LazyLock;
use survey::{
    Amps, AmpsSquaredSeconds, Arrangement, Board, Celsius, Check, Curve, DeviceKind, EarthingSystem, Insulation,
    KelvinMetresPerWatt, Layout, LoadKind, Material, Method, Metres, Network, Ohms, Poles, Quantity, Ratio, RcdDelay,
    RcdType, Reading, ResidualForm, SquareMillimetres, SupplyPhases, Verdict, Volts, Watts, YesNo,
};

static TABLES: LazyLock<Tables> = LazyLock::new(tables);

const SIZES: [f64; 9] = [1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0];

/// Ω/km at 20 °C of plain stranded copper of [`SIZES`]: IEC 60228 table 2.
const COLD: [f64; 9] = [12.1, 7.41, 4.61, 3.08, 1.83, 1.15, 0.727, 0.524, 0.387];

prop_compose! {
    fn job()(
        at in prop::sample::select(vec!["1L1", "2L2", "3L3", "4L1"]),
        three in any::<bool>(),
        kind in prop::sample::select(LoadKind::ALL),
        device in prop::sample::select(vec![DeviceKind::CircuitBreaker, DeviceKind::Rcbo, DeviceKind::Fuse]),
        rated in prop::sample::select(vec![6.0, 10.0, 16.0, 20.0, 32.0, 40.0, 63.0]),
        curve in prop::sample::select(Curve::ALL),
        power in 100.0..20_000.0_f64,
        power_factor in 0.5..1.0_f64,
        size in prop::sample::select(SIZES.to_vec()),
        insulation in prop::sample::select(Insulation::ALL),
        method in prop::sample::select(Method::ALL),
        length in 1.0..120.0_f64,
        ambient in 10.0..45.0_f64,
        grouped in 1..9_u8,
    ) -> Job {
        Job {
            at: if three { "1L1" } else { at },
            poles: if three { Poles::P3N } else { Poles::P1 },
            kind, device, rated, curve, power, power_factor, size, cpc: size, insulation, method, length, ambient,
            grouped, material: Material::Copper, ..Job::default()
        }
    }
}

fn with(job: &Job) -> Board {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    add(&mut board, 1, job);
    board
}

/// What the later rules rest on.
#[derive(Clone, Debug)]
struct More {
    system: EarthingSystem,
    harmonic: f64,
    start: f64,
    soil: f64,
    depth: f64,
    insulated: f64,
    thin_neutral: bool,
    parallel: u8,
    let_through: Option<f64>,
    layout: Layout,
    mixed: bool,
    form: usize,
    rcd: (RcdType, RcdDelay, bool),
    incomer_rcd: (bool, RcdType, RcdDelay),
    it: (YesNo, YesNo),
}

prop_compose! {
    fn more()(
        system in prop::sample::select(EarthingSystem::ALL),
        harmonic in 0.0..0.8_f64,
        start in 4.0..7.0_f64,
        ground in (0.6..2.4_f64, 0.4..2.4_f64),
        insulated in 0.01..1.0_f64,
        thin_neutral in any::<bool>(),
        parallel in 1..3_u8,
        let_through in prop::option::of(1e3..1e5_f64),
        layout in prop::sample::select(Layout::ALL),
        mixed in any::<bool>(),
        form in 0..2_usize,
        rcd in (prop::sample::select(RcdType::ALL), prop::sample::select(RcdDelay::ALL), any::<bool>()),
        incomer_rcd in (any::<bool>(), prop::sample::select(RcdType::ALL), prop::sample::select(RcdDelay::ALL)),
        it in (prop::sample::select(YesNo::ALL), prop::sample::select(YesNo::ALL)),
    ) -> More {
        More {
            system, harmonic, start, soil: ground.0, depth: ground.1, insulated, thin_neutral, parallel, let_through,
            layout, mixed, form, rcd, incomer_rcd, it,
        }
    }
}

fn with_more(job: &Job, more: &More) -> Board {
    // A layout that the method does not know is another cable: keep to those it knows.
    let fits = match job.method {
        Method::C => matches!(more.layout, Layout::Bunched | Layout::WallLayer),
        Method::E | Method::F => matches!(more.layout, Layout::Bunched | Layout::PerforatedTray | Layout::Ladder),
        _ => true,
    };
    let layout = if fits { more.layout } else { Layout::Bunched };
    let mut board = with(&Job { layout, ..job.clone() });
    board.supply.system = f(more.system);
    board.supply.electrode = r::<Ohms>(50.0);
    board.supply.first_fault = r::<Amps>(0.9);
    board.supply.earthed_together = f(more.it.0);
    board.supply.neutral_distributed = f(more.it.1);
    if more.incomer_rcd.0 {
        board.incomer.arrangement = f(Arrangement::FourPoleRcd);
        board.incomer.residual = r::<Amps>(0.3);
        board.incomer.rcd_type = f(more.incomer_rcd.1);
        board.incomer.delay = f(more.incomer_rcd.2);
    }
    let circuit = board.circuits.values_mut().next().unwrap();
    circuit.load.third_harmonic = r::<Ratio>(more.harmonic);
    circuit.load.start = r::<Ratio>(more.start);
    circuit.load.residual_form = f(ResidualForm::ALL[more.form]);
    circuit.load.dc_detection = f(if more.rcd.2 { YesNo::Yes } else { YesNo::No });
    let cable = board.cables.values_mut().next().unwrap();
    cable.soil = r::<KelvinMetresPerWatt>(more.soil);
    cable.burial_depth = r::<Metres>(more.depth);
    cable.in_insulation = r::<Metres>(more.insulated);
    cable.parallel = f(more.parallel);
    cable.mixed_sizes = f(if more.mixed { YesNo::Yes } else { YesNo::No });
    if more.thin_neutral {
        cable.neutral_size = r::<SquareMillimetres>(1.5);
    }
    let device = board.devices.values_mut().next().unwrap();
    device.rcd_type = f(more.rcd.0);
    device.delay = f(more.rcd.1);
    if let Some(energy) = more.let_through {
        device.let_through = r::<AmpsSquaredSeconds>(energy);
    }
    board
}

/// Widens a reading by shares of itself below and above.
fn widen<Q: Quantity>(reading: &mut Reading<Q>, below: f64, above: f64) {
    if let Some(value) = reading.single() {
        *reading = Reading::between(Q::of(value.get() * (1.0 - below)), Q::of(value.get() * (1.0 + above)), measured());
    }
}

/// The wider check holds every margin the exact one has, and never says otherwise once it decides.
fn contains(wide: &[Check], exact: &[Check]) -> Result<(), TestCaseError> {
    // What form a load's earth fault current has is asked by the rule of the RCD's type alone as long as nobody read it;
    // once it was read, and the RCD may not be for it, what rests on that RCD is open too.
    let blind = exact.iter().any(|check| check.rule == "rcd-type" && check.verdict != Verdict::Holds);
    let by_rcd = ["fault-loop", "fault-loop-measured", "touch-voltage", "cpc-energy", "socket-rcd"];
    for exact in exact.iter().filter(|check| !(blind && by_rcd.contains(&&*check.rule))) {
        let Some(wide) = wide.iter().find(|wide| wide.rule == exact.rule && wide.subject == exact.subject) else {
            continue;
        };
        // Without a margin the exact cable is not in the tables: the unknown one then is another.
        if wide.verdict != Verdict::Undecided && exact.margin.is_some() {
            prop_assert_eq!(wide.verdict, exact.verdict, "{} against {}", &wide.inequality, &exact.inequality);
        }
        if let (Some([lo, hi]), Some([exact_lo, exact_hi])) = (wide.margin, exact.margin) {
            prop_assert!(
                lo <= exact_lo && exact_hi <= hi,
                "{}: {lo} to {hi} lacks {exact_lo} to {exact_hi}",
                wide.rule
            );
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn wider_readings_contain_exact_ones(job in job(), spread in prop::array::uniform16(0.0..0.2_f64)) {
        let exact = with(&job);
        let mut wide = exact.clone();
        for circuit in wide.circuits.values_mut() {
            widen(&mut circuit.load.power, spread[0], spread[1]);
            let factor = circuit.load.power_factor.single().unwrap().get();
            let reach = (1.0 - factor) * spread[3];
            circuit.load.power_factor =
                Reading::between(Ratio::new(factor * (1.0 - spread[2])), Ratio::new(factor + reach), measured());
        }
        for cable in wide.cables.values_mut() {
            widen(&mut cable.size, spread[4], spread[5]);
            widen(&mut cable.cpc_size, spread[6], spread[7]);
            widen(&mut cable.length, spread[8], spread[9]);
            widen(&mut cable.ambient, spread[10], spread[11]);
        }
        widen(&mut wide.supply.ze, spread[12], spread[13]);
        widen(&mut wide.supply.voltage, spread[14] / 10.0, 0.0);
        widen(&mut wide.supply.ipf, spread[15], spread[14]);
        contains(&check_board(&wide, &TABLES), &check_board(&exact, &TABLES))?;
    }

    /// No conductor is colder than what surrounds it, so no cable loses less than cold copper of
    /// IEC 60228 (resistances at 20 °C, 0.00393/K) at the temperature around it.
    #[test]
    fn no_conductor_is_colder_than_what_surrounds_it(job in job(), more in more()) {
        let job = Job { at: "1L1", poles: Poles::P1, power_factor: 1.0, ..job };
        let mut board = with_more(&job, &more);
        board.supply.network = f(Network::Public);
        let checks = check_board(&board, &TABLES);
        let Some([_, most]) = find(&checks, "volt-drop").margin else { return Ok(()) };
        let limit = if job.kind == LoadKind::Lighting { 0.03 } else { 0.05 };
        let cold = SIZES.iter().zip(COLD).find(|(size, _)| **size == job.size).unwrap().1;
        let around = cold * (1.0 + 0.00393 * (job.ambient - 20.0)) / 1000.0 / f64::from(more.parallel);
        let floor = 2.0 * job.power / 230.0 * around * job.length / 230.0;
        let shown = (1.0 - most) * limit;
        prop_assert!(shown >= floor * (1.0 - 1e-9), "{shown} lost, but cold copper already loses {floor}");
    }

    #[test]
    fn what_is_not_known_contains_what_is(job in job(), forget in prop::array::uniform8(any::<bool>())) {
        let exact = with(&job);
        let mut vague = exact.clone();
        for cable in vague.cables.values_mut() {
            if forget[0] { cable.ambient = Reading::unknown() }
            if forget[1] { cable.insulation = Default::default() }
            if forget[2] { cable.method = Default::default() }
            if forget[3] { cable.material = Default::default() }
            if forget[4] { cable.construction = Default::default() }
        }
        for device in vague.devices.values_mut() {
            if forget[5] { device.curve = Default::default() }
        }
        for circuit in vague.circuits.values_mut() {
            if forget[6] { circuit.kind = None }
        }
        // Assumed ranges only hold what they promise: stay inside them.
        prop_assume!(!forget[0] || (10.0..=40.0).contains(&job.ambient) && !matches!(job.method, Method::D1 | Method::D2));
        if forget[7] { vague.supply.voltage = Reading::unknown() }
        contains(&check_board(&vague, &TABLES), &check_board(&exact, &TABLES))?;
    }

    /// The same for what one circuit's later rules rest on.
    #[test]
    fn later_fields_contain_what_they_may_be(
        job in job(),
        more in more(),
        spread in prop::array::uniform10(0.0..0.2_f64),
        forget in prop::array::uniform9(any::<bool>()),
    ) {
        let exact = with_more(&job, &more);
        let mut wide = exact.clone();
        for circuit in wide.circuits.values_mut() {
            widen(&mut circuit.load.third_harmonic, spread[0], spread[1]);
            widen(&mut circuit.load.start, spread[2], spread[3]);
            if forget[0] { circuit.load.residual_form = Default::default() }
            if forget[1] { circuit.load.dc_detection = Default::default() }
        }
        for cable in wide.cables.values_mut() {
            widen(&mut cable.soil, spread[4], spread[5]);
            widen(&mut cable.burial_depth, spread[6], spread[7]);
            widen(&mut cable.in_insulation, spread[8], spread[9]);
            widen(&mut cable.neutral_size, spread[0], spread[2]);
            if forget[2] { cable.layout = Default::default() }
        }
        for device in wide.devices.values_mut() {
            widen(&mut device.let_through, spread[1], spread[3]);
            if forget[3] { device.rcd_type = Default::default() }
            if forget[4] { device.delay = Default::default() }
        }
        if forget[5] { wide.supply.neutral_distributed = Default::default() }
        if forget[6] { wide.supply.earthed_together = Default::default() }
        if forget[7] { wide.incomer.rcd_type = Default::default() }
        if forget[8] { wide.incomer.delay = Default::default() }
        widen(&mut wide.supply.electrode, spread[5], spread[7]);
        widen(&mut wide.supply.first_fault, spread[4], spread[6]);
        contains(&check_board(&wide, &TABLES), &check_board(&exact, &TABLES))?;
    }

    #[test]
    fn more_load_never_helps_a_later_rule(job in job(), more in more(), factor in 1.0..3.0_f64) {
        let before = check_board(&with_more(&job, &more), &TABLES);
        let after = check_board(&with_more(&Job { power: job.power * factor, ..job }, &more), &TABLES);
        for (before, after) in before.iter().zip(&after) {
            prop_assert_eq!(&before.rule, &after.rule);
            prop_assert!(after.verdict <= before.verdict, "{} became {}", &before.inequality, &after.inequality);
        }
    }

    /// A larger conductor drops no more while a motor starts, and lets no smaller fault current flow.
    #[test]
    fn a_larger_conductor_never_hurts_a_later_rule(job in job(), more in more(), step in 0..SIZES.len() - 1) {
        let at = |size| check_board(&with_more(&Job { size, cpc: size, ..job.clone() }, &more), &TABLES);
        let (small, large) = (at(SIZES[step]), at(SIZES[step + 1]));
        for rule in ["start-drop", "short-circuit-trip", "neutral-load"] {
            let of = |checks: &[Check]| checks.iter().find(|check| check.rule == rule).cloned();
            let Some((small, large)) = of(&small).zip(of(&large)) else { continue };
            if let (Some(small), Some(large)) = (small.margin, large.margin) {
                prop_assert!(large[0] >= small[0] && large[1] >= small[1], "{rule}: {small:?} then {large:?}");
            }
            // A size that the tables lack says nothing of the next one.
            if small.margin.is_some() {
                prop_assert!(large.verdict >= small.verdict, "{small:?} then {large:?}");
            }
        }
    }

    #[test]
    fn more_load_never_helps(job in job(), factor in 1.0..3.0_f64) {
        let before = check_board(&with(&job), &TABLES);
        let after = check_board(&with(&Job { power: job.power * factor, ..job }), &TABLES);
        for (before, after) in before.iter().zip(&after) {
            prop_assert_eq!(&before.rule, &after.rule);
            prop_assert!(after.verdict <= before.verdict, "{} became {}", &before.inequality, &after.inequality);
        }
    }

    #[test]
    fn a_larger_conductor_never_drops_more(job in job(), step in 0..SIZES.len() - 1) {
        let at = |size| check_board(&with(&Job { size, ..job.clone() }), &TABLES);
        let (small, large) = (at(SIZES[step]), at(SIZES[step + 1]));
        let (small, large) = (find(&small, "volt-drop"), find(&large, "volt-drop"));
        if let (Some(small), Some(large)) = (small.margin, large.margin) {
            prop_assert!(large[0] >= small[0] && large[1] >= small[1], "{small:?} then {large:?}");
        }
        prop_assert!(large.verdict >= small.verdict);
    }

    #[test]
    fn nonsense_never_panics_and_never_holds(
        job in job(),
        value in prop::sample::select(vec![f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 1e300, -1e300, 1e-300]),
        field in 0..24_usize,
    ) {
        let mut board = with(&job);
        let circuit = board.circuits.values_mut().next().unwrap();
        let cable = board.cables.values_mut().next().unwrap();
        let device = board.devices.values_mut().next().unwrap();
        fn bad<Q: Quantity>(value: f64) -> Reading<Q> { Reading::of(Q::of(value), measured()) }
        match field {
            0 => circuit.load.power = bad::<Watts>(value),
            1 => circuit.load.power_factor = bad::<Ratio>(value),
            2 => circuit.load.efficiency = bad::<Ratio>(value),
            3 => circuit.load.demand = bad::<Ratio>(value),
            4 => cable.size = bad::<SquareMillimetres>(value),
            5 => cable.length = bad::<Metres>(value),
            6 => cable.ambient = bad::<Celsius>(value),
            7 => cable.grouped = f(0),
            8 => device.rated = bad::<Amps>(value),
            9 => board.supply.voltage = bad::<Volts>(value),
            10 => board.supply.ze = bad::<Ohms>(value),
            11 => board.supply.ipf = bad::<Amps>(value),
            12 => circuit.load.current = bad::<Amps>(value),
            13 => circuit.load.third_harmonic = bad::<Ratio>(value),
            14 => circuit.load.start = bad::<Ratio>(value),
            15 => cable.soil = bad::<KelvinMetresPerWatt>(value),
            16 => cable.burial_depth = bad::<Metres>(value),
            17 => cable.in_insulation = bad::<Metres>(value),
            18 => cable.neutral_size = bad::<SquareMillimetres>(value),
            19 => cable.parallel = f(0),
            20 => device.let_through = bad::<AmpsSquaredSeconds>(value),
            21 => {
                board.supply.system = f(EarthingSystem::Tt);
                board.supply.electrode = bad::<Ohms>(value);
            }
            22 => {
                board.supply.system = f(EarthingSystem::It);
                board.supply.electrode = r::<Ohms>(10.0);
                board.supply.first_fault = bad::<Amps>(value);
            }
            _ => board.incomer.rated = bad::<Amps>(value),
        }
        for check in check_board(&board, &TABLES) {
            if let Some([lo, hi]) = check.margin {
                prop_assert!(lo.is_finite() && hi.is_finite() && lo <= hi);
            }
            for next in &check.next {
                prop_assert!(next.settles.is_finite());
            }
            if value.is_nan() && check.inputs.iter().any(|input| input.value.contains("NaN")) {
                prop_assert_ne!(check.verdict, Verdict::Holds, "{}", &check.inequality);
            }
        }
        let currents = phase_currents(&board, &TABLES);
        prop_assert!(!currents.neutral.lo().get().is_nan() && !currents.neutral.hi().get().is_nan());
    }

    #[test]
    fn systems_and_missing_records_leave_no_hole(job in job(), system in prop::option::of(prop::sample::select(EarthingSystem::ALL)), gone in 0..4) {
        let mut board = with(&job);
        board.supply.system = system.map(f).unwrap_or_default();
        let circuit = board.circuits.values_mut().next().unwrap();
        match gone {
            0 => circuit.device = None,
            1 => circuit.cable = None,
            2 => { circuit.device = None; circuit.cable = None }
            _ => {}
        }
        for check in check_board(&board, &TABLES) {
            prop_assert!(!check.sentence.is_empty() && !check.clause.is_empty() && !check.inequality.is_empty());
            prop_assert!(check.verdict == Verdict::Undecided || check.next.is_empty());
            if check.verdict == Verdict::Undecided && check.margin.is_none() {
                prop_assert!(!check.next.is_empty(), "{check:?}");
            }
        }
    }
}

/// What is undecided names what would settle it, most useful first, and that reading does it.
#[test]
fn the_first_reading_named_is_the_one_that_counts() {
    let mut board = with(&Job { rated: 32.0, size: 6.0, method: Method::B1, ambient: 30.0, ..Job::default() });
    let cable = board.cables.values_mut().next().unwrap();
    cable.grouped = Default::default();
    cable.ambient = Reading::between(Celsius::new(28.0), Celsius::new(32.0), measured());
    let checks = check_board(&board, &TABLES);
    let check = find(&checks, "cable-current");
    assert_eq!(check.verdict, Verdict::Undecided);
    assert!(check.next[0].path.ends_with("/grouped"), "{:?}", check.next);
    assert!(check.next[0].settles > check.next[1].settles);
    let first = check.inputs.iter().find(|input| input.path.ends_with("/grouped")).unwrap();
    assert_eq!(first.known, survey::Known::Assumed);
    board.cables.values_mut().next().unwrap().grouped = f(1);
    assert_eq!(find(&check_board(&board, &TABLES), "cable-current").verdict, Verdict::Holds);
}

/// A circuit with no cable says so once per rule, and names nothing behind it.
#[test]
fn a_missing_cable_is_named() {
    let mut board = with(&Job::default());
    board.circuits.values_mut().next().unwrap().cable = None;
    let checks = check_board(&board, &TABLES);
    let check = find(&checks, "cable-current");
    assert_eq!(check.verdict, Verdict::Undecided);
    assert_eq!(check.next.len(), 1);
    assert!(check.next[0].path.ends_with("/cable") && check.next[0].path.starts_with("/circuits/"));
    assert!(check.sentence.contains("cable"), "{}", check.sentence);
}
