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

/// A guitar file with this pickup: the text given with its `[pickup]` table replaced, or the table followed by common values.
///
/// # Errors
/// When the text has no `[pickup]` heading, or the pickup is outside what a guitar file allows.
pub fn guitar_file(base: Option<&str>, coil: &Coil, head: &str) -> Result<String> {
    let table = pickup_table(coil);
    let own = format!("{head}{table}{REST}");
    Guitar::read(&Source::inline("the pickup found", own.as_str()))?;
    let Some(base) = base else { return Ok(own) };
    let heading = |line: &str| {
        line.trim_start()
            .split(']')
            .next()
            .unwrap_or_default()
            .replace(['[', ' ', '\t'], "")
    };
    let (mut written, mut inside, mut found) = (String::new(), false, false);
    for line in base.split_inclusive('\n') {
        if line.trim_start().starts_with('[') {
            let heading = heading(line);
            inside = heading == "pickup" || heading.starts_with("pickup.");
            if heading == "pickup" && !found {
                found = true;
                written.push_str(head);
                written.push_str(&table);
                written.push('\n');
            }
        }
        if !inside {
            written.push_str(line);
        }
    }
    if found {
        return Ok(written);
    }
    let message = "the guitar file has no line [pickup] whose table could be replaced";
    Err(Error::new(ErrorKind::Conflict, message).help("write the pickup under a heading [pickup], or paste the table printed by hand"))
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
        let guitar = Guitar::read(&Source::inline("x.toml", guitar_file(None, &coil(), "").unwrap())).unwrap();
        assert_eq!(guitar.pickup.resistance.value(), 5987.0);
        assert_eq!(guitar.pickup.loss.len(), 2);
        assert!((guitar.pickup.inductance.value() - 2.2004).abs() < 1e-3);
    }

    #[test]
    fn only_the_pickup_of_a_file_is_replaced() {
        let base = "# mine\nname = \"Heron\"\n[pickup] # old\ninductance = \"9 H\"\n[[pickup.loss]]\ninductance = \"1 H\"\n[volume]\nresistance = \"500 k\"\n";
        let written = guitar_file(Some(base), &coil(), "").unwrap();
        assert!(
            written.starts_with("# mine\nname = \"Heron\"\n[pickup]\ninductance = \"2.201 H\"\n"),
            "{written}"
        );
        assert!(
            written.ends_with("]\n\n[volume]\nresistance = \"500 k\"\n") && !written.contains("9 H"),
            "{written}"
        );
        assert!(guitar_file(Some("[volume]\n"), &coil(), "").is_err());
    }
}
