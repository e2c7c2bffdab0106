//! Which module may use which, which crate stands where, what the library never touches: this project's own rules, no outside source.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Module, what it may use, why. A row names earlier rows only, so that no cycle is possible. DEVELOPERS.md shows the same rows.
#[rustfmt::skip]
const ARROWS: [(&str, &[&str], &str); 25] = [
    ("source", &[], "texts and places in them"),
    ("error", &["source"], "an error points at a place"),
    ("limits", &["source", "error"], "how much of anything is taken"),
    ("progress", &[], "a trait and nothing else"),
    ("shipped", &[], "embedded text; its readers parse"),
    ("units", &["source", "error"], "written quantities, refused with their place"),
    ("rows", &["source", "error", "limits"], "CSV with places"),
    ("document", &["source", "error", "limits"], "TOML with places"),
    ("curve", &["source", "error", "limits", "rows"], "two columns of a CSV"),
    ("parts", &["source", "error", "shipped", "units", "rows"], "the series of standard values are shipped"),
    ("guitar", &["source", "error", "limits", "units", "rows", "document", "curve", "parts"], "a taper can be a curve, a slot holds a network"),
    ("target", &["source", "error", "limits", "shipped", "units", "document", "curve"], "knows no guitar; a wanted response can be a shipped curve"),
    ("circuit", &["parts", "guitar"], "physics knows no wishes"),
    ("kernel", &["error", "limits", "units", "parts", "guitar", "target", "circuit"], "measures a circuit against a target"),
    ("search", &["error", "progress", "parts", "guitar", "target", "circuit::ports", "kernel"], "sees a plan, never solves a circuit"),
    ("tolerance", &["source", "error", "limits", "units", "parts", "guitar", "target", "circuit", "kernel"], "rates a build, however it was found"),
    ("recommend", &["source", "error", "limits", "progress", "units", "parts", "guitar", "target", "circuit", "kernel", "search", "tolerance"], "joins everything for the main job"),
    ("identify", &["source", "error", "limits", "units", "rows", "curve", "parts", "guitar", "circuit"], "what a pickup is, from readings"),
    ("compare", &["source", "error", "parts", "guitar", "target", "circuit", "kernel", "search", "recommend"], "builds of one guitar side by side"),
    ("picture", &["source", "error", "parts", "guitar", "target", "circuit", "kernel", "search", "tolerance", "recommend", "identify", "compare"], "what there is to see, as plain data"),
    ("kit", &["error", "progress", "units", "parts", "guitar", "target", "kernel", "search", "tolerance", "recommend"], "asks the main job's question of many guitars at once"),
    ("values", &["source", "error", "units", "parts"], "standard values for people"),
    ("verify", &["source", "error", "units", "curve", "parts", "guitar", "target", "circuit", "kernel", "tolerance", "identify"], "a measured guitar against its prediction"),
    ("inputs", &["source", "error", "shipped", "rows", "document", "parts", "guitar", "target"], "a name, a file or a phrase → what is meant"),
    ("report", &["source", "error", "shipped", "units", "parts", "guitar::Slot", "guitar::Hookup", "guitar::Joint", "guitar::Setting", "target::Target", "kernel::response", "progress", "recommend", "tolerance", "compare", "picture", "kit", "identify", "verify", "values"], "shows results and never computes"),
];

/// Crate, the files of the library (by the beginning of their path) that may use it, why.
#[rustfmt::skip]
const CRATES: [(&str, &[&str], &str); 27] = [
    ("annotate_snippets", &["error.rs"], "draws errors under the line they are in"),
    ("same_file", &["source/files.rs"], "one file by two spellings is one file"),
    ("strsim", &["error.rs"], "finds the nearest word"),
    ("csv", &["rows.rs", "report/"], "one reader and one writer"),
    ("toml", &["document.rs"], "one reader and one writer"),
    ("serde", &["units/", "parts/", "guitar/", "target/", "kernel/response.rs", "recommend/", "tolerance/", "compare/", "picture/", "kit/", "identify/", "verify/", "values.rs", "report/"], "results serialize themselves"),
    ("serde_json", &["report/json.rs"], "one writer"),
    ("sha2", &["report/forms/shell.rs"], "a page names its script and style by their digests"),
    ("base64", &["report/forms/shell.rs"], "digests are written so in a policy"),
    ("comfy_table", &["report/table.rs"], "one layout"),
    ("textwrap", &["guitar/write.rs", "report/words.rs"], "one way to break lines"),
    ("tempfile", &["report/write.rs"], "files are written whole or not at all"),
    ("resvg", &["report/plot/png.rs"], "one way from SVG to pixels"),
    ("ttf_parser", &["report/plot/font.rs"], "texts are measured in one place"),
    ("rayon", &["search/exhaustive.rs", "search/pruned.rs", "search/sample.rs", "tolerance/rate.rs", "kit/margins.rs", "kit/answer.rs", "kit/working.rs", "picture/sweep.rs"], "threads belong to the search, to built guitars and to many guitars"),
    ("num_complex", &["parts/", "circuit/", "kernel/", "search/", "identify/"], "admittances and what is made of them"),
    ("rand_chacha", &["tolerance/draw.rs", "verify/session.rs"], "one place draws parts, one the noise of a sweep"),
    ("rand_distr", &["tolerance/draw.rs", "verify/session.rs"], "the same"),
    ("argmin", &["search/"], "optimisation over continuous values belongs to the search"),
    ("argmin_math", &["search/"], "as argmin"),
    ("levenberg_marquardt", &["identify/fit.rs"], "one descent for every fit"),
    ("nalgebra", &["identify/fit.rs", "verify/weights.rs"], "matrices of a fit, the covariance of a measurement"),
    ("clap", &[], "the binary reads arguments"),
    ("clap_lex", &[], "the binary reads arguments that are no UTF-8"),
    ("indicatif", &[], "the binary shows progress"),
    ("console", &[], "the binary asks how wide the terminal is"),
    ("signal_hook", &[], "the binary handles interrupts; elsewhere than on Unix ctrlc does"),
];

/// What reaches outside the library, the files of it that may, why.
#[rustfmt::skip]
const OUTSIDE: [(&str, &[&str], &str); 10] = [
    ("std::fs", &["source/files.rs", "report/write.rs"], "one file reads, one writes"),
    ("std::env", &[], "the library does the same everywhere"),
    ("std::process", &[], "only the binary may end the program"),
    ("std::{", &[], "one path an import, so that this test can read it"),
    ("println!", &[], "the library never prints"),
    ("eprintln!", &[], "the library never prints"),
    ("stdout", &[], "the library never prints"),
    ("stderr", &[], "the library never prints"),
    ("include_str!", &["shipped.rs"], "one file embeds"),
    ("include_bytes!", &["shipped.rs"], "one file embeds"),
];

#[test]
fn modules_use_only_what_their_row_names() {
    let declared = without_comments(&fs::read_to_string("src/lib.rs").unwrap());
    let mut declared: Vec<&str> = declared
        .lines()
        .filter_map(|line| line.trim_start_matches("pub ").strip_prefix("mod ")?.strip_suffix(';'))
        .collect();
    let mut listed = ARROWS.map(|row| row.0);
    declared.sort_unstable();
    listed.sort_unstable();
    assert_eq!(declared, listed, "every module has its row");
    for (path, text) in library() {
        let module = path.split(['/', '.']).next().unwrap();
        let (_, allowed, why) = ARROWS.iter().find(|row| row.0 == module).unwrap();
        let is_head = !path.contains('/') || path == format!("{module}/mod.rs");
        let upwards = after(&text, "super::").into_iter().find(|used| is_head && !used.starts_with('*'));
        assert!(
            upwards.is_none(),
            "src/{path} uses super::{upwards:?}: write crate::, so that this test can read it"
        );
        for used in after(&text, "crate::") {
            let fine = used.starts_with(module) || allowed.iter().any(|allowed| used.starts_with(allowed));
            assert!(fine, "src/{path} uses crate::{used}; {module} may use {allowed:?}: {why}");
        }
    }
}

#[test]
fn no_cycle_is_possible_and_the_guide_shows_the_same_rows() {
    let guide = fs::read_to_string("DEVELOPERS.md").unwrap();
    for (index, (module, allowed, why)) in ARROWS.iter().enumerate() {
        for used in *allowed {
            let used = used.split("::").next().unwrap();
            assert!(
                ARROWS[..index].iter().any(|row| row.0 == used),
                "{module} may not use {used}, a later row"
            );
        }
        let allowed = if allowed.is_empty() { "–".to_owned() } else { allowed.join(", ") };
        let row = format!("| {module} | {allowed} | {why} |");
        assert!(guide.contains(&row), "DEVELOPERS.md lacks the row {row}");
    }
}

/// Folders whose files still need each other. A row goes as its circle is cut; none is added.
const CIRCLES: [&str; 3] = ["kernel", "recommend", "search"];

/// The head of a folder, `mod.rs` or the file beside it, may name what is below it, and the files below its items; this looks at the
/// files beside each other.
#[test]
fn no_two_files_of_a_folder_need_each_other() {
    let files = library();
    let mut folders: Vec<&str> = files.iter().filter_map(|(path, _)| Some(path.split_once('/')?.0)).collect();
    folders.sort_unstable();
    folders.dedup();
    let mut circles = Vec::new();
    for folder in folders {
        let of_folder = files.iter().filter(|(path, _)| path.starts_with(&format!("{folder}/")));
        let mut uses: BTreeMap<String, BTreeSet<String>> =
            of_folder.map(|(path, text)| (module_of(path), used_modules(path, text))).collect();
        // A file that uses none of those left, or that none of those left uses, is in no circle.
        loop {
            let left: BTreeSet<String> = uses.keys().cloned().collect();
            let used: BTreeSet<String> = uses
                .iter()
                .flat_map(|(own, used)| used.iter().filter(move |other| *other != own).cloned())
                .collect();
            uses.retain(|own, others| {
                others.retain(|other| other != own && left.contains(other));
                !others.is_empty() && used.contains(own)
            });
            if uses.len() == left.len() {
                break;
            }
        }
        if !uses.is_empty() {
            println!("{folder}: {uses:?}");
            circles.push(folder);
        }
    }
    assert_eq!(circles, CIRCLES, "the folders whose files need each other");
}

/// `target/phrase/lexer.rs` → `target::phrase::lexer`; the head of a folder by the folder's name.
fn module_of(path: &str) -> String {
    let path = path.trim_end_matches("/mod.rs").trim_end_matches(".rs").trim_end_matches('/');
    path.replace('/', "::")
}

/// The modules that a file names from where it stands, or from the library's root.
fn used_modules(path: &str, text: &str) -> BTreeSet<String> {
    let code = text.split("#[cfg(test)]").next().unwrap_or_default();
    let own = module_of(path);
    let parent = own.rsplit_once("::").map_or("", |(parent, _)| parent).to_owned();
    let grandparent = parent.rsplit_once("::").map_or("", |(parent, _)| parent).to_owned();
    let mut used = BTreeSet::new();
    for (word, base) in [
        ("super::super::", grandparent),
        ("super::", parent),
        ("self::", own),
        ("crate::", String::new()),
    ] {
        for (place, _) in code.match_indices(word) {
            // The longer of "super::super::" and "super::" speaks for both.
            if code[..place].ends_with("super::") {
                continue;
            }
            let rest = &code[place + word.len()..];
            let names = match rest.strip_prefix('{') {
                Some(group) => group.split('}').next().unwrap_or_default(),
                None => rest
                    .split(|sign: char| !sign.is_alphanumeric() && !"_:".contains(sign))
                    .next()
                    .unwrap_or_default(),
            };
            for name in names.split(',').map(str::trim) {
                let segments: Vec<&str> = name.split("::").collect();
                // Which of them is a file and which an item is for the caller to know.
                for length in 1..=segments.len() {
                    let path = segments[..length].join("::");
                    used.insert(if base.is_empty() { path } else { format!("{base}::{path}") });
                }
            }
        }
    }
    used
}

#[test]
fn crates_and_the_outside_world_are_reached_from_their_own_files_only() {
    let manifest = fs::read_to_string("Cargo.toml").unwrap();
    let dependencies = manifest.split("\n[dependencies]\n").nth(1).unwrap().split("\n[").next().unwrap();
    let names = dependencies.lines().filter_map(|line| line.split_once(" = "));
    let names: Vec<String> = names.map(|(name, _)| name.replace('-', "_")).collect();
    for name in &names {
        assert!(CRATES.iter().any(|row| row.0 == name), "the crate {name} has no row");
    }
    for (path, text) in library() {
        let crates = CRATES.iter().map(|(name, files, why)| (format!("{name}::"), files, why));
        let outside = OUTSIDE.iter().map(|(word, files, why)| ((*word).to_owned(), files, why));
        for (word, files, why) in crates.chain(outside) {
            let allowed = files.iter().any(|file| path.starts_with(file));
            assert!(
                allowed || after(&text, &word).is_empty(),
                "src/{path} uses {word}, which belongs to {files:?}: {why}"
            );
        }
    }
}

/// Every file of the library but `lib.rs` by its path under `src/`, without comments.
fn library() -> Vec<(String, String)> {
    let (mut files, mut folders) = (Vec::new(), vec![Path::new("src").to_path_buf()]);
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.strip_prefix("src").unwrap().to_str().unwrap().replace('\\', "/");
            if ["cli", "main.rs", "lib.rs"].contains(&name.as_str()) {
                continue;
            } else if path.is_dir() {
                folders.push(path);
            } else if name.ends_with(".rs") {
                let text = fs::read_to_string(&path).unwrap();
                // A file with its module's folder beside it counts as inside the folder.
                let name = if path.with_extension("").is_dir() {
                    name.replace(".rs", "/")
                } else {
                    name
                };
                files.push((name, without_comments(&text)));
            }
        }
    }
    assert!(files.len() > 40, "the library was not found");
    files
}

fn without_comments(text: &str) -> String {
    let code = |line: &str| line.split("//").next().unwrap_or_default().to_owned() + "\n";
    text.lines().map(code).collect()
}

/// What follows each place where `word` stands by itself.
fn after<'t>(text: &'t str, word: &str) -> Vec<&'t str> {
    let is_inside = |before: &str| before.ends_with(|letter: char| letter.is_alphanumeric() || letter == '_');
    let places = text.match_indices(word).filter(|(place, _)| !is_inside(&text[..*place]));
    places
        .map(|(place, _)| text[place + word.len()..].lines().next().unwrap_or_default())
        .collect()
}
