//! Writes the inputs that a fuzzer begins with: `cargo run -p waywright-tests --example seeds tests/corpus`.

#![allow(clippy::unwrap_used, reason = "a helper stops where it fails")]

use std::fs;
use std::io::Cursor;
use std::path::Path;

use store::{Env, Kind, Op, Store};
use survey::Site;

const SURVEYS: [&str; 3] = [
    include_str!("../cases/02-supply-as-it-should-be.json"),
    include_str!("../cases/82-direct-current.json"),
    include_str!("../cases/116-conductors-as-they-may-be.json"),
];

const ACTS: [&str; 6] = [
    r#"{"set":{"path":"/place","value":"attic"}}"#,
    r#"{"set":{"path":"/supply/ze","value":{"known":"measured","value":"0.35 ohm","instrument":"loop tester"}}}"#,
    r#"{"add_circuit":{"at":"2L1","poles":"1p","device":"circuit_breaker","load":"sockets","description":"bench"}}"#,
    r#"{"remove_circuit":{"circuit":"00000000-0000-0000-0000-00000000c001"}}"#,
    r#"{"set":{"path":"/plates/00000000-0000-0000-0000-000000000001/width","value":null}}"#,
    r#"{"move_devices":{"moves":[]}}"#,
];

fn main() {
    let folder = std::env::args().nth(1).expect("give the folder");
    let put = |target: &str, name: &str, bytes: &[u8]| {
        let folder = Path::new(&folder).join(target);
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join(name), bytes).unwrap();
    };
    for (number, text) in SURVEYS.iter().enumerate() {
        // Without the indents, so that the fuzzer's changes meet content.
        let json: serde_json::Value = serde_json::from_str(text).unwrap();
        put("survey_file", &format!("case-{number}"), json.to_string().as_bytes());
    }
    let list = include_str!("../../seed-data/patterns.toml");
    for (number, pattern) in list.split("[[pattern]]").skip(1).take(4).enumerate() {
        put("patterns", &format!("pattern-{number}"), format!("[[pattern]]{pattern}").as_bytes());
    }
    let shipped = circuits::tables::TableTexts::shipped();
    for (which, name) in circuits::tables::TableTexts::NAMES.iter().enumerate() {
        let mut bytes = vec![u8::try_from(which).unwrap()];
        bytes.extend(shipped.text(name).unwrap().as_bytes());
        if bytes.len() < 12_000 {
            put("tables", name, &bytes);
        }
    }
    for (number, act) in ACTS.iter().enumerate() {
        put("intents", &format!("act-{number}"), act.as_bytes());
    }
    let mut picture = image::RgbImage::from_pixel(24, 16, image::Rgb([120, 90, 200]));
    picture.put_pixel(3, 3, image::Rgb([255, 0, 0]));
    for (name, format) in [("picture.png", image::ImageFormat::Png), ("picture.jpg", image::ImageFormat::Jpeg)] {
        let mut bytes = Vec::new();
        picture.write_to(&mut Cursor::new(&mut bytes), format).unwrap();
        put("photo", name, &bytes);
    }
    let mut number = 7_u128 << 80;
    let id = move || {
        number += 1;
        uuid::Uuid::from_u128(number)
    };
    let mut store = Store::in_memory(Env::new(|| chrono::DateTime::UNIX_EPOCH, id)).unwrap();
    let board = survey::file::read(SURVEYS[0]).unwrap().board;
    let op = Op::new("new board", "surveyor");
    store.create_site(op.clone(), &Site { id: Some(board.site), name: "Low Mill".into(), ..Site::default() }).unwrap();
    store.create_board(op, &board, |_| Ok(())).unwrap();
    let change = survey::intent::Change { path: "/place".into(), value: "attic".into() };
    store.transact(Op::new("move", "surveyor"), board.id, &[change], |_, _| Ok(())).unwrap();
    let document = store.document_bytes(board.id.0, Kind::Board).unwrap();
    put("changes", "document", &document);
    let mut whole = Cursor::new(Vec::new());
    exchange::export_site(&mut store, board.site, &mut whole).unwrap();
    put("bundle", "whole", &[&[0], whole.get_ref().as_slice()].concat());
    put("bundle", "made", &[b"\x01Low Mill\0", document.as_slice()].concat());
}
