//! Reading and calibrating timed inside one process, beside a bare parse of the same file. Run by `tests/speed/run.py`:
//!
//! ```text
//! speed read STUDY REPETITIONS    read_trace and calibrate the first run of a study
//! speed bare TRACE REPETITIONS    five columns of plain decimals on two threads, nothing checked
//! ```
//!
//! Each prints one JSON object. A first repetition warms caches and is not counted.
#![allow(clippy::print_stdout, clippy::unwrap_used)]

use hooptrace::calibrate::calibrate;
use hooptrace::read::{read_original, read_tables};
use hooptrace::rig::{load_rig, load_study};
use std::fs::File;
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::time::Instant;

/// Columns of the recordings of this test.
const COLUMNS: usize = 5;
/// Bytes the bare parse reads at once.
const BLOCK: usize = 1 << 18;
/// Threads of the bare parse.
const THREADS: u64 = 2;
/// Bytes of the shortest row, for the size of its columns.
const SHORTEST_ROW: u64 = 16;
/// Ticks a second of the kernel's clock of processes (the same on every Linux that is built as usual).
const TICKS: f64 = 100.0;

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| word != "--bench")
        .collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["read", study, repetitions] => read(Path::new(study), repetitions.parse().unwrap()),
        ["bare", trace, repetitions] => bare(Path::new(trace), repetitions.parse().unwrap()),
        _ => println!("speed read STUDY REPETITIONS | speed bare TRACE REPETITIONS"),
    }
}

/// Times a way of reading that gives the number of rows and what was read, and prints what it took. As with the peers, what was read is
/// freed after the clock is stopped.
fn time<T>(bytes: u64, repetitions: usize, read: impl Fn() -> (usize, T)) {
    let mut rows = 0;
    let mut runs = Vec::new();
    for repetition in 0..=repetitions {
        // From here on the kernel counts the peak of the memory anew.
        let _ = std::fs::write("/proc/self/clear_refs", "5");
        let (wall, cpu) = (Instant::now(), cpu_s());
        let all = read();
        let (wall, cpu) = (wall.elapsed().as_secs_f64(), cpu_s() - cpu);
        rows = all.0;
        if repetition > 0 {
            let peak = peak_bytes();
            runs.push(format!(
                "{{\"wall_s\": {wall}, \"cpu_s\": {cpu:.2}, \"peak_bytes\": {peak}}}"
            ));
        }
    }
    println!(
        "{{\"bytes\": {bytes}, \"table_bytes\": {}, \"table_rows\": {rows}, \"rows\": [{}]}}",
        rows * COLUMNS * 8,
        runs.join(", ")
    );
}

/// CPU time of this process, all threads, s.
fn cpu_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap();
    let fields = stat.rsplit_once(')').unwrap().1;
    let ticks = fields
        .split_whitespace()
        .skip(11)
        .take(2)
        .map(|field| field.parse::<f64>().unwrap());
    ticks.sum::<f64>() / TICKS
}

/// Most memory held since the peak was cleared.
fn peak_bytes() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmHWM:"))
        .unwrap();
    line.split_whitespace()
        .next()
        .unwrap()
        .parse::<u64>()
        .unwrap()
        * 1024
}

fn read(study: &Path, repetitions: usize) {
    let (file, _) = load_study(study).unwrap();
    let rig = file.rig.unwrap();
    let (rig, _) = load_rig(&study.join(&rig), &rig).unwrap();
    let (tables, ..) = read_tables(study, Some(&rig)).unwrap();
    let run = tables.runs.first().unwrap();
    let shown_as = run.trace.as_deref().unwrap();
    let path = study.join(shown_as);
    time(path.metadata().unwrap().len(), repetitions, || {
        // The fingerprint is no part of reading; no peer takes one.
        let (recording, _) = read_original(&path, shown_as, &rig).unwrap();
        let (trace, _) = calibrate(recording, &rig, run, &file.settings, None).unwrap();
        (trace.len(), trace)
    });
}

fn bare(path: &Path, repetitions: usize) {
    let file = File::open(path).unwrap();
    let size = file.metadata().unwrap().len();
    let mut head = vec![0; BLOCK.min(size as usize)];
    file.read_exact_at(&mut head, 0).unwrap();
    let start = head.iter().position(|byte| *byte == b'\n').unwrap() as u64 + 1;
    time(size, repetitions, || {
        let share = (size - start) / THREADS;
        let parts: Vec<(usize, [Vec<f64>; COLUMNS])> = std::thread::scope(|scope| {
            let thread = |at: u64| {
                let from = start + at * share;
                let to = if at + 1 == THREADS {
                    size
                } else {
                    from + share
                };
                let file = &file;
                scope.spawn(move || parse(file, from, to, at > 0))
            };
            let threads: Vec<_> = (0..THREADS).map(thread).collect();
            threads
                .into_iter()
                .map(|thread| thread.join().unwrap())
                .collect()
        });
        (parts.iter().map(|(rows, _)| rows).sum(), parts)
    });
}

/// The rows that begin between two bytes of a file; `inside` skips the row that began before.
fn parse(file: &File, from: u64, to: u64, inside: bool) -> (usize, [Vec<f64>; COLUMNS]) {
    let most = ((to - from) / SHORTEST_ROW) as usize;
    let mut columns: [Vec<f64>; COLUMNS] = std::array::from_fn(|_| vec![0.0; most]);
    let (mut rows, mut at, mut kept) = (0, from, 0);
    let mut buffer = vec![0; 2 * BLOCK];
    if inside {
        let read = file.read_at(&mut buffer[..BLOCK], at - 1).unwrap();
        at += buffer[..read]
            .iter()
            .position(|byte| *byte == b'\n')
            .unwrap() as u64;
    }
    loop {
        let read = file.read_at(&mut buffer[kept..kept + BLOCK], at).unwrap();
        at += read as u64;
        let filled = kept + read;
        let Some(last) = buffer[..filled].iter().rposition(|byte| *byte == b'\n') else {
            return (rows, columns);
        };
        let begins = at - filled as u64;
        let mut here = 0;
        while here <= last && begins + (here as u64) < to {
            for column in &mut columns {
                (column[rows], here) = decimal(&buffer, here);
            }
            rows += 1;
        }
        if read == 0 || here <= last {
            return (rows, columns);
        }
        buffer.copy_within(last + 1..filled, 0);
        kept = filled - last - 1;
    }
}

const POWERS: [f64; 10] = [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9];

/// A plain decimal and the place behind the mark that ends it.
#[inline]
fn decimal(bytes: &[u8], mut at: usize) -> (f64, usize) {
    let negative = bytes[at] == b'-';
    at += usize::from(negative);
    let mut whole = 0_u64;
    while bytes[at].is_ascii_digit() {
        whole = whole * 10 + u64::from(bytes[at] - b'0');
        at += 1;
    }
    let mut decimals = 0;
    if bytes[at] == b'.' {
        at += 1;
        let point = at;
        while bytes[at].is_ascii_digit() {
            whole = whole * 10 + u64::from(bytes[at] - b'0');
            at += 1;
        }
        decimals = at - point;
    }
    let value = whole as f64 / POWERS[decimals];
    (if negative { -value } else { value }, at + 1)
}
