//! The checks of the board as a whole against published figures; the source stands beside each.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::fault_level::{Extent, along};
use circuits::selectivity::{self, Overcurrent, OverlapKind, Residual, pair, residual_pair};
use circuits::{Tables, check_board};
use common::{Job, add, board, f, find, r, tables};
use proptest::prelude::*;
use std::sync::LazyLock;
use survey::{
    Amps, AmpsSquaredSeconds, Arrangement, Board, Cable, CableId, Celsius, Check, Construction, CpcForm, Curve,
    DeviceKind, EarthingSystem, Insulation, LoadKind, Material, Metres, Mounting, Ohms, Poles, Quantity, Range, Ratio,
    RcdDelay, Reading, SquareMillimetres, SupplyPhases, Verdict, VoltAmperes, Volts, Watts,
};
use uuid::Uuid;

static TABLES: LazyLock<Tables> = LazyLock::new(tables);

fn supply_cable(board: &mut Board, size: f64, length: f64) -> CableId {
    let id = CableId(Uuid::from_u128(77));
    let cable = Cable {
        construction: f(Construction::Multicore),
        material: f(Material::Copper),
        insulation: f(Insulation::Pvc70),
        cpc: f(CpcForm::Core),
        cpc_size: r::<SquareMillimetres>(size),
        size: r::<SquareMillimetres>(size),
        length: r::<Metres>(length),
        cores: f(5),
        ..Cable::default()
    };
    board.cables.insert(id, cable);
    board.supply.cable = Some(id);
    id
}

fn holds(extent: Option<Extent>, largest: f64, smallest: f64) {
    let extent = extent.unwrap();
    let inside = |range: Range<Amps>, value: f64| range.lo().get() <= value && value <= range.hi().get();
    assert!(inside(extent.largest, largest * 1000.0), "{largest} kA is not in {:?}", extent.largest);
    assert!(inside(extent.smallest, smallest * 1000.0), "{smallest} kA is not in {:?}", extent.smallest);
    assert!(extent.largest.hi().get() < largest * 1000.0 * 1.35, "{:?} is too wide", extent.largest);
}

/// The network solved with pandapower 3.5.6 (IEC 60909): 630 kVA, uk 4 %, 30 m of 240 mm², 25 m of
/// 16 mm². There ukr is 1.1 % and the grid 250/150 MVA; here neither is known, so ranges must hold
/// the solved values, kA: three-phase and line to earth, largest and smallest.
#[test]
fn from_the_transformer_to_the_end_of_a_circuit() {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    board.supply.voltage = r::<Volts>(400.0 / 3.0_f64.sqrt());
    board.supply.ipf = Reading::unknown();
    board.supply.ze = Reading::unknown();
    board.supply.transformer = r::<VoltAmperes>(630e3);
    board.supply.transformer_voltage = r::<Ratio>(0.04);
    supply_cable(&mut board, 240.0, 30.0);
    add(&mut board, 1, &Job { at: "1L1", poles: Poles::P3N, size: 16.0, cpc: 16.0, length: 25.0, ..Job::default() });
    let found = along(&board, &TABLES);
    holds(found.origin.three_phase, 22.880, 19.571);
    holds(found.origin.line_earth, 23.390, 20.203);
    holds(found.board.three_phase, 17.832, 15.267);
    holds(found.board.line_line, 15.443, 13.222);
    holds(found.board.line_earth, 14.704, 12.623);
    let end = &found.circuits[0].currents;
    holds(end.three_phase, 6.583, 5.113);
    holds(end.line_earth, 3.594, 2.754);
    holds(end.line_neutral, 3.594, 2.754);
    assert_eq!(found.board, found.calculated);
    // The checks take what was calculated and say so.
    let checks = check_board(&board, &TABLES);
    // Alone it breaks too little; the device upstream may back it up, unless no makers' table pairs the two.
    assert_eq!(find(&checks, "breaking-capacity").verdict, Verdict::Undecided);
    for device in board.devices.values_mut() {
        device.backed_up = r::<Amps>(0.0);
    }
    let checks = check_board(&board, &TABLES);
    let breaking = find(&checks, "breaking-capacity");
    assert_eq!(breaking.verdict, Verdict::Fails, "{breaking:?}");
    let input = breaking.inputs.iter().find(|input| input.path == "/supply/ipf").unwrap();
    assert!(input.value.contains("calculated from the transformer"), "{input:?}");
    assert!(checks.iter().all(|check| check.rule != "fault-level"));
}

/// Sub-board of a published problem, read in a public page (worked by hand, all in phase): 13 990 A
/// at 230 V, then 0.0040 Ω of mains: 11 252 A, and 0.025 Ω more: 5 062 A. A measured Ipf has no
/// known angle, so the range holds the sum in phase and stays below the first part alone.
#[test]
fn a_declared_current_and_a_cable() {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    board.supply.ipf = Reading::unknown();
    board.supply.origin_ipf = r::<Amps>(13_990.0);
    // 0.0040 Ω: 25 mm² has 0.727 Ω/km (IEC 60228).
    supply_cable(&mut board, 25.0, 4.0 / 0.727);
    let found = along(&board, &TABLES).calculated.three_phase.unwrap().largest;
    assert!(
        found.lo().get() < 11_252.0 && 11_252.0 < found.hi().get() && found.hi().get() < 13_990.0 * 1.05,
        "{found:?}"
    );
}

/// What was read and what is calculated must meet, else a finding says so.
#[test]
fn a_reading_that_the_origin_denies_is_found() {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    board.supply.origin_ipf = r::<Amps>(10_000.0);
    board.supply.origin_ze = r::<Ohms>(0.02);
    supply_cable(&mut board, 35.0, 40.0);
    let checks = check_board(&board, &TABLES);
    // 40 m of 35 mm²: 0.021 Ω cold; 230 V / (0.023 + 0.021) Ω is 5.2 kA, far from the 3 kA read.
    assert_eq!(find(&checks, "fault-level").verdict, Verdict::Fails);
    // Ze 0.02 Ω + 2 · 0.021 Ω is far from the 0.2 Ω read.
    assert_eq!(find(&checks, "external-loop").verdict, Verdict::Fails);
    board.supply.ipf = r::<Amps>(5_300.0);
    board.supply.ze = r::<Ohms>(0.065);
    let checks = check_board(&board, &TABLES);
    assert_eq!(find(&checks, "fault-level").verdict, Verdict::Holds);
    assert_eq!(find(&checks, "external-loop").verdict, Verdict::Holds);
}

const fn breaker(curve: Curve, rated: f64) -> Overcurrent {
    Overcurrent::Breaker { curve, rated: Amps::new(rated) }
}

const fn fuse(rated: f64) -> Overcurrent {
    Overcurrent::Fuse { rated: Amps::new(rated) }
}

fn up_to(current: f64) -> Option<Range<Amps>> {
    Some(Range::point(Amps::new(current)))
}

/// IEC 60898-1 table 7: C16 stays closed at 1.13 In for 1 h, opens within 1 h at 1.45 In, between
/// 1 s and 60 s at 2.55 In, not before 0.1 s at 5 In, within 0.1 s at 10 In.
#[test]
fn the_band_of_a_breaker_is_the_standard_s() {
    let band = selectivity::band(breaker(Curve::C, 16.0), &TABLES).unwrap();
    assert!((band.earliest[0].current.get() - 18.08).abs() < 1e-9);
    let has = |points: &[selectivity::BandPoint], current: f64, time: f64| {
        assert!(
            points
                .iter()
                .any(|p| (p.current.get() - current).abs() < 1e-6 && (p.time.get() - time).abs() < 1e-6 * time),
            "{current} A, {time} s is not in {points:?}"
        );
    };
    has(&band.earliest, 40.8, 1.0);
    has(&band.earliest, 80.0, 0.1);
    has(&band.latest, 23.2, 3600.0);
    has(&band.latest, 40.8, 60.0);
    has(&band.latest, 160.0, 0.1);
    // Test d (times from memory): B16 opens within 45 s at 3 In, D16 within 4 s at 10 In. That takes more I²t than test
    // c allows, and is allowed all the same.
    for (curve, current, time) in [(Curve::B, 48.0, 45.0), (Curve::C, 80.0, 15.0), (Curve::D, 160.0, 4.0)] {
        has(&selectivity::band(breaker(curve, 16.0), &TABLES).unwrap().latest, current, time);
    }
}

/// gG gates of IEC 60269-1 (from memory): 63 A does not melt within 10 s at 160 A nor within 0.1 s
/// at 450 A; it clears within 5 s at 320 A and within 0.1 s at 820 A.
#[test]
fn the_band_of_a_fuse_goes_through_its_gates() {
    let band = selectivity::band(fuse(63.0), &TABLES).unwrap();
    for (points, current, time) in [
        (&band.earliest, 160.0, 10.0),
        (&band.earliest, 450.0, 0.1),
        (&band.latest, 320.0, 5.0),
        (&band.latest, 820.0, 0.1),
    ] {
        assert!(
            points.iter().any(|p| p.current.get() == current && (p.time.get() - time).abs() < 1e-9),
            "{current} A, {time} s is not in {points:?}"
        );
    }
}

/// gG fuses from 16 A up are selective at 1.6 to 1 (IEC 60269-2, from memory), not below.
#[test]
fn fuses_in_series_need_a_ratio_of_1_6() {
    let verdict = |up, down| pair(fuse(up), fuse(down), None, None, None, &TABLES).unwrap().verdict;
    assert_eq!(verdict(100.0, 63.0), Verdict::Undecided);
    assert_eq!(verdict(100.0, 50.0), Verdict::Holds);
    assert_eq!(verdict(160.0, 100.0), Verdict::Holds);
    assert_eq!(verdict(32.0, 63.0), Verdict::Fails);
}

/// Both releases may act from the lower end of the upstream one's instantaneous band on: 5 In of a
/// C63 is 315 A (IEC 60898-1, 5.3.5).
#[test]
fn two_breakers_are_selective_up_to_the_upstream_instantaneous_band() {
    let found = pair(breaker(Curve::C, 63.0), breaker(Curve::B, 6.0), None, None, None, &TABLES).unwrap();
    assert_eq!(found.limit, Some(Amps::new(315.0)));
    assert_eq!(found.verdict, Verdict::Undecided);
    assert_eq!(found.overlaps.len(), 1, "{:?}", found.overlaps);
    let low = pair(breaker(Curve::C, 63.0), breaker(Curve::B, 6.0), up_to(300.0), None, None, &TABLES).unwrap();
    assert_eq!(low.verdict, Verdict::Holds);
    // The other way round the small one upstream opens first.
    let wrong = pair(breaker(Curve::B, 16.0), breaker(Curve::C, 63.0), up_to(1000.0), None, None, &TABLES).unwrap();
    assert_eq!(wrong.verdict, Verdict::Fails);
    assert!(wrong.overlaps.iter().any(|overlap| overlap.kind == OverlapKind::Wrong));
}

/// A breaker that lets less through than melts the fuse opens alone: 100 A gG melts from 27 000 A²s
/// (IEC 60269-1, from memory).
#[test]
fn a_fuse_waits_for_a_breaker_that_limits_the_energy() {
    let with = |energy: Option<f64>| {
        let energy = energy.map(|energy| Range::point(AmpsSquaredSeconds::new(energy)));
        pair(fuse(100.0), breaker(Curve::B, 16.0), up_to(6000.0), energy, None, &TABLES).unwrap()
    };
    assert_eq!(with(Some(20_000.0)).verdict, Verdict::Holds);
    let more = with(Some(40_000.0));
    assert_eq!((more.verdict, more.limit), (Verdict::Undecided, Some(Amps::new(820.0))));
    assert_eq!(with(None).verdict, Verdict::Undecided);
}

/// IEC 60364-5-53, 535.3: type S upstream and three times the IΔn. IEC 61008-1 table 1: type S
/// waits 130 ms at IΔn, a general RCD opens within 300 ms at IΔn and 40 ms at 5 IΔn.
#[test]
fn rcds_in_series() {
    let rcd = |rated: f64, delay| Residual { rated: Amps::new(rated), delay };
    let verdict = |up, down| residual_pair(up, down, &TABLES).verdict;
    assert_eq!(verdict(rcd(0.1, RcdDelay::S), rcd(0.03, RcdDelay::None)), Verdict::Holds);
    assert_eq!(verdict(rcd(0.1, RcdDelay::None), rcd(0.03, RcdDelay::None)), Verdict::Fails);
    assert_eq!(verdict(rcd(0.03, RcdDelay::S), rcd(0.03, RcdDelay::None)), Verdict::Fails);
    let found = residual_pair(rcd(0.3, RcdDelay::S), rcd(0.03, RcdDelay::None), &TABLES);
    let at = |points: &[selectivity::BandPoint], current: f64, time: f64| {
        points.iter().any(|p| (p.current.get() - current).abs() < 1e-9 && (p.time.get() - time).abs() < 1e-9)
    };
    assert!(at(&found.upstream.earliest, 0.3, 0.13) && at(&found.downstream.latest, 0.03, 0.3));
    assert!(at(&found.downstream.latest, 0.15, 0.04));
}

fn with_upstream(kind: DeviceKind, curve: Option<Curve>, rated: f64, job: &Job) -> Board {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    board.supply.upstream = r::<Amps>(rated);
    board.supply.upstream_kind = f(kind);
    if let Some(curve) = curve {
        board.supply.upstream_curve = f(curve);
    }
    add(&mut board, 1, job);
    board
}

#[test]
fn partial_selectivity_names_its_limit_and_the_table_settles_it() {
    let job = Job { rated: 6.0, ..Job::default() };
    let mut board = with_upstream(DeviceKind::CircuitBreaker, Some(Curve::C), 63.0, &job);
    let checks = check_board(&board, &TABLES);
    let check = find(&checks, "selectivity");
    assert_eq!(check.verdict, Verdict::Undecided);
    assert!(check.sentence.contains("315\u{a0}A"), "{}", check.sentence);
    assert!(check.next[0].path.ends_with("/selective"), "{:?}", check.next);
    let device = board.devices.values_mut().next().unwrap();
    device.selective = r::<Amps>(4500.0);
    assert_eq!(find(&check_board(&board, &TABLES), "selectivity").verdict, Verdict::Holds);
    board.devices.values_mut().next().unwrap().selective = r::<Amps>(1000.0);
    // Selectivity is required only where somebody asks for it.
    assert_eq!(find(&check_board(&board, &TABLES), "selectivity").verdict, Verdict::Advised);
}

#[test]
fn an_unknown_upstream_device_is_asked_for_once() {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    add(&mut board, 1, &Job::default());
    add(&mut board, 2, &Job { at: "1L2", ..Job::default() });
    let checks = check_board(&board, &TABLES);
    let all: Vec<&Check> = checks.iter().filter(|check| check.rule == "selectivity").collect();
    assert_eq!(all.len(), 1);
    assert_eq!(all[0].next[0].path, "/supply/upstream_kind");
}

/// IEC 60364-5-53, 531.3.2: what leaks in normal use stays within 0.3 IΔn: 9 mA of 30 mA.
#[test]
fn leakage_adds_up_behind_an_rcd() {
    let mut board = board("three-phase-8", SupplyPhases::Single);
    board.supply.phases = f(SupplyPhases::Single);
    board.incomer.arrangement = f(Arrangement::TwoPoleRcd);
    board.incomer.residual = r::<Amps>(0.03);
    for (number, at) in [(1, "1L1"), (2, "1L2"), (3, "1L3")] {
        let id = add(&mut board, number, &Job { at, ..Job::default() });
        board.circuits.get_mut(&id).unwrap().load.leakage = r::<Amps>(0.003);
    }
    let verdict = |board: &Board| find(&check_board(board, &TABLES), "leakage").verdict;
    assert_eq!(verdict(&board), Verdict::Holds);
    let id = add(&mut board, 4, &Job { at: "2L1", ..Job::default() });
    assert_eq!(verdict(&board), Verdict::Undecided);
    let check_next = find(&check_board(&board, &TABLES), "leakage").next.clone();
    assert_eq!(check_next[0].path, format!("/circuits/{id}/load/leakage"));
    board.circuits.get_mut(&id).unwrap().load.leakage = r::<Amps>(0.001);
    assert_eq!(verdict(&board), Verdict::Fails);
}

/// A three-pole RCD in a circuit with a neutral: IEC 60364-5-53, 531.3.1.
#[test]
fn the_neutral_goes_through_the_rcd() {
    let job = Job { at: "1L1", poles: Poles::P3, device: DeviceKind::Rcbo, ..Job::default() };
    let mut board = board("three-phase-8", SupplyPhases::Three);
    add(&mut board, 1, &job);
    let set_cores = |board: &mut Board, cores: u8| board.cables.values_mut().for_each(|cable| cable.cores = f(cores));
    set_cores(&mut board, 5);
    assert_eq!(find(&check_board(&board, &TABLES), "rcd-poles").verdict, Verdict::Fails);
    set_cores(&mut board, 4);
    assert_eq!(find(&check_board(&board, &TABLES), "rcd-poles").verdict, Verdict::Holds);
    board.supply.system = f(EarthingSystem::Tt);
    board.incomer.arrangement = f(Arrangement::ThreePole);
    assert_eq!(find(&check_board(&board, &TABLES), "neutral-switched").verdict, Verdict::Fails);
}

/// IEC 60364-5-54 table 54.2 and 544.1.1: with 35 mm² lines the earthing conductor has 16 mm², main
/// bonding half of that, 8 mm²; never under 6 mm² of copper and never over 25 mm².
#[test]
fn earthing_and_bonding_sizes() {
    let mut board = board("three-phase-8", SupplyPhases::Three);
    board.supply.system = f(EarthingSystem::TnCS);
    supply_cable(&mut board, 35.0, 10.0);
    let verdicts = |board: &Board, earthing: f64, bonding: f64| {
        let mut board = board.clone();
        board.supply.earthing_conductor = r::<SquareMillimetres>(earthing);
        board.supply.bonding = r::<SquareMillimetres>(bonding);
        let checks = check_board(&board, &TABLES);
        (find(&checks, "earthing-conductor").verdict, find(&checks, "main-bonding").verdict)
    };
    assert_eq!(verdicts(&board, 16.0, 10.0), (Verdict::Holds, Verdict::Holds));
    assert_eq!(verdicts(&board, 10.0, 6.0), (Verdict::Undecided, Verdict::Fails));
    assert_eq!(verdicts(&board, 4.0, 8.0), (Verdict::Fails, Verdict::Holds));
    // 100 A gG clears 580 A within 5 s: √(580² · 5)/143 is 9.1 mm²; the 1.2 kA of Ze 0.2 Ω end sooner.
    board.supply.upstream_kind = f(DeviceKind::Fuse);
    assert_eq!(verdicts(&board, 10.0, 10.0).0, Verdict::Holds);
    supply_cable(&mut board, 120.0, 10.0);
    assert_eq!(verdicts(&board, 70.0, 25.0).1, Verdict::Holds);
}

#[test]
fn a_board_away_from_the_earthing_is_not_asked_for_it() {
    let board = board("three-phase-8", SupplyPhases::Three);
    let checks = check_board(&board, &TABLES);
    assert!(checks.iter().all(|check| check.rule != "main-bonding" && check.rule != "earthing-conductor"));
}

/// IEC 61439-3 table 101 (from memory): ten circuits and more, 0.5 of the rating each.
#[test]
fn outgoing_circuits_loaded_together_carry_less() {
    let verdict = |current: f64, kind: LoadKind, factor: Option<f64>| {
        let mut board = board("three-phase-8", SupplyPhases::Three);
        let poles: Vec<String> = board.enclosure.get().unwrap().poles().map(|pole| pole.to_string()).collect();
        for (number, at) in poles.into_iter().take(10).enumerate() {
            let job = Job { at: at.leak(), kind, current: Some(current), ..Job::default() };
            add(&mut board, number as u128 + 1, &job);
        }
        if let Some(factor) = factor {
            board.surroundings.diversity = r::<Ratio>(factor);
        }
        find(&check_board(&board, &TABLES), "outgoing-loading").verdict
    };
    assert_eq!(verdict(15.9, LoadKind::Heating, None), Verdict::Holds);
    assert_eq!(verdict(20.0, LoadKind::Heating, None), Verdict::Undecided);
    assert_eq!(verdict(20.0, LoadKind::Heating, Some(0.5)), Verdict::Fails);
    assert_eq!(verdict(20.0, LoadKind::Sockets, Some(0.5)), Verdict::Undecided);
    assert_eq!(verdict(20.0, LoadKind::Heating, Some(0.7)), Verdict::Holds);
}

/// IEC TR 60890 by hand (factors from memory): 430 × 508 × 125 mm on a wall, Ae = 1.4·0.0538 +
/// (0.9 + 0.5)·0.2184 + 2·0.9·0.0635 = 0.495 m², k = 1.037, h/w = 1.18, c = 1.204. 3 poles of 6 W at
/// 32 A of 32 A and 3 of 5 W at 32 A of 100 A: 19.5 W, the top of the air 13.6 K over the room.
#[test]
fn the_air_inside_by_hand() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    add(&mut board, 1, &Job { at: "1L1", poles: Poles::P3N, current: Some(32.0), ..Job::default() });
    board.surroundings.ambient = r::<Celsius>(15.0);
    board.surroundings.mounting = f(Mounting::OnWall);
    board.devices.values_mut().for_each(|device| device.loss = r::<Watts>(6.0));
    board.incomer.loss = r::<Watts>(5.0);
    let checks = check_board(&board, &TABLES);
    let check = find(&checks, "enclosure-temperature");
    // Limits 40 °C (devices) and 70 °C (wiring); losses of conductors only raise the upper end.
    let [_, hi] = check.margin.unwrap();
    assert!((70.0 * (1.0 - hi) - 28.6).abs() < 0.1, "{check:?}");
    assert_eq!(check.verdict, Verdict::Holds, "{check:?}");
    board.surroundings.ambient = r::<Celsius>(35.0);
    let checks = check_board(&board, &TABLES);
    assert_eq!(find(&checks, "enclosure-temperature").verdict, Verdict::Undecided);
    // In a room of 35 °C one circuit alone carries its rating whatever the air inside: the assembly is made for that
    // (IEC 61439-3). In one of 45 °C the air reaches 58.6 °C at least: of a 32 A device nobody knows what it still carries,
    // though not less than 32 A less 1 % for each kelvin above 40 °C (common practice): at 20 A that does not matter.
    assert_eq!(find(&checks, "device-current").verdict, Verdict::Holds);
    board.surroundings.ambient = r::<Celsius>(45.0);
    let checks = check_board(&board, &TABLES);
    let check = find(&checks, "device-current");
    assert_eq!(check.verdict, Verdict::Undecided, "{check:?}");
    assert!(check.next.iter().any(|next| next.path.ends_with("/rated")), "{check:?}");
    assert!(check.next.iter().any(|next| next.path == "/surroundings/ambient"), "{check:?}");
    let mut light = board.clone();
    light.circuits.values_mut().for_each(|circuit| circuit.load.current = r::<Amps>(20.0));
    assert_eq!(find(&check_board(&light, &TABLES), "device-current").verdict, Verdict::Holds);
    light.surroundings.ambient = r::<Celsius>(15.0);
    light.circuits.values_mut().for_each(|circuit| circuit.load.current = r::<Amps>(32.0));
    assert_eq!(find(&check_board(&light, &TABLES), "device-current").verdict, Verdict::Holds);
    board.surroundings.mounting = f(Mounting::Recessed);
    let checks = check_board(&board, &TABLES);
    let check = find(&checks, "enclosure-temperature");
    assert!(check.margin.is_none() && check.next[0].path == "/surroundings/mounting", "{check:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 128, failure_persistence: None, ..ProptestConfig::default() })]

    /// A wider reading never gives a range that lacks the exact one's.
    #[test]
    fn fault_currents_hold_their_points(
        ipf in 500.0..20_000.0_f64,
        ze in 0.02..0.5_f64,
        size in prop::sample::select(vec![16.0, 25.0, 35.0, 50.0]),
        length in 1.0..80.0_f64,
        spread in 0.0..0.3_f64,
    ) {
        let at = |ipf: Reading<Amps>, ze: Reading<Ohms>, length: Reading<Metres>| {
            let mut board = board("three-phase-8", SupplyPhases::Three);
            board.supply.ipf = Reading::unknown();
            board.supply.ze = Reading::unknown();
            board.supply.origin_ipf = ipf;
            board.supply.origin_ze = ze;
            let id = supply_cable(&mut board, size, 1.0);
            board.cables.get_mut(&id).unwrap().length = length;
            add(&mut board, 1, &Job { at: "1L1", poles: Poles::P3N, ..Job::default() });
            along(&board, &TABLES)
        };
        let exact = at(r::<Amps>(ipf), r::<Ohms>(ze), r::<Metres>(length));
        let wide = |value: f64| [value * (1.0 - spread), value * (1.0 + spread)];
        let [a, b, c] = [wide(ipf), wide(ze), wide(length)];
        let around = at(
            Reading::between(Amps::of(a[0]), Amps::of(a[1]), common::measured()),
            Reading::between(Ohms::of(b[0]), Ohms::of(b[1]), common::measured()),
            Reading::between(Metres::of(c[0]), Metres::of(c[1]), common::measured()),
        );
        let pairs = [
            (around.board.three_phase, exact.board.three_phase),
            (around.board.line_neutral, exact.board.line_neutral),
            (around.board.line_earth, exact.board.line_earth),
            (around.circuits[0].currents.line_earth, exact.circuits[0].currents.line_earth),
            (around.circuits[0].currents.three_phase, exact.circuits[0].currents.three_phase),
        ];
        for (around, exact) in pairs {
            let (around, exact) = (around.unwrap(), exact.unwrap());
            for (wide, narrow) in [(around.largest, exact.largest), (around.smallest, exact.smallest)] {
                prop_assert!(wide.lo() <= narrow.lo() && narrow.hi() <= wide.hi(), "{wide:?} lacks {narrow:?}");
            }
            // Farther from the source a fault never draws more, and a smallest one never beats a largest.
            prop_assert!(exact.smallest.lo() <= exact.largest.hi());
        }
        let (here, there) = (exact.board.three_phase.unwrap(), exact.circuits[0].currents.three_phase.unwrap());
        prop_assert!(there.largest.hi() <= here.largest.hi() && there.smallest.lo() <= here.smallest.lo());
    }

    /// For any angle of a measured loop the sum with a cable lies in the range.
    #[test]
    fn every_angle_of_the_source_is_in_the_range(ipf in 500.0..20_000.0_f64, length in 1.0..80.0_f64, angle in 0.0..1.57_f64) {
        let mut board = board("three-phase-8", SupplyPhases::Three);
        board.supply.ipf = Reading::unknown();
        board.supply.origin_ipf = r::<Amps>(ipf);
        supply_cable(&mut board, 25.0, length);
        let found = along(&board, &TABLES).calculated.three_phase.unwrap().largest;
        let size = 230.0 / ipf;
        let (re, im) = (size * libm::cos(angle) + 0.727e-3 * length, size * libm::sin(angle) + 0.08e-3 * length);
        let current = 230.0 / (re * re + im * im).sqrt();
        prop_assert!(found.lo().get() <= current * (1.0 + 1e-9) && current <= found.hi().get(), "{current} not in {found:?}");
    }

    /// More fault current never makes a pair selective that was not.
    #[test]
    fn more_fault_current_never_helps(
        up in prop::sample::select(vec![32.0, 40.0, 63.0, 80.0, 100.0]),
        down in prop::sample::select(vec![6.0, 10.0, 16.0, 32.0]),
        fuse_up in any::<bool>(),
        a in 20.0..20_000.0_f64,
        b in 20.0..20_000.0_f64,
    ) {
        let above = if fuse_up { fuse(up) } else { breaker(Curve::C, up) };
        let verdict = |current: f64| pair(above, breaker(Curve::C, down), up_to(current), None, None, &TABLES).unwrap().verdict;
        if verdict(a.max(b)) == Verdict::Holds {
            prop_assert_eq!(verdict(a.min(b)), Verdict::Holds);
        }
    }
}

/// Ratings beyond the tables are asked for, never guessed.
#[test]
fn ratings_beyond_the_tables_stay_open() {
    assert!(pair(fuse(101.0), breaker(Curve::B, 16.0), None, None, None, &TABLES).is_none());
    assert!(selectivity::band(breaker(Curve::B, 160.0), &TABLES).is_none());
    let board = with_upstream(DeviceKind::Fuse, None, 101.0, &Job { kind: LoadKind::Heating, ..Job::default() });
    let checks = check_board(&board, &TABLES);
    assert_eq!(find(&checks, "selectivity").verdict, Verdict::Undecided);
}
