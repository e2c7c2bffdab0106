//! The README and the chapters of the guide are true: every command in them whose output they show runs on the files shown beside it and prints what
//! is shown below it.

mod program;

use std::fs;
use std::path::Path;
use std::process::Command;

use knobwright::shipped::{GUIDE, WHOLE_GUITARS};

/// A fenced block: its language and its text.
struct Block {
    language: String,
    text: String,
}

fn blocks(readme: &str) -> Vec<Block> {
    let fenced = readme.split("\n```").enumerate().filter(|(index, _)| index % 2 == 1);
    let block = |(_, text): (usize, &str)| {
        let (language, text) = text.split_once('\n').unwrap();
        Block {
            language: language.to_owned(),
            text: text.to_owned(),
        }
    };
    fenced.map(block).collect()
}

/// The commands whose output the README shows.
const SHOWN: [&str; 5] = ["recommend", "compare", "kit", "tolerance", "response"];

/// The arguments of each line of a shell block that runs a shown command; a backslash joins lines, quotes hold words together.
fn recommend_commands(block: &Block) -> Vec<Vec<String>> {
    let text = block.text.replace("\\\n", " ");
    let of_line = |line: &str| {
        let line = line.trim();
        let arguments = line
            .strip_prefix("knobwright ")
            .or_else(|| line.strip_prefix("cargo run --release -- "))?;
        SHOWN.iter().any(|command| arguments.starts_with(command)).then(|| words(arguments))
    };
    text.lines().filter_map(of_line).collect()
}

fn words(line: &str) -> Vec<String> {
    let (mut words, mut quoted) = (vec![String::new()], false);
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(letter),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// Writes each block that begins with its own file's name, such as `# my-guitar.toml`.
fn write_files(blocks: &[Block], folder: &Path) {
    for block in blocks.iter().filter(|block| ["toml", "csv"].contains(&block.language.as_str())) {
        let name = block.text.lines().next().unwrap().strip_prefix("# ").unwrap();
        fs::write(folder.join(name), &block.text).unwrap();
    }
}

/// Every line shown stands in the output, in this order; `…` stands for lines left out.
fn assert_shown(shown: &str, printed: &str, document: &str, command: &[String]) {
    let mut rest = printed.lines();
    for line in shown.lines().filter(|line| *line != "…") {
        let found = rest.any(|printed| printed == line);
        assert!(
            found,
            "{document} shows, in this place, the line\n{line}\nwhich {command:?} does not print:\n{printed}"
        );
    }
}

/// The README, then every chapter of the guide.
fn documents() -> Vec<(String, String)> {
    let mut paths: Vec<_> = fs::read_dir("src/guide").unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|extension| extension == "md"));
    paths.sort();
    let all = std::iter::once("README.md".into()).chain(paths);
    all.map(|path| (path.display().to_string(), fs::read_to_string(&path).unwrap()))
        .collect()
}

#[test]
fn every_command_prints_what_the_readme_and_the_guide_show() {
    let documents = documents();
    let folder = tempfile::tempdir().unwrap();
    let mut count = 0;
    // A chapter may use the files of another.
    documents.iter().for_each(|(_, text)| write_files(&blocks(text), folder.path()));
    for (document, text) in &documents {
        let blocks = blocks(text);
        for (index, block) in blocks.iter().enumerate().filter(|(_, block)| block.language == "sh") {
            for arguments in recommend_commands(block) {
                let mut command = Command::new(env!("CARGO_BIN_EXE_knobwright"));
                let output = command.args(&arguments).current_dir(folder.path()).output().unwrap();
                let errors = String::from_utf8_lossy(&output.stderr);
                assert!(
                    matches!(output.status.code(), Some(0 | 1)),
                    "{document}: {arguments:?}: {}\n{errors}",
                    output.status
                );
                let printed = String::from_utf8(output.stdout).unwrap();
                assert!(!printed.trim().is_empty(), "{document}: {arguments:?} printed nothing");
                if let Some(shown) = blocks.get(index + 1).filter(|next| next.language == "text") {
                    assert_shown(&shown.text, &printed, document, &arguments);
                }
                count += 1;
            }
        }
    }
    assert!(count >= 20, "only {count} commands were found");
}

/// The chapters are those that the program prints and the README lists, each with a way to it; the README is short.
#[test]
fn the_guide_is_whole() {
    let readme = fs::read_to_string("README.md").unwrap();
    assert!(readme.lines().count() <= 250, "{} lines", readme.lines().count());
    let chapters: Vec<String> = documents().into_iter().skip(1).map(|(path, _)| path).collect();
    assert_eq!(chapters.len(), GUIDE.len());
    for chapter in GUIDE {
        let path = format!("src/guide/{}.md", chapter.name);
        assert_eq!(fs::read_to_string(&path).unwrap(), chapter.text);
        assert!(readme.contains(&format!("| [{}]({path}) |", chapter.name)), "{path} is not listed");
        assert_eq!(program::ends(&["guide", chapter.name], 0), chapter.text);
        assert!(program::ends(&["guide"], 0).contains(&format!("  {}", chapter.name)));
    }
    let refused = program::refused(&["guide", "wirring"]);
    assert!(refused.contains("did you mean `wiring`?"), "{refused}");
}

#[test]
fn every_whole_guitar_is_drawn() {
    let wiring = GUIDE.iter().find(|chapter| chapter.name == "wiring").unwrap().text;
    for guitar in WHOLE_GUITARS {
        assert!(wiring.contains(&format!("Sample: `{}`", guitar.name)), "{}", guitar.name);
    }
}

/// The README's picture is the one that its command draws.
#[test]
fn the_picture_is_that_of_the_answer() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("answer.svg");
    let asked = [
        "recommend",
        "--guitar",
        "plover-bridge",
        "--target",
        "which cap for less mud?",
        "--top",
        "1",
        "--quiet",
        "--plot-kind",
        "builds",
        "--plot",
    ];
    program::ends(&program::with(&asked, &[path.to_str().unwrap()]), 0);
    assert_eq!(
        fs::read_to_string(path).unwrap(),
        fs::read_to_string("src/guide/answer.svg").unwrap()
    );
}

#[test]
fn the_first_commands_are_the_two_that_do_everything() {
    let blocks = blocks(&fs::read_to_string("README.md").unwrap());
    assert_eq!(blocks[0].text.trim(), "cargo run --release -- recommend\ncargo test");
    let continuous = fs::read_to_string(".ci/run").unwrap();
    assert!(
        continuous.lines().any(|line| line == "step cargo test"),
        ".ci/run runs the README's test command as it is"
    );
}
