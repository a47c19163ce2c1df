//! Papers of a small fixed board: text, goldens, hostile input. All papers of it and of the demo are left in
//! the target folder's `papers` and measured there by `tests/outside/papers.py`.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

mod common;

use std::path::{Path, PathBuf};

use common::{measured, with};
use papers::{Format, Kind, PaperError, offered, order_lines, preview, write};
use plate::Tables;
use serde_json::json;
use survey::pattern::{Face, Numbering, PatternPlate, Phases, Rect};
use survey::*;

fn id(number: u128) -> uuid::Uuid {
    uuid::Uuid::from_u128(number)
}

fn from(known: Known) -> Provenance {
    Provenance::new(known)
}

fn label<Q: Quantity>(value: Q) -> Reading<Q> {
    Reading::of(value, from(Known::Label))
}

fn fact<T>(value: T) -> Fact<T> {
    Fact::of(value, from(Known::Label))
}

fn pattern() -> Pattern {
    Pattern {
        key: "test-4".into(),
        name: "Four-way three-phase".into(),
        phases: Phases::Three,
        ways: 4,
        columns: 2,
        numbering: Numbering::Across,
        phase_order: Phase::ALL.to_vec(),
        width: Millimetres::new(450.0),
        height: Millimetres::new(600.0),
        depth: Millimetres::new(130.0),
        pole_pitch: Millimetres::new(18.0),
        device_length: Millimetres::new(90.0),
        columns_at: vec![[60.0, 200.0], [300.0, 200.0]],
        incomer_at: Rect::new(150.0, 60.0, 90.0, 90.0),
        incomer_modules: 4,
        rated: Amps::new(125.0),
        spare_neutrals: 2,
        spare_earths: 2,
        direct_neutral_terminal: true,
        neutral_bar: Rect::new(20.0, 450.0, 200.0, 12.0),
        earth_bar: Rect::new(230.0, 450.0, 200.0, 12.0),
        plates: vec![PatternPlate {
            face: Face::Bottom,
            width: Millimetres::new(300.0),
            depth: Millimetres::new(120.0),
            thickness: Millimetres::new(2.0),
            usable: Rect::new(12.0, 12.0, 276.0, 96.0),
        }],
    }
}

const HOSTILE: &str = "#panic() *bold* $x^2$ <b> \"q\" \\u{1} =cmd|' /C calc'!A0";

/// Way 1 a three-phase motor, 2L1 an RCBO with hostile words, 2L2 a spare, one circuit nowhere.
fn board() -> (Board, [PlateId; 2]) {
    let mut board = Board::new(BoardId(id(1)), SiteId(id(2)), "T-DB1");
    board.place = "Store room".into();
    board.stage = Stage::New;
    board.enclosure = fact(pattern());
    board.supply.phases = fact(SupplyPhases::Three);
    board.supply.system = fact(EarthingSystem::TnS);
    board.supply.ze = Reading::within(Ohms::new(0.32), Ohms::new(0.02), from(Known::Measured));
    board.supply.ipf = label(Amps::new(6000.0));
    board.incomer.arrangement = fact(Arrangement::FourPole);
    board.incomer.rated = label(Amps::new(100.0));
    let mut device = |number: u128, at: &str, kind, poles, rated: f64| {
        board.devices.insert(
            DeviceId(id(number)),
            Device {
                kind: Some(kind),
                poles: Some(poles),
                at: at.parse().ok(),
                rated: label(Amps::new(rated)),
                curve: fact(Curve::C),
                breaking: label(Amps::new(10_000.0)),
                residual: if kind == DeviceKind::Rcbo { label(Amps::new(0.03)) } else { Reading::unknown() },
                rcd_type: if kind == DeviceKind::Rcbo { fact(RcdType::A) } else { Fact::default() },
                ..Device::default()
            },
        );
    };
    device(11, "1L1", DeviceKind::CircuitBreaker, Poles::P3, 32.0);
    device(12, "2L1", DeviceKind::Rcbo, Poles::P1N, 16.0);
    device(13, "2L2", DeviceKind::CircuitBreaker, Poles::P1, 10.0);
    let mut cable = |number: u128, construction, cores, size, length: f64| {
        board.cables.insert(
            CableId(id(number)),
            Cable {
                construction: fact(construction),
                cores: fact(cores),
                size: label(SquareMillimetres::new(size)),
                cpc: fact(if construction == Construction::Armoured { CpcForm::Armour } else { CpcForm::Core }),
                material: fact(Material::Copper),
                insulation: fact(Insulation::Xlpe90),
                method: fact(Method::E),
                length: if length > 0.0 { label(Metres::new(length)) } else { Reading::unknown() },
                ..Cable::default()
            },
        );
    };
    cable(21, Construction::Armoured, 4, 16.0, 25.0);
    cable(22, Construction::Multicore, 3, 2.5, 0.0);
    let mut circuit = |number: u128, name: &str, words: &str, device: Option<u128>, cable: Option<u128>| {
        board.circuits.insert(
            CircuitId(id(number)),
            Circuit {
                number: name.into(),
                description: words.into(),
                kind: Some(LoadKind::FixedEquipment),
                device: device.map(|number| DeviceId(id(number))),
                cable: cable.map(|number| CableId(id(number))),
                ..Circuit::default()
            },
        );
    };
    circuit(31, "1", "Pump, Ω ² ≤ ≥ Δ ± °", Some(11), Some(21));
    circuit(32, "=2", HOSTILE, Some(12), Some(22));
    circuit(33, "", "Nowhere yet", None, None);
    let plates = [PlateId(id(41)), PlateId(id(42))];
    let plate = |face, width, depth| Plate {
        face,
        width: Reading::of(Millimetres::new(width), from(Known::Measured)),
        depth: Reading::of(Millimetres::new(depth), from(Known::Measured)),
        thickness: label(Millimetres::new(2.0)),
        material: fact(PlateMaterial::Steel),
        usable: Some(Rect::new(12.0, 12.0, width - 24.0, depth - 24.0)),
        ..Plate::default()
    };
    let entry = |kind, size: &str, at| Entry { kind: Some(kind), size: size.into(), at: Some(at), ..Entry::default() };
    let mut small = plate(Face::Bottom, 300.0, 120.0);
    small.keep_outs.push(Rect::new(240.0, 80.0, 30.0, 20.0));
    for (index, one) in [
        Entry { cable: Some(CableId(id(21))), ..entry(EntryKind::ArmouredGland, "25", [40.5, 60.0]) },
        Entry { cable: Some(CableId(id(22))), ..entry(EntryKind::CompressionGland, "M20", [95.0, 60.25]) },
        Entry { existing: true, ..entry(EntryKind::Conduit, "25", [145.0, 60.0]) },
        entry(EntryKind::TrunkingCutOut, "50x40", [205.0, 55.0]),
        entry(EntryKind::Blanked, "M20", [262.0, 40.0]),
        Entry { at: None, ..entry(EntryKind::Conduit, "20", [0.0, 0.0]) },
    ]
    .into_iter()
    .enumerate()
    {
        small.entries.insert(EntryId(id(51 + index as u128)), one);
    }
    let mut large = plate(Face::Back, 620.0, 400.0);
    for (index, (x, y)) in
        [(60.0, 50.0), (257.3, 138.0), (250.0, 260.0), (560.0, 340.0), (400.5, 200.5)].into_iter().enumerate()
    {
        large.entries.insert(EntryId(id(61 + index as u128)), entry(EntryKind::ArmouredGland, "40", [x, y]));
    }
    board.plates.insert(plates[0], small);
    board.plates.insert(plates[1], large);
    (board, plates)
}

fn golden(name: &str, found: &[u8]) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden").join(name);
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        std::fs::write(&path, found).unwrap();
    }
    let wanted = std::fs::read(&path).unwrap();
    assert!(
        wanted == found,
        "{name} differs from the golden; see it with UPDATE_GOLDEN=1 and git diff:\n{}",
        String::from_utf8_lossy(found)
    );
}

#[test]
fn csv_and_dxf_of_a_fixed_board_stay_as_they_are() {
    let (board, plates) = board();
    with(&board, |input| {
        golden("order-list.csv", &write(input, Kind::OrderList, Format::Csv).unwrap().bytes);
        golden("plate.dxf", &write(input, Kind::DrillingTemplate(plates[0]), Format::Dxf).unwrap().bytes);
        golden("plate.svg", &write(input, Kind::DrillingTemplate(plates[0]), Format::Svg).unwrap().bytes);
    });
}

#[test]
fn the_schedule_has_a_row_for_each_circuit_and_no_formula() {
    let (mut board, _) = board();
    if let Some(circuit) = board.circuits.values_mut().find(|circuit| !circuit.removed) {
        circuit.description = "=1+1; @x".to_owned();
    }
    let (live, file) =
        with(&board, |input| (input.board.live_circuits().count(), write(input, Kind::Schedule, Format::Csv).unwrap()));
    let text = String::from_utf8(file.bytes).unwrap();
    let mut reader = csv::ReaderBuilder::new().from_reader(text.trim_start_matches('\u{feff}').as_bytes());
    let heads: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), live + 1, "the circuits, and the caution");
    for head in ["What the circuit feeds", "Rated current of the device, In [A]", "Cable size [mm²]"] {
        assert!(heads.iter().any(|other| other == head), "{head} of {heads:?}");
    }
    let formula =
        |cell: &str| cell.starts_with(['=', '+', '@']) || (cell.starts_with('-') && cell.parse::<f64>().is_err());
    assert!(!rows.iter().flatten().any(formula));
    let book = with(&board, |input| write(input, Kind::Schedule, Format::Xlsx)).unwrap();
    assert!(book.bytes.starts_with(b"PK"));
    let wrong = with(&board, |input| write(input, Kind::Schedule, Format::Pdf)).unwrap_err().to_string();
    assert!(wrong.contains("pdf"), "{wrong}");
}

#[test]
fn every_circuit_is_on_the_chart_and_no_word_is_read_as_markup() {
    let (board, _) = board();
    let pages = with(&board, |input| preview(input, Kind::CircuitChart)).unwrap();
    let text = pages.concat();
    assert!(pages.iter().all(|page| page.contains("Isolate, lock off and prove dead before work.")));
    for words in
        ["Pump, Ω ² ≤ ≥ Δ ± °", "*bold* $x^2$", "#panic()", "Nowhere yet", "1L1 1L2 1L3", "spare: device", "3 blanks"]
    {
        assert!(text.contains(words), "{words} is not in {text}");
    }
}

#[test]
fn the_enclosure_against_touch_is_on_the_chart_and_what_nobody_read_is_not_looked_at() {
    use survey::{Bond, Fact, Known, Provenance};
    let (mut board, _) = board();
    board.housing.door_bond = Fact::of(Bond::NotBonded, Provenance::new(Known::Label));
    let text = with(&board, |input| preview(input, Kind::CircuitChart)).unwrap().concat();
    for part in housing::parts(&board) {
        assert!(text.contains(&shown::capital(&part.name.to_string())), "{} is not in {text}", part.name);
    }
    for words in ["The enclosure against touch", "not bonded", "Bond of the door"] {
        assert!(text.to_lowercase().contains(&words.to_lowercase()), "{words} is not in {text}");
    }
    assert!(text.matches("not looked at").count() >= 9, "eight parts and what is live were not looked at: {text}");
}

#[test]
fn the_same_input_gives_the_same_bytes_in_every_format() {
    let (board, _) = board();
    with(&board, |input| {
        for (kind, formats) in offered(&board) {
            for format in formats {
                let first = write(input, kind, format).unwrap();
                assert_eq!(first, write(input, kind, format).unwrap(), "{kind} {format:?}");
                let head: &[u8] = match format {
                    Format::Pdf => b"%PDF",
                    Format::Xlsx => b"PK",
                    Format::Svg => b"<?xml",
                    Format::Csv if kind == Kind::Schedule => "\u{feff}Number on the chart".as_bytes(),
                    Format::Csv => "\u{feff}Part".as_bytes(),
                    Format::Dxf => b"  0\r\nSECTION",
                };
                assert!(first.bytes.starts_with(head), "{kind} {format:?}");
                assert_eq!(kind.to_string().parse(), Ok(kind));
            }
        }
    });
}

#[test]
fn an_empty_board_and_a_huge_plate_are_answered() {
    let empty = Board::new(BoardId(id(1)), SiteId(id(2)), "");
    with(&empty, |input| {
        for kind in [Kind::CircuitChart, Kind::Findings, Kind::OrderList] {
            assert!(!preview(input, kind).unwrap().is_empty());
        }
        let missing = Kind::DrillingTemplate(PlateId(id(9)));
        assert!(matches!(write(input, missing, Format::Pdf), Err(PaperError::NotReady(_))));
        let wrong = write(input, Kind::CircuitChart, Format::Dxf).unwrap_err().to_string();
        assert!(wrong.contains("dxf"), "{wrong}");
    });
    assert_eq!(offered(&empty).len(), 4);
    let (mut board, plates) = board();
    let plate = board.plates.get_mut(&plates[0]).unwrap();
    plate.width = label(Millimetres::new(5000.0));
    plate.depth = label(Millimetres::new(5000.0));
    with(&board, |input| {
        let kind = Kind::DrillingTemplate(plates[0]);
        assert!(matches!(write(input, kind, Format::Pdf), Err(PaperError::TooManySheets { .. })));
        assert!(write(input, kind, Format::Dxf).is_ok());
    });
}

#[test]
fn a_full_board_of_long_words_fits_its_pages() {
    let (mut board, _) = board();
    for circuit in board.circuits.values_mut() {
        circuit.description = "w".repeat(4000);
        circuit.number = "日本 🦆 \u{202e}\u{feff}".into();
    }
    let pages = with(&board, |input| preview(input, Kind::CircuitChart)).unwrap();
    assert!(pages.len() < 12, "{} pages", pages.len());
}

#[test]
fn a_title_keeps_plate_and_date_on_every_page_however_long_the_names_are() {
    let (mut board, plates) = board();
    let kinds = [
        (Kind::DrillingTemplate(plates[0]), "Drilling template", "bottom plate"),
        (Kind::TemplateVariant(plates[0], papers::Variant::A3Mirrored), "Drilling template", "MIRRORED"),
        (Kind::CircuitChart, "Circuit chart", ""),
        (Kind::Findings, "Findings", ""),
        (Kind::OrderList, "Order list", ""),
    ];
    let short: Vec<usize> =
        kinds.iter().map(|(kind, ..)| with(&board, |input| preview(input, *kind)).unwrap().len()).collect();
    board.reference = "W".repeat(120);
    board.place = "M ".repeat(60);
    for ((kind, what, plate), count) in kinds.into_iter().zip(short) {
        let pages = with(&board, |input| preview(input, kind)).unwrap();
        assert_eq!(pages.len(), count, "{what}: a title takes one line");
        for page in pages {
            let text = page.split("<desc>").nth(1).unwrap().split("</desc>").next().unwrap();
            assert!(text.contains(what) && text.contains(plate) && text.contains("2026-11-25"), "{text:.600}");
            assert!(text.contains("WWWWWW") && !text.contains(&board.reference), "{text:.600}");
        }
    }
}

#[test]
fn orders_count_what_is_owed_and_say_what_for() {
    let (board, _) = board();
    let lines = order_lines(&board, Tables::shipped());
    let one = |item: &str| {
        lines.iter().find(|line| line.item.starts_with(item)).unwrap_or_else(|| panic!("no {item} in {lines:#?}"))
    };
    assert_eq!(one("armoured-cable gland 25, M25").quantity, 1.0);
    assert_eq!(one("armoured-cable gland 40, M40").quantity, 5.0);
    // 25 m and a tenth.
    assert_eq!(one("armoured multicore cable 4 × 16").quantity, 28.0);
    assert!(one("multicore cable 3 × 2.5").note.contains("not known"));
    // Twelve poles, five of them taken.
    assert_eq!(one("blank, one module").quantity, 7.0);
    assert_eq!(one("stopping plug M20").purpose, "bottom plate E5");
    assert!(!lines.iter().any(|line| line.item.starts_with("conduit bush 25")), "made already");
    assert_eq!(one("RCBO 1P+N").item, "RCBO 1P+N, type C 16\u{a0}A, 10 kA, 30 mA, type A");
    let mut existing = Board { stage: Stage::Existing, ..board };
    // Nobody counted: all of them, and the counting is asked for.
    let lines = order_lines(&existing, Tables::shipped());
    let blank = |lines: &[papers::OrderLine]| lines.iter().find(|line| line.item.starts_with("blank")).unwrap().clone();
    assert_eq!((blank(&lines).quantity, blank(&lines).fitted), (7.0, None));
    assert!(blank(&lines).note.contains("Count those fitted"), "{:?}", blank(&lines));
    let measured = || Provenance::new(Known::Measured);
    existing.housing.blanks_fitted = Fact::of(3, measured());
    let key = arrangement::consequences(&existing).labels[0].key.clone();
    existing.housing.labels_fitted = vec![key];
    existing.housing.door_bond = Fact::of(Bond::NotBonded, measured());
    existing.housing.shrouds = Fact::of(YesNo::No, measured());
    let lines = order_lines(&existing, Tables::shipped());
    assert_eq!((blank(&lines).quantity, blank(&lines).needed, blank(&lines).fitted), (4.0, 7.0, Some(3.0)));
    let labels: Vec<_> = lines.iter().filter(|line| line.item.starts_with("label:")).collect();
    assert_eq!(labels.iter().filter(|line| line.quantity == 0.0).count(), 1, "{labels:#?}");
    assert!(lines.iter().any(|line| line.item == "bonding strap" && line.purpose.contains("door")), "{lines:#?}");
    assert!(lines.iter().any(|line| line.item.starts_with("shrouds") && line.quantity == 1.0), "{lines:#?}");
    assert!(!lines.iter().any(|line| line.item.starts_with("RCBO") || line.item.contains("cable 4")), "{lines:#?}");
}

/// BS 6004 sells flat twin and earth by both sizes; a separate protective conductor is a cable of its own.
#[test]
fn protective_conductors_are_ordered() {
    let (mut board, _) = board();
    let decided = || Provenance::new(Known::Decided);
    let ids: Vec<_> = board.cables.keys().copied().take(2).collect();
    for (id, construction, cpc) in
        [(ids[0], Construction::FlatTwinEarth, CpcForm::Core), (ids[1], Construction::SingleCore, CpcForm::Separate)]
    {
        let cable = board.cables.get_mut(&id).unwrap();
        cable.construction = Fact::of(construction, decided());
        cable.cpc = Fact::of(cpc, decided());
        cable.size = Reading::of(SquareMillimetres::new(2.5), decided());
        cable.cpc_size = Reading::of(SquareMillimetres::new(1.5), decided());
        cable.length = Reading::of(Metres::new(20.0), decided());
        cable.cores = Fact::of(3, decided());
    }
    board.cables.get_mut(&ids[1]).unwrap().cpc_material = Fact::of(Material::Copper, decided());
    board.supply.bonding = Reading::of(SquareMillimetres::new(10.0), decided());
    let lines = order_lines(&board, Tables::shipped());
    let one =
        |item: &str| lines.iter().find(|line| line.item.starts_with(item)).unwrap_or_else(|| panic!("{lines:#?}"));
    assert_eq!(one("flat twin and earth cable 2.5/1.5 mm²").quantity, 22.0);
    assert_eq!(one("protective conductor, single-core, 1.5\u{a0}mm², copper").quantity, 22.0);
    assert_eq!(one("single-core cable 2.5").quantity, 66.0);
    assert!(one("main bonding conductor, 10").note.contains("measure"));
}

#[test]
fn outside_libraries_measure_every_paper_of_the_fixed_board_and_the_demo() {
    let (board, plates) = board();
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("papers");
    std::fs::create_dir_all(&folder).unwrap();
    let mut names = Vec::new();
    with(&board, |input| {
        for (kind, formats) in offered(&board) {
            for format in formats {
                let file = write(input, kind, format).unwrap();
                std::fs::write(folder.join(&file.name), &file.bytes).unwrap();
                names.push(file.name);
            }
        }
        for (index, kind) in
            [Kind::CircuitChart, Kind::DrillingTemplate(plates[0]), Kind::DrillingTemplate(plates[1]), Kind::OrderList]
                .into_iter()
                .enumerate()
        {
            for (page, svg) in preview(input, kind).unwrap().into_iter().enumerate() {
                std::fs::write(folder.join(format!("preview-{index}-{page}.svg")), svg).unwrap();
            }
        }
    });
    // Chart and findings, two templates in three formats and three more prints each, the marker sheet, the order
    // list in three, the schedule in two.
    assert_eq!(names.len(), 2 + 2 * (3 + 3) + 1 + 3 + 2);
    let seed = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../seed-data");
    let mut surveys = Vec::new();
    for name in ["bl-db2", "br-db3", "ph-db1"] {
        let path = seed.join(format!("demo/{name}.json"));
        let demo = file::read(&std::fs::read_to_string(&path).unwrap()).unwrap().board;
        with(&demo, |input| {
            for (kind, formats) in offered(&demo) {
                for format in formats {
                    let file = write(input, kind, format).unwrap();
                    std::fs::write(folder.join(&file.name), &file.bytes).unwrap();
                }
            }
        });
        surveys.push(json!({"file": path, "stem": demo.reference}));
    }
    let expected = json!({
        "tables": seed.join("plate"),
        "surveys": surveys,
        "charts": [{
            "file": "T-DB1-circuit-chart.pdf",
            "circuits": [
                {"number": "1", "words": "Pump, Ω ² ≤ ≥ Δ ± °"},
                {"number": "=2", "words": HOSTILE},
                {"number": "without number", "words": "Nowhere yet"},
            ],
        }],
        "templates": [
            {
                "name": "T-DB1-bottom-plate-template", "width": 300, "depth": 120,
                "entries": [
                    {"label": "E1", "x": 40.5, "y": 60, "diameter": 25.4},
                    {"label": "E2", "x": 95, "y": 60.25, "diameter": 20.4},
                    {"label": "E3", "x": 145, "y": 60, "diameter": 25.4, "existing": true},
                    {"label": "E4", "x": 205, "y": 55, "width": 50, "height": 40},
                    {"label": "E5", "x": 262, "y": 40, "diameter": 20.4},
                ],
            },
            {
                "name": "T-DB1-back-plate-template", "width": 620, "depth": 400,
                "entries": [
                    {"label": "E1", "x": 60, "y": 50, "diameter": 40.5},
                    {"label": "E2", "x": 257.3, "y": 138, "diameter": 40.5},
                    {"label": "E3", "x": 250, "y": 260, "diameter": 40.5},
                    {"label": "E4", "x": 560, "y": 340, "diameter": 40.5},
                    {"label": "E5", "x": 400.5, "y": 200.5, "diameter": 40.5},
                ],
            },
        ],
        "orders": [{
            "name": "T-DB1-order-list",
            "lines": {"armoured-cable gland 40, M40": 5, "blank, one module": 7, "earth tag M25 with bolt, nut and washer": 1},
        }],
    });
    measured(&folder, "expected.json", &expected);
    look_as_before(&folder);
}

/// Pages that a person has looked at look as they did then (`tests/outside/pages.py`).
fn look_as_before(folder: &Path) {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let python = std::env::var_os("WAYWRIGHT_PYTHON").unwrap_or_else(|| "python3".into());
    let mut look = std::process::Command::new(python);
    look.arg(here.join("../../tests/outside/pages.py")).arg(folder).arg(here.join("tests/golden/pages"));
    if std::env::var_os("UPDATE_GOLDEN").is_some() {
        look.arg("update");
    }
    let look = look.output().unwrap();
    let told = format!("{}{}", String::from_utf8_lossy(&look.stdout), String::from_utf8_lossy(&look.stderr));
    println!("{told}");
    assert!(look.status.success(), "look at what changed; where it is right, UPDATE_GOLDEN=1 keeps it:\n{told}");
}
