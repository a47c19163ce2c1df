//! Boards for the tests of the plate, thrown by numbers that are the same on every run, and the scripts
//! that judge from outside.

#![allow(dead_code, clippy::unwrap_used, reason = "each test program uses a part; a test stops where it fails")]

use std::ffi::OsStr;
use std::path::Path;
use std::process::Command;

use serde::Deserialize;
use survey::pattern::{Face, Pattern, PatternList, Point, Rect};
use survey::{
    Board, BoardId, Cable, CableId, Circuit, CircuitId, Construction, Device, DeviceId, DeviceKind, Entry, EntryId,
    EntryKind, Fact, Known, Millimetres, Plate, PlateId, PlateMaterial, PoleAt, Poles, Provenance, Reading, SiteId,
    SquareMillimetres,
};
use uuid::Uuid;

/// The sides of a drawn plate as measured by rule.
#[derive(Clone, Copy, Deserialize)]
pub struct Sides {
    pub width: f64,
    pub depth: f64,
    pub within: f64,
}

/// The check line of a drawn sheet as measured by rule.
#[derive(Deserialize)]
pub struct Sheet {
    pub check_line: f64,
    pub within: f64,
}

pub const PLATE: PlateId = PlateId(Uuid::from_u128(3));

pub fn known<T>(value: T) -> Fact<T> {
    Fact::of(value, Provenance::new(Known::Label))
}

pub fn mm(value: f64) -> Reading<Millimetres> {
    Reading::of(Millimetres::new(value), Provenance::new(Known::Measured))
}

pub fn id(number: usize) -> Uuid {
    Uuid::from_u128(number as u128)
}

/// Numbers that look thrown and are the same on every run.
pub struct Dice(pub u64);

impl Dice {
    pub fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }

    pub fn pick<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }
}

pub fn pattern(key: &str) -> Pattern {
    let all = PatternList::parse(include_str!("../../../../seed-data/patterns.toml")).unwrap();
    all.into_iter().find(|pattern| pattern.key == key).unwrap()
}

/// A three-phase board of twelve ways with one plate of this size, `margin` of it not to be drilled.
pub fn board(face: Face, width: f64, depth: f64, margin: f64) -> Board {
    let mut board = Board::new(BoardId(id(1)), SiteId(id(2)), "T-DB1");
    board.enclosure = known(pattern("three-phase-12"));
    board.plates.insert(
        PLATE,
        Plate {
            face,
            width: mm(width),
            depth: mm(depth),
            thickness: mm(1.5),
            material: known(PlateMaterial::Steel),
            usable: Some(Rect::new(margin, margin, width - 2.0 * margin, depth - 2.0 * margin)),
            ..Plate::default()
        },
    );
    board
}

/// A circuit on this pole with its cable.
pub fn circuit(board: &mut Board, pole: &str, construction: Construction, cores: u8, size: f64) -> CableId {
    let number = 1000 + board.circuits.len();
    let at: PoleAt = pole.parse().unwrap();
    board.devices.insert(
        DeviceId(id(number)),
        Device { kind: Some(DeviceKind::CircuitBreaker), poles: Some(Poles::P1), at: Some(at), ..Device::default() },
    );
    board.cables.insert(
        CableId(id(number)),
        Cable {
            construction: known(construction),
            cores: known(cores),
            size: Reading::of(SquareMillimetres::new(size), Provenance::new(Known::Label)),
            ..Cable::default()
        },
    );
    board.circuits.insert(
        CircuitId(id(number)),
        Circuit { device: Some(DeviceId(id(number))), cable: Some(CableId(id(number))), ..Circuit::default() },
    );
    CableId(id(number))
}

pub fn entry(board: &mut Board, kind: EntryKind, size: &str, at: Option<Point>, cable: Option<CableId>) -> EntryId {
    let plate = board.plates.get_mut(&PLATE).unwrap();
    let entry = EntryId(id(100_000 + plate.entries.len()));
    plate.entries.insert(entry, Entry { kind: Some(kind), size: size.to_owned(), at, cable, ..Entry::default() });
    entry
}

pub fn entry_mut(board: &mut Board, id: EntryId) -> &mut Entry {
    board.plates.get_mut(&PLATE).unwrap().entries.get_mut(&id).unwrap()
}

/// Takes a solution over.
pub fn take(board: &mut Board, places: &[survey::intent::EntryPlace]) {
    for place in places {
        entry_mut(board, place.entry).at = Some(place.at);
    }
}

/// A board of twelve ways whose bottom plate takes 24 cables.
pub fn twenty_four() -> Board {
    let mut board = board(Face::Bottom, 400.0, 130.0, 12.0);
    for (number, pole) in pattern("three-phase-12")
        .poles()
        .step_by(3)
        .chain(pattern("three-phase-12").poles().skip(1).step_by(3))
        .enumerate()
    {
        let (kind, size, construction) = match number % 4 {
            0 => (EntryKind::ArmouredGland, "20S", Construction::Armoured),
            1 => (EntryKind::CompressionGland, "M20", Construction::Multicore),
            2 => (EntryKind::ArmouredGland, "20", Construction::Armoured),
            _ => (EntryKind::Conduit, "25", Construction::SingleCore),
        };
        let cable = circuit(&mut board, &pole.to_string(), construction, 3, if number % 4 == 2 { 6.0 } else { 2.5 });
        entry(&mut board, kind, size, None, Some(cable));
    }
    board
}

/// Kinds and sizes that a plate of a distribution board takes.
pub const USUAL: [(EntryKind, &str); 10] = [
    (EntryKind::ArmouredGland, "20S"),
    (EntryKind::ArmouredGland, "20"),
    (EntryKind::ArmouredGland, "25"),
    (EntryKind::CompressionGland, "M20"),
    (EntryKind::CompressionGland, "M25"),
    (EntryKind::Conduit, "20"),
    (EntryKind::Conduit, "25"),
    (EntryKind::FlexibleConduit, "20"),
    (EntryKind::Blanked, "M20"),
    (EntryKind::Bush, "32"),
];

/// A board with `count` entries thrown together: kinds, sizes, circuits, some existing or locked,
/// keep-outs.
pub fn thrown(dice: &mut Dice, count: usize) -> Board {
    let face = dice.pick(&[Face::Top, Face::Bottom, Face::Left, Face::Right, Face::Back]);
    let width = 160.0 + dice.below(300) as f64;
    let depth = 80.0 + dice.below(80) as f64;
    let mut board = board(face, width, depth, 8.0 + dice.below(8) as f64);
    for _ in 0..dice.below(3) {
        let rect = Rect::new(
            dice.below(width as usize) as f64,
            dice.below(depth as usize) as f64,
            4.0 + dice.below(30) as f64,
            4.0 + dice.below(30) as f64,
        );
        board.plates.get_mut(&PLATE).unwrap().keep_outs.push(rect);
    }
    if dice.below(8) == 0 {
        board.plates.get_mut(&PLATE).unwrap().usable = None;
    }
    let mut poles: Vec<String> = pattern("three-phase-12").poles().map(|pole| pole.to_string()).collect();
    for number in 0..count {
        let (kind, size) = dice.pick(&USUAL);
        let (kind, size) = if number == 0 && dice.below(3) == 0 {
            dice.pick(&[
                (EntryKind::TrunkingCutOut, "50x50"),
                (EntryKind::ArmouredGland, "32"),
                (EntryKind::ArmouredGland, "40"),
            ])
        } else {
            (kind, size)
        };
        let cable = (kind != EntryKind::Blanked && !poles.is_empty()).then(|| {
            let pole = poles.swap_remove(dice.below(poles.len()));
            circuit(&mut board, &pole, Construction::Multicore, 3, 2.5)
        });
        let at = (dice.below(6) == 0)
            .then(|| [20.0 + dice.below(width as usize - 40) as f64, 20.0 + dice.below(depth as usize - 40) as f64]);
        let entry = entry(&mut board, kind, size, at, cable);
        if at.is_some() {
            match dice.below(3) {
                0 => entry_mut(&mut board, entry).existing = true,
                1 => entry_mut(&mut board, entry).locked = true,
                _ => {}
            }
        }
    }
    board
}

/// Runs a script of `tests/outside` in the Python set up for it, and stops where it fails.
pub fn outside<A: AsRef<OsStr>>(script: &str, arguments: &[A]) {
    let python = std::env::var_os("WAYWRIGHT_PYTHON").unwrap_or_else(|| "python3".into());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/outside").join(script);
    let run = Command::new(&python).arg(script).args(arguments).output().unwrap();
    let told = format!("{}{}", String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    println!("{told}");
    assert!(run.status.success(), "{told}");
}
