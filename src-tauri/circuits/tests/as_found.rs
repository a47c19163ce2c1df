//! Boards as they are found: what is physically there is recorded, never refused, and becomes a finding.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{check_board, size_cable};
use common::{Job, add, board, f, find, r, tables};
use survey::{
    Amps, Board, Bond, CableId, Check, CircuitId, CpcForm, DeviceKind, EarthingSystem, Frequency, Ip, LoadKind,
    Material, Metres, Millimetres, Observation, ObservationId, OhmMetres, Ohms, Poles, Seen, Subject, SupplyPhases,
    TouchLimit, Verdict, YesNo, validate,
};
use uuid::Uuid;

fn see(board: &mut Board, number: u128, seen: Seen, about: String) {
    let one = Observation { seen: Some(seen), about, place: "lower left".to_owned(), ..Observation::default() };
    board.observations.insert(ObservationId(Uuid::from_u128(number)), one);
}

fn cable_of(board: &Board, circuit: CircuitId) -> CableId {
    board.circuits[&circuit].cable.unwrap()
}

fn on(checks: &[Check], rule: &str) -> Option<Verdict> {
    checks.iter().find(|check| check.rule == rule).map(|check| check.verdict)
}

/// The numbers written in an inequality.
fn numbers(check: &Check) -> Vec<f64> {
    check
        .inequality
        .words()
        .split(|letter: char| !(letter.is_ascii_digit() || letter == '.'))
        .filter_map(|one| one.parse().ok())
        .collect()
}

/// A ring of 2.5/1.5 mm² on 32 A, as BS 7671, 433.1.204 has it.
fn ring(length: f64) -> (Board, CircuitId) {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let job = Job { kind: LoadKind::Sockets, size: 2.5, cpc: 1.5, length, current: Some(26.0), ..Job::default() };
    let id = add(&mut board, 1, &job);
    board.circuits.get_mut(&id).unwrap().ring = f(YesNo::Yes);
    (board, id)
}

/// BS 7671, 433.1.204: a ring has 2.5 mm² at least, whatever else a thinner cable would hold.
#[test]
fn a_rings_cable_is_sized_as_a_rings() {
    let (board, id) = ring(40.0);
    let tried = size_cable(&board, id, &tables()).unwrap().tried;
    let thin: Vec<_> = tried.iter().filter(|one| one.size.get() < 2.5).collect();
    assert!(!thin.is_empty(), "{tried:?}");
    for one in thin {
        assert_eq!(one.verdict(), Verdict::Fails, "{one:?}");
        assert!(one.against.iter().any(|check| check.rule == "ring-cable"), "{one:?}");
    }
    let fits: Vec<_> = tried.iter().filter(|one| one.size.get() == 2.5).collect();
    assert!(fits.iter().all(|one| one.against.is_empty()) && !fits.is_empty(), "{fits:?}");
}

/// Two circuits on one neutral terminal, as BS 7671 526.2 has inspectors look for.
#[test]
fn two_circuits_on_one_terminal_are_recorded_and_found() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    add(&mut board, 1, &Job::default());
    let second = add(&mut board, 2, &Job { at: "1L2", ..Job::default() });
    board.circuits.get_mut(&second).unwrap().neutral_terminal = Some("1N1".to_owned());
    board.circuits.get_mut(&second).unwrap().earth_terminals = vec!["1E1".to_owned()];
    let refused: Vec<_> = validate::validate(&board).into_iter().filter(|one| one.path.contains("terminal")).collect();
    assert_eq!(refused, []);
    let checks = check_board(&board, &tables());
    let shared: Vec<_> = checks.iter().filter(|check| check.rule == "terminal-shared").collect();
    assert_eq!(shared.len(), 2, "{shared:?}");
    assert!(shared.iter().all(|check| check.verdict == Verdict::Undecided && !check.next.is_empty()), "{shared:?}");
    // A terminal that the enclosure has not cannot be: that stays refused.
    board.circuits.get_mut(&second).unwrap().neutral_terminal = Some("9N1".to_owned());
    assert!(validate::validate(&board).iter().any(|one| one.message.contains("no terminal 9N1")));
}

#[test]
fn a_circuit_nobody_traced_is_found() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let id = add(&mut board, 1, &Job::default());
    assert!(check_board(&board, &tables()).iter().all(|check| check.rule != "untraced"));
    board.circuits.get_mut(&id).unwrap().description.clear();
    assert_eq!(find(&check_board(&board, &tables()), "untraced").verdict, Verdict::Undecided);
}

/// Everything that may be seen becomes a finding that says where, what it does and what to do, on its circuit; put
/// right, it is gone. None is refused.
#[test]
fn all_that_is_seen_becomes_a_finding_until_put_right() {
    for (index, seen) in Seen::ALL.iter().enumerate() {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        let id = add(&mut board, 1, &Job::default());
        let number = 500 + index as u128;
        see(&mut board, number, *seen, format!("/circuits/{id}"));
        assert_eq!(validate::validate(&board), [], "{seen:?}");
        let checks = check_board(&board, &tables());
        let found = find(&checks, "seen");
        assert_ne!(found.verdict, Verdict::Holds, "{seen:?}");
        assert_eq!(found.subject, Subject::Circuit(id));
        assert!(found.sentence.contains(&seen.words().words()) && found.sentence.contains("lower left"), "{found:?}");
        assert!(
            found.clause.contains("60364") || found.clause.contains("7671") || found.clause.contains("61439"),
            "{found:?}"
        );
        assert_eq!(found.next.is_empty(), found.verdict != Verdict::Undecided, "{found:?}");
        board.observations.get_mut(&ObservationId(Uuid::from_u128(number))).unwrap().put_right = true;
        assert_eq!(on(&check_board(&board, &tables()), "seen"), None);
    }
    // About nothing in particular it is the board's.
    let mut board = board("three-phase-4", SupplyPhases::Three);
    see(&mut board, 1, Seen::MissingBlank, String::new());
    let checks = check_board(&board, &tables());
    assert_eq!((find(&checks, "seen").subject, find(&checks, "seen").verdict), (Subject::Board, Verdict::Fails));
}

/// BS 7671, 433.1.204: 32 A stands over 2.5 mm² of a ring that carries 20 A as it lies, where a radial of 27 A fails.
#[test]
fn a_ring_is_judged_as_a_ring() {
    let (mut board, id) = ring(40.0);
    let checks = check_board(&board, &tables());
    assert_eq!((on(&checks, "cable-current"), on(&checks, "overload-trip")), (None, None));
    assert_eq!(on(&checks, "ring-cable"), Some(Verdict::Holds), "{checks:#?}");
    assert_eq!(on(&checks, "ring-ends"), Some(Verdict::Undecided));
    // Five circuits in one bunch: 27 A × 0.60 (IEC 60364-5-52 table B.52.17) = 16.2 A, less than 20 A.
    let cable = cable_of(&board, id);
    board.cables.get_mut(&cable).unwrap().grouped = f(5);
    assert_eq!(on(&check_board(&board, &tables()), "ring-cable"), Some(Verdict::Fails));
    // Three of them carry next to nothing (523.5): 27 A × 0.80 = 21.6 A.
    board.cables.get_mut(&cable).unwrap().grouped_light = f(3);
    assert_eq!(on(&check_board(&board, &tables()), "ring-cable"), Some(Verdict::Holds));
    board.cables.get_mut(&cable).unwrap().cpc_size = r(1.0);
    assert_eq!(on(&check_board(&board, &tables()), "ring-cable"), Some(Verdict::Fails));
    board.circuits.get_mut(&id).unwrap().ring = f(YesNo::No);
    assert_eq!(on(&check_board(&board, &tables()), "cable-current"), Some(Verdict::Fails));
    // Nobody looked: neither held nor failed, and the looking is what to do.
    board.circuits.get_mut(&id).unwrap().ring = survey::Fact::default();
    let checks = check_board(&board, &tables());
    let cable = find(&checks, "cable-current");
    assert_eq!(cable.verdict, Verdict::Undecided);
    assert!(cable.next.iter().any(|next| next.path.ends_with("/ring")), "{cable:?}");
}

/// (r1 + r2)/4 at the far point: 2.5/1.5 mm² has 7.41 + 12.10 mΩ/m at 20 °C (IEC 60228; the on-site tables of BS 7671),
/// 1.20 times as much at 70 °C. 120 m: as a radial 2.8 Ω, as a ring 0.70 Ω, with Ze 0.2 Ω against 0.95·230/160 = 1.37 Ω.
#[test]
fn the_loop_of_a_ring_is_a_quarter() {
    let (mut board, id) = ring(120.0);
    let checks = check_board(&board, &tables());
    let found = find(&checks, "fault-loop");
    assert_eq!(found.verdict, Verdict::Holds, "{found:?}");
    let expected = 0.2 + 0.01951 * 1.197 * 120.0 / 4.0;
    assert!((numbers(found)[0] - expected).abs() < 0.01, "{found:?}, {expected}");
    board.circuits.get_mut(&id).unwrap().ring = survey::Fact::default();
    assert_eq!(on(&check_board(&board, &tables()), "fault-loop"), Some(Verdict::Undecided));
    board.circuits.get_mut(&id).unwrap().ring = f(YesNo::No);
    assert_eq!(on(&check_board(&board, &tables()), "fault-loop"), Some(Verdict::Fails));
    // 26 A over 60 m: at most all of it at the far point, 26·15·2·7.41 mΩ/m warm; 18 mV/A/m by BS 7671 table 4D1B.
    let (board, _) = ring(60.0);
    let checks = check_board(&board, &tables());
    let drop = find(&checks, "volt-drop");
    let found = numbers(drop);
    // 2 % are left to the supply cable.
    let most = 2.0 + 26.0 * 15.0 * 0.018 / 230.0 * 100.0;
    assert!(found.iter().any(|one| *one <= most * 1.005 && *one > most * 0.95), "{drop:?}, {most}");
}

/// Ends of a ring: an open one is a radial at once (BS 7671, 643.2.1), unlike ones are looked into.
#[test]
fn the_ends_of_a_ring_are_held_against_each_other() {
    let (mut board, id) = ring(40.0);
    let set = |board: &mut Board, r1: f64, rn: f64, r2: f64| {
        let tests = &mut board.circuits.get_mut(&id).unwrap().tests;
        (tests.ring_line, tests.ring_neutral, tests.ring_cpc) = (r::<Ohms>(r1), r::<Ohms>(rn), r::<Ohms>(r2));
    };
    set(&mut board, 0.30, 0.31, 0.49);
    let checks = check_board(&board, &tables());
    assert_eq!(on(&checks, "ring-ends"), Some(Verdict::Holds));
    // R1+R2 = (0.30 + 0.49)/4, warm 1.197 times as much; reactance adds a few thousandths.
    let found = find(&checks, "fault-loop");
    assert!((numbers(found)[0] - (0.2 + 0.79 / 4.0 * 1.197)).abs() < 0.01, "{found:?}");
    set(&mut board, 0.30, 0.42, 0.49);
    assert_eq!(on(&check_board(&board, &tables()), "ring-ends"), Some(Verdict::Undecided));
    set(&mut board, 0.30, 5e8, 0.49);
    assert_eq!(validate::validate(&board), []);
    let checks = check_board(&board, &tables());
    assert_eq!((on(&checks, "ring-ends"), on(&checks, "cable-current")), (Some(Verdict::Fails), Some(Verdict::Fails)));
    // Seen interrupted, it is one as well.
    set(&mut board, 0.30, 0.31, 0.49);
    see(&mut board, 9, Seen::InterruptedRing, format!("/circuits/{id}"));
    let checks = check_board(&board, &tables());
    assert_eq!((on(&checks, "seen"), on(&checks, "cable-current")), (Some(Verdict::Fails), Some(Verdict::Fails)));
}

/// IEC 60364-4-43, 434.5.1: a device of less capacity is allowed behind one that backs it up.
#[test]
fn a_device_may_be_backed_up() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    add(&mut board, 1, &Job::default());
    board.supply.ipf = r::<Amps>(9000.0);
    board.supply.upstream_kind = f(DeviceKind::Fuse);
    let with = |board: &mut Board, upto: Option<f64>| {
        let device = board.devices.values_mut().next().unwrap();
        device.backed_up = upto.map_or_else(survey::Reading::unknown, r::<Amps>);
        on(&check_board(board, &tables()), "breaking-capacity")
    };
    assert_eq!(with(&mut board, None), Some(Verdict::Undecided));
    assert_eq!(with(&mut board, Some(10_000.0)), Some(Verdict::Holds));
    assert_eq!(with(&mut board, Some(8000.0)), Some(Verdict::Fails));
    // A table pairs two devices: nobody read which the other is.
    board.supply.upstream_kind = survey::Fact::default();
    assert_eq!(with(&mut board, Some(10_000.0)), Some(Verdict::Undecided));
    // A switch upstream backs up nothing.
    board.supply.upstream_kind = f(DeviceKind::Isolator);
    assert_eq!(with(&mut board, None), Some(Verdict::Fails));
}

/// The enclosure: IEC 60364-4-41, 411.3.1.1 and A.2.1; IEC 61439-1, 8.8.
#[test]
fn the_enclosure_against_touch() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    assert_eq!(on(&check_board(&board, &tables()), "enclosure-bonded"), None);
    board.housing.case_bond = f(Bond::Bonded);
    let checks = check_board(&board, &tables());
    for rule in ["enclosure-bonded", "incoming-earth", "touch-closed", "touch-open"] {
        assert_eq!(on(&checks, rule), Some(Verdict::Undecided), "{rule}");
    }
    let housing = &mut board.housing;
    housing.door_bond = f(Bond::NotBonded);
    housing.plates_bond = f(Bond::NoMetal);
    housing.incoming_earth = f(YesNo::No);
    housing.ip_closed = f(Ip::Ip10);
    housing.barriers = f(YesNo::No);
    housing.live_uncovered = "incoming terminals, busbar ends".to_owned();
    let checks = check_board(&board, &tables());
    for rule in ["enclosure-bonded", "incoming-earth", "touch-closed"] {
        assert_eq!(on(&checks, rule), Some(Verdict::Fails), "{rule}");
    }
    assert!(find(&checks, "enclosure-bonded").sentence.contains("door"));
    let open = find(&checks, "touch-open");
    assert_eq!(open.verdict, Verdict::Advised);
    assert!(open.sentence.contains("busbar ends") && open.sentence.contains("prove dead"), "{open:?}");
    let housing = &mut board.housing;
    housing.door_bond = f(Bond::Bonded);
    housing.incoming_earth = f(YesNo::Yes);
    housing.ip_closed = f(Ip::Ip43);
    (housing.barriers, housing.shrouds) = (f(YesNo::Yes), f(YesNo::Yes));
    let checks = check_board(&board, &tables());
    for rule in ["enclosure-bonded", "incoming-earth", "touch-closed", "touch-open"] {
        assert_eq!(on(&checks, rule), Some(Verdict::Holds), "{rule}");
    }
}

/// A rod of 1.2 m and 16 mm in ground of 100 Ω·m: 100/(2π·1.2)·(ln(8·1.2/0.016) − 1) = 71.6 Ω (BS 7430, single rod). With
/// 0.3 A: 21.5 V, within 50 V; with 25 V asked for and a 500 mA RCD: 35.8 V, too much.
#[test]
fn an_electrode_from_its_rod_and_the_touch_voltage_asked_for() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let job = Job { device: DeviceKind::Rcbo, ..Job::default() };
    add(&mut board, 1, &job);
    let supply = &mut board.supply;
    supply.system = f(EarthingSystem::Tt);
    supply.electrode_length = r::<Metres>(1.2);
    supply.electrode_diameter = r::<Millimetres>(16.0);
    supply.electrode_ground = r::<OhmMetres>(100.0);
    let with = |board: &mut Board, residual: f64| {
        board.devices.values_mut().next().unwrap().residual = r::<Amps>(residual);
        let checks = check_board(board, &tables());
        let found = find(&checks, "touch-voltage");
        (found.verdict, numbers(found)[0])
    };
    let (verdict, volts) = with(&mut board, 0.3);
    assert_eq!(verdict, Verdict::Holds);
    assert!((volts - 21.47).abs() < 0.05, "{volts}");
    assert_eq!(with(&mut board, 0.5).0, Verdict::Holds);
    board.supply.touch_limit = f(TouchLimit::TwentyFive);
    assert_eq!(with(&mut board, 0.5).0, Verdict::Fails);
    assert_eq!(with(&mut board, 0.3).0, Verdict::Holds);
}

/// A separate protective conductor of aluminium beside copper lines: 1.64 times the resistance (28.3/17.2 nΩ·m).
#[test]
fn a_protective_conductor_of_another_metal() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let id = add(&mut board, 1, &Job { size: 25.0, cpc: 16.0, length: 50.0, ..Job::default() });
    let cable = cable_of(&board, id);
    let loop_of = |board: &Board| numbers(find(&check_board(board, &tables()), "fault-loop"))[0];
    board.cables.get_mut(&cable).unwrap().cpc = f(CpcForm::Separate);
    let copper = loop_of(&board);
    board.cables.get_mut(&cable).unwrap().cpc_material = f(Material::Aluminium);
    let aluminium = loop_of(&board);
    // 16 mm²: copper 1.15, aluminium 1.91 Ω/km at 20 °C (IEC 60228), 50 m, warm.
    assert!((aluminium - copper - 0.050 * (1.91 - 1.15) * 1.2).abs() < 0.006, "{copper} {aluminium}");
}

/// Reactance in proportion to the frequency: a large cable drops more at 60 Hz, a load without reactive part the same.
#[test]
fn sixty_hertz() {
    let at = |frequency, factor| {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        let job = Job {
            poles: Poles::P3,
            size: 120.0,
            length: 300.0,
            current: Some(60.0),
            power_factor: factor,
            ..Job::default()
        };
        add(&mut board, 1, &job);
        board.supply.frequency = f(frequency);
        numbers(find(&check_board(&board, &tables()), "volt-drop"))[0]
    };
    assert!(at(Frequency::Hz60, 0.6) > at(Frequency::Hz50, 0.6));
    assert!((at(Frequency::Hz60, 1.0) - at(Frequency::Hz50, 1.0)).abs() < 1e-9);
}
