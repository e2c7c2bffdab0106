//! Target files (TOML) → [`Target`](super::Target).

use std::collections::HashSet;
use std::path::Path;

use super::phrase::{NamedBand, common_bands, is_reserved, read_phrase};
use super::travel::between;
use super::{Against, BAND_LIMITS, Band, Clause, DEFAULT_ANCHOR, Guards, Measure, Over, Place, Target, WantedCurve};
use crate::curve::Curve;
use crate::document::{Document, Section, Value};
use crate::error::{Error, ErrorKind, Result};
use crate::limits::{self, LONGEST_NAME, MOST_CLAUSES, SMALLEST_ROTATION};
use crate::shipped;
use crate::source::{Passage, Source};
use crate::units::knob;

/// Largest bound of a clause, in dB: far above anything a guitar's controls do.
const LARGEST_BOUND: f64 = 200.0;
/// Header of a curve file.
const CURVE_HEADER: [&str; 2] = ["frequency_hz", "level_db"];
/// The keys of a clause that stand beside each other; `says` stands alone.
const EXPLICIT_KEYS: [&str; 9] = [
    "measure", "against", "band", "anchor", "over", "volume", "tone", "at_least", "at_most",
];

impl Target {
    /// Reads a target file; curves named inside it are read from its folder.
    ///
    /// # Errors
    /// At the place of the first mistake.
    pub fn read(source: &Source) -> Result<Self> {
        let document = Document::parse(source)?;
        let root = document.root("the target file");
        let name = match root.get("name") {
            Some(value) => read_name(&value)?,
            None => stem(source.name()),
        };
        let bands = match root.get("bands") {
            Some(value) => read_bands(&value)?,
            None => Vec::new(),
        };
        let read_as = root
            .get("read_as")
            .map(|value| value.text().map(|text| text.text().to_owned()))
            .transpose()?;
        let guards = root
            .get("guards")
            .map(|value| Guards::read(&value))
            .transpose()?
            .unwrap_or_default();
        let written = root.get("clause");
        root.finish()?;
        let Some(written) = written else {
            return Err(no_clause(&source.passage_at(0..0)));
        };
        let mut clauses: Vec<Clause> = Vec::new();
        let items = written.items();
        for item in items.map_err(|error| error.help("a clause begins with [[clause]], in double brackets"))? {
            read_clause(&item, source, &bands, &mut clauses)?;
            limits::count(clauses.len(), MOST_CLAUSES, "clauses", &item.passage())?;
        }
        if clauses.is_empty() {
            return Err(no_clause(&written.passage()));
        }
        Ok(Self {
            name,
            clauses,
            read_as,
            guards,
            note: None,
        })
    }
}

fn no_clause(passage: &Passage<'_>) -> Error {
    Error::at(passage, ErrorKind::Missing, "the target has no clause")
        .label("expected at least one [[clause]]")
        .help("for example [[clause]] and, below it, says = \"keep highs within 2 dB from full to half volume\"")
}

fn read_name(value: &Value<'_>) -> Result<String> {
    let name = value.text()?.trimmed();
    if name.text().is_empty() {
        return Err(Error::at(&value.passage(), ErrorKind::Missing, "the name is empty")
            .label("expected a name")
            .help("leave `name` out to call the target by its file"));
    }
    limits::name(&name, "a target", "bright at half volume")
}

fn stem(name: &str) -> String {
    let stem = Path::new(name).file_stem().and_then(|stem| stem.to_str());
    stem.unwrap_or(name).to_owned()
}

fn read_bands(value: &Value<'_>) -> Result<Vec<NamedBand>> {
    let mut bands: Vec<NamedBand> = Vec::new();
    let mut known: HashSet<String> = HashSet::new();
    let mut entries = value.section("[bands]")?.entries();
    entries.sort_by_key(|(name, _)| name.place().span.start);
    for (name, value) in entries {
        let word = name.text();
        let is_word = word.starts_with(char::is_alphabetic) && word.chars().all(|sign| sign.is_alphanumeric() || matches!(sign, '-' | '_'));
        if !is_word {
            let message = format!("`{word}` cannot be the name of a band");
            return Err(Error::at(&name, ErrorKind::Syntax, message).label("one word of letters, digits, `-` and `_`, a letter first"));
        }
        if is_reserved(word) {
            let message = format!("`{word}` is a word of the phrases and cannot be the name of a band");
            return Err(Error::at(&name, ErrorKind::Conflict, message).label("choose another name"));
        }
        limits::count(word.chars().count(), LONGEST_NAME, "characters in a band's name", &name)?;
        if !known.insert(word.to_lowercase()) {
            let message = format!("the band `{word}` is defined twice");
            return Err(Error::at(&name, ErrorKind::Conflict, message).label("names differ in more than case"));
        }
        bands.push(NamedBand {
            name: word.to_owned(),
            band: read_hertz_pair(&value)?,
        });
    }
    Ok(bands)
}

fn read_clause(item: &Value<'_>, source: &Source, bands: &[NamedBand], clauses: &mut Vec<Clause>) -> Result<()> {
    let section = item.section("[[clause]]")?;
    let says = section.get("says");
    let place = read_place(&section)?;
    match says {
        Some(says) => {
            if let Some(beside) = EXPLICIT_KEYS.into_iter().find_map(|key| section.get(key)) {
                return Err(Error::at(
                    &beside.key_passage(),
                    ErrorKind::Conflict,
                    "a clause is either a phrase or explicit, not both",
                )
                .label("stands beside `says`")
                .help("`knobwright target \"…\"` prints the explicit clauses of a phrase"));
            }
            section.finish()?;
            let said = read_phrase(&says.text()?, bands)?.clauses;
            clauses.extend(said.into_iter().map(|clause| Clause {
                place: if place.is_anywhere() { clause.place.clone() } else { place.clone() },
                ..clause
            }));
        }
        None => clauses.push(read_explicit(section, source, bands, place)?),
    }
    Ok(())
}

fn read_explicit(section: Section<'_>, source: &Source, bands: &[NamedBand], place: Place) -> Result<Clause> {
    let whole = section.passage();
    let [measure, against, band, anchor, over, volume, tone, at_least, at_most] = EXPLICIT_KEYS.map(|key| section.get(key));
    section.finish()?;
    let measure = measure.ok_or_else(|| missing(&whole, "measure"))?;
    let against = against.ok_or_else(|| missing(&whole, "against"))?;
    let band = read_band(&band.ok_or_else(|| missing(&whole, "band"))?, bands)?;
    let measure = read_word(&measure, &[("level", Measure::Level), ("shape", Measure::Shape)])?;
    let anchor = match (measure, anchor) {
        (Measure::Shape, Some(value)) => Some(read_band(&value, bands)?),
        (Measure::Shape, None) => Some(DEFAULT_ANCHOR),
        (Measure::Level, None) => None,
        (Measure::Level, Some(value)) => return Err(anchored_level(&value)),
    };
    let over = match over {
        Some(value) => read_word(&value, &[("every", Over::Every), ("mean", Over::Mean), ("average", Over::Average)])?,
        None => Over::Every,
    };
    let (at_least, at_most) = read_bounds(&whole, at_least, at_most)?;
    Ok(Clause {
        measure,
        against: read_against(&against, source, band, anchor)?,
        band,
        anchor,
        over,
        volume: read_rotations(volume, true)?,
        tone: read_rotations(tone, false)?,
        at_least,
        at_most,
        bands: Vec::new(),
        place,
    })
}

/// Where in a guitar of several pickups: `selector`, `pickup`, `knob`, `knobs`.
fn read_place(section: &Section<'_>) -> Result<Place> {
    let [selector, pickup, knob, knobs] = ["selector", "pickup", "knob", "knobs"].map(|key| section.get(key));
    let name = |value: &Value<'_>, what: &str, example: &str| value.name(what, example);
    Ok(Place {
        selector: selector.map_or(Ok(Vec::new()), |value| read_names(&value))?,
        pickup: pickup.map(|value| name(&value, "a pickup", "neck")).transpose()?,
        knob: knob.map(|value| name(&value, "a knob", "neck volume")).transpose()?,
        knobs: knobs.map_or(Ok(Vec::new()), |value| read_knobs(&value))?,
        is_spoken: false,
    })
}

/// Positions of the selector: one name, or a list.
fn read_names(value: &Value<'_>) -> Result<Vec<String>> {
    const EXAMPLE: &str = "both";
    if value.text().is_ok() {
        return Ok(vec![value.name("a position", EXAMPLE)?]);
    }
    let items = value
        .items()
        .map_err(|_| value.wrong_type("the names of positions, such as [\"both\"]"))?;
    if items.is_empty() {
        let error = Error::at(&value.passage(), ErrorKind::Missing, "the list of positions is empty");
        return Err(error
            .label("expected for example [\"both\"]")
            .help("leave the key out for every position"));
    }
    items.iter().map(|item| item.name("a position", EXAMPLE)).collect()
}

/// Knobs by their names, each with its position from 0 to 10.
fn read_knobs(value: &Value<'_>) -> Result<Vec<(String, f64)>> {
    let entries = value
        .section("the knobs of a clause")
        .map_err(|_| value.wrong_type("knobs with their positions, such as { \"neck volume\" = 5 }"))?
        .entries();
    let read = |(name, position): &(Passage<'_>, Value<'_>)| {
        let rotation = read_rotation(position, false)?;
        Ok((limits::name(name, "a knob", "neck volume")?, rotation))
    };
    entries.iter().map(read).collect()
}

fn missing(clause: &Passage<'_>, key: &str) -> Error {
    Error::at(clause, ErrorKind::Missing, format!("`{key}` is missing from [[clause]]"))
        .label(format!("this clause needs `{key}`"))
        .help("a clause has measure, against, band and at_least or at_most, or a phrase in `says` alone")
}

fn anchored_level(anchor: &Value<'_>) -> Error {
    Error::at(
        &anchor.key_passage(),
        ErrorKind::Conflict,
        "only a clause that measures shape has an anchor",
    )
    .label("this clause measures level")
    .help("take the anchor out, or write measure = \"shape\"")
}

/// One of the given words.
fn read_word<T: Clone>(value: &Value<'_>, words: &[(&str, T)]) -> Result<T> {
    let written = value.text()?;
    let found = words.iter().find(|(word, _)| *word == written.text());
    found.map(|(_, meaning)| meaning.clone()).ok_or_else(|| {
        let names: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
        Error::at(
            &value.passage(),
            ErrorKind::Unknown,
            format!("`{}` is not known here", written.text()),
        )
        .label(format!("expected {}", names.join(" or ")))
        .nearest(written.text(), words.iter().map(|(word, _)| *word))
    })
}

/// `[low, high]` in Hz, or a band's name.
fn read_band(value: &Value<'_>, own: &[NamedBand]) -> Result<Band> {
    let Ok(written) = value.text() else {
        return read_hertz_pair(value);
    };
    let (common, wanted) = (common_bands(), written.text().to_lowercase());
    let known = || own.iter().chain(&common);
    let found = known().find(|band| band.name.to_lowercase() == wanted);
    found.map(|known| known.band).or_else(|| Band::known(&wanted)).ok_or_else(|| {
        let names: Vec<&str> = known().map(|band| band.name.as_str()).collect();
        Error::at(
            &value.passage(),
            ErrorKind::Unknown,
            format!("there is no band `{}`", written.text()),
        )
        .label("expected a band's name or [low, high] in Hz")
        .nearest(written.text(), names.iter().copied())
        .help(format!("bands: {}; a file defines its own under [bands]", names.join(", ")))
    })
}

fn read_hertz_pair(value: &Value<'_>) -> Result<Band> {
    let items = value.items().map_err(|_| value.wrong_type("[low, high] in Hz"))?;
    let [low, high] = items.as_slice() else {
        return Err(Error::at(
            &value.passage(),
            ErrorKind::Syntax,
            format!("a band has 2 ends, this one {}", items.len()),
        )
        .label("expected [low, high] in Hz"));
    };
    let (low_hertz, high_hertz) = (low.number()?, high.number()?);
    let [lowest, highest] = BAND_LIMITS;
    for (end, hertz) in [(low, low_hertz), (high, high_hertz)] {
        if !(lowest..=highest).contains(&hertz) {
            let message = format!("{hertz} Hz is outside the {lowest} Hz to {highest} Hz a band may reach");
            return Err(Error::at(&end.passage(), ErrorKind::Range, message).label("outside"));
        }
    }
    Band::new(low_hertz, high_hertz).ok_or_else(|| {
        Error::at(
            &value.passage(),
            ErrorKind::Range,
            "a band's lower end comes first and is below its upper end",
        )
        .label("expected [low, high] in Hz")
    })
}

/// Knob positions from 0 to 10 as rotations, each once: a list, or the whole travel between two; full when the key is left out.
fn read_rotations(value: Option<Value<'_>>, is_volume: bool) -> Result<Vec<f64>> {
    let Some(value) = value else {
        return Ok(vec![1.0]);
    };
    if let Ok(travel) = value.section("the travel of a knob") {
        let [from, to] = [travel.need("from")?, travel.need("to")?];
        travel.finish()?;
        return Ok(between(read_rotation(&from, is_volume)?, read_rotation(&to, is_volume)?));
    }
    let items = value
        .items()
        .map_err(|_| value.wrong_type("a list of knob positions, or { from = 10, to = 5 }"))?;
    if items.is_empty() {
        return Err(
            Error::at(&value.passage(), ErrorKind::Missing, "the list of knob positions is empty")
                .label("expected positions from 0 to 10")
                .help("leave the key out for full, [10]"),
        );
    }
    let mut rotations: Vec<f64> = Vec::with_capacity(items.len());
    let mut known: HashSet<u64> = HashSet::with_capacity(items.len());
    for item in &items {
        let rotation = read_rotation(item, is_volume)?;
        if !known.insert(rotation.to_bits()) {
            let message = format!("the position {} stands in the list already", item.number()?);
            return Err(Error::at(&item.passage(), ErrorKind::Conflict, message).label("given twice"));
        }
        rotations.push(rotation);
    }
    Ok(rotations)
}

/// One knob position from 0 to 10 as a rotation, never −0.
fn read_rotation(item: &Value<'_>, is_volume: bool) -> Result<f64> {
    let number = item.number()?;
    let Some(rotation) = knob::rotation(number) else {
        let message = format!("a knob goes from 0 to 10, and {number} is outside");
        return Err(Error::at(&item.passage(), ErrorKind::Range, message)
            .label("expected 0 to 10, as on the knob")
            .help("0 is fully counter-clockwise, 10 is full"));
    };
    if is_volume && rotation < SMALLEST_ROTATION {
        return Err(Error::at(&item.passage(), ErrorKind::Range, "volume zero is silent").label("nothing can be heard here"));
    }
    // Adding zero turns −0 into 0.
    Ok(rotation + 0.0)
}

fn read_bounds(clause: &Passage<'_>, at_least: Option<Value<'_>>, at_most: Option<Value<'_>>) -> Result<(Option<f64>, Option<f64>)> {
    let read = |value: &Option<Value<'_>>| value.as_ref().map(read_bound).transpose();
    let (low, high) = (read(&at_least)?, read(&at_most)?);
    match (low, high, &at_least) {
        (None, None, _) => {
            Err(Error::at(clause, ErrorKind::Missing, "the clause bounds nothing")
                .label("this clause needs `at_least` or `at_most`, in dB"))
        }
        (Some(low), Some(high), Some(value)) if low > high => {
            let message = format!("at_least = {low} dB is above at_most = {high} dB: nothing can lie between");
            Err(Error::at(&value.passage(), ErrorKind::Conflict, message).label("above at_most"))
        }
        _ => Ok((low, high)),
    }
}

fn read_bound(value: &Value<'_>) -> Result<f64> {
    let bound = value.number()?;
    if bound.abs() > LARGEST_BOUND {
        let message = format!("{} dB is beyond ±{LARGEST_BOUND} dB", value.passage().text());
        return Err(Error::at(&value.passage(), ErrorKind::Range, message).label("expected dB, such as -2.0"));
    }
    Ok(bound)
}

/// `"full"`, `"present"`, `"flat"`, or `{ curve = "wanted.csv" }`.
fn read_against(value: &Value<'_>, source: &Source, band: Band, anchor: Option<Band>) -> Result<Against> {
    if value.text().is_ok() {
        let words = [("full", Against::Full), ("present", Against::Present), ("flat", Against::Flat)];
        return read_word(value, &words).map_err(|error| error.help("or a curve: against = { curve = \"wanted.csv\" }"));
    }
    let section = value
        .section("against")
        .map_err(|_| value.wrong_type("\"full\", \"present\", \"flat\" or { curve = \"wanted.csv\" }"))?;
    let written = section.need("curve")?;
    section.finish()?;
    let name = written.text()?;
    let curve = read_curve(&name, source)?;
    for (band, what) in [(Some(band), "band"), (anchor, "anchor")] {
        if let Some(band) = band {
            refuse_short(&curve, band, what, &name)?;
        }
    }
    let name = limits::name(&name, "a curve", "wanted.csv")?;
    Ok(Against::Curve(WantedCurve { name, curve }))
}

/// A file beside the target, or the name of a shipped curve: what holds a path separator or ends in .csv is a file.
fn read_curve(name: &Passage<'_>, source: &Source) -> Result<Curve> {
    let written = name.text();
    let is_file = written.contains(['/', '\\']) || written.to_lowercase().ends_with(".csv");
    let text = if is_file {
        source
            .open_beside(written)
            .map_err(|why| Error::at(name, ErrorKind::File, why).label("read from the folder of the target"))?
    } else {
        let shipped = shipped::CURVES.iter().find(|curve| curve.name == written);
        let shipped = shipped.ok_or_else(|| {
            let names: Vec<&str> = shipped::CURVES.iter().map(|curve| curve.name).collect();
            Error::at(name, ErrorKind::Unknown, format!("there is no shipped curve `{written}`"))
                .label("expected a .csv file or a shipped curve")
                .nearest(written, names.iter().copied())
                .help(format!("shipped curves: {}", names.join(", ")))
        })?;
        Source::inline(shipped.name, shipped.text)
    };
    let curve = Curve::read(&text, CURVE_HEADER)?;
    match curve.points().first() {
        Some([lowest, _]) if *lowest <= 0.0 => {
            Err(Error::at(name, ErrorKind::Range, format!("`{written}` begins at {lowest} Hz")).label("a frequency is above 0 Hz"))
        }
        _ => Ok(curve),
    }
}

fn refuse_short(curve: &Curve, band: Band, what: &str, name: &Passage<'_>) -> Result<()> {
    let (Some([first, _]), Some([last, _])) = (curve.points().first(), curve.points().last()) else {
        return Ok(());
    };
    if *first <= band.low() && band.high() <= *last {
        return Ok(());
    }
    let message = format!(
        "`{}` goes from {first} Hz to {last} Hz and does not span the {what}, {} Hz to {} Hz",
        name.text(),
        band.low(),
        band.high()
    );
    Err(Error::at(name, ErrorKind::Range, message).label(format!("too short for the {what}")))
}
