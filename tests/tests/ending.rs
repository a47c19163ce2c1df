//! The database by itself: however the program is ended, its one file holds everything.

#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use waywright_tests::webdriver::waywright;

/// A host, and its address and key.
fn serve(data: &Path) -> (Child, (String, String)) {
    start(Command::new(waywright()), data)
}

fn start(mut command: Command, data: &Path) -> (Child, (String, String)) {
    let mut child = command
        .arg("--data")
        .arg(data)
        .args(["serve", "--demo", "--port", "0"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let (address, key) = line.trim().rsplit_once("http://").unwrap().1.split_once("/?key=").unwrap();
    (child, (address.to_owned(), key.to_owned()))
}

fn call(address: &(String, String), name: &str, body: &str) -> String {
    let reply = answer(address, name, body);
    assert!(reply.starts_with("HTTP/1.1 200"), "{reply}");
    reply
}

fn answer((address, key): &(String, String), name: &str, body: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(
        stream,
        "POST /api/{name} HTTP/1.1\r\nHost: {address}\r\nWaywright-Key: {key}\r\nContent-Type: application/json\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .unwrap();
    let mut reply = String::new();
    stream.read_to_string(&mut reply).unwrap();
    reply
}

/// What a copy of the database file alone holds.
fn alone(data: &Path) -> String {
    let copy = tempfile::tempdir().unwrap();
    fs::copy(data.join("waywright.db"), copy.path().join("waywright.db")).unwrap();
    let output = Command::new(waywright()).arg("--data").arg(copy.path()).arg("boards").output().unwrap();
    assert!(output.status.success());
    assert_eq!(String::from_utf8_lossy(&output.stderr), "", "nothing to complain of");
    String::from_utf8(output.stdout).unwrap()
}

#[test]
fn the_file_alone_holds_everything_after_a_signal() {
    for (signal, code) in [("-TERM", 143), ("-INT", 130)] {
        let folder = tempfile::tempdir().unwrap();
        let (mut child, address) = serve(folder.path());
        // Seeded, and still running.
        assert_eq!(alone(folder.path()).lines().count(), 3, "after seeding");
        let reply = call(&address, "create_site", "{\"name\":\"Low Mill\"}");
        let site = reply.split("\"id\":\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        let board = format!(
            "{{\"site\":\"{site}\",\"reference\":\"LM-DB9\",\"place\":\"attic\",\"pattern\":null,\"new\":false}}"
        );
        call(&address, "create_board", &board);
        assert!(Command::new("kill").arg(signal).arg(child.id().to_string()).status().unwrap().success());
        assert_eq!(child.wait().unwrap().code(), Some(code), "{signal}");
        let log = fs::metadata(folder.path().join("waywright.db-wal")).map_or(0, |log| log.len());
        assert_eq!(log, 0, "{signal}: the log is empty");
        assert!(alone(folder.path()).contains("LM-DB9\tLow Mill"), "{signal}");
    }
}

/// The next process says who has it, and what became of the file; it calls nothing damaged.
#[test]
fn a_database_renamed_under_a_host_is_told_as_that() {
    let folder = tempfile::tempdir().unwrap();
    let (mut child, _) = serve(folder.path());
    let (path, away) = (folder.path().join("waywright.db"), folder.path().join("away.db"));
    fs::rename(&path, &away).unwrap();
    let boards = || Command::new(waywright()).arg("--data").arg(folder.path()).arg("boards").output().unwrap();
    let output = boards();
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(1), "{words}");
    assert!(words.contains(&format!("process {}", child.id())) && words.contains("renamed"), "{words}");
    assert!(!words.contains("damaged") && !words.contains("T0"), "{words}");
    assert!(!path.exists(), "nothing is put in its place");
    fs::rename(&away, &path).unwrap();
    assert_eq!(String::from_utf8_lossy(&boards().stdout).lines().count(), 3);
    child.kill().unwrap();
    child.wait().unwrap();
}

#[test]
fn what_a_killed_host_left_on_its_way_is_taken_away() {
    let folder = tempfile::tempdir().unwrap();
    let on_their_way = folder.path().join("on-their-way");
    fs::create_dir(&on_their_way).unwrap();
    let mut ended = Command::new("true").spawn().unwrap();
    ended.wait().unwrap();
    let (dead, alive) = (format!("{}-0.part", ended.id()), format!("{}-0.part", std::process::id()));
    for name in [&dead, &alive] {
        fs::write(on_their_way.join(name), "half a bundle").unwrap();
    }
    assert!(Command::new(waywright()).arg("--data").arg(folder.path()).arg("boards").status().unwrap().success());
    assert!(!on_their_way.join(dead).exists() && on_their_way.join(alive).exists());
}

#[test]
fn what_happened_to_the_store_is_said_until_a_person_has_read_it() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str]| Command::new(waywright()).arg("--data").arg(folder.path()).args(words).output().unwrap();
    assert!(run(&["demo"]).status.success());
    let path = folder.path().join("waywright.db");
    let mut bytes = fs::read(&path).unwrap();
    bytes[0] ^= 1;
    fs::write(&path, bytes).unwrap();
    for _ in 0..2 {
        let output = run(&["boards"]);
        assert_eq!(String::from_utf8_lossy(&output.stdout).lines().count(), 3);
        assert!(String::from_utf8_lossy(&output.stderr).contains("damaged"), "a command line prints it every time");
    }
    let (mut child, address) = serve(folder.path());
    let about = call(&address, "about", "{}");
    let upto = about.split("\"recovered_upto\":").nth(1).unwrap().split([',', '}']).next().unwrap().to_owned();
    assert!(about.contains("damaged"), "{about}");
    let about = call(&address, "mark_read", &format!("{{\"upto\":{upto}}}"));
    assert!(about.contains("\"recovered\":null"), "{about}");
    child.kill().unwrap();
    child.wait().unwrap();
    assert_eq!(String::from_utf8_lossy(&run(&["boards"]).stderr), "");
}

/// A file that may not grow: the system would end the program by a signal of its own.
#[test]
fn a_file_that_may_not_grow_refuses_the_edit_and_ends_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (mut child, address) = serve(folder.path());
    let site = call(&address, "create_site", "{\"name\":\"Low Mill\"}");
    let site = site.split("\"id\":\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    assert!(Command::new("kill").arg(child.id().to_string()).status().unwrap().success());
    child.wait().unwrap();
    let blocks = fs::metadata(folder.path().join("waywright.db")).unwrap().len() / 512 + 64;
    let mut limited = Command::new("sh");
    limited.args(["-c", &format!("ulimit -f {blocks}; exec \"$0\" \"$@\"")]).arg(waywright());
    let (mut child, address) = start(limited, folder.path());
    let mut saved = 0;
    let refusal = loop {
        let board = format!(
            "{{\"site\":\"{site}\",\"reference\":\"LM-DB{saved}\",\"place\":\"attic\",\"pattern\":null,\"new\":false}}"
        );
        let reply = answer(&address, "create_board", &board);
        if !reply.starts_with("HTTP/1.1 200") {
            break reply;
        }
        saved += 1;
        assert!(saved < 2000, "the limit was never met");
    };
    assert!(refusal.contains("disk"), "{refusal}");
    assert!(answer(&address, "about", "{}").starts_with("HTTP/1.1 200"), "it goes on");
    assert!(child.try_wait().unwrap().is_none());
    child.kill().unwrap();
    child.wait().unwrap();
    let output = Command::new(waywright()).arg("--data").arg(folder.path()).arg("boards").output().unwrap();
    let boards = String::from_utf8_lossy(&output.stdout).lines().filter(|line| line.contains("LM-DB")).count();
    assert_eq!(boards, saved, "each that was answered is there, and no other");
    println!("a file that may not grow: {saved} boards saved, the next refused, the host went on");
}
