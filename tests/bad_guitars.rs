//! What is wrong with a guitar file, all of it at once: this project's own promises.

use knobwright::guitar::Guitar;
use knobwright::inputs;
use knobwright::source::Source;

/// Whoever has got several things wrong is told of them all at once, each at its place, and once.
#[test]
fn a_bad_file_tells_all_its_mistakes() {
    let text = "name = \"Rook\"\n\n[pickup]\ninductance = \"4 k\"\nresistence = \"7 k\"\ncapacitance = 110\ncolour = \"red\"\n\n\
                [volume]\nresistance = \"500 k\"\n\n[tone]\nresistance = \"2 R\"\ntaper = \"A\"\nhookup = \"shelve\"\nno_load = \"yes\"\n\n\
                [inptu]\nresistance = \"1 M\"\n";
    let error = Guitar::read(&Source::inline("rook.toml", text)).unwrap_err();
    let picture = error.picture();
    let told: Vec<(usize, String)> = error
        .into_each()
        .iter()
        .map(|mistake| {
            let place = mistake.place().expect("a place");
            (place.source.line_column(place.span.start).0, mistake.message().to_owned())
        })
        .collect();
    let lines: Vec<usize> = told.iter().map(|(line, _)| *line).collect();
    // The cable is missing from the file as a whole, which is said where the file begins.
    assert_eq!(lines, [1, 4, 5, 6, 7, 9, 13, 14, 15, 16, 18], "{told:#?}");
    for (_, message) in &told {
        assert!(picture.contains(message.as_str()), "{message}\n{picture}");
    }
    for help in [
        "knobwright guitar humbucker",
        "did you mean `resistance`?",
        "write taper = \"audio 15 %\"",
        "did you mean `input`?",
    ] {
        assert!(picture.contains(help), "{help}\n{picture}");
    }
}

/// The parts of a file that come more than once tell all their mistakes as well.
#[test]
fn every_loss_cell_load_case_and_cable_tells_all_its_mistakes() {
    let text = "[pickup]\ninductance = \"3 H\"\nresistance = \"7 k\"\ncapacitance = \"110 p\"\n\
                loss = [{ inductance = \"1 k\", resistance = \"2\" },\n{ resistance = \"20 k\", colour = 1 }]\n\
                [volume]\nresistance = \"500 k\"\ntaper = \"linear\"\n\
                [cable]\ncapacitance = \"5 k\"\ntolerance = \"x\"\ncolour = \"red\"\n\
                [[load]]\nnetwork = \"none\"\nat = \"nowhere\"\n\
                [[load]]\nnetwrk = \"1M\"\n\
                [[case]]\ncable = \"3 k\"\ninput = \"x\"\n\
                [[case]]\ntone = \"250 k\"\n";
    let mistakes = Guitar::read(&Source::inline("rook.toml", text)).unwrap_err().into_each();
    let place = |mistake: &knobwright::Error| {
        let place = mistake.place().expect("a place");
        place.source.line_column(place.span.start).0
    };
    let lines: Vec<usize> = mistakes.iter().map(place).collect();
    assert_eq!(lines, [5, 5, 6, 6, 11, 12, 13, 15, 16, 18, 20, 21, 23], "{mistakes:#?}");
}

#[test]
fn a_missing_value_is_answered_with_a_usual_one() {
    let whole = inputs::guitar(Some("plover-bridge")).unwrap().to_toml();
    for (line, usual) in [
        (
            "inductance = \"4.4 H\"",
            "write inductance = \"2.6 H\" for a single coil, or inductance = \"4.4 H\" for a humbucker",
        ),
        (
            "resistance = \"8 kΩ\"",
            "write resistance = \"6.2 k\" for a single coil, or resistance = \"8 k\" for a humbucker",
        ),
        ("capacitance = \"120 pF\"", "write capacitance = \"120 p\""),
        ("capacitance = \"330 pF\"", "write capacitance = \"500 p\""),
        ("resistance = \"500 kΩ\"", "write resistance = \"250 k\" with single coils"),
    ] {
        assert!(whole.contains(line), "{line}");
        let picture = Guitar::read(&Source::inline("own.toml", whole.replacen(line, "", 1)))
            .unwrap_err()
            .picture();
        assert!(picture.contains(usual), "{line}: {picture}");
    }
}

#[test]
fn of_very_many_mistakes_the_first_are_shown_and_the_rest_counted() {
    let whole = inputs::guitar(Some("plover-bridge")).unwrap().to_toml();
    let odd: String = (0..25).map(|number| format!("odd{number} = 1\n")).collect();
    let picture = Guitar::read(&Source::inline("own.toml", format!("{odd}{whole}")))
        .unwrap_err()
        .picture();
    assert_eq!(picture.matches("unknown key").count(), 20, "{picture}");
    assert!(picture.ends_with("and 5 mistakes more"), "{picture}");
}
