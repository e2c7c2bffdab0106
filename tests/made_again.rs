//! Pages and sheets hold all that makes them again: what they show of their inputs is written out into an empty folder, and the same command
//! there gives the same answer, page and sheet.

mod program;

use std::fs;
use std::path::Path;

use knobwright::shipped::{CURVES, GUITARS, STOCK, TARGETS};
use program::{run_in, text};
use roxmltree::{Document, ParsingOptions};

const POT: &str = "rotation,fraction\n0,0\n0.3,0.04\n0.6,0.2\n1,1\n";

/// A guitar with a measured taper, a target with a curve, a stock list; all but the last in folders of their own.
fn bench(folder: &Path) {
    for below in ["guitars", "wishes"] {
        fs::create_dir(folder.join(below)).unwrap();
    }
    let guitar = GUITARS[0].text.replacen("\"audio 15 %\"", "{ table = \"pot.csv\" }", 1);
    let match_another = TARGETS.iter().find(|target| target.name == "match-another-guitar").unwrap().text;
    let target = match_another.replacen("curve = \"wren\"", "curve = \"wanted.csv\"", 1);
    assert!(guitar != GUITARS[0].text && target != match_another);
    for (name, text) in [
        ("guitars/wren.toml", guitar.as_str()),
        ("guitars/pot.csv", POT),
        ("wishes/match.toml", target.as_str()),
        ("wishes/wanted.csv", CURVES[0].text),
        ("drawers.csv", STOCK[0].text),
    ] {
        fs::write(folder.join(name), text).unwrap();
    }
}

const FILES: [&str; 5] = [
    "guitars/wren.toml",
    "guitars/pot.csv",
    "wishes/match.toml",
    "wishes/wanted.csv",
    "drawers.csv",
];

const COMMAND: [&str; 16] = [
    "recommend",
    "--quiet",
    "--builds",
    "200",
    "--guitar",
    "guitars/wren.toml",
    "--target",
    "wishes/match.toml",
    "--stock",
    "drawers.csv",
    "--search",
    "tone=R + C",
    "--page",
    "page.html",
    "--sheet",
    "sheet.md",
];

/// Name and text of each thing that a page says went in.
fn held(html: &str) -> Vec<(String, String)> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    let document = Document::parse_with_options(html, options).unwrap();
    let details = document.descendants().filter(|node| node.has_tag_name("details"));
    let part = |details: &roxmltree::Node<'_, '_>, name: &str| {
        let found = details.children().find(|child| child.has_tag_name(name)).unwrap();
        found.text().unwrap_or_default().to_owned()
    };
    details
        .map(|details| (part(&details, "summary"), part(&details, "pre") + "\n"))
        .collect()
}

/// The file that a heading names.
fn file_of(heading: &str) -> Option<&'static str> {
    let (_, name) = heading.split_once(": ")?;
    let name = name.split(", named in ").next()?;
    FILES.into_iter().find(|file| *file == name)
}

#[test]
fn a_page_and_a_sheet_hold_every_file_that_makes_them_again() {
    let first = tempfile::tempdir().unwrap();
    bench(first.path());
    let answer = run_in(first.path(), &COMMAND);
    assert!(matches!(answer.status.code(), Some(0 | 1)), "{}", text(&answer.stderr));
    let made = |folder: &Path| ["page.html", "sheet.md"].map(|name| fs::read_to_string(folder.join(name)).unwrap());
    let [page, sheet] = made(first.path());
    let second = tempfile::tempdir().unwrap();
    let mut written = Vec::new();
    for (heading, text) in held(&page) {
        let Some(name) = file_of(&heading) else { continue };
        let path = second.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, &text).unwrap();
        assert!(sheet.contains(text.trim_end()), "the sheet lacks {name}");
        written.push(name);
    }
    written.sort_unstable();
    let mut expected = FILES;
    expected.sort_unstable();
    assert_eq!(written, expected, "each file once");
    let again = run_in(second.path(), &COMMAND);
    assert_eq!(text(&again.stdout), text(&answer.stdout));
    assert_eq!(made(second.path()), [page, sheet]);
}

#[test]
fn a_page_of_a_kit_holds_its_guitars() {
    let folder = tempfile::tempdir().unwrap();
    bench(folder.path());
    let arguments = [
        "kit",
        "--quiet",
        "--guitars",
        "guitars",
        "--values",
        "R=E3,C=E3",
        "--choose",
        "R=1,C=1",
        "--page",
        "kit.html",
    ];
    let output = run_in(folder.path(), &arguments);
    // A bag that serves nobody ends with 1.
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", text(&output.stderr));
    let held = held(&fs::read_to_string(folder.path().join("kit.html")).unwrap());
    for name in ["guitars/wren.toml", "guitars/pot.csv"] {
        let found = held.iter().find(|(heading, _)| file_of(heading) == Some(name));
        let (_, text) = found.unwrap_or_else(|| panic!("the page lacks {name}"));
        assert_eq!(*text, fs::read_to_string(folder.path().join(name)).unwrap());
    }
}
