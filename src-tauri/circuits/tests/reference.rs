//! Results against published figures; the source stands beside each.
#![allow(clippy::unwrap_used)]

mod common;

use circuits::{TableTexts, Tables, check_board, design_current, phase_currents};
use common::{Job, add, board, f, find, limit_from, near, r, share_of_limit, tables};
use survey::{
    Amps, Curve, DeviceKind, EarthingSystem, Insulation, LoadKind, Material, Method, Ohms, Poles, Range, Ratio,
    SquareMillimetres, SupplyPhases, Verdict,
};

/// Rows of a CSV text without its comments, the header first.
fn rows(text: &str) -> Vec<Vec<&str>> {
    text.lines()
        .filter(|line| !line.starts_with('#') && !line.is_empty())
        .map(|line| line.split(',').collect())
        .collect()
}

fn method(text: &str) -> Option<Method> {
    Method::ALL.iter().copied().find(|method| method.key() == text)
}

/// IEC 60364-5-52 annex B: every cell that was also read on a public page, through the check.
#[test]
fn capacity_cells_come_out_as_published() {
    let tables = tables();
    let mut cells = 0;
    for row in &rows(TableTexts::shipped().ampacity)[1..] {
        let [_, material, insulation, loaded, laid, size, amps, _, checked] = row[..] else { panic!("{row:?}") };
        let Some(laid) = method(laid).filter(|_| checked == "read") else { continue };
        let mut board = board("three-phase-4", SupplyPhases::Three);
        let (size, amps): (f64, f64) = (size.parse().unwrap(), amps.parse().unwrap());
        add(
            &mut board,
            1,
            &Job {
                poles: if loaded == "3" { Poles::P3N } else { Poles::P1 },
                material: if material == "Cu" { Material::Copper } else { Material::Aluminium },
                insulation: if insulation == "PVC70" { Insulation::Pvc70 } else { Insulation::Xlpe90 },
                method: laid,
                ambient: if matches!(laid, Method::D1 | Method::D2) { 20.0 } else { 30.0 },
                size,
                rated: 10.0,
                ..Job::default()
            },
        );
        near(limit_from(find(&check_board(&board, &tables), "cable-current"), 10.0), amps, 1e-6);
        cells += 1;
    }
    assert!(cells >= 150, "{cells} cells");
    println!("{cells} cells");
}

/// IEC 60364-5-52 annex D, table D.52.1: I = a·S^m, within the rounding of the tables (the formula
/// file gives the largest deviation of each row). Every row of the formula meets some cells.
#[test]
fn capacity_follows_the_annex_d_formula() {
    let tables = tables();
    let shipped = TableTexts::shipped();
    let (capacities, formulas) = (rows(shipped.ampacity), rows(include_str!("reference/ampacity_formula.csv")));
    let mut cells = 0;
    for row in &formulas[1..] {
        let [_, _, material, insulation, loaded, laid, over, upto, a, m, deviation] = row[..] else {
            panic!("{row:?}")
        };
        let number = |text: &str| text.parse::<f64>().unwrap();
        let kind = if material == "Cu" { Material::Copper } else { Material::Aluminium };
        let around = if insulation == "PVC70" { Insulation::Pvc70 } else { Insulation::Xlpe90 };
        let before = cells;
        for cell in &capacities[1..] {
            let [_, metal, jacket, cores, way, size, amps, ..] = cell[..] else { panic!("{cell:?}") };
            if [metal, jacket, cores, way] != [material, insulation, loaded, laid] {
                continue;
            }
            let (size, amps) = (number(size), number(amps));
            if size <= number(over) || size > number(upto) {
                continue;
            }
            // The nominal 50 mm² is 47.5 mm² of copper: annex D says so.
            let real = if size == 50.0 { 47.5 } else { size };
            let formula = number(a) * libm::pow(real, number(m));
            let allowed = (formula * (number(deviation) + 0.1) / 100.0).max(0.5);
            near(amps, formula, allowed);
            // Three single cores in air may lie flat or in trefoil; apart (method G) they are not told.
            let of = |method| {
                let size = Range::point(SquareMillimetres::new(size));
                tables.capacity(kind, around, loaded.parse().unwrap(), method, size).unwrap()
            };
            let found = match laid {
                "F_trefoil" => of(Method::F).lo().get(),
                "F_flat" => of(Method::F).hi().get(),
                "G_horiz" | "G_vert" => amps,
                _ => of(method(laid).unwrap()).lo().get(),
            };
            near(found, amps, 1e-9);
            cells += 1;
        }
        assert!(cells > before, "no cell for {row:?}");
    }
    println!("{cells} cells");
    assert!(cells >= 400, "{cells} cells");
}

/// BS 7671 table 41.3 (breakers), Cmin 0.95, printed to two decimals.
#[test]
fn largest_loop_impedances_of_breakers() {
    let tables = tables();
    let mut cells = 0;
    for row in &rows(include_str!("reference/max_zs.csv"))[1..] {
        let [device, rated, final_time, other_time] = row[..] else { panic!("{row:?}") };
        let Some(curve) = Curve::ALL.iter().copied().find(|curve| curve.key() == device) else { continue };
        for (kind, published) in [(LoadKind::Lighting, final_time), (LoadKind::Distribution, other_time)] {
            let mut board = board("three-phase-4", SupplyPhases::Three);
            let id = add(&mut board, 1, &Job { curve, rated: rated.parse().unwrap(), kind, ..Job::default() });
            board.circuits.get_mut(&id).unwrap().tests.zs = r::<Ohms>(0.1);
            let checks = check_board(&board, &tables);
            let rated: f64 = rated.parse().unwrap();
            // In 5 s a type D may open more slowly: the row here holds the current of 0.4 s, and notes that the standard
            // allows the curve's. Test d of IEC 60898-1: 10 In within 4 s, above 32 A within 8 s (from memory), which
            // proves nothing of 5 s.
            if curve == Curve::D && (kind == LoadKind::Distribution || rated > 32.0) {
                let margin = find(&checks, "fault-loop-measured").margin.unwrap();
                let [surely, may] = margin.map(|one| 0.1 / (1.0 - one) / 0.8);
                let multiple = if rated <= 32.0 { 10.0 } else { 20.0 };
                near(may, 0.95 * 230.0 / (10.0 * rated), 1e-9);
                near(surely, 0.95 * 230.0 / (multiple * rated), 1e-9);
                cells += 1;
                continue;
            }
            let limit = limit_from(find(&checks, "fault-loop-measured"), 0.1) / 0.8;
            // The table rounds, and at times down: 0.687 is printed as 0.68.
            near(limit, published.parse().unwrap(), 0.0105);
            cells += 1;
        }
    }
    assert!(cells >= 80, "{cells} cells");
}

/// BS 7671 tables 41.2 and 41.4 (gG fuses, from memory): what is printed there holds. The gates of IEC 60269-1 ask for
/// less than that, but not for less than 0.4 of it (a fuse of 2 A).
#[test]
fn largest_loop_impedances_of_fuses() {
    let tables = tables();
    let mut cells = 0;
    for row in &rows(include_str!("reference/max_zs.csv"))[1..] {
        let ["gG", rated, final_time, other_time] = row[..] else { continue };
        let rated: f64 = rated.parse().unwrap();
        for (kind, published) in [(LoadKind::Sockets, final_time), (LoadKind::Distribution, other_time)] {
            let Ok(published) = published.parse::<f64>() else { continue };
            let of = |tables: &Tables| {
                let mut board = board("three-phase-4", SupplyPhases::Three);
                let id = add(&mut board, 1, &Job { device: DeviceKind::Fuse, rated, kind, ..Job::default() });
                board.circuits.get_mut(&id).unwrap().tests.zs = r::<Ohms>(0.1);
                let margin = find(&check_board(&board, tables), "fault-loop-measured").margin.unwrap();
                margin.map(|one| 0.1 / (1.0 - one) / 0.8)
            };
            for one in of(&tables) {
                near(one, published, 1e-6);
            }
            // Without the printed figures: surely by the gates, and never surely not at what is printed.
            let texts = TableTexts { fuse_loop: "in_a,zs_0_4s,zs_5s,checked\n1,1,1,memory", ..TableTexts::shipped() };
            let [surely, may] = of(&Tables::parse(&texts).unwrap());
            assert!(surely <= published * 1.001 && surely >= published * 0.39, "gG {rated} A: {surely}, {published}");
            assert!(may >= published * 0.999, "gG {rated} A: {may}, {published}");
            cells += 1;
        }
    }
    assert_eq!(cells, 27);
}

/// Published worked example to BS 7671, read in a public page: 5 kW at 230 V, 25 A type B, PVC
/// method C, 35 °C (0.94), two circuits bunched (0.80).
#[test]
fn water_heater() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let job = Job {
        rated: 25.0,
        power: 5000.0,
        size: 10.0,
        ambient: 35.0,
        grouped: 2,
        length: 18.0,
        kind: LoadKind::Heating,
        ..Job::default()
    };
    let id = add(&mut board, 1, &job);
    let ib = design_current(&board, id, &tables()).unwrap();
    near(ib.lo().get(), 21.74, 0.005);
    let checks = check_board(&board, &tables());
    // 10 mm² carries 63 A in table B.52.2 method C.
    near(limit_from(find(&checks, "cable-current"), 25.0), 63.0 * 0.94 * 0.80, 1e-6);
    // At 4.4 mV/A/m, the tabulated drop at 70 °C, the page gives 1.72 V; at the conductor's own
    // lower temperature it is less, though not as little as cold (20 °C).
    let [_, best] = find(&checks, "volt-drop").margin.unwrap();
    let volts = (1.0 - best) * 0.05 * 230.0;
    assert!(volts < 1.72 && volts > 1.72 / 1.1965, "{volts}");
}

/// Published worked example, read in a public page: Ze 0.15 Ω, 30 m of 6 mm² with 2.5 mm², factor 1.2 → 0.5276 Ω
/// against 1.37 Ω. IEC 60287's 0.00393/K gives 1.1965 in place of the rounded 1.2.
#[test]
fn loop_of_a_shower_circuit() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    board.supply.ze = r::<Ohms>(0.15);
    add(&mut board, 1, &Job { cpc: 2.5, length: 30.0, ..Job::default() });
    let checks = check_board(&board, &tables());
    let check = find(&checks, "fault-loop");
    assert_eq!(check.verdict, Verdict::Holds);
    near(share_of_limit(check) * 0.95 * 230.0 / 160.0, 0.5276, 0.002);
}

/// Neutral current at unity power factor: √(A²+B²+C²−AB−BC−CA), a published formula
/// with its derivation, read in a public page.
#[test]
fn neutral_at_unity_power_factor() {
    for (currents, expected) in [
        ([10.0, 8.0, 6.0], 3.464),
        ([100.0, 80.0, 60.0], 34.64),
        ([20.0, 20.0, 0.0], 20.0),
        ([20.0, 0.0, 0.0], 20.0),
        ([15.0, 15.0, 15.0], 0.0),
    ] {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        for (index, at) in ["1L1", "1L2", "1L3"].into_iter().enumerate() {
            add(&mut board, index as u128, &Job { at, current: Some(currents[index]), ..Job::default() });
        }
        common::sinusoidal(&mut board);
        let found = phase_currents(&board, &tables());
        near(found.neutral.hi().get(), expected, 0.005);
        assert!(found.neutral.width() < 1e-6);
        for (line, current) in found.lines.iter().zip(currents) {
            near(line.current.hi().get(), current, 1e-9);
        }
    }
}

/// Mixed power factors, lagging: 50 A at 0.707, 40 A at 0.866, 40 A at unity. Phasor sum worked by
/// hand: 50∠−45° + 40∠−150° + 40∠120° = (−19.27, −20.71) A.
#[test]
fn neutral_at_mixed_power_factors() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let half_root2 = std::f64::consts::FRAC_1_SQRT_2;
    for (index, (at, current, power_factor)) in
        [("1L1", 50.0, half_root2), ("1L2", 40.0, 0.75_f64.sqrt()), ("1L3", 40.0, 1.0)].into_iter().enumerate()
    {
        add(&mut board, index as u128, &Job { at, current: Some(current), power_factor, ..Job::default() });
    }
    let radians = |degrees: f64| degrees.to_radians();
    let loads = [(50.0, -45.0), (40.0, -150.0), (40.0, 120.0)];
    let re: f64 = loads.iter().map(|(size, angle)| size * libm::cos(radians(*angle))).sum();
    let im: f64 = loads.iter().map(|(size, angle)| size * libm::sin(radians(*angle))).sum();
    common::sinusoidal(&mut board);
    let found = phase_currents(&board, &tables());
    near(found.neutral.hi().get(), libm::hypot(re, im), 1e-6);
}

/// A load between two lines draws from both and nothing from the neutral: 20 A at unity between
/// L1 and L2 with 20 A from L1 to neutral gives |20 + 20∠30°| = 38.64 A in L1.
#[test]
fn a_load_between_two_lines() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    add(&mut board, 1, &Job { at: "1L1", poles: Poles::P2, current: Some(20.0), ..Job::default() });
    add(&mut board, 2, &Job { at: "2L1", current: Some(20.0), ..Job::default() });
    common::sinusoidal(&mut board);
    let found = phase_currents(&board, &tables());
    near(found.lines[0].current.hi().get(), 20.0 * (2.0 + 3.0_f64.sqrt()).sqrt(), 1e-6);
    near(found.lines[1].current.hi().get(), 20.0, 1e-6);
    near(found.neutral.hi().get(), 20.0, 1e-6);
}

/// On a phase-linked single-phase supply every load is on the one line and the neutral carries all.
#[test]
fn a_phase_link_puts_all_on_one_line() {
    let mut board = board("three-phase-6", SupplyPhases::Single);
    for (index, at) in ["1L1", "1L2", "1L3"].into_iter().enumerate() {
        add(&mut board, index as u128, &Job { at, current: Some(10.0), ..Job::default() });
    }
    let found = phase_currents(&board, &tables());
    assert_eq!(found.lines.len(), 1);
    near(found.lines[0].current.hi().get(), 30.0, 1e-9);
    near(found.neutral.hi().get(), 30.0, 1e-9);
    assert_eq!(found.unbalance, None);
}

/// Unbalance of 30, 20, 10 A: the mean is 20 A, the largest deviation 10 A, 50 %.
#[test]
fn unbalance_is_the_largest_deviation_over_the_mean() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    for (index, (at, current)) in [("1L1", 30.0), ("1L2", 20.0), ("1L3", 10.0)].into_iter().enumerate() {
        add(&mut board, index as u128, &Job { at, current: Some(current), ..Job::default() });
    }
    let [lo, hi] = phase_currents(&board, &tables()).unbalance.unwrap();
    near(lo, 50.0, 1e-9);
    near(hi, 50.0, 1e-9);
}

/// IEC 60364-5-52 annex G formula: three-phase copper 16 mm², 40 m, 50 A, cos φ 0.8 → 2.346 V,
/// 1.02 % of 230 V, with ρ1 = 1.25 ρ20. IEC 60228's resistance at 70 °C gives the same within 2 %.
#[test]
fn volt_drop_by_annex_g() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    // Loaded to its rating the conductor is at its limit temperature: 16 mm² by A2 carries 52 A;
    // 50 A with an ambient factor that leaves exactly that.
    let job = Job {
        poles: Poles::P3N,
        size: 16.0,
        cpc: 16.0,
        length: 40.0,
        current: Some(52.0),
        power_factor: 0.8,
        method: Method::A2,
        rated: 63.0,
        ..Job::default()
    };
    add(&mut board, 1, &job);
    let checks = check_board(&board, &tables());
    let check = find(&checks, "volt-drop");
    // The drop before the board is taken as 0 to 2 %: the smallest margin carries the 2 %.
    let [worst, best] = check.margin.unwrap();
    near((1.0 - best) * 5.0, 1.02 * 52.0 / 50.0, 0.03);
    near(best - worst, 2.0 / 5.0, 1e-6);
}

/// TT: RA·IΔn ≤ 50 V, IEC 60364-4-41, 411.5.3: 30 mA allows 1667 Ω, 300 mA 167 Ω.
#[test]
fn earth_electrode_with_an_rcd() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    board.supply.system = f(EarthingSystem::Tt);
    board.supply.ze = r::<Ohms>(166.0);
    let id = add(&mut board, 1, &Job { device: DeviceKind::Rcbo, length: 0.0, ..Job::default() });
    let device = board.circuits[&id].device.unwrap();
    let checks = check_board(&board, &tables());
    near(limit_from(find(&checks, "fault-loop"), 166.0), 50.0 / 0.03, 0.01);
    board.devices.get_mut(&device).unwrap().residual = r::<Amps>(0.3);
    let checks = check_board(&board, &tables());
    near(limit_from(find(&checks, "fault-loop"), 166.0), 50.0 / 0.3, 0.01);
    assert_eq!(find(&checks, "fault-loop").verdict, Verdict::Holds);
    // Without the RCD the breaker alone can not open on so small a current.
    board.devices.get_mut(&device).unwrap().kind = Some(DeviceKind::CircuitBreaker);
    assert_eq!(find(&check_board(&board, &tables()), "fault-loop").verdict, Verdict::Fails);
}

/// IEC 60898-1: I2 = 1.45 In for a breaker, so I2 ≤ 1.45 Iz wherever In ≤ Iz; IEC 60269-1: 1.6 In
/// for a gG fuse from 16 A, which needs In ≤ 0.906 Iz.
#[test]
fn a_fuse_needs_more_cable_than_a_breaker() {
    // 4 mm² by B1 carries 32 A in table B.52.2.
    for (device, verdict) in [(DeviceKind::CircuitBreaker, Verdict::Holds), (DeviceKind::Fuse, Verdict::Fails)] {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        add(&mut board, 1, &Job { device, size: 4.0, method: Method::B1, rated: 32.0, ..Job::default() });
        let checks = check_board(&board, &tables());
        assert_eq!(find(&checks, "cable-current").verdict, Verdict::Holds);
        assert_eq!(find(&checks, "overload-trip").verdict, verdict);
    }
}

/// BS 7671 regulation 433.1.202 (from memory): a rewirable fuse needs In ≤ 0.725 Iz.
#[test]
fn a_rewirable_fuse_needs_still_more() {
    // By B1 in table B.52.2: 4 mm² carries 32 A, 6 mm² 41 A, 10 mm² 57 A; 30/0.725 = 41.4 A.
    for (size, verdict) in [(4.0, Verdict::Fails), (6.0, Verdict::Fails), (10.0, Verdict::Holds)] {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        let device = DeviceKind::RewirableFuse;
        add(&mut board, 1, &Job { device, size, method: Method::B1, rated: 30.0, ..Job::default() });
        let checks = check_board(&board, &tables());
        assert_eq!(find(&checks, "cable-current").verdict, Verdict::Holds, "{size}");
        assert_eq!(find(&checks, "overload-trip").verdict, verdict, "{size}");
        // When it opens on a fault no table says: open, but not as if it never opened.
        for rule in ["fault-loop", "line-energy", "cpc-energy", "short-circuit-trip"] {
            let check = find(&checks, rule);
            assert_eq!(check.verdict, Verdict::Undecided, "{size}");
            assert!(!check.sentence.contains("on no overcurrent") && !check.clause.contains("breaker"), "{check:?}");
        }
    }
}

/// Demand, efficiency and power factor: a 7.5 kW motor (shaft), η 0.88, cos φ 0.83 on 230/400 V
/// draws 7500/(3·230·0.83·0.88) = 14.88 A (from the definition of the quantities).
#[test]
fn a_motor_by_its_shaft_power() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let id = add(&mut board, 1, &Job { poles: Poles::P3, power: 7500.0, power_factor: 0.83, ..Job::default() });
    board.circuits.get_mut(&id).unwrap().load.efficiency = r::<Ratio>(0.88);
    near(design_current(&board, id, &tables()).unwrap().hi().get(), 14.88, 0.005);
    board.circuits.get_mut(&id).unwrap().load.demand = r::<Ratio>(0.5);
    near(design_current(&board, id, &tables()).unwrap().hi().get(), 7.44, 0.005);
}

/// A size from before metrication lies between two table rows: 2.9 mm² carries between the 27 A
/// of 2.5 mm² and the 36 A of 4 mm² (table B.52.2, method C).
#[test]
fn a_size_between_rows_takes_both() {
    let range = tables()
        .capacity(Material::Copper, Insulation::Pvc70, 2, Method::C, Range::point(SquareMillimetres::new(2.9)))
        .unwrap();
    assert_eq!((range.lo(), range.hi()), (Amps::new(27.0), Amps::new(36.0)));
}

/// Adiabatic factors k read in IEC 60364-4-43 table 43A and IEC 60364-5-54 A.54.2 to A.54.5, by the
/// closed form of A.54.1 (IEC 60949): k = K·√(ln((β+θf)/(β+θi))), copper K 226, β 234.5; aluminium
/// 148, 228; steel 78, 202.
#[test]
fn adiabatic_factors_follow_their_formula() {
    let mut cells = 0;
    for row in &rows(TableTexts::shipped().k_factor)[1..] {
        let [_, used_as, material, insulation, over, _, k, ..] = row[..] else { panic!("{row:?}") };
        let (constant, beta) = match material {
            "Cu" => (226.0, 234.5),
            "Al" => (148.0, 228.0),
            _ => (78.0, 202.0),
        };
        let pvc = insulation == "PVC70";
        let first: f64 = match used_as {
            "separate" => 30.0,
            "armour" => {
                if pvc {
                    60.0
                } else {
                    80.0
                }
            }
            "conduit" => {
                if pvc {
                    50.0
                } else {
                    60.0
                }
            }
            _ => {
                if pvc {
                    70.0
                } else {
                    90.0
                }
            }
        };
        let last = match (used_as, pvc, over) {
            ("armour", _, _) => 200.0,
            (_, false, _) => 250.0,
            (_, true, "300") => 140.0,
            (_, true, _) => 160.0,
        };
        let formula = constant * libm::sqrt(libm::log((beta + last) / (beta + first)));
        near(k.parse().unwrap(), formula, 1.0);
        cells += 1;
    }
    assert!(cells >= 25, "{cells}");
}

/// EN 60898-1 annex ZA class 3 (from memory): B16, 6 kA lets at most 35 000 A²s through; with k = 115
/// that needs 1.63 mm². It is a ceiling: it proves 2.5 mm² and leaves 1.5 mm² to the device's data.
/// IEC 60364-5-54 table 54.2 lets 1.5 mm² go with 1.5 mm², but of a line that bears the fault itself (543.1.1 there):
/// where that is open, so is this. A 16 A gG fuse melts within 0.1 s at 150 A (gate of IEC 60269-1): 150²·0.1/115² asks
/// for 0.41 mm² where the far end draws more than that.
#[test]
fn let_through_energy_sets_the_conductor() {
    let needs = |device: DeviceKind, size: f64, cpc: f64| {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        let kind = LoadKind::Distribution;
        add(&mut board, 1, &Job { device, kind, rated: 16.0, size, cpc, power: 2000.0, ..Job::default() });
        let checks = check_board(&board, &tables());
        (find(&checks, "line-energy").clone(), find(&checks, "cpc-energy").clone())
    };
    let breaker = |size, cpc| needs(DeviceKind::CircuitBreaker, size, cpc);
    let (line, _) = breaker(2.5, 1.5);
    assert_eq!(line.verdict, Verdict::Holds);
    near((1.0 - line.margin.unwrap()[0]) * 2.5, 35_000.0_f64.sqrt() / 115.0, 1e-6);
    assert_eq!(breaker(1.5, 1.5).0.verdict, Verdict::Undecided);
    assert!(breaker(1.5, 1.5).0.sentence.contains("1.63"), "{}", breaker(1.5, 1.5).0.sentence);
    assert_eq!(breaker(1.5, 1.5).1.verdict, Verdict::Undecided);
    assert_eq!(breaker(2.5, 2.5).1.verdict, Verdict::Holds);
    assert_eq!(breaker(2.5, 1.5).1.verdict, Verdict::Undecided);
    let (line, cpc) = needs(DeviceKind::Fuse, 1.5, 1.0);
    near(share_of_limit(&line) * 1.5, (150.0_f64 * 150.0 * 0.1).sqrt() / 115.0, 1e-6);
    assert_eq!((line.verdict, cpc.verdict), (Verdict::Holds, Verdict::Holds));
}

/// Published worked example to BS 7671, read in a public page, without its insulation factor: 25 A,
/// 0.94 · 0.80 asks for 33.2 A in the table: 4 mm² (36 A, method C) is the smallest; 2.5 mm² has 27 A.
#[test]
fn the_smallest_cable_and_why_not_a_smaller_one() {
    let mut board = board("three-phase-4", SupplyPhases::Three);
    let job = Job {
        rated: 25.0,
        power: 5000.0,
        size: 16.0,
        ambient: 35.0,
        grouped: 2,
        length: 18.0,
        kind: LoadKind::Heating,
        ..Job::default()
    };
    let id = add(&mut board, 1, &job);
    let sizing = circuits::size_cable(&board, id, &tables()).unwrap();
    assert_eq!(sizing.chosen, Some(SquareMillimetres::new(4.0)));
    let last_refused = &sizing.tried[sizing.tried.len() - 2];
    assert_eq!(last_refused.size, SquareMillimetres::new(2.5));
    assert!(last_refused.against.iter().any(|check| check.rule == "cable-current"), "{last_refused:?}");
    let circuit = board.circuits.get_mut(&id).unwrap();
    let cable = circuit.cable.unwrap();
    board.cables.get_mut(&cable).unwrap().method = Default::default();
    assert!(circuits::size_cable(&board, id, &tables()).is_err());
}

/// IEC 60364-4-41, 411.3.3: socket-outlets up to 32 A need an RCD of 30 mA.
#[test]
fn socket_outlets_need_an_rcd() {
    for (device, residual, verdict) in [
        (DeviceKind::CircuitBreaker, 0.03, Verdict::Fails),
        (DeviceKind::Rcbo, 0.03, Verdict::Holds),
        (DeviceKind::Rcbo, 0.1, Verdict::Fails),
    ] {
        let mut board = board("three-phase-4", SupplyPhases::Three);
        let id = add(&mut board, 1, &Job { device, kind: LoadKind::Sockets, ..Job::default() });
        let device = board.circuits[&id].device.unwrap();
        board.devices.get_mut(&device).unwrap().residual = r::<Amps>(residual);
        assert_eq!(find(&check_board(&board, &tables()), "socket-rcd").verdict, verdict);
    }
}
