//! The database by itself: however the program is ended, its one file holds everything.

#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use waywright_tests::webdriver::waywright;

fn serve(data: &Path) -> (Child, String) {
    serve_by(data, "exec \"$0\" \"$@\"", &["serve", "--demo", "--port", "0"])
}

/// The same by way of a shell.
fn serve_by(data: &Path, line: &str, words: &[&str]) -> (Child, String) {
    let mut child = Command::new("sh")
        .args(["-c", line])
        .arg(waywright())
        .arg("--data")
        .arg(data)
        .args(words)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let address = line.trim().rsplit_once("http://").unwrap().1.trim_end_matches('/').to_owned();
    (child, address)
}

fn call(address: &str, name: &str, body: &str) -> String {
    let reply = post(address, name, body);
    assert!(reply.starts_with("HTTP/1.1 200"), "{reply}");
    reply
}

fn post(address: &str, name: &str, body: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(
        stream,
        "POST /api/{name} HTTP/1.1\r\nHost: {address}\r\nContent-Type: application/json\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}",
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

/// A limit on how large a file may get: the edit that does not fit is refused, what was saved before stays, and the
/// host goes on.
#[test]
fn a_file_that_may_not_grow_ends_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let line = "ulimit -f 2000; exec \"$0\" \"$@\"";
    let (mut child, address) = serve_by(folder.path(), line, &["serve", "--port", "0"]);
    let site = |number: u32| {
        let note = "x".repeat(180);
        post(&address, "create_site", &format!("{{\"name\":\"Site {number} {note}\"}}"))
    };
    let mut saved = 0;
    let refused = (0..400).map(site).find(|reply| {
        let is_saved = reply.starts_with("HTTP/1.1 200");
        saved += usize::from(is_saved);
        !is_saved
    });
    let refused = refused.expect("some edit does not fit");
    assert!(child.try_wait().unwrap().is_none(), "the host goes on");
    assert!(refused.contains("disk") && saved > 3, "{saved}: {refused}");
    let listed = call(&address, "list_sites", "{}");
    assert_eq!(listed.matches("\"name\":\"Site ").count(), saved);
    child.kill().unwrap();
    child.wait().unwrap();
    let (mut child, address) = serve(folder.path());
    assert_eq!(call(&address, "list_sites", "{}").matches("\"name\":\"Site ").count(), saved);
    child.kill().unwrap();
    child.wait().unwrap();
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
