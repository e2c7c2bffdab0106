use proptest::prelude::*;

use super::*;
use crate::source::Source;
use crate::units::{rkm, with_prefix};

fn read<T>(reader: fn(&Passage<'_>) -> Result<T>, text: &str) -> Result<T> {
    reader(&Source::inline("text", text).passage())
}

fn ohms(text: &str) -> f64 {
    read(read_ohms, text).unwrap().value()
}

fn farads(text: &str) -> f64 {
    read(read_farads, text).unwrap().value()
}

fn henries(text: &str) -> f64 {
    read(read_henries, text).unwrap().value()
}

fn refused<T: std::fmt::Debug>(reader: fn(&Passage<'_>) -> Result<T>, text: &str, words: &[&str]) {
    let picture = read(reader, text).unwrap_err().picture();
    for word in words {
        assert!(picture.contains(word), "`{text}`: expected `{word}` in\n{picture}");
    }
}

// The forms of IEC 60062 and the SI, with the spellings in use on drawings.
#[test]
fn resistances_in_every_spelling() {
    for text in [
        "4k7",
        "4K7",
        "4.7k",
        "4.7 k",
        "4.7 kΩ",
        "4.7kΩ",
        "4.7 k\u{2126}",
        "4.7 kohm",
        "4.7 kOhms",
        "4700 Ω",
        "4700R",
        "4.7e3 Ω",
        "+4k7",
        "4k7Ω",
    ] {
        assert_eq!(ohms(text), 4700.0, "{text}");
    }
    for text in ["1M", "1M0", "1 MΩ", "1000k", "1 Mohm", "1 meg", "1e6 ohm"] {
        assert_eq!(ohms(text), 1e6, "{text}");
    }
    let single = [
        ("R47", 0.47),
        ("0R47", 0.47),
        ("470R", 470.0),
        ("4R7", 4.7),
        ("4Ω7", 4.7),
        ("1k02", 1020.0),
        ("k47", 470.0),
        ("5 mΩ", 0.005),
    ];
    for (text, value) in single {
        assert_eq!(ohms(text), value, "{text}");
    }
    assert_eq!(ohms("0"), 0.0);
    assert_eq!(ohms("-7 k"), -7000.0);
    assert_eq!(ohms("−7 k"), -7000.0);
}

#[test]
fn capacitances_in_every_spelling() {
    for text in [
        "22n",
        "22 n",
        "22 nF",
        "22nF",
        "22nf",
        "22000p",
        "0.022u",
        ".022 µF",
        ".022 μF",
        ".022MFD",
        ".022 mfd",
        "22e-9 F",
        "22000 MMF",
        "22000µµF",
        "22000 uuf",
        "u022",
    ] {
        assert_eq!(farads(text), 22e-9, "{text}");
    }
    let single = [
        ("4n7", 4.7e-9),
        ("470p", 4.7e-10),
        ("n47", 4.7e-10),
        ("µ22", 2.2e-7),
        ("u22", 2.2e-7),
        ("p33", 3.3e-13),
        ("2n2F", 2.2e-9),
    ];
    for (text, value) in single {
        assert_eq!(farads(text), value, "{text}");
    }
    for text in ["0", "0 F", "0 p"] {
        assert_eq!(farads(text), 0.0, "{text}");
    }
}

#[test]
fn inductances_and_the_other_quantities() {
    for (text, value) in [
        ("3.4 H", 3.4),
        ("3H4", 3.4),
        ("100 mH", 0.1),
        ("100m", 0.1),
        ("10 µH", 10e-6),
        ("3.4 henries", 3.4),
    ] {
        assert_eq!(henries(text), value, "{text}");
    }
    assert_eq!(read(read_farads_per_metre, "110 pF/m").unwrap().value(), 110e-12);
    assert_eq!(read(read_farads_per_metre, "110 p").unwrap().value(), 110e-12);
    assert_eq!(read(read_metres, "450 cm").unwrap(), 4.5);
    assert_eq!(read(read_metres, "10 ft").unwrap(), 3.048);
    for (text, value) in [
        ("1000", 1000.0),
        ("1k", 1000.0),
        ("4.14 kHz", 4140.0),
        ("4k14", 4140.0),
        ("82.4 Hz", 82.4),
    ] {
        assert_eq!(read(read_hertz, text).unwrap().value(), value, "{text}");
    }
    for (text, value) in [("2 dB", 2.0), ("-3dB", -3.0), ("2", 2.0), ("0.5db", 0.5)] {
        assert_eq!(read(read_decibels, text).unwrap().value(), value, "{text}");
    }
    assert_eq!(read(read_fraction, "5 %").unwrap().value(), 0.05);
    assert_eq!(read(read_fraction, "15%").unwrap().value(), 0.15);
}

#[test]
fn wrong_and_missing_units_are_named() {
    refused(
        read_ohms,
        "22 n",
        &["expected a resistance, found a capacitance prefix", "^ not a resistance", "250 k"],
    );
    refused(read_ohms, "3 H", &["expected a resistance, found an inductance"]);
    refused(read_farads, "22 k", &["expected a capacitance, found a resistance prefix"]);
    refused(read_henries, "3.4", &["neither unit nor prefix", "write `3.4 H`"]);
    refused(read_henries, "10 u", &["expected an inductance, found a capacitance prefix"]);
    refused(read_ohms, "250", &["`250` carries neither unit nor prefix", "write `250 k`"]);
    refused(read_farads, "0.022", &["write `0.022 u`"]);
    refused(read_farads, "500", &["write `500 p`"]);
    refused(read_metres, "4.5", &["`4.5 m`"]);
    refused(read_fraction, "5", &["write percent as `5 %`"]);
    refused(read_fraction, "0.05", &["write percent as `5 %`, or as `0.05 %`"]);
    refused(
        read_farads,
        "223",
        &["22 nF if it stands on a capacitor: write `22n`; write `223 p`"],
    );
    refused(read_farads, "223K", &["22 nF ±10 %", "write `22n`"]);
    refused(read_farads, "104J", &["100 nF ±5 %", "write `100n`"]);
    refused(read_decibels, "3 Hz", &["expected dB"]);
    refused(read_hertz, "3 H", &["expected a frequency, found an inductance"]);
    refused(read_farads, "22 nG", &["found the unit `nG`", "did you mean `nF`?"]);
    refused(read_quantity, "10 q", &["`q` is no prefix or unit of a part"]);
    refused(read_quantity, "1 kHz", &["found a frequency"]);
}

#[test]
fn two_readings_are_refused_with_both() {
    refused(read_farads, "22 mF", &["millifarad", "MFD"]);
    refused(read_farads, "22 MF", &["millifarad", "MFD"]);
    refused(read_farads, "22 m", &["millifarad", "MFD"]);
    refused(read_ohms, "1 m", &["milliohm or megohm"]);
    refused(read_henries, "1 MH", &["megahenry or millihenry"]);
    refused(read_hertz, "1 mHz", &["millihertz or megahertz"]);
    refused(read_quantity, "1 m", &["`m` alone tells no kind"]);
    refused(read_quantity, "0.022", &["write `22n` or `0.022u`"]);
    refused(read_quantity, "22e-9", &["write `22n` for a capacitor"]);
    refused(read_quantity, "1", &["1 Ω: write `1R`; 1 kΩ: write `1k`"]);
    refused(read_quantity, "470", &["470 Ω: write `470R`"]);
    refused(read_ohms, "4K7J", &["leave the tolerance letter J of a mark off"]);
    refused(read_ohms, "4,7 k", &["write `4.7 k`"]);
    refused(read_farads, "0,022 u", &["write `0.022 u`"]);
    refused(
        read_ohms,
        "1,000 k",
        &["`1.000 k` if it is a decimal comma", "`1000 k` if it parts the thousands"],
    );
}

#[test]
fn what_is_no_number_is_refused() {
    for text in [
        "",
        "  ",
        "NaN",
        "inf",
        "-",
        ".",
        "k",
        "four k",
        "1e400 Ω",
        "1e-400 Ω",
        "1e99999999999 Ω",
        "1 000 k",
        "1.2.3 k",
        "4.7k2",
        "--4 k",
    ] {
        read(read_ohms, text).unwrap_err();
        read(read_quantity, text).unwrap_err();
    }
    refused(read_ohms, "1e400 Ω", &["beyond any number"]);
    read(read_ohms, &"9".repeat(5000)).unwrap_err();
}

#[test]
fn a_network_value_tells_its_kind() {
    let quantity = |text| read(read_quantity, text).unwrap();
    let (resistance, capacitance) = (
        |v| Quantity::Ohms(Ohms::new(v).unwrap()),
        |v| Quantity::Farads(Farads::new(v).unwrap()),
    );
    for (text, value) in [
        ("120k", 120e3),
        ("10 k", 1e4),
        ("470R", 470.0),
        ("0", 0.0),
        ("0.47R", 0.47),
        ("4k7", 4700.0),
        ("1M", 1e6),
        ("47 Ω", 47.0),
    ] {
        assert_eq!(quantity(text), resistance(value), "{text}");
    }
    for (text, value) in [
        ("1n", 1e-9),
        ("n47", 470e-12),
        ("p33", 0.33e-12),
        ("µ22", 220e-9),
        ("0.022u", 22e-9),
        ("1 µF", 1e-6),
    ] {
        assert_eq!(quantity(text), capacitance(value), "{text}");
    }
    assert_eq!(quantity("2 H"), Quantity::Henries(Henries::new(2.0).unwrap()));
    assert_eq!(quantity("20 mH"), Quantity::Henries(Henries::new(0.02).unwrap()));
}

proptest! {
    // Any double, not only tidy ones: the written form loses nothing.
    #[test]
    fn what_is_written_reads_back(mantissa in 1.0..10.0f64, exponent in -30i32..30, negative: bool) {
        let value = mantissa * 10f64.powi(exponent) * if negative { -1.0 } else { 1.0 };
        prop_assert_eq!(ohms(&rkm(value, "R")), value);
        prop_assert_eq!(farads(&rkm(value, "F")), value);
        prop_assert_eq!(henries(&rkm(value, "H")), value);
        if value.abs() < 1e12 {
            prop_assert_eq!(ohms(&with_prefix(value, "Ω")), value);
            prop_assert_eq!(farads(&with_prefix(value, "F")), value);
            prop_assert_eq!(henries(&with_prefix(value, "H")), value);
        }
    }

    #[test]
    fn no_text_makes_a_reader_panic_or_give_what_is_not_finite(text in "[-+−.,0-9eEkKmMunpµμRΩFHz% /]{0,12}|\\PC{0,20}") {
        for reader in [read_metres, |p: &Passage<'_>| read_ohms(p).map(Ohms::value), |p: &Passage<'_>| read_farads_per_metre(p).map(Farads::value)] {
            if let Ok(value) = read(reader, &text) {
                prop_assert!(value.is_finite());
            }
        }
        let _ = read(read_quantity, &text);
        let _ = read(read_fraction, &text);
        let _ = read(read_decibels, &text);
    }
}
