//! Big things take disk, not memory: no file of any kind takes the program beyond its budget.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]

use std::fs::File;
use std::io::{BufRead, BufReader, BufWriter, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

use waywright_tests::webdriver::waywright;

/// Most memory of a process at its peak, in kB.
const BUDGET: u64 = 300 * 1024;

fn whole() -> bool {
    std::env::var_os("WAYWRIGHT_WHOLE").is_some()
}

fn command(data: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(waywright());
    command.arg("--data").arg(data).args(words).stdin(Stdio::null());
    command
}

/// The peak of a process that runs, in kB.
fn peak(process: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0)
}

/// Runs a command to its end; its output and its peak in kB.
fn run(data: &Path, words: &[&str]) -> (Output, u64) {
    let mut child = command(data, words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut most = 0;
    while child.try_wait().unwrap().is_none() {
        most = most.max(peak(child.id()));
        std::thread::sleep(Duration::from_millis(2));
    }
    println!("{words:.60?}: {} MB at the peak", most / 1024);
    (child.wait_with_output().unwrap(), most)
}

fn ends_well(data: &Path, words: &[&str]) {
    let (output, most) = run(data, words);
    assert!(output.status.success(), "{words:.200?}: {}", String::from_utf8_lossy(&output.stderr));
    assert!(most < BUDGET, "{words:.200?}: {most} kB");
}

/// A picture that does not pack: side by side pixels of three bytes.
fn noise(path: &Path, side: u32, seed: u64) {
    let mut encoder = png::Encoder::new(BufWriter::new(File::create(path).unwrap()), side, side);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_compression(png::Compression::NoCompression);
    let mut writer = encoder.write_header().unwrap();
    let mut rows = writer.stream_writer().unwrap();
    let mut state = seed | 1;
    let mut row = vec![0; side as usize * 3];
    for _ in 0..side {
        for byte in &mut row {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            *byte = (state >> 56) as u8;
        }
        rows.write_all(&row).unwrap();
    }
    rows.finish().unwrap();
}

/// A picture of 16 bits a channel that is shown turned by a quarter.
fn deep_and_turned(path: &Path, side: u32, interlaced: bool) {
    let mut info = png::Info::with_size(side, side);
    info.color_type = png::ColorType::Rgb;
    info.bit_depth = png::BitDepth::Sixteen;
    info.interlaced = interlaced;
    let mut writer =
        png::Encoder::with_info(BufWriter::new(File::create(path).unwrap()), info).unwrap().write_header().unwrap();
    // Orientation 6 (Exif 2.32, tag 0x0112).
    let exif = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0";
    writer.write_chunk(png::chunk::ChunkType(*b"eXIf"), exif).unwrap();
    let mut rows = writer.stream_writer().unwrap();
    let row = vec![0x40; side as usize * 6];
    for _ in 0..side {
        rows.write_all(&row).unwrap();
    }
    rows.finish().unwrap();
}

struct Host {
    child: Child,
    address: String,
    key: String,
}

impl Host {
    fn start(data: &Path) -> Self {
        let mut child = command(data, &["serve"]).stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let (address, key) = line.trim().rsplit_once("http://").unwrap().1.split_once("/?key=").unwrap();
        Self { child, address: address.to_owned(), key: key.to_owned() }
    }

    fn head(&self, method: &str, path: &str, media: &str, length: u64) -> TcpStream {
        let mut stream = TcpStream::connect(&self.address).unwrap();
        let head = format!(
            "{method} {path} HTTP/1.1\r\nHost: {}\r\nWaywright-Key: {}\r\nConnection: close\r\nContent-Type: {media}\r\nContent-Length: {length}\r\n\r\n",
            self.address, self.key
        );
        stream.write_all(head.as_bytes()).unwrap();
        stream
    }

    /// Sends a body; the answer, head and all.
    fn post(&self, path: &str, media: &str, mut body: impl Read, length: u64) -> String {
        let mut stream = self.head("POST", path, media, length);
        // A host that refuses need not listen to the end.
        let _cut = std::io::copy(&mut body, &mut stream);
        let mut reply = Vec::new();
        let _cut = stream.read_to_end(&mut reply);
        String::from_utf8_lossy(&reply).into_owned()
    }

    fn within_budget(&self, what: &str) {
        let most = peak(self.child.id());
        println!("{what}, through the host: {} MB at the peak", most / 1024);
        assert!(most > 0 && most < BUDGET, "{what}: {most} kB");
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

#[test]
fn a_site_with_many_photos_goes_out_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let (first, count) = (path("first"), if whole() { 12 } else { 6 });
    ends_well(&first, &["demo"]);
    for number in 0..count {
        let file = path("noise.png");
        noise(&file, 3700, number * 2 + 77);
        ends_well(&first, &["photo", "PH-DB1", file.to_str().unwrap()]);
    }
    let bundle = path("site.zip");
    ends_well(&first, &["export-site", "Harrow Mere Cider Works", "--out", bundle.to_str().unwrap()]);
    let length = bundle.metadata().unwrap().len();
    assert!(length > count * 40_000_000);
    ends_well(&path("second"), &["import", bundle.to_str().unwrap()]);

    let host = Host::start(&path("third"));
    let media = "application/octet-stream";
    let reply = host.post("/files/import_bundle/%7B%7D", media, File::open(&bundle).unwrap(), length);
    assert!(reply.starts_with("HTTP/1.1 200"), "{reply:.500}");
    host.within_budget("import of a site");
    let file = path("noise.png");
    let sites = host.post("/api/list_sites", "application/json", "{}".as_bytes(), 2);
    let site = sites.split("\"id\":\"").nth(1).and_then(|rest| rest.split('"').next()).unwrap();
    let mut reply =
        BufReader::new(host.head("GET", &format!("/files/export_site/%7B%22site%22%3A%22{site}%22%7D"), media, 0));
    let mut line = String::new();
    while line != "\r\n" {
        line.clear();
        reply.read_line(&mut line).unwrap();
    }
    let back = path("back.zip");
    std::io::copy(&mut reply, &mut File::create(&back).unwrap()).unwrap();
    assert_eq!(same(&back), same(&bundle), "what goes out is what came in");
    host.within_budget("export of a site");
    drop(file);
}

fn same(path: &PathBuf) -> (u64, usize) {
    let mut bytes = Vec::new();
    File::open(path).unwrap().take(50_000_000).read_to_end(&mut bytes).unwrap();
    (path.metadata().unwrap().len(), bytes.iter().map(|byte| usize::from(*byte)).sum())
}

#[test]
fn zips_made_to_fill_the_memory_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    ends_well(&data, &["demo"]);
    let zip = folder.path().join("x.zip");
    let end = |entries: u16, size: u32, place: u32| {
        let mut end = b"PK\x05\x06\0\0\0\0".to_vec();
        end.extend(entries.to_le_bytes());
        end.extend(entries.to_le_bytes());
        end.extend(size.to_le_bytes());
        end.extend(place.to_le_bytes());
        end.extend([0, 0]);
        end
    };
    let large = |entries: u64, size: u64, place: u64, at: u64| {
        let mut all = b"PK\x06\x06".to_vec();
        all.extend(44_u64.to_le_bytes());
        all.extend([45, 0, 45, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
        for number in [entries, entries, size, place] {
            all.extend(number.to_le_bytes());
        }
        all.extend(b"PK\x06\x07\0\0\0\0");
        all.extend(at.to_le_bytes());
        all.extend([1, 0, 0, 0]);
        all.extend(end(u16::MAX, u32::MAX, u32::MAX));
        all
    };
    const GB: u64 = 1024 * 1024 * 1024;
    for (start, hole, tail) in [
        (vec![], 2 * GB, vec![]),
        (b"PK\x03\x04".to_vec(), 2 * GB - 4, vec![]),
        (b"PK\x03\x04".to_vec(), 2 * GB, end(9, 1 << 30, 4)),
        (b"PK\x03\x04".to_vec(), GB, end(50_001, 1 << 29, 4)),
        (b"PK\x03\x04".to_vec(), 2 * GB, large(40_000_000, 46 * 40_000_000, 4, 2 * GB + 4)),
        (b"PK\x03\x04".to_vec(), 40 * GB, vec![]),
        // The directory seems to be where there are only zeros.
        (b"PK\x01\x02".repeat(1000), GB, end(1000, 46_000, 0)),
    ] {
        let mut file = File::create(&zip).unwrap();
        file.write_all(&start).unwrap();
        file.set_len(start.len() as u64 + hole).unwrap();
        std::io::Seek::seek(&mut file, std::io::SeekFrom::End(0)).unwrap();
        file.write_all(&tail).unwrap();
        let (output, most) = run(&data, &["import", zip.to_str().unwrap()]);
        let error = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(3), "{error}");
        assert!(most < BUDGET, "{most} kB: {error}");
    }
}

#[test]
fn pictures_that_unpack_to_much_are_kept_within_the_budget() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    ends_well(&data, &["demo"]);
    let file = folder.path().join("deep.png");
    let side = if whole() { 10_000 } else { 6000 };
    deep_and_turned(&file, side, false);
    ends_well(&data, &["photo", "PH-DB1", file.to_str().unwrap()]);
    deep_and_turned(&file, 10_000, true);
    let (output, most) = run(&data, &["photo", "PH-DB1", file.to_str().unwrap()]);
    let error = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{error}");
    assert!(error.contains("without interlacing") && most < BUDGET, "{most} kB: {error}");
}

#[test]
fn small_texts_of_a_million_values_are_refused_before_they_are_built() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("store");
    ends_well(&data, &["demo"]);
    let ones = |length: usize| format!("[{}1]", "1,".repeat((length - 3) / 2));
    let file = folder.path().join("ones.json");
    for megabytes in [30, 100] {
        std::fs::write(&file, ones(megabytes * 1_000_000)).unwrap();
        let (output, most) = run(&data, &["import", file.to_str().unwrap()]);
        assert_eq!(output.status.code(), Some(3), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(most < BUDGET, "{megabytes} MB: {most} kB");
    }
    let host = Host::start(&data);
    for (name, megabytes, status) in
        [("import_survey", 60, "422"), ("edit", 3, "422"), ("edit", 100, "413"), ("import_survey", 100, "413")]
    {
        let body = ones(megabytes * 1_000_000);
        let reply = host.post(&format!("/api/{name}"), "application/json", body.as_bytes(), body.len() as u64);
        assert!(
            reply.is_empty() && status == "413" || reply.starts_with(&format!("HTTP/1.1 {status}")),
            "{reply:.300}"
        );
    }
    let text = serde_json::to_string(&ones(30_000_000)).unwrap();
    let body = format!("{{\"text\":{text}}}");
    let reply = host.post("/api/import_survey", "application/json", body.as_bytes(), body.len() as u64);
    assert!(reply.starts_with("HTTP/1.1 422"), "{reply:.300}");
    host.within_budget("texts of many values");
}
