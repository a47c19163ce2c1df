//! Boards made by hand for the tests.
#![allow(dead_code, clippy::unwrap_used)]

pub mod mixed;

use circuits::Tables;
use survey::{
    Amps, Arrangement, Board, BoardId, Cable, CableId, Celsius, Check, Circuit, CircuitId, Construction, CpcForm,
    Curve, Device, DeviceId, DeviceKind, EarthingSystem, EnergyClass, Fact, Insulation, Known, Layout, LoadKind,
    Material, Method, Metres, Ohms, PoleAt, Poles, Provenance, Quantity, Ratio, Reading, SiteId, SquareMillimetres,
    SupplyPhases, Volts, Watts, YesNo, pattern::PatternList,
};
use uuid::Uuid;

pub fn tables() -> Tables {
    Tables::shipped().unwrap()
}

pub fn measured() -> Provenance {
    Provenance::new(Known::Measured)
}

pub fn r<Q: Quantity>(value: f64) -> Reading<Q> {
    Reading::of(Q::of(value), measured())
}

pub fn f<T>(value: T) -> Fact<T> {
    Fact::of(value, measured())
}

/// A board with its supply fully known: 230 V, TN-S, Ze 0.2 Ω, Ipf 3 kA, 100 A incomer.
pub fn board(pattern: &str, phases: SupplyPhases) -> Board {
    let patterns = PatternList::parse(include_str!("../../../../seed-data/patterns.toml")).unwrap();
    let mut board = Board::new(BoardId(Uuid::from_u128(1)), SiteId(Uuid::from_u128(2)), "T1");
    board.enclosure = f(patterns.into_iter().find(|one| one.key == pattern).unwrap());
    board.supply.system = f(EarthingSystem::TnS);
    board.supply.phases = f(phases);
    board.supply.voltage = r::<Volts>(230.0);
    board.supply.ze = r::<Ohms>(0.2);
    board.supply.ipf = r::<Amps>(3000.0);
    board.supply.upstream = r::<Amps>(100.0);
    board.incomer.arrangement =
        f(if phases == SupplyPhases::Single { Arrangement::TwoPole } else { Arrangement::FourPole });
    board.incomer.rated = r::<Amps>(100.0);
    board
}

/// One circuit, all of it known.
#[derive(Clone, Debug)]
pub struct Job {
    pub at: &'static str,
    pub poles: Poles,
    pub kind: LoadKind,
    pub device: DeviceKind,
    pub rated: f64,
    pub curve: Curve,
    pub power: f64,
    pub current: Option<f64>,
    pub power_factor: f64,
    pub size: f64,
    pub cpc: f64,
    pub material: Material,
    pub insulation: Insulation,
    pub method: Method,
    pub length: f64,
    pub ambient: f64,
    pub grouped: u8,
    pub layout: Layout,
}

impl Default for Job {
    fn default() -> Self {
        Self {
            at: "1L1",
            poles: Poles::P1,
            kind: LoadKind::FixedEquipment,
            device: DeviceKind::CircuitBreaker,
            rated: 32.0,
            curve: Curve::B,
            power: 5000.0,
            current: None,
            power_factor: 1.0,
            size: 6.0,
            cpc: 6.0,
            material: Material::Copper,
            insulation: Insulation::Pvc70,
            method: Method::C,
            length: 10.0,
            ambient: 30.0,
            grouped: 1,
            layout: Layout::Bunched,
        }
    }
}

/// Adds a circuit; `number` makes its ids.
pub fn add(board: &mut Board, number: u128, job: &Job) -> CircuitId {
    let id = |kind: u128| Uuid::from_u128(kind << 64 | number);
    let (circuit_id, device_id, cable_id) = (CircuitId(id(10)), DeviceId(id(11)), CableId(id(12)));
    board.devices.insert(
        device_id,
        Device {
            kind: Some(job.device),
            poles: Some(job.poles),
            at: job.at.parse::<PoleAt>().ok(),
            rated: r::<Amps>(job.rated),
            curve: f(job.curve),
            breaking: r::<Amps>(6000.0),
            energy_class: f(EnergyClass::Three),
            residual: if job.device == DeviceKind::Rcbo { r::<Amps>(0.03) } else { Reading::unknown() },
            ..Device::default()
        },
    );
    board.cables.insert(
        cable_id,
        Cable {
            construction: f(Construction::Multicore),
            cores: f(3),
            size: r::<SquareMillimetres>(job.size),
            cpc_size: r::<SquareMillimetres>(job.cpc),
            cpc: f(CpcForm::Core),
            material: f(job.material),
            insulation: f(job.insulation),
            method: f(job.method),
            length: r::<Metres>(job.length),
            ambient: r::<Celsius>(job.ambient),
            grouped: f(job.grouped),
            layout: f(job.layout),
            ..Cable::default()
        },
    );
    let mut circuit = Circuit {
        description: "load".to_owned(),
        kind: Some(job.kind),
        device: Some(device_id),
        cable: Some(cable_id),
        ..Circuit::default()
    };
    match job.current {
        Some(current) => circuit.load.current = r::<Amps>(current),
        None => circuit.load.power = r::<Watts>(job.power),
    }
    circuit.load.power_factor = r::<Ratio>(job.power_factor);
    circuit.load.leading = f(YesNo::No);
    circuit.ring = f(YesNo::No);
    board.circuits.insert(circuit_id, circuit);
    circuit_id
}

/// Says of every load that its current is sinusoidal, as published examples have it without a word.
pub fn sinusoidal(board: &mut Board) {
    for circuit in board.circuits.values_mut() {
        circuit.load.third_harmonic = r::<Ratio>(0.0);
    }
}

/// The check of a rule; of the first circuit that has one.
pub fn find<'a>(checks: &'a [Check], rule: &str) -> &'a Check {
    checks.iter().find(|check| check.rule == rule).unwrap_or_else(|| panic!("no check {rule}"))
}

/// The limit a check used, from its margin and the value known to stand against it.
pub fn limit_from(check: &Check, value: f64) -> f64 {
    let [lo, hi] = check.margin.unwrap();
    assert!((hi - lo).abs() < 1e-6, "the check is not settled: {check:?}");
    value / (1.0 - lo)
}

/// The value a check used, as a share of its limit.
pub fn share_of_limit(check: &Check) -> f64 {
    let [lo, hi] = check.margin.unwrap();
    assert!((hi - lo).abs() < 1e-6, "the check is not settled: {check:?}");
    1.0 - (lo + hi) / 2.0
}

pub fn near(a: f64, b: f64, tolerance: f64) {
    assert!((a - b).abs() <= tolerance, "{a} is not within {tolerance} of {b}");
}
