//! The build sheet of a guitar with several pickups: which leads are on which lugs, what the selector connects, in which position the checks
//! hold. What a lug is called is this project's own; the wiring is that of the guitar files (common practice, no source).

mod program;

fn sheet(guitar: &str, knobs: &str, wish: &str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.md");
    let output = program::run(&[
        "recommend",
        "--guitar",
        guitar,
        "--knobs",
        knobs,
        "--builds",
        "0",
        "--sheet",
        path.to_str().unwrap(),
        wish,
    ]);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", program::text(&output.stderr));
    std::fs::read_to_string(path).unwrap()
}

fn holds(sheet: &str, lines: &[&str]) {
    for line in lines {
        assert!(sheet.contains(line), "no `{line}` in\n{sheet}");
    }
}

#[test]
fn the_lugs_are_those_of_the_wiring() {
    let joined = sheet("bustard", "neck", "keep highs");
    holds(
        &joined,
        &["its wiper goes on towards the selector", "to the volume control's input lug."],
    );
    let independent = sheet("grebe", "neck", "less mud");
    holds(
        &independent,
        &[
            "the pickup's hot lead arrives at its wiper",
            "pickup's hot lead from the volume control's wiper",
        ],
    );
    // The neck alone is a guitar of one pickup, but its volume control is behind the selector.
    let shared = sheet("sandpiper", "neck tone", "less mud");
    holds(
        &shared,
        &[
            "where the lead from the selector arrives",
            "Unsolder the lead from the selector from the volume control's input lug",
        ],
    );
    assert!(!shared.contains("the pickup's hot lead"), "{shared}");
    // Without a volume control nothing is said to be at its lugs.
    let none = sheet("smew", "tone", "less mud");
    holds(&none, &["There is no volume control", "to the wire to the jack."]);
    assert!(!none.contains("volume control's input lug."), "{none}");
}

#[test]
fn the_selector_is_a_table() {
    let lapwing = sheet("lapwing", "volume", "keep highs");
    holds(
        &lapwing,
        &[
            "| both | neck and bridge side by side |",
            "| series | neck and bridge in series |",
            "hold with the selector where this is connected: bridge; every other knob full up",
            "It is to hold in each of these positions:",
            "Position \"series\":",
        ],
    );
    let oriole = sheet("oriole", "volume", "keep highs");
    holds(&oriole, &["| neck split and middle | neck (split) and middle side by side |"]);
    let redshank = sheet("redshank", "volume", "keep highs");
    holds(&redshank, &["| out of phase | neck and bridge reversed side by side |"]);
    // Judged in one position of two: nothing else has to hold.
    let bustard = sheet("bustard", "neck", "keep highs");
    assert!(!bustard.contains("It is to hold in each"), "{bustard}");
    holds(&bustard, &["Position \"both\":", "hold for a cable of"]);
}
