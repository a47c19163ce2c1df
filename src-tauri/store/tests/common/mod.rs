//! What the store's tests share: a clock and ids that are the same at every run, and boards.
#![allow(dead_code, reason = "each test file uses a part of it")]

use chrono::{DateTime, Utc};
use serde_json::{Value, json};
use store::{Env, Incoming, Kind, Merged, Op, Saved, Store, StoreError};
use survey::intent::Change;
use survey::{Board, BoardId, Cable, CableId, Circuit, CircuitId, Device, DeviceId, Problem, SiteId};
use uuid::Uuid;

pub fn uuid(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

/// Seconds tick by at every look at the clock; ids count up from the seed.
pub fn env(seed: u64) -> Env {
    let mut seconds = 1_780_000_000;
    let mut count = u128::from(seed) << 64;
    let now = move || {
        seconds += 1;
        DateTime::<Utc>::from_timestamp(seconds, 0).unwrap()
    };
    let id = move || {
        count += 1;
        Uuid::from_u128(count)
    };
    Env::new(now, id)
}

pub fn memory(seed: u64) -> Store {
    Store::in_memory(env(seed)).unwrap()
}

pub const BOARD: BoardId = BoardId(Uuid::from_u128(0xB0A2D));
pub const SITE: SiteId = SiteId(Uuid::from_u128(0x517E));
pub const CIRCUIT: CircuitId = CircuitId(Uuid::from_u128(0xC100));
pub const CABLE: CableId = CableId(Uuid::from_u128(0xCA00));
pub const DEVICE: DeviceId = DeviceId(Uuid::from_u128(0xDE00));

/// A board with this many circuits, each with its device and cable.
pub fn board(circuits: u128) -> Board {
    let mut board = Board::new(BOARD, SITE, "PH-DB1");
    board.place = "press hall".to_owned();
    for number in 0..circuits {
        let (circuit, cable, device) = (
            CircuitId(uuid(CIRCUIT.0.as_u128() + number)),
            CableId(uuid(CABLE.0.as_u128() + number)),
            DeviceId(uuid(DEVICE.0.as_u128() + number)),
        );
        board.devices.insert(device, Device { rated: read(reading("16 A", number)), ..Device::default() });
        board.cables.insert(cable, Cable { size: read(reading("2.5 mm2", number)), ..Cable::default() });
        let description = format!("socket {number}");
        let circuit_of = Circuit { description, device: Some(device), cable: Some(cable), ..Circuit::default() };
        board.circuits.insert(circuit, circuit_of);
    }
    board
}

pub fn read<T: serde::de::DeserializeOwned>(value: Value) -> T {
    serde_json::from_value(value).unwrap()
}

/// A reading with its own id.
pub fn reading(value: &str, id: u128) -> Value {
    json!({ "known": "label", "value": value, "id": uuid(0xAEAD_0000 + id), "role": "surveyor" })
}

pub fn op(name: &'static str) -> Op<'static> {
    Op::new(name, "surveyor")
}

pub fn change(path: impl Into<String>, value: impl Into<Value>) -> Change {
    Change { path: path.into(), value: value.into() }
}

pub fn circuit(field: &str) -> String {
    format!("/circuits/{}/{field}", CIRCUIT.0)
}

pub fn any(_: &Board, _: &Board) -> Result<(), Vec<Problem>> {
    Ok(())
}

pub fn create(store: &mut Store, board: &Board) -> Saved {
    store.create_board(op("new board"), board, |_| Ok(())).unwrap()
}

pub fn set(store: &mut Store, path: impl Into<String>, value: impl Into<Value>) -> Saved {
    try_set(store, path, value).unwrap()
}

pub fn try_set(store: &mut Store, path: impl Into<String>, value: impl Into<Value>) -> Result<Saved, StoreError> {
    store.transact(op("edit"), BOARD, &[change(path, value)], any)
}

/// Sends the board from one store to another.
pub fn send(from: &mut Store, to: &mut Store) -> Merged {
    try_send(from, to).unwrap()
}

pub fn try_send(from: &mut Store, to: &mut Store) -> Result<Merged, StoreError> {
    let bytes = from.document_bytes(BOARD.0, Kind::Board)?;
    let merged = to.merge(&[Incoming { id: BOARD.0, kind: Kind::Board, bytes }], |_, _| Ok::<_, StoreError>(()))?;
    Ok(merged.into_iter().next().unwrap())
}

/// Two stores that hold the same board.
pub fn pair() -> (Store, Store) {
    let (mut one, mut two) = (memory(1), memory(2));
    create(&mut one, &board(2));
    send(&mut one, &mut two);
    (one, two)
}

pub fn both_ways(one: &mut Store, two: &mut Store) {
    send(one, two);
    send(two, one);
}

pub fn now(store: &mut Store) -> Board {
    store.board(BOARD).unwrap().board
}

/// What is kept in memory is what a fresh reading of the document gives.
pub fn is_current(store: &mut Store) -> bool {
    let json = store.document_json(BOARD.0, Kind::Board).unwrap();
    read::<Board>(json) == now(store)
}

pub fn paths(store: &mut Store) -> Vec<String> {
    store.board(BOARD).unwrap().conflicts.into_iter().map(|conflict| conflict.path).collect()
}
