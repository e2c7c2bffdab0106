//! A pickup as it stands in a guitar file.

use super::coil::Coil;
use crate::error::{Error, ErrorKind, Result};
use crate::guitar::Guitar;
use crate::source::Source;
use crate::units::with_prefix_rounded;

/// Digits that are written.
const DIGITS: i32 = 4;

/// What a guitar file needs besides a pickup.
const REST: &str = "
# What follows is common, not measured: put in what this guitar has.
[volume]
resistance = \"250 k\"
taper = \"audio 15 %\"

[tone]
resistance = \"250 k\"
taper = \"audio 15 %\"
network = \"22n\"

[cable]
capacitance = \"500 p\"
";

/// The `[pickup]` table, ready to paste.
#[must_use]
pub fn pickup_table(coil: &Coil) -> String {
    let write = |value: f64, unit: &str| with_prefix_rounded(value, unit, 4);
    // The cells' rounded sum must not pass the rounded total.
    let inductance = if coil.cells.is_empty() {
        coil.inductance
    } else {
        rounded(coil.inductance, f64::ceil, 1.0 - 1e-9)
    };
    let mut table = format!(
        "[pickup]\ninductance = \"{}\"\nresistance = \"{}\"\ncapacitance = \"{}\"\n",
        write(inductance, "H"),
        write(coil.resistance, "Ω"),
        write(coil.capacitance, "F")
    );
    let cell = |[inductance, resistance]: &[f64; 2]| {
        let inductance = rounded(*inductance, f64::floor, 1.0 + 1e-9);
        format!(
            "{{ inductance = \"{}\", resistance = \"{}\" }}",
            write(inductance, "H"),
            write(*resistance, "Ω")
        )
    };
    match coil.cells.iter().map(cell).collect::<Vec<_>>().as_slice() {
        [] => {}
        [one] => table.push_str(&format!("loss = [{one}]\n")),
        several => table.push_str(&format!("loss = [\n    {},\n]\n", several.join(",\n    "))),
    }
    table
}

fn rounded(value: f64, round: fn(f64) -> f64, nudge: f64) -> f64 {
    let scale = 10_f64.powi(DIGITS - 1 - value.log10().floor() as i32);
    let found = round(value * scale * nudge) / scale;
    if found.is_finite() { found } else { value }
}

/// A guitar file with this pickup: the text given with the values in its `[pickup]` table replaced, or in `[pickups.NAME]` of a guitar with
/// several; without a text the table followed by common values.
///
/// # Errors
/// When the text has no such heading, or the pickup is outside what a guitar file allows.
pub fn guitar_file(base: Option<&str>, pickup: Option<&str>, coil: &Coil, head: &str) -> Result<String> {
    let table = pickup_table(coil);
    let own = format!("{head}{table}{REST}");
    Guitar::read(&Source::inline("the pickup found", own.as_str()))?;
    let Some(base) = base else { return Ok(own) };
    let wanted = pickup.map_or_else(|| "pickup".to_owned(), |name| format!("pickups.{name}"));
    let table = table.replacen("[pickup]", &format!("[{wanted}]"), 1);
    let written = replaced(base, &wanted, &format!("{head}{table}"));
    written.ok_or_else(|| {
        let message = format!("the guitar file has no line [{wanted}] whose table could be replaced");
        let error = Error::new(ErrorKind::Conflict, message);
        match pickup {
            None => error
                .help("write the pickup under a heading [pickup], or paste the table printed by hand")
                .help("in a guitar with several pickups say which it is: --pickup neck"),
            Some(_) => error.help("each pickup of a guitar with several stands under its name: [pickups.neck], [pickups.bridge]"),
        }
    })
}

/// A text with the values of a pickup's table replaced; what is fitted at the pickup stays.
fn replaced(base: &str, wanted: &str, table: &str) -> Option<String> {
    const KEPT: [&str; 4] = ["tolerance", "output", "series", "across"];
    let heading = |line: &str| {
        let heading = line.trim_start().split(']').next().unwrap_or_default();
        heading.replace(['[', ' ', '\t', '"'], "")
    };
    let is_kept = |line: &str| {
        let key = line.split_once('=').map(|(key, _)| key.trim());
        key.is_some_and(|key| KEPT.contains(&key))
    };
    let (mut written, mut kept) = (String::new(), String::new());
    let (mut inside, mut place) = (false, None);
    for line in base.split_inclusive('\n') {
        if line.trim_start().starts_with('[') && is_heading(line) {
            let heading = heading(line);
            inside = heading == wanted || heading == format!("{wanted}.loss");
            if heading == wanted && place.is_none() {
                place = Some(written.len());
            }
        }
        if !inside {
            written.push_str(line);
        } else if is_kept(line) {
            kept.push_str(line);
        }
    }
    written.insert_str(place?, &format!("{table}{kept}\n"));
    Some(written)
}

/// A line such as `[pickup]`, and not an array that goes on: those hold braces.
fn is_heading(line: &str) -> bool {
    !line.contains('{')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coil() -> Coil {
        Coil {
            inductance: 2.2004,
            resistance: 5987.3,
            capacitance: 118.72e-12,
            cells: vec![[2.1001, 4e4], [0.10029, 3e3]],
        }
    }

    #[test]
    fn a_table_reads_back_however_its_cells_are_rounded() {
        let guitar = Guitar::read(&Source::inline("x.toml", guitar_file(None, None, &coil(), "").unwrap())).unwrap();
        assert_eq!(guitar.pickup.resistance.value(), 5987.0);
        assert_eq!(guitar.pickup.loss.len(), 2);
        assert!((guitar.pickup.inductance.value() - 2.2004).abs() < 1e-3);
    }

    #[test]
    fn one_of_several_pickups_is_replaced() {
        let base = "[pickups.neck]\ninductance = \"9 H\"\nloss = [\n    { inductance = \"1 H\", resistance = \"9 k\" },\n]\noutput = \"-2 dB\"\n\
                    [pickups.neck.tone]\nresistance = \"500 k\"\n[pickups.bridge]\ninductance = \"8 H\"\n";
        let written = guitar_file(Some(base), Some("neck"), &coil(), "").unwrap();
        assert!(written.starts_with("[pickups.neck]\ninductance = \"2.201 H\"\n"), "{written}");
        assert!(
            written.ends_with(
                "]\noutput = \"-2 dB\"\n\n[pickups.neck.tone]\nresistance = \"500 k\"\n[pickups.bridge]\ninductance = \"8 H\"\n"
            ),
            "{written}"
        );
        assert!(!written.contains("9 H"), "{written}");
        let error = guitar_file(Some(base), Some("middle"), &coil(), "").unwrap_err();
        assert!(error.picture().contains("no line [pickups.middle]"), "{}", error.picture());
    }

    #[test]
    fn only_the_pickup_of_a_file_is_replaced() {
        let base = "# mine\nname = \"Heron\"\n[pickup] # old\ninductance = \"9 H\"\n[[pickup.loss]]\ninductance = \"1 H\"\n[volume]\nresistance = \"500 k\"\n";
        let written = guitar_file(Some(base), None, &coil(), "").unwrap();
        assert!(
            written.starts_with("# mine\nname = \"Heron\"\n[pickup]\ninductance = \"2.201 H\"\n"),
            "{written}"
        );
        assert!(
            written.ends_with("]\n\n[volume]\nresistance = \"500 k\"\n") && !written.contains("9 H"),
            "{written}"
        );
        let kept = base
            .replace("[volume]", "across = \"220 k\"\ntolerance = \"3 %\"\n[volume]")
            .replace("[[pickup.loss]]\ninductance = \"1 H\"\n", "");
        let written = guitar_file(Some(&kept), None, &coil(), "").unwrap();
        assert!(
            written.contains("]\nacross = \"220 k\"\ntolerance = \"3 %\"\n\n[volume]"),
            "{written}"
        );
        assert!(guitar_file(Some("[volume]\n"), None, &coil(), "").is_err());
    }
}
