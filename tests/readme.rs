//! The README is true: every `recommend` and `compare` command in it runs on the files shown beside it and prints what is shown below it.

use std::fs;
use std::path::Path;
use std::process::Command;

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
const SHOWN: [&str; 4] = ["recommend", "compare", "kit", "tolerance"];

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
fn assert_shown(shown: &str, printed: &str, command: &[String]) {
    let mut rest = printed.lines();
    for line in shown.lines().filter(|line| *line != "…") {
        let found = rest.any(|printed| printed == line);
        assert!(
            found,
            "README.md shows, in this place, the line\n{line}\nwhich {command:?} does not print:\n{printed}"
        );
    }
}

#[test]
fn every_command_prints_what_the_readme_shows() {
    let blocks = blocks(&fs::read_to_string("README.md").unwrap());
    let folder = tempfile::tempdir().unwrap();
    write_files(&blocks, folder.path());
    let mut count = 0;
    for (index, block) in blocks.iter().enumerate().filter(|(_, block)| block.language == "sh") {
        for arguments in recommend_commands(block) {
            let mut command = Command::new(env!("CARGO_BIN_EXE_knobwright"));
            let output = command.args(&arguments).current_dir(folder.path()).output().unwrap();
            let errors = String::from_utf8_lossy(&output.stderr);
            assert!(
                matches!(output.status.code(), Some(0 | 1)),
                "{arguments:?}: {}\n{errors}",
                output.status
            );
            let printed = String::from_utf8(output.stdout).unwrap();
            assert!(!printed.trim().is_empty(), "{arguments:?} printed nothing");
            if let Some(shown) = blocks.get(index + 1).filter(|next| next.language == "text") {
                assert_shown(&shown.text, &printed, &arguments);
            }
            count += 1;
        }
    }
    assert!(count >= 8, "only {count} commands were found");
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
