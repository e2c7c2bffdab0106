//! What a user types about a measurement: loads, known values, peaks, readings of a potentiometer.

use super::coil::Known;
use super::measured::Shunt;
use super::peaks::Peak;
use crate::error::{Error, ErrorKind, Result};
use crate::parts::choice::{assigned, items};
use crate::source::Passage;
use crate::units::{Quantity, read_farads, read_henries, read_hertz, read_ohms, read_quantity, with_prefix};

const KNOWN: [&str; 4] = ["resistance", "inductance", "capacitance", "cable"];

/// Reads what lies across the pickup: `1M,30p`; either may be left out.
///
/// # Errors
/// Where the text is no resistance and capacitance.
pub fn shunt(text: &Passage<'_>) -> Result<Shunt> {
    let mut shunt = Shunt::default();
    for item in items(text) {
        add(&mut shunt, &item)?;
    }
    Ok(shunt)
}

/// Reads a load: as [`shunt`], or with the word `unknown` for a resistance that is to be found.
///
/// # Errors
/// Where the text is no load.
pub fn load(text: &Passage<'_>) -> Result<(Shunt, bool)> {
    let (mut load, mut unknown) = (Shunt::default(), false);
    for item in items(text) {
        if item.text().eq_ignore_ascii_case("unknown") {
            unknown = true;
        } else {
            add(&mut load, &item)?;
        }
    }
    if unknown && load.resistance.is_some() {
        let message = "a load's resistance is either known or unknown";
        return Err(Error::at(text, ErrorKind::Conflict, message).label("expected for example 1M,470p or unknown,470p"));
    }
    Ok((load, unknown))
}

fn add(shunt: &mut Shunt, item: &Passage<'_>) -> Result<()> {
    let (place, value) = match read_quantity(item)? {
        Quantity::Ohms(value) => (&mut shunt.resistance, value.value()),
        Quantity::Farads(value) => (&mut shunt.capacitance, value.value()),
        Quantity::Henries(_) => {
            return Err(Error::at(item, ErrorKind::Unit, "a jig or load has a resistance and a capacitance").label("an inductance"));
        }
    };
    if place.is_some() {
        return Err(Error::at(item, ErrorKind::Conflict, "there are two values of a kind here").label("the second one"));
    }
    if value <= 0.0 {
        return Err(Error::at(item, ErrorKind::Range, "what loads the pickup is above 0").label("leave it out if there is none"));
    }
    *place = Some(value);
    Ok(())
}

/// Reads known values, `resistance=7.9k,cable=500p`, and adds them.
///
/// # Errors
/// Where a key is none, is given twice, or its value is out of range.
pub fn known(known: &mut Known, text: &Passage<'_>) -> Result<()> {
    for (item, key, value) in assigned(text, "resistance=7.9k")? {
        let (place, number, range, unit) = match key.text() {
            "resistance" => (&mut known.resistance, read_ohms(&value)?.value(), [0.0, 100e3], "Ω"),
            "inductance" => (&mut known.inductance, read_henries(&value)?.value(), [0.01, 50.0], "H"),
            "capacitance" => (&mut known.capacitance, read_farads(&value)?.value(), [0.0, 10e-9], "F"),
            "cable" => (&mut known.cable, read_farads(&value)?.value(), [0.0, 20e-9], "F"),
            other => {
                return Err(Error::at(&key, ErrorKind::Unknown, format!("`{other}` is no value of a pickup"))
                    .label("expected resistance, inductance, capacitance or cable")
                    .nearest(other, KNOWN));
            }
        };
        if place.is_some() {
            return Err(Error::at(&item, ErrorKind::Conflict, format!("`{}` is given twice", key.text())).label("the second time"));
        }
        if !(range[0]..=range[1]).contains(&number) {
            let range = range.map(|end| with_prefix(end, unit)).join(" to ");
            return Err(
                Error::at(&value, ErrorKind::Range, format!("`{}` is outside {range}", value.text())).label(format!("expected {range}")),
            );
        }
        *place = Some(number);
    }
    Ok(())
}

/// Reads the capacitor added to the pickup for a sweep, what stands before the sign in `470p=sweep.csv`; in F.
///
/// # Errors
/// Where the text is no capacitance, or a larger one than 1 µF.
pub fn added(text: &Passage<'_>) -> Result<f64> {
    capacitance(&text.trimmed())
}

fn capacitance(text: &Passage<'_>) -> Result<f64> {
    if text.text().trim() == "0" {
        return Ok(0.0);
    }
    let value = read_farads(text)?.value();
    if (0.0..=1e-6).contains(&value) {
        return Ok(value);
    }
    Err(Error::at(text, ErrorKind::Range, "an added capacitor is 0 to 1 µF").label("expected for example 470p"))
}

/// Reads a peak, `470p=4.14k`: the added capacitor and where the resonance then is.
///
/// # Errors
/// Where the text is none.
pub fn peak(text: &Passage<'_>) -> Result<Peak> {
    let Some((before, after)) = text.text().split_once('=') else {
        let message = format!("`{}` is no peak", text.text());
        return Err(Error::at(text, ErrorKind::Syntax, message)
            .label("expected CAPACITOR=FREQUENCY")
            .help("a peak is written with the capacitor that was added: --peak 470p=4.14k, or --peak 0=9.2k with none"));
    };
    let start = before.len() + 1;
    let written = text.part(start..start + after.len()).trimmed();
    let frequency = read_hertz(&written)?.value();
    if !(10.0..=1e6).contains(&frequency) {
        return Err(
            Error::at(&written, ErrorKind::Range, format!("{frequency} Hz is no pickup's resonance")).label("expected 10 Hz to 1 MHz"),
        );
    }
    Ok(Peak {
        added: capacitance(&text.part(0..before.len()).trimmed())?,
        frequency,
        reach: last_place(written.text(), frequency) / 2.0,
    })
}

/// What one more in the last digit written is worth: `4.14k` → 10 Hz, `4k1` → 100 Hz, `7700` → 1 Hz.
fn last_place(written: &str, value: f64) -> f64 {
    let mut digits = 0;
    let mut behind = None;
    let mut letter = false;
    for (at, character) in written.char_indices() {
        match character {
            _ if character.is_ascii_digit() => {
                digits += 1;
                behind = behind.map(|count: i32| count + 1);
            }
            '.' | ',' => behind = Some(0),
            'k' | 'K' | 'M' if behind.is_none() && written[at + 1..].starts_with(|next: char| next.is_ascii_digit()) => {
                letter = true;
                behind = Some(0);
            }
            _ if digits > 0 => break,
            _ => {}
        }
    }
    let kilo = if written.contains(['k', 'K']) || letter && !written.contains('M') {
        1e3
    } else if written.contains('M') {
        1e6
    } else {
        1.0
    };
    let place = kilo * 0.1_f64.powi(behind.unwrap_or(0));
    if place < value { place } else { 0.0 }
}

/// Reads `0=0,2=1.9k,10=243k`: a knob position from 0 to 10 and the resistance from the counter-clockwise lug to the wiper in Ω.
///
/// # Errors
/// Where the text is no list of those.
pub fn pot_points(text: &Passage<'_>) -> Result<Vec<[f64; 2]>> {
    let mut points: Vec<[f64; 2]> = Vec::new();
    for (item, key, value) in assigned(text, "0=0,2=1.9k,5=31k,10=243k")? {
        let position = key.text().parse::<f64>().ok().filter(|position| (0.0..=10.0).contains(position));
        let Some(position) = position else {
            let message = format!("`{}` is no knob position", key.text());
            return Err(Error::at(&key, ErrorKind::Range, message).label("expected 0 to 10 as on the knob"));
        };
        let ohms = match value.text() {
            "0" => 0.0,
            _ => read_ohms(&value)?.value(),
        };
        if !(0.0..=20e6).contains(&ohms) {
            return Err(Error::at(&value, ErrorKind::Range, "a potentiometer reads 0 to 20 MΩ").label("expected ohms"));
        }
        if let Some(before) = points.last() {
            if position <= before[0] {
                return Err(Error::at(&item, ErrorKind::Range, "the positions must rise").label(format!("must be above {}", before[0])));
            }
            if ohms < before[1] {
                let message = format!(
                    "the resistance falls here: {} follows {}",
                    value.text(),
                    with_prefix(before[1], "Ω")
                );
                return Err(Error::at(&value, ErrorKind::Range, message)
                    .label("falls")
                    .help("measure from the lug where the wiper stands at knob position 0"));
            }
        }
        points.push([position, ohms]);
    }
    Ok(points)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Source;

    #[test]
    fn the_last_digit_written_tells_how_well_a_peak_is_known() {
        for (written, hertz, half) in [
            ("470p=4.14k", 4140.0, 5.0),
            ("470p=4k1", 4100.0, 50.0),
            ("470p=7700", 7700.0, 0.5),
            ("330p=7.7 kHz", 7700.0, 50.0),
            ("0=9188.815", 9188.815, 0.0005),
        ] {
            let source = Source::inline("--peak", written);
            let peak = peak(&source.passage()).unwrap();
            assert!((peak.frequency - hertz).abs() < 1e-9, "{written}");
            assert!((peak.reach - half).abs() < 1e-9, "{written}: {}", peak.reach);
        }
    }
}
