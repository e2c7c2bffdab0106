//! Whole commands: time over that of a do-nothing one, and peak resident memory.
//!
//! Baseline: `knobwright --version`, which reads its arguments and ends. Peak memory is the largest resident set of the child as the kernel
//! counts it (VmHWM), read while it runs, so that it is a lower bound that is exact once the peak has passed; only Linux tells it.

mod common;

use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// What any search may take at most, in MiB.
const MOST_RESIDENT: f64 = 64.0;
/// What any command may take at most, in MiB, with inputs as large as they may be.
const MOST_AT_LIMITS: f64 = 256.0;
/// How often each short command is run; the shortest counts.
const RUNS: usize = 20;
/// How often memory is looked at.
const BETWEEN_LOOKS: Duration = Duration::from_micros(200);

fn main() {
    let nothing = shortest(&["--version"]);
    println!("do nothing: {:.2} ms", milliseconds(nothing));
    let three_parts = [
        "recommend",
        "--search",
        "bleed=R1 + (R2 || C)",
        "--values",
        "R=E96",
        "--builds",
        "0",
        "--large",
    ];
    for (name, arguments) in [
        ("default recommend", &["recommend", "--builds", "0"][..]),
        ("E96, three parts", &three_parts[..]),
    ] {
        let time = shortest(arguments);
        println!(
            "{name}: {:.1} ms, {:.1} x doing nothing",
            milliseconds(time),
            time.as_secs_f64() / nothing.as_secs_f64()
        );
    }
    if !cfg!(target_os = "linux") {
        println!("peak memory is told on Linux only");
        return;
    }
    let small = ["recommend", "--search", "bleed=R1 + (R2 || C)", "--values", "R=E96"];
    let large = [
        "recommend",
        "--search",
        "bleed=R || C",
        "--search",
        "tone=R + C",
        "--values",
        "R=E48",
        "--values",
        "C=E48",
        "--large",
    ];
    for (name, arguments) in [
        ("default recommend", &["recommend"][..]),
        ("three parts", &small[..]),
        ("four parts", &large[..]),
    ] {
        let (candidates, peak) = peak(arguments);
        println!("{name}: {candidates} candidates, peak {peak:.1} MiB resident");
        assert!(peak > 0.0 && peak < MOST_RESIDENT, "{name}: {peak} MiB");
    }
    largest_inputs();
}

/// Commands at their limits: the longest responses, and a mistake at the end of the largest stock list.
fn largest_inputs() {
    let rotations = |count: u32| {
        let rotation = |step: u32| format!("{}", 10.0 * f64::from(step) / f64::from(count));
        (1..=count).map(rotation).collect::<Vec<_>>().join(",")
    };
    let (few, many) = (rotations(1_234), rotations(1_500));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("stock.csv");
    let row = |row: usize| format!("resistor,{row} R,5 %,0.10,3,{}\n", "x".repeat(280));
    let rows: String = (1..100_000).map(row).collect();
    let text = format!("kind,value,tolerance,price,quantity,note\n{rows}resistor,4k7,,,-1,\n");
    std::fs::write(&path, text).expect("written");
    let path = path.to_string_lossy();
    let wide = folder.path().join("wide.toml");
    std::fs::write(&wide, wide_target()).expect("written");
    let wide = wide.to_string_lossy();
    for (name, arguments) in [
        (
            "a target of nearly the most points",
            &["recommend", "--builds", "0", "--search", "bleed=C", "--target", &wide][..],
        ),
        ("longest response", &["response", "--volume", &few][..]),
        (
            "longest response, CSV",
            &["response", "--volume", &many, "--points-per-octave", "1000", "--format", "csv"][..],
        ),
        (
            "longest response, JSON",
            &["response", "--volume", &many, "--points-per-octave", "1000", "--format", "json"][..],
        ),
        ("mistake in a large file", &["check", &path][..]),
    ] {
        let (_, peak) = run(arguments);
        println!("{name}: peak {peak:.1} MiB resident");
        assert!(peak > 0.0 && peak < MOST_AT_LIMITS, "{name}: {peak} MiB");
    }
}

/// 79,380 points at 2,520 positions of the knobs, no two clauses sharing any.
fn wide_target() -> String {
    let clause = |number: usize| {
        format!(
            "[[clause]]\nmeasure = \"shape\"\nanchor = [{}, {}]\nband = [{}, 6000]\nagainst = \"full\"\nat_least = -6.0\n\
             volume = {{ from = 10, to = 0.5 }}\ntone = [10, 8, 6, 4]\n",
            200 + number,
            400 + number,
            1500 + number
        )
    };
    (0..24).map(clause).collect()
}

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_knobwright"));
    command.args(arguments).stderr(Stdio::null());
    command
}

fn shortest(arguments: &[&str]) -> Duration {
    let run = || {
        let status = command(arguments).stdout(Stdio::null()).status().expect("the program starts");
        assert!(matches!(status.code(), Some(0 | 1)), "{arguments:?}: {status}");
    };
    common::best_of(RUNS, run).0
}

fn milliseconds(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// How many candidates a command searched, and its peak resident memory in MiB.
fn peak(arguments: &[&str]) -> (u64, f64) {
    let mut arguments = arguments.to_vec();
    arguments.extend(["--format", "json"]);
    let (output, peak) = run(&arguments);
    (candidates(output), peak)
}

/// What a command wrote, and its peak resident memory in MiB.
fn run(arguments: &[&str]) -> (std::fs::File, f64) {
    let start = Instant::now();
    let output = tempfile::tempfile().expect("a temporary file");
    let kept = output.try_clone().expect("the same file");
    let mut child = command(arguments).stdout(output).spawn().expect("the program starts");
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0.0_f64;
    while child.try_wait().expect("the child is ours").is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let kibibytes = line.and_then(|line| line.trim().trim_end_matches("kB").trim().parse::<f64>().ok());
        peak = peak.max(kibibytes.unwrap_or(0.0) / 1024.0);
        std::thread::sleep(BETWEEN_LOOKS);
    }
    println!("  {:.2} s", start.elapsed().as_secs_f64());
    (kept, peak)
}

fn candidates(mut output: std::fs::File) -> u64 {
    use std::io::{Read, Seek};
    let mut text = String::new();
    output.rewind().expect("a file");
    output.read_to_string(&mut text).expect("JSON is text");
    let result: serde_json::Value = serde_json::from_str(&text).expect("the program prints JSON");
    let searches = result["search"].as_array().expect("searches");
    searches.iter().map(|search| search["candidates"].as_u64().expect("a count")).sum()
}
