//! Long responses are written as they are computed: this project's own promises (README.md, limits), no outside source.

mod program;

use std::fs;
use std::sync::atomic::{AtomicU64, Ordering};

use knobwright::inputs;
use knobwright::kernel::response::{Response, response};
use knobwright::progress::Progress;
use knobwright::{circuit::Setting, limits, report};
use program::{ends, refused, text};

/// So many knob positions, as on the knob, none of them 0.
fn positions(count: usize) -> String {
    let position = |index: usize| format!("{}", 10.0 * index as f64 / count as f64);
    (1..=count).map(position).collect::<Vec<_>>().join(",")
}

#[test]
fn a_point_is_there_before_the_next_one_is_computed() {
    let guitar = inputs::guitar(Some("heron-bridge")).expect("shipped");
    let rotations: Vec<f64> = (0..100_000).map(|index| f64::from(index) / 100_000.0).collect();
    let long = Response {
        guitar: &guitar,
        volumes: &rotations,
        tones: &rotations,
        frequencies: &[100.0, 1000.0],
    };
    // Twenty thousand million points: whoever computed them all before handing out the first would never come to an end.
    assert_eq!(long.count(), 20_000_000_000);
    let first: Vec<_> = long.points().take(3).map(|row| row.point).collect();
    let settings = [0.0, rotations[1]].map(|tone| Setting { volume: 0.0, tone });
    assert_eq!(first, response(&guitar, &settings, &[100.0, 1000.0])[..3]);
}

/// What was expected and what is done.
#[derive(Default)]
struct Steps([AtomicU64; 2]);

impl Steps {
    fn told(&self) -> [u64; 2] {
        self.0.each_ref().map(|steps| steps.load(Ordering::Relaxed))
    }
}

impl Progress for Steps {
    fn expect(&self, steps: u64) {
        self.0[0].fetch_add(steps, Ordering::Relaxed);
    }

    fn advance(&self, steps: u64) {
        self.0[1].fetch_add(steps, Ordering::Relaxed);
    }
}

#[test]
fn what_is_written_as_it_is_computed_is_what_the_parts_alone_are() {
    let guitar = inputs::guitar(Some("heron-bridge")).expect("shipped");
    let written = |volumes: &[f64]| {
        let part = Response {
            guitar: &guitar,
            volumes,
            tones: &[1.0, 0.5],
            frequencies: &[80.0, 3000.0],
        };
        let mut csv = Vec::new();
        let steps = Steps::default();
        report::response_csv(std::slice::from_ref(&part), &steps, &mut csv).expect("memory takes all");
        assert_eq!(steps.told(), [part.count(); 2]);
        let mut json = Vec::new();
        report::response_json(std::slice::from_ref(&part), &steps, &mut json).expect("memory takes all");
        assert_eq!(steps.told(), [2 * part.count(); 2]);
        assert_eq!(text(&json), report::json(&part).expect("JSON"));
        let rows: serde_json::Value = serde_json::from_str(&text(&json)).expect("JSON");
        (text(&csv), rows.as_array().expect("a list").clone())
    };
    let (whole, parts) = (written(&[1.0, 0.3, 0.0]), [1.0, 0.3, 0.0].map(|volume| written(&[volume])));
    let rows = |csv: &str| csv.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(rows(&whole.0).len(), 12);
    assert_eq!(rows(&whole.0), parts.iter().flat_map(|part| rows(&part.0)).collect::<Vec<_>>());
    assert_eq!(whole.1, parts.iter().flat_map(|part| part.1.clone()).collect::<Vec<_>>());
}

/// Half a million points used to be too many, and a fifth of ten million would have taken more than the memory of this test.
#[cfg(target_os = "linux")]
#[test]
fn a_long_response_takes_no_more_memory_than_a_short_one() {
    use std::process::{Command, Stdio};
    /// In MiB; the same command with one knob position takes some 10.
    const MOST: f64 = 40.0;
    let volumes = positions(700);
    for format in ["csv", "json"] {
        let long = ["--volume", &volumes, "--points-per-octave", "110", "--format", format];
        let mut child = Command::new(program::PROGRAM)
            .arg("response")
            .args(long)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("starts");
        let mut out = child.stdout.take().expect("piped");
        let mut peak = 0.0_f64;
        let (mut lines, mut piece) = (0, vec![0; 1 << 16]);
        // The program waits for its reader, so that it is there to be looked at until nearly all is read.
        loop {
            let length = std::io::Read::read(&mut out, &mut piece).expect("reads");
            lines += piece[..length].iter().filter(|byte| **byte == b'\n').count();
            peak = peak.max(resident(child.id()));
            if length == 0 {
                break;
            }
        }
        assert!(child.wait().expect("ours").success());
        let points = 700 * 732;
        assert_eq!(lines, if format == "csv" { 1 + points } else { 2 + 7 * points }, "{format}");
        assert!(peak > 1.0 && peak < MOST, "{format}: {peak} MiB");
    }
}

/// The largest resident set of a process so far, in MiB; 0 where it has ended.
#[cfg(target_os = "linux")]
fn resident(process: u32) -> f64 {
    let status = fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kibibytes = line.and_then(|line| line.trim().trim_end_matches("kB").trim().parse::<f64>().ok());
    kibibytes.unwrap_or(0.0) / 1024.0
}

#[test]
fn more_points_than_the_limits_are_refused_before_any_work() {
    // 4,000 by 4,000 positions at 1,000 frequencies: whoever made a list of them first would run out of memory.
    let many = positions(4_000);
    let whole = tempfile::tempdir().expect("a folder");
    let page = whole.path().join("page.html").to_string_lossy().into_owned();
    let base = [
        "response",
        "--quiet",
        "--volume",
        &many,
        "--tone",
        &many,
        "--points-per-octave",
        "150",
    ];
    let told = refused(&[&base[..], &["--format", "csv"]].concat());
    assert!(
        told.contains("a response of 15,968,000,000 points (knob position, frequency, case); 10,000,000 is the most"),
        "{told}"
    );
    let some = positions(200);
    let base = ["response", "--quiet", "--volume", &some, "--points-per-octave", "100"];
    let told = refused(&base);
    assert!(
        told.contains("a table of 133,200 points") && told.contains("100,000 is the most"),
        "{told}"
    );
    assert!(told.contains("--format csv or json takes up to 10,000,000"), "{told}");
    let told = refused(&[&base[..], &["--format", "csv", "--page", &page]].concat());
    assert!(
        told.contains("a page of 133,200 points") && told.contains("100,000 is the most"),
        "{told}"
    );
    assert!(told.contains("leave --page out"), "{told}");
    assert_eq!(fs::read_dir(whole.path()).expect("there").count(), 0);
    assert_eq!(limits::MOST_RESPONSE_POINTS, 10_000_000);
}

#[test]
fn a_long_response_goes_into_its_file_whole() {
    let whole = tempfile::tempdir().expect("a folder");
    let path = whole.path().join("out.csv");
    let name = path.to_string_lossy();
    fs::write(&path, "old").expect("written");
    let asked = [
        "response",
        "--quiet",
        "--volume",
        "10,5,1",
        "--points-per-octave",
        "300",
        "--format",
        "csv",
    ];
    let printed = ends(&asked, 0);
    assert_eq!(ends(&[&asked[..], &["--output", &name]].concat(), 0), "");
    assert_eq!(fs::read_to_string(&path).expect("text"), printed);
    assert_eq!(fs::read_dir(whole.path()).expect("there").count(), 1);
}

#[cfg(unix)]
mod on_unix {
    use std::fs;
    use std::process::{Command, Stdio};

    use super::positions;
    use super::program::PROGRAM;

    /// Nine and a half million points, which take longer than anybody waits.
    fn endless() -> Vec<String> {
        let words = ["response", "--quiet", "--points-per-octave", "1000", "--format", "csv", "--volume"];
        words.map(str::to_owned).into_iter().chain([positions(1_400)]).collect()
    }

    #[test]
    fn an_interrupt_ends_a_long_response_and_leaves_what_was_there() {
        for signal in [rustix::process::Signal::INT, rustix::process::Signal::TERM] {
            let whole = tempfile::tempdir().expect("a folder");
            let path = whole.path().join("out.csv");
            fs::write(&path, "old").expect("written");
            let mut child = Command::new(PROGRAM)
                .args(endless())
                .arg("--output")
                .arg(&path)
                .stderr(Stdio::piped())
                .spawn()
                .expect("starts");
            // Once there is something in the file beside it.
            let begun = || {
                let mut files = fs::read_dir(whole.path()).expect("there");
                files.any(|file| file.is_ok_and(|file| file.metadata().is_ok_and(|data| data.len() > 100)))
            };
            while !begun() && child.try_wait().expect("ours").is_none() {
                std::thread::yield_now();
            }
            rustix::process::kill_process(rustix::process::Pid::from_child(&child), signal).expect("told");
            let output = child.wait_with_output().expect("ends");
            assert_eq!(output.status.code(), Some(128 + signal.as_raw()));
            assert!(output.stderr.is_empty(), "{output:?}");
            assert_eq!(fs::read_to_string(&path).expect("text"), "old");
            assert_eq!(fs::read_dir(whole.path()).expect("there").count(), 1);
        }
    }

    #[test]
    fn a_reader_that_leaves_ends_a_long_response_quietly() {
        let mut child = Command::new(PROGRAM)
            .args(endless())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        let mut out = child.stdout.take().expect("piped");
        let mut start = [0; 40];
        std::io::Read::read_exact(&mut out, &mut start).expect("reads");
        drop(out);
        assert!(start.starts_with(b"volume,tone,frequency_hz,"));
        let output = child.wait_with_output().expect("ends");
        assert_eq!(output.status.code(), Some(0));
        assert!(output.stderr.is_empty(), "{output:?}");
    }
}
