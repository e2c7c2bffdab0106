//! Every shipped guitar and stock list is embedded, reads, says that it is invented and lies where its type of part lies (common practice,
//! no source: the ranges are those players and winders state).

use knobwright::guitar::catalogue;
use knobwright::guitar::taper::Taper;
use knobwright::guitar::{Guitar, Hookup, Joint};
use knobwright::parts::network::Kind;
use knobwright::parts::stock::Stock;
use knobwright::shipped::{CATALOGUES, GUITARS, STOCK, ShippedFile};
use knobwright::source::Source;

fn names_in(folder: &str, extension: &str) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the folder is there")
        .map(|entry| entry.expect("an entry").path())
        .inspect(|path| {
            assert_eq!(
                path.extension().and_then(|found| found.to_str()),
                Some(extension),
                "{}",
                path.display()
            )
        })
        .map(|path| path.file_stem().and_then(|stem| stem.to_str()).expect("a name").to_owned())
        .collect();
    names.sort();
    names
}

fn names_of(files: &[ShippedFile]) -> Vec<String> {
    let mut names: Vec<String> = files.iter().map(|file| file.name.to_owned()).collect();
    names.sort();
    names
}

fn guitar(file: &ShippedFile) -> Guitar {
    Guitar::read(&Source::inline(file.name, file.text)).unwrap_or_else(|error| panic!("{}", error.picture()))
}

#[test]
fn every_file_is_embedded() {
    assert_eq!(names_in("stock-values/guitars", "toml"), names_of(GUITARS));
    assert_eq!(names_in("stock-values/stock", "csv"), names_of(STOCK));
    assert_eq!(names_in("stock-values/catalogues", "csv"), names_of(CATALOGUES));
    assert!(GUITARS.len() >= 10);
    for file in GUITARS {
        let path = format!("stock-values/guitars/{}.toml", file.name);
        assert_eq!(std::fs::read_to_string(path).expect("read"), file.text);
    }
}

#[test]
fn every_file_says_that_it_is_invented_and_names_no_other_file() {
    for file in GUITARS.iter().chain(STOCK).chain(CATALOGUES) {
        let comments: Vec<&str> = file.text.lines().filter(|line| line.starts_with('#')).collect();
        assert!(comments.iter().any(|line| line.contains("invented")), "{}", file.name);
        assert!(
            file.name.chars().all(|letter| letter.is_ascii_lowercase() || letter == '-'),
            "{}",
            file.name
        );
        // A file inside the program has no folder to look in.
        assert!(!file.text.contains("table ="), "{}", file.name);
    }
}

type Range = [f64; 2];

/// Inductance in H, winding resistance in kΩ, winding capacitance in pF, by type; the type is what the file's comment says.
const TYPES: [(&str, Range, Range, Range); 6] = [
    ("rod-magnet single coil", [2.0, 3.3], [5.0, 7.5], [60.0, 150.0]),
    ("single coil with steel poles", [2.5, 5.0], [5.0, 8.0], [60.0, 150.0]),
    ("metal-covered neck single coil", [1.6, 2.5], [6.0, 8.0], [60.0, 150.0]),
    ("large single coil", [5.5, 10.0], [7.0, 10.0], [80.0, 150.0]),
    ("hot humbucker", [6.0, 10.0], [11.0, 17.0], [80.0, 200.0]),
    ("humbucker", [3.8, 5.5], [7.0, 9.0], [80.0, 200.0]),
];

#[test]
fn every_guitar_lies_within_its_type() {
    for file in GUITARS {
        let guitar = guitar(file);
        let found = TYPES.iter().find(|(name, ..)| file.text.contains(name));
        let (name, inductance, resistance, capacitance) = found.unwrap_or_else(|| panic!("{}: of no type", file.name));
        let within = |[low, high]: [f64; 2], value: f64| (low..=high).contains(&value);
        let pickup = &guitar.pickup;
        assert!(within(*inductance, pickup.inductance.value()), "{}: {name}", file.name);
        assert!(within(*resistance, pickup.resistance.value() / 1e3), "{}: {name}", file.name);
        assert!(within(*capacitance, pickup.capacitance.value() * 1e12), "{}: {name}", file.name);
        // Cables of 3 to 10 m at 80 to 130 pF a metre; pots of 250 and 500 kΩ.
        assert!(within([240e-12, 1.3e-9], guitar.cable.capacitance.value()), "{}", file.name);
        assert!([250e3, 500e3].contains(&guitar.volume.pot.resistance.value()), "{}", file.name);
        // Everything but a rod-magnet coil needs at least one loss cell.
        assert_eq!(pickup.loss.is_empty(), name.contains("rod-magnet"), "{}", file.name);
    }
}

/// The same for the rows of a catalogue; two types more are those of one coil of a humbucker (half of it) and of both in parallel (a quarter).
const ROW_TYPES: [(&str, Range, Range, Range); 8] = [
    TYPES[0],
    TYPES[1],
    TYPES[2],
    TYPES[3],
    TYPES[4],
    TYPES[5],
    ("one coil of a humbucker", [1.9, 2.75], [3.5, 4.5], [80.0, 200.0]),
    ("humbucker with its coils in parallel", [0.95, 1.375], [1.75, 2.25], [80.0, 200.0]),
];

#[test]
fn every_row_of_a_catalogue_lies_within_its_type() {
    let file = &CATALOGUES[0];
    let listed = catalogue::read(&Source::inline(file.name, file.text)).unwrap_or_else(|errors| panic!("{errors:?}"));
    assert_eq!(listed.len(), 60);
    // The type of a row is the comment above it.
    let (mut rows, mut heading, mut seen) = (Vec::new(), "", Vec::new());
    for line in file.text.lines().skip(3) {
        match line.strip_prefix("# ") {
            Some(name) => {
                heading = name;
                seen.push(name);
            }
            None => rows.push(heading),
        }
    }
    seen.sort_unstable();
    let mut named = ROW_TYPES.map(|row| row.0);
    named.sort_unstable();
    assert_eq!(seen, named, "every type has its rows");
    let within = |[low, high]: [f64; 2], value: f64| (low..=high).contains(&value);
    for (listed, heading) in listed.iter().zip(rows) {
        let (name, inductance, resistance, capacitance) = ROW_TYPES.iter().find(|row| row.0 == heading).expect("a type");
        let (guitar, pickup) = (&listed.guitar, &listed.guitar.pickup);
        assert!(within(*inductance, pickup.inductance.value()), "{}: {name}", guitar.name);
        assert!(within(*resistance, pickup.resistance.value() / 1e3), "{}: {name}", guitar.name);
        assert!(within(*capacitance, pickup.capacitance.value() * 1e12), "{}: {name}", guitar.name);
        assert!(within([240e-12, 1.3e-9], guitar.cable.capacitance.value()), "{}", guitar.name);
        assert!([250e3, 500e3].contains(&guitar.volume.pot.resistance.value()), "{}", guitar.name);
        assert_eq!(pickup.loss.is_empty(), name.contains("rod-magnet"), "{}", guitar.name);
    }
}

#[test]
fn the_samples_cover_what_a_guitar_file_can_say() {
    let guitars: Vec<Guitar> = GUITARS.iter().map(guitar).collect();
    let any = |what: &dyn Fn(&Guitar) -> bool| guitars.iter().any(what);
    assert!(any(&|guitar| guitar.tone.is_none()));
    assert!(any(&|guitar| guitar
        .tone
        .as_ref()
        .is_some_and(|tone| tone.hookup == Hookup::Shelf && tone.bypass.is_some())));
    assert!(any(&|guitar| guitar
        .tone
        .as_ref()
        .is_some_and(|tone| tone.joined_at == Joint::Wiper)));
    assert!(any(&|guitar| guitar.tone.as_ref().is_some_and(|tone| tone.no_load)));
    assert!(any(&|guitar| guitar.volume.pot.taper == Taper::Linear));
    assert!(any(&|guitar| matches!(guitar.volume.pot.taper, Taper::TwoSlope(_))));
    assert!(any(&|guitar| guitar.volume.bleed.is_some()));
    assert!(any(&|guitar| !guitar.loads.is_empty()));
    assert!(any(&|guitar| guitar.pickup.loss.len() > 1));
    assert!(any(&|guitar| guitar.cable.capacitance.value() < 310e-12));
    assert!(any(&|guitar| guitar.cable.capacitance.value() > 900e-12));
}

#[test]
fn a_guitar_is_told_in_one_line() {
    let plover = GUITARS.iter().find(|file| file.name == "plover-bridge").expect("shipped");
    assert_eq!(
        guitar(plover).summary(),
        "Plover, bridge: pickup 4.4 H, 8 kΩ, 120 pF, 1 loss cell; volume 500 kΩ audio 15 %; tone 500 kΩ audio 15 %, 22n, joined at the pickup; \
         cable 330 pF; input 1 MΩ"
    );
    for file in GUITARS {
        assert!(!guitar(file).summary().contains('\n'));
    }
}

#[test]
fn left_out_keys_have_their_defaults() {
    let text = "[pickup]\ninductance = \"3 H\"\nresistance = \"6 k\"\ncapacitance = \"0\"\n[volume]\nresistance = \"250 k\"\ntaper = \"linear\"\n\
                [tone]\nresistance = \"250 k\"\ntaper = \"linear\"\n[cable]\nlength = \"4.5 m\"\nper_metre = \"110 p\"\n";
    let guitar = Guitar::read(&Source::inline("my/own-guitar.toml", text)).expect("read");
    assert_eq!(guitar.name, "own-guitar");
    assert_eq!(
        (guitar.series.is_none(), guitar.volume.bleed.is_none(), guitar.loads.len()),
        (true, true, 0)
    );
    let tone = guitar.tone.expect("a tone control");
    assert_eq!((tone.network.is_none(), tone.bypass.is_none(), tone.no_load), (true, true, false));
    assert_eq!((tone.hookup, tone.joined_at), (Hookup::Rheostat, Joint::Pickup));
    assert_eq!((guitar.input.resistance.value(), guitar.input.capacitance.value()), (1e6, 0.0));
    assert!((guitar.cable.capacitance.value() - 495e-12).abs() < 1e-20);
    assert_eq!(guitar.pickup.tolerance, None);
}

#[test]
fn the_workshop_holds_resistors_and_capacitors_with_prices() {
    for file in STOCK {
        let stock = Stock::read(&Source::inline(file.name, file.text)).unwrap_or_else(|error| panic!("{}", error.picture()));
        let count = |kind| stock.rows.iter().filter(|row| row.kind == kind).count();
        assert!(count(Kind::Resistor) >= 40 && count(Kind::Capacitor) >= 25, "{}", stock.summary());
        assert!(
            stock
                .rows
                .iter()
                .all(|row| row.price.is_some() && row.quantity.is_some() && row.tolerance.is_some())
        );
    }
}
