//! Cold start: from the app's process to the first paint of its window, on a store with the demo.
//!
//! The time is that of the system's own clocks: when the process began (`/proc`), and the page's entry
//! for its first contentful paint. The driver that opens the window is not in it.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails and may time itself")]
#![allow(missing_docs)]

use std::fs;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use criterion::{Criterion, SamplingMode, criterion_group, criterion_main};
use serde_json::json;
use waywright_tests::webdriver::Page;

/// Ticks of `/proc/PID/stat` in a second: fixed on Linux.
const TICKS: f64 = 100.0;

/// When the process with that argument began, in seconds since the epoch.
fn began(argument: &str) -> f64 {
    let uptime: f64 = fs::read_to_string("/proc/uptime").unwrap().split(' ').next().unwrap().parse().unwrap();
    let booted = SystemTime::now().duration_since(UNIX_EPOCH).unwrap().as_secs_f64() - uptime;
    let ours = fs::read_dir("/proc").unwrap().filter_map(Result::ok).filter(|entry| {
        let line = fs::read(entry.path().join("cmdline")).unwrap_or_default();
        let mut words = line.split(|byte| *byte == 0);
        words.next().is_some_and(|program| program.ends_with(b"waywright"))
            && words.any(|word| word == argument.as_bytes())
    });
    let ticks = |entry: fs::DirEntry| -> Option<f64> {
        let stat = fs::read_to_string(entry.path().join("stat")).ok()?;
        // The name in brackets may hold spaces; field 22 is the 20th after it.
        stat.rsplit_once(')')?.1.split_whitespace().nth(19)?.parse().ok()
    };
    booted + ours.filter_map(ticks).fold(f64::INFINITY, f64::min) / TICKS
}

/// One start; the time to the first paint.
fn start(data: &str) -> Duration {
    let page = Page::window(&["window", "--demo", "--data", data]).unwrap();
    page.wait_for("[data-board]").unwrap();
    let began = began(data);
    let script = "const paint = performance.getEntriesByName('first-contentful-paint')[0];
                  return paint ? (performance.timeOrigin + paint.startTime) / 1000 : null";
    let painted = page.wait_until("the first paint", || Ok(page.run(script, json!([]))?.as_f64())).unwrap();
    Duration::from_secs_f64(painted - began)
}

fn cold_start(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().to_string_lossy().into_owned();
    // The first start makes the store.
    start(&data);
    let mut group = criterion.benchmark_group("start");
    group.sampling_mode(SamplingMode::Flat).sample_size(10).measurement_time(Duration::from_secs(10));
    group.bench_function("process to first paint of the window", |bencher| {
        bencher.iter_custom(|times| (0..times).map(|_| start(&data)).sum());
    });
    group.finish();
}

criterion_group!(benches, cold_start);
criterion_main!(benches);
