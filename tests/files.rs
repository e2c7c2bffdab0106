//! What is read and written, and what becomes of it when something is amiss: no file of the user's is lost, whatever it is called and however
//! it is named twice. The promises are the README's; exit statuses of signals are those of the POSIX shell (128 and the signal's number).

mod program;

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use knobwright::shipped::{GUITARS, STOCK};
use program::*;

const GUITAR: &str = GUITARS[0].text;
const HEADER_TAPER: &str = "rotation,fraction\n0,0\n0.5,0.2\n1,1\n";
/// A search that takes minutes.
const LONG: [&str; 8] = [
    "recommend",
    "--large",
    "--values",
    "R=E192,C=E192",
    "--search",
    "bleed=R1 + (R2 || C)",
    "--search",
    "tone=C",
];
/// A sweep of a resonance near 4 kHz, level over frequency: enough rows to be read, whatever is found.
const SWEEP: &str = "frequency_hz,magnitude_ohm\n100,6200\n500,9000\n1000,16000\n2000,40000\n4000,200000\n6000,60000\n8000,35000\n";

/// A folder with a guitar, its table of a taper, a stock list, a target with its curve, and a catalogue.
fn bench() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    write("g.toml", GUITAR);
    write("tapered.toml", &tapered());
    write("pot.csv", HEADER_TAPER);
    write("s.csv", STOCK[0].text);
    write("curve.csv", "frequency_hz,level_db\n50,0\n10000,0\n");
    write(
        "t.toml",
        "[[clause]]\nmeasure = \"shape\"\nband = \"highs\"\nat_most = 60\nagainst = { curve = \"curve.csv\" }\n",
    );
    write("sweep.csv", SWEEP);
    write(
        "c.csv",
        "name,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper.table,cable.capacitance\n\
         Dunlin,2.2 H,6 k,110 p,250 k,pot.csv,500 p\n",
    );
    folder
}

/// The first sample, its volume control with a measured taper.
fn tapered() -> String {
    let taper = GUITAR.lines().find(|line| line.starts_with("taper")).expect("a taper");
    GUITAR.replacen(taper, "taper = { table = \"pot.csv\" }", 1)
}

fn everything(folder: &Path) -> Vec<(std::ffi::OsString, Vec<u8>)> {
    let mut files: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .map(|entry| (entry.file_name(), fs::read(entry.path()).unwrap_or_default()))
        .collect();
    files.sort();
    files
}

/// Refused with both names, before any work is done, and nothing in the folder is another.
#[track_caller]
fn refused_here(folder: &Path, arguments: &[&str], names: &[&str]) {
    let before = everything(folder);
    let output = run_in(folder, arguments);
    let told = text(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {told}");
    assert!(output.stdout.is_empty() && told.contains("error: "), "{arguments:?}: {told}");
    for name in names {
        assert!(told.contains(name), "{arguments:?} without {name}: {told}");
    }
    assert_eq!(everything(folder), before, "{arguments:?}");
}

#[test]
fn an_output_that_is_an_input_is_refused_by_identity() {
    let folder = bench();
    let here = folder.path();
    let full = here.join("g.toml");
    for (arguments, names) in [
        (
            &["response", "--guitar", "g.toml", "--output", "g.toml"][..],
            &["--output", "g.toml"][..],
        ),
        (
            &["response", "--guitar", "g.toml", "--output", "./g.toml"],
            &["`g.toml`", "./g.toml"],
        ),
        (&["response", "--guitar", full.to_str().unwrap(), "--output", "g.toml"], &["g.toml"]),
        (&["recommend", "--stock", "s.csv", "--output", "s.csv"], &["--output", "s.csv"]),
        (
            &["recommend", "--target", "t.toml", "--output", "./t.toml"],
            &["`t.toml`", "./t.toml"],
        ),
        (
            &["recommend", "--target", "t.toml", "--output", "curve.csv"],
            &["curve.csv", "`t.toml` names"],
        ),
        (
            &["recommend", "--guitar", "tapered.toml", "--output", "./pot.csv"],
            &["`pot.csv`", "`tapered.toml` names"],
        ),
        (&["tolerance", "--guitar", "g.toml", "--output", "./g.toml"], &["`g.toml`"]),
        (
            &["compare", "--guitar", "g.toml", "--build", "a: bleed=1n", "--output", "./g.toml"],
            &["`g.toml`"],
        ),
        (&["kit", "--guitars", "c.csv", "--output", "./c.csv"], &["`c.csv`"]),
        (
            &["kit", "--guitars", "c.csv", "--output", "./pot.csv"],
            &["`pot.csv`", "`c.csv` names"],
        ),
        (
            &["kit", "--guitars", "g.toml", "--stock", "s.csv", "--output", "./s.csv"],
            &["`s.csv`"],
        ),
        (
            &["identify", "--impedance", "sweep.csv", "--output", "./sweep.csv"],
            &["`sweep.csv`"],
        ),
        (
            &["identify", "--impedance", "470p=sweep.csv", "--output", "./sweep.csv"],
            &["`sweep.csv`"],
        ),
        (
            &[
                "identify",
                "--peak",
                "470p=4.14k",
                "--peak",
                "2n2=2.09k",
                "--known",
                "resistance=6k",
                "--guitar",
                "g.toml",
                "--output",
                "./g.toml",
            ],
            &["`g.toml`"],
        ),
        (&["target", "t.toml", "--output", "./t.toml"], &["`t.toml`"]),
    ] {
        refused_here(here, arguments, names);
    }
}

#[test]
fn two_outputs_that_are_one_file_are_refused() {
    let folder = bench();
    let here = folder.path();
    fs::create_dir(here.join("sub")).unwrap();
    for (arguments, names) in [
        (
            &["--sheet", "a.html", "--page", "./a.html"][..],
            &["--sheet", "--page", "`a.html`"][..],
        ),
        (&["--sheet", "a.html", "--page", "sub/../a.html"], &["--sheet", "--page"]),
        (&["--output", "a.md", "--sheet", "./a.md"], &["--output", "--sheet"]),
        (&["--output", "a.svg", "--plot", "./a.svg"], &["--output", "--plot"]),
    ] {
        refused_here(here, &with(&MET, arguments), names);
    }
    fs::write(here.join("there.html"), "old").unwrap();
    refused_here(
        here,
        &with(&MET, &["--sheet", "there.html", "--page", "./there.html"]),
        &["there.html"],
    );
}

#[test]
fn what_cannot_be_written_is_refused_before_any_work() {
    let folder = bench();
    let here = folder.path();
    fs::write(here.join("old.json"), "old").unwrap();
    let mut permissions = fs::metadata(here.join("old.json")).unwrap().permissions();
    permissions.set_readonly(true);
    fs::set_permissions(here.join("old.json"), permissions).unwrap();
    for (output, why) in [("old.json", "read-only"), ("no/such.json", "no such folder")] {
        let mut command = assert_cmd::Command::new(PROGRAM);
        let arguments = with(&LONG, &["--output", output]);
        let output = command
            .current_dir(here)
            .args(arguments)
            .timeout(std::time::Duration::from_secs(20))
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
        assert!(text(&output.stderr).contains(why), "{}", text(&output.stderr));
    }
    assert_eq!(fs::read_to_string(here.join("old.json")).unwrap(), "old");
}

#[test]
fn one_stock_list_by_two_spellings_is_one_list() {
    let folder = bench();
    refused_here(
        folder.path(),
        &["recommend", "--stock", "s.csv", "--stock", "./s.csv"],
        &["`./s.csv` is given twice", "`s.csv`"],
    );
}

#[test]
fn an_open_quote_is_refused_at_its_place_in_every_file() {
    let folder = bench();
    let here = folder.path();
    let write = |name: &str, text: &str| fs::write(here.join(name), text).unwrap();
    // Each has its open quote in line 3, as a column of its own or in front of a cell; the rows below would be swallowed.
    let opened = |text: &str| {
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let cell = lines[2].rfind(',').unwrap() + 1;
        lines[2].insert(cell, '"');
        (format!("{}\n", lines.join("\n")), format!(":3:{}", cell + 1))
    };
    let stock =
        "kind,value,tolerance,price,quantity,note\nresistor,120k,1 %,,3,\nresistor,150k,1 %,,3,from the lid\ncapacitor,1n,5 %,,3,\n";
    for (name, text, arguments) in [
        ("s.csv", stock.to_owned(), &["check", "s.csv"][..]),
        ("pot.csv", HEADER_TAPER.to_owned(), &["check", "tapered.toml"]),
        (
            "curve.csv",
            fs::read_to_string(here.join("curve.csv")).unwrap(),
            &["check", "t.toml"],
        ),
        ("sweep.csv", SWEEP.to_owned(), &["identify", "--impedance", "sweep.csv"]),
        (
            "c.csv",
            format!(
                "{}Godwit,2 H,6 k,110 p,250 k,pot.csv,500 p\n",
                fs::read_to_string(here.join("c.csv")).unwrap()
            ),
            &["check", "c.csv"],
        ),
    ] {
        let (bad, place) = opened(&text);
        write(name, &bad);
        refused_here(here, arguments, &[&format!("{name}{place}"), "quote"]);
        write(name, &text);
    }
}

#[cfg(unix)]
mod unix {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};

    use super::*;

    const SHORT: [&str; 3] = ["response", "--frequencies", "100"];

    fn shell(folder: &Path, script: &str) -> Output {
        let mut command = Command::new("bash");
        command
            .current_dir(folder)
            .args(["-c", script, PROGRAM])
            .stdin(Stdio::null())
            .output()
            .unwrap()
    }

    #[test]
    fn links_to_an_input_or_to_another_output_are_seen_through() {
        let folder = bench();
        let here = folder.path();
        symlink("g.toml", here.join("soft.toml")).unwrap();
        fs::hard_link(here.join("g.toml"), here.join("hard.toml")).unwrap();
        symlink("later.html", here.join("soft.html")).unwrap();
        for output in ["soft.toml", "hard.toml"] {
            refused_here(here, &["response", "--guitar", "g.toml", "--output", output], &["`g.toml`", output]);
        }
        refused_here(
            here,
            &["response", "--guitar", "soft.toml", "--output", "g.toml"],
            &["`soft.toml`", "g.toml"],
        );
        refused_here(
            here,
            &with(&MET, &["--sheet", "later.html", "--page", "soft.html"]),
            &["--sheet", "--page"],
        );
        // A shell appends to the input.
        let output = shell(here, "$0 response --frequencies 100 --guitar g.toml >> g.toml");
        assert_eq!(output.status.code(), Some(2));
        assert_eq!(fs::read_to_string(here.join("g.toml")).unwrap(), GUITAR);
    }

    #[test]
    fn a_link_is_written_through_and_kept() {
        let folder = bench();
        let here = folder.path();
        fs::create_dir(here.join("sub")).unwrap();
        fs::write(here.join("sub/old.csv"), "old").unwrap();
        symlink("sub/old.csv", here.join("one.csv")).unwrap();
        symlink("one.csv", here.join("two.csv")).unwrap();
        symlink("sub/new.csv", here.join("dangling.csv")).unwrap();
        let expected = ends(&SHORT, 0);
        for (link, target) in [("two.csv", "sub/old.csv"), ("dangling.csv", "sub/new.csv")] {
            let output = run_in(here, &with(&SHORT, &["--output", link]));
            assert!(output.status.success(), "{}", text(&output.stderr));
            assert!(fs::symlink_metadata(here.join(link)).unwrap().is_symlink());
            assert!(fs::symlink_metadata(here.join(target)).unwrap().is_file());
            assert_eq!(fs::read_to_string(here.join(target)).unwrap(), expected);
        }
        assert_eq!(fs::read_dir(here.join("sub")).unwrap().count(), 2);
    }

    #[test]
    fn what_is_no_file_is_written_to() {
        let folder = bench();
        let here = folder.path();
        let expected = ends(&SHORT, 0);
        let short = SHORT.join(" ");
        for script in [
            format!("$0 {short} --output /dev/stdout"),
            format!("$0 {short} --output /dev/stdout | cat"),
            format!("{{ $0 {short} --output /dev/stdout; }} > out.txt; cat out.txt"),
            format!("mkfifo pipe; $0 {short} --output pipe & cat pipe; test -p pipe"),
            format!("$0 {short} --output >(cat); sleep 0.3"),
            format!("$0 {short} --output /dev/fd/3 3> three.txt; cat three.txt"),
        ] {
            let output = shell(here, &script);
            assert_eq!(text(&output.stdout), expected, "{script}: {}", text(&output.stderr));
            assert!(output.status.success(), "{script}");
            assert!(fs::symlink_metadata("/dev/stdout").unwrap().is_symlink());
        }
        // What a shell writes before and after stays.
        let output = shell(
            here,
            &format!("{{ echo before; $0 {short} --output /dev/stdout; echo after; }} > out.txt; cat out.txt"),
        );
        assert_eq!(text(&output.stdout), format!("before\n{expected}after\n"));
    }

    #[test]
    fn mode_and_owner_of_a_file_stay() {
        let folder = bench();
        let here = folder.path();
        let file = here.join("old.txt");
        for mode in [0o600, 0o664, 0o755] {
            fs::write(&file, "old").unwrap();
            fs::set_permissions(&file, fs::Permissions::from_mode(mode)).unwrap();
            // Only the superuser can give a file away; for anybody else its owner is the same before and after.
            let _ = std::os::unix::fs::chown(&file, Some(12345), Some(23456));
            let before = fs::metadata(&file).unwrap();
            assert!(run_in(here, &with(&SHORT, &["--output", "old.txt"])).status.success());
            let after = fs::metadata(&file).unwrap();
            assert_ne!(fs::read_to_string(&file).unwrap(), "old");
            assert_eq!(after.mode(), before.mode(), "{mode:o}");
            assert_eq!((after.uid(), after.gid()), (before.uid(), before.gid()));
            fs::remove_file(&file).unwrap();
        }
    }

    #[test]
    fn a_guitar_from_a_pipe_is_read_once_and_stands_on_the_page() {
        let folder = bench();
        let here = folder.path();
        let name = GUITAR.lines().find(|line| line.starts_with("name")).unwrap();
        for script in [
            "cat g.toml | $0 recommend --guitar /dev/stdin --search bleed=C --builds 0 --quiet --page p.html --sheet s.md",
            "$0 recommend --guitar <(cat g.toml) --stock <(cat s.csv) --search bleed=C --builds 0 --quiet --page p.html",
        ] {
            let output = shell(here, script);
            assert!(matches!(output.status.code(), Some(0 | 1)), "{script}: {}", text(&output.stderr));
            let page = fs::read_to_string(here.join("p.html")).unwrap();
            assert!(page.contains(&name.replace('"', "&quot;")) || page.contains(name), "{script}");
            fs::remove_file(here.join("p.html")).unwrap();
        }
    }

    #[test]
    fn a_closed_output_keeps_the_status_of_the_answer() {
        for (arguments, status) in [(&MET[..], 0), (&MISSED, 1), (&["check", "tests/bad-input/junk.toml"], 2)] {
            let mut closed = Command::new("bash");
            let closed = closed
                .args(["-c", "exec \"$0\" \"$@\" >&-", PROGRAM])
                .args(arguments)
                .output()
                .unwrap();
            assert_eq!(closed.status.code(), Some(status), "{arguments:?}: {}", text(&closed.stderr));
        }
    }

    #[test]
    fn names_that_are_no_text_work_wherever_a_file_is_named() {
        let folder = bench();
        let here = folder.path();
        let odd = |ending: &str| OsStr::from_bytes(&[b"od\xff\x1b[2J".as_slice(), ending.as_bytes()].concat()).to_owned();
        for (from, ending) in [("g.toml", ".toml"), ("s.csv", ".csv"), ("t.toml", "t.toml"), ("sweep.csv", "w.csv")] {
            fs::copy(here.join(from), here.join(odd(ending))).unwrap();
        }
        // Something that the guitar does not do already, so that there is a sheet to write.
        let wish = "[[clause]]\nmeasure = \"shape\"\nband = \"highs\"\nagainst = \"full\"\nvolume = [7.5, 5]\nat_least = -3\nat_most = 3\n";
        fs::write(here.join(odd("t.toml")), wish).unwrap();
        let run = |arguments: &[&OsStr]| Command::new(PROGRAM).current_dir(here).args(arguments).output().unwrap();
        let word = |word: &'static str| OsStr::new(word).to_owned();
        let mut added = word("470p=");
        added.push(odd("w.csv"));
        for arguments in [
            vec![
                word("recommend"),
                word("--guitar"),
                odd(".toml"),
                word("--stock"),
                odd(".csv"),
                word("--target"),
                odd("t.toml"),
                word("--output"),
                odd("out.txt"),
                word("--plot"),
                odd("out.svg"),
                word("--sheet"),
                odd("out.md"),
                word("--page"),
                odd("out.html"),
            ],
            vec![
                word("kit"),
                word("--guitars"),
                odd(".toml"),
                word("--stock"),
                odd(".csv"),
                word("--choose"),
                word("R=1,C=1"),
            ],
            vec![word("identify"), word("--impedance"), odd("w.csv")],
            vec![word("identify"), word("--impedance"), added],
            vec![word("check"), odd(".toml"), odd(".csv"), odd("t.toml")],
        ] {
            let output = run(&arguments.iter().map(|word| word.as_os_str()).collect::<Vec<_>>());
            let told = text(&output.stderr);
            assert!(matches!(output.status.code(), Some(0 | 1)), "{arguments:?}: {told}");
            assert!(
                !told.contains('\u{1b}') && !text(&output.stdout).contains('\u{1b}'),
                "{arguments:?}"
            );
        }
        for ending in ["out.txt", "out.svg", "out.md", "out.html"] {
            assert!(here.join(odd(ending)).is_file(), "{ending}");
        }
        let missing = run(&[OsStr::new("response"), OsStr::new("--guitar"), &odd("none.toml")]);
        let told = text(&missing.stderr);
        assert!(told.contains("od\u{fffd}\\u{1b}[2Jnone.toml") && !told.contains('\u{1b}'), "{told}");
    }

    #[test]
    fn messages_show_the_path_as_it_was_typed() {
        let folder = bench();
        let here = folder.path();
        symlink("nowhere/deep.txt", here.join("link.txt")).unwrap();
        let long = "x".repeat(300);
        for output in ["link.txt", &long, "no/out.txt", "."] {
            let told = text(&run_in(here, &with(&SHORT, &["--output", output])).stderr);
            assert!(told.contains(&format!("`{output}`")), "{told}");
            assert!(
                !told.contains(".tmp") && !told.contains("deep") && !told.contains(here.to_str().unwrap()),
                "{told}"
            );
        }
        let full = text(&run_in(here, &with(&SHORT, &["--output", "/dev/full"])).stderr);
        assert!(full.contains("`/dev/full`"), "{full}");
    }

    /// Killed as soon as anything appears in the folder, again and again: what is there is nothing or all of it.
    #[test]
    fn a_signal_while_writing_leaves_nothing_half_written() {
        let folder = bench();
        let volumes = (0..40)
            .map(|step| format!("{}", f64::from(step) / 40.0))
            .collect::<Vec<_>>()
            .join(",");
        for (signal, status) in [(rustix::process::Signal::TERM, 143), (rustix::process::Signal::INT, 130)].repeat(5) {
            let out = tempfile::tempdir_in(folder.path()).unwrap();
            let file = out.path().join("out.csv");
            let mut command = Command::new(PROGRAM);
            command.args([
                "response",
                "--quiet",
                "--format",
                "csv",
                "--points-per-octave",
                "400",
                "--volume",
                &volumes,
                "--output",
            ]);
            let mut child = command.arg(&file).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
            // The place is tried out first, with an empty file; the answer has begun when there is something in one.
            let begun = || {
                fs::read_dir(out.path())
                    .unwrap()
                    .any(|entry| entry.unwrap().metadata().is_ok_and(|metadata| metadata.len() > 0))
            };
            while !begun() && child.try_wait().unwrap().is_none() {}
            let _ = rustix::process::kill_process(rustix::process::Pid::from_child(&child), signal);
            let ended = child.wait().unwrap().code();
            assert!(ended == Some(status) || ended == Some(0), "{ended:?}");
            let left: Vec<_> = fs::read_dir(out.path()).unwrap().map(|entry| entry.unwrap().file_name()).collect();
            assert!(left.is_empty() || left == ["out.csv"], "{left:?}");
            if let Ok(written) = fs::read_to_string(&file) {
                assert!(written.ends_with('\n') && written.lines().count() > 100_000);
            }
        }
    }

    #[test]
    fn a_termination_ends_a_search_with_its_status() {
        let mut child = Command::new(PROGRAM)
            .args(LONG)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        std::thread::sleep(std::time::Duration::from_millis(700));
        rustix::process::kill_process(rustix::process::Pid::from_child(&child), rustix::process::Signal::TERM).unwrap();
        assert_eq!(child.wait().unwrap().code(), Some(143));
    }
}
