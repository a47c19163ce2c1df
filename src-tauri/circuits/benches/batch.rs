//! A fleet of 10,000 boards of 72 circuits on two threads: aim ≤ 5 s, memory flat.
//!
//! 100 different boards, some values of each not known, are checked 100 times each, so the boards
//! themselves stay small in memory. Prints its own figures: one run lasts too long for samples.
#![allow(missing_docs, clippy::unwrap_used, clippy::disallowed_methods)]

#[path = "../tests/common/mod.rs"]
mod common;

use std::hint::black_box;
use std::time::Instant;

use circuits::{Tables, check_board, verdicts};
use common::mixed::{USUAL, mixed};
use survey::Board;

/// Boards checked; WAYWRIGHT_BOARDS sets another number, for a profiler that slows the work down.
fn how_many() -> usize {
    std::env::var("WAYWRIGHT_BOARDS").ok().and_then(|count| count.parse().ok()).unwrap_or(10_000)
}

const THREADS: usize = 2;

/// Largest memory of this process so far, MB; 0 where the system does not tell.
fn peak() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok()).unwrap_or(0.0) / 1024.0
}

/// Processor time of this process so far, s; 0 where the system does not tell. Unlike the time on the
/// clock it does not grow with what else the machine does.
fn worked() -> f64 {
    const TICKS_PER_SECOND: f64 = 100.0;
    let status = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // After the name in brackets: user and system time are fields 14 and 15 of all.
    let after = status.rsplit(')').next().unwrap_or_default();
    let ticks = after.split_whitespace().skip(11).take(2).filter_map(|field| field.parse::<f64>().ok());
    ticks.sum::<f64>() / TICKS_PER_SECOND
}

fn batch(what: &str, boards: &[Board], tables: &Tables, work: fn(&Board, &Tables) -> usize) {
    let mut before = peak();
    for count in [how_many() / 10, how_many()] {
        let (start, before_work) = (Instant::now(), worked());
        let found: usize = std::thread::scope(|scope| {
            let threads: Vec<_> = (0..THREADS)
                .map(|thread| {
                    let share = boards.iter().cycle().take(count).skip(thread).step_by(THREADS);
                    scope.spawn(move || share.map(|board| work(black_box(board), tables)).sum::<usize>())
                })
                .collect();
            threads.into_iter().map(|thread| thread.join().unwrap()).sum()
        });
        let seconds = start.elapsed().as_secs_f64();
        let now = peak();
        println!(
            "{what}: {count} boards, {found} checks, {THREADS} threads: {seconds:.2} s ({:.2} s of work), {:.0} boards/s, peak memory {now:.1} MB ({:+.1} MB)",
            worked() - before_work,
            count as f64 / seconds,
            now - before
        );
        before = now;
    }
}

fn main() {
    // A run that asks for one other benchmark by name passes this one by.
    let named = std::env::args().skip(1).find(|arg| !arg.starts_with('-'));
    if named.is_some_and(|name| !"batch".contains(&name)) {
        return;
    }
    let tables = common::tables();
    let boards: Vec<Board> = (0..100).map(|seed| mixed(seed, USUAL)).collect();
    batch("batch of verdicts", &boards, &tables, |board, tables| black_box(verdicts(board, tables)).len());
    batch("batch of full checks", &boards, &tables, |board, tables| black_box(check_board(board, tables)).len());
}
