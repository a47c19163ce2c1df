//! Full boards as a survey leaves them: a mix of loads, devices and cables, some of it not known.

use super::{Job, add, board, f, measured, r};
use survey::{
    Amps, Arrangement, Board, Celsius, Construction, CpcForm, Curve, DeviceKind, EarthingSystem, Insulation, LoadKind,
    Material, Method, Metres, Ohms, Quantity, Ratio, Reading, SquareMillimetres, SupplyPhases, Volts,
};

/// Numbers that look random and are the same in every run (a linear congruence, Knuth's MMIX
/// constants, and a shift to use its better digits).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        dice.below(2);
        dice
    }
    pub fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % end as u64) as usize
    }
    /// True this often in a hundred.
    pub fn percent(&mut self, share: usize) -> bool {
        self.below(100) < share
    }
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len())]
    }
    pub fn between(&mut self, lo: f64, hi: f64) -> f64 {
        lo + (hi - lo) * (self.below(10_000) as f64 / 10_000.0)
    }
}

fn blur<Q: Quantity>(dice: &mut Dice, reading: &mut Reading<Q>, unknown: usize, range: usize) {
    if dice.percent(unknown) {
        *reading = Reading::unknown();
    } else if let Some(value) = reading.single().filter(|_| dice.percent(range)) {
        let (lo, hi) = (value.get() * dice.between(0.8, 1.0), value.get() * dice.between(1.0, 1.2));
        *reading = Reading::between(Q::of(lo), Q::of(hi), measured());
    }
}

/// Share of fields in a hundred that are not known, about what an existing board's first visit leaves.
pub const USUAL: usize = 25;

/// A board of 24 three-phase ways with a single-phase circuit on each of its 72 poles.
pub fn mixed(seed: u64, unknown: usize) -> Board {
    let mut dice = Dice::new(seed);
    let mut full = board("three-phase-24", SupplyPhases::Three);
    let poles: Vec<_> = full.enclosure.get().unwrap().poles().collect();
    for (number, at) in poles.into_iter().enumerate() {
        let kind = dice.pick(&LoadKind::ALL[..6]);
        let rated = dice.pick(&[6.0, 10.0, 16.0, 20.0, 25.0, 32.0]);
        let size = dice.pick(&[1.5, 2.5, 2.5, 4.0, 6.0, 10.0]);
        let job = Job {
            kind,
            device: if kind == LoadKind::Sockets || dice.percent(20) {
                DeviceKind::Rcbo
            } else if dice.percent(5) {
                DeviceKind::Fuse
            } else {
                DeviceKind::CircuitBreaker
            },
            rated,
            curve: dice.pick(Curve::ALL),
            power: dice.between(100.0, 230.0 * rated).round(),
            power_factor: dice.between(0.7, 1.0),
            size,
            cpc: size,
            method: dice.pick(Method::ALL),
            insulation: dice.pick(Insulation::ALL),
            length: dice.between(3.0, 60.0).round(),
            ambient: dice.between(20.0, 40.0).round(),
            grouped: 1 + dice.below(6) as u8,
            ..Job::default()
        };
        let id = add(&mut full, number as u128 + 1, &job);
        let few = unknown / 3;
        let circuit = full.circuits.get_mut(&id).unwrap();
        circuit.number = format!("{at}");
        blur(&mut dice, &mut circuit.load.power, few, 10);
        blur(&mut dice, &mut circuit.load.power_factor, 2 * unknown, 0);
        if dice.percent(few) {
            circuit.kind = None;
        }
        if dice.percent(20) {
            circuit.tests.zs = r::<Ohms>(dice.between(0.3, 1.5));
        }
        if dice.percent(10) {
            circuit.tests.r1_r2 = r::<Ohms>(dice.between(0.05, 0.8));
        }
        let device = full.devices.get_mut(&circuit.device.unwrap()).unwrap();
        device.at = Some(at);
        blur(&mut dice, &mut device.breaking, unknown, 0);
        if dice.percent(few) {
            device.curve = Default::default();
        }
        let cable = full.cables.get_mut(&circuit.cable.unwrap()).unwrap();
        blur(&mut dice, &mut cable.ambient, 2 * unknown, 20);
        blur(&mut dice, &mut cable.length, unknown, 30);
        blur(&mut dice, &mut cable.size, few, 0);
        blur(&mut dice, &mut cable.cpc_size, few, 0);
        if dice.percent(unknown) {
            cable.grouped = Default::default();
        }
        if dice.percent(few) {
            cable.method = Default::default();
        }
        if dice.percent(unknown) {
            cable.insulation = Default::default();
        }
        if dice.percent(few / 2) {
            cable.material = Default::default();
        }
        if dice.percent(few) {
            cable.construction = Default::default();
        }
        if dice.percent(15) {
            cable.construction = f(Construction::Armoured);
            cable.cpc = f(CpcForm::Armour);
        }
    }
    blur(&mut dice, &mut full.supply.voltage, few_of(unknown), 10);
    blur(&mut dice, &mut full.supply.ze, unknown, 30);
    blur(&mut dice, &mut full.supply.ipf, unknown, 30);
    if dice.percent(unknown) {
        full.supply.system = Default::default();
    } else {
        full.supply.system = f(dice.pick(&[EarthingSystem::TnS, EarthingSystem::TnCS, EarthingSystem::Tt]));
    }
    if dice.percent(30) {
        full.incomer.arrangement = f(Arrangement::FourPoleRcd);
        full.incomer.residual = r::<Amps>(0.3);
    }
    full
}

fn few_of(unknown: usize) -> usize {
    unknown / 3
}

/// The mixed boards of several seeds, one with everything known among them, and odd values in some.
pub fn many(count: u64) -> Vec<Board> {
    (0..count)
        .map(|seed| {
            let unknown = [0, USUAL, 10, 45][(seed % 4) as usize];
            let mut board = mixed(seed, unknown);
            let mut dice = Dice::new(seed ^ 0xFF);
            for (index, cable) in board.cables.values_mut().enumerate().filter(|(index, _)| index % 17 == 5) {
                match (index + seed as usize) % 6 {
                    0 => cable.size = r::<SquareMillimetres>(0.01),
                    1 => cable.length = r::<Metres>(1e7 * dice.between(0.5, 1.5)),
                    2 => cable.ambient = r::<Celsius>(-300.0),
                    3 => cable.material = f(Material::Aluminium),
                    4 => cable.removed = true,
                    _ => cable.cpc = f(CpcForm::Conduit),
                }
            }
            for (index, circuit) in board.circuits.values_mut().enumerate().filter(|(index, _)| index % 13 == 3) {
                match (index + seed as usize) % 5 {
                    0 => circuit.load.current = r::<Amps>(dice.between(0.001, 80.0)),
                    1 => circuit.load.efficiency = r::<Ratio>(0.85),
                    2 => circuit.load.demand = r::<Ratio>(2.0),
                    3 => circuit.device = None,
                    _ => circuit.removed = true,
                }
            }
            for (index, device) in board.devices.values_mut().enumerate().filter(|(index, _)| index % 19 == 4) {
                match (index + seed as usize) % 5 {
                    0 => device.at = None,
                    1 => device.poles = None,
                    2 => device.kind = Some(DeviceKind::Isolator),
                    3 => device.rated = r::<Amps>(f64::NAN),
                    _ => device.poles = Some(survey::Poles::P2),
                }
            }
            if seed % 7 == 6 {
                board.supply.voltage = r::<Volts>(1e9);
            }
            if seed % 5 == 4 {
                board.supply.phases = Default::default();
                board.incomer.arrangement = Default::default();
                board.enclosure = Default::default();
            }
            board
        })
        .collect()
}
