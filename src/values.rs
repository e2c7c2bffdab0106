//! Standard values for people at the bench: a series over a range, the nearest standard value, and what a mark says.

use serde::Serialize;

use crate::error::{Error, ErrorKind, Result};
use crate::parts::network::Kind;
use crate::parts::series::Series;
use crate::source::Passage;
use crate::units::{Quantity, read_farads, read_ohms, read_quantity, rkm};

pub use crate::units::marking::{MarkedPart, Reading, Tolerance, decode};

/// More values than anybody reads: 16 decades of the finest series.
const MOST_VALUES: usize = 4096;

/// Smallest and largest value that is listed, in Ω and in F: anything that can be bought lies well inside.
const LIMITS: [(Kind, f64, f64); 2] = [(Kind::Resistor, 1e-3, 1e12), (Kind::Capacitor, 1e-15, 1e3)];

/// A stretch of values of one kind, ends included, in Ω or F.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValueRange {
    /// Resistors or capacitors.
    pub kind: Kind,
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

impl ValueRange {
    /// Reads a range such as `1k..1M` or `100p..22n`; the kind is told by the prefixes.
    ///
    /// # Errors
    /// Where an end is no resistance or capacitance, the ends are of two kinds, or the range is empty.
    pub fn read(passage: &Passage<'_>) -> Result<Self> {
        let whole = passage.trimmed();
        let Some((low, high)) = whole.text().split_once("..") else {
            let error = Error::at(&whole, ErrorKind::Syntax, format!("expected a range, found `{}`", whole.text()));
            return Err(error
                .label("no `..` in it")
                .help("write both ends, such as `1k..1M` or `100p..22n`"));
        };
        let high_start = whole.text().len() - high.len();
        let (low, high) = (
            whole.part(0..low.len()).trimmed(),
            whole.part(high_start..whole.text().len()).trimmed(),
        );
        let (kind, low_value) = kind_and_value(&low)?;
        let high_value = match kind {
            Kind::Resistor => read_ohms(&high)?.value(),
            Kind::Capacitor => read_farads(&high)?.value(),
        };
        check_limits(&low, kind, low_value)?;
        check_limits(&high, kind, high_value)?;
        if low_value > high_value {
            let error = Error::at(&whole, ErrorKind::Range, "the range is empty: its lower end is above its upper end");
            return Err(error
                .label("nothing in between")
                .help(format!("write `{}..{}`", high.text(), low.text())));
        }
        Ok(Self {
            kind,
            low: low_value,
            high: high_value,
        })
    }
}

fn kind_and_value(passage: &Passage<'_>) -> Result<(Kind, f64)> {
    match read_quantity(passage)? {
        Quantity::Ohms(value) => Ok((Kind::Resistor, value.value())),
        Quantity::Farads(value) => Ok((Kind::Capacitor, value.value())),
        Quantity::Henries(_) => {
            let error = Error::at(
                passage,
                ErrorKind::Unit,
                "expected a resistance or a capacitance, found an inductance",
            );
            Err(error.label("no series of standard values is kept for inductors"))
        }
    }
}

fn check_limits(passage: &Passage<'_>, kind: Kind, value: f64) -> Result<()> {
    let unit = if kind == Kind::Resistor { "R" } else { "F" };
    match LIMITS.iter().find(|(limited, ..)| *limited == kind) {
        Some((_, low, high)) if !(*low..=*high).contains(&value) => {
            let message = format!("`{}` is no value of a part", passage.text());
            let label = format!("expected {} to {}", rkm(*low, unit), rkm(*high, unit));
            Err(Error::at(passage, ErrorKind::Range, message).label(label))
        }
        _ => Ok(()),
    }
}

/// Reads the name of a series.
///
/// # Errors
/// Where the text names none.
pub fn read_series(passage: &Passage<'_>) -> Result<Series> {
    let name = passage.trimmed();
    Series::named(name.text()).ok_or_else(|| {
        Error::at(
            &name,
            ErrorKind::Unknown,
            format!("`{}` is no series of standard values", name.text()),
        )
        .label("expected E3, E6, E12, E24, E48, E96 or E192")
        .nearest(name.text(), Series::ALL.map(Series::name))
    })
}

/// The values of a series over a range.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeriesList {
    /// The series.
    pub series: Series,
    /// What the values are of.
    pub what: MarkedPart,
    /// Ascending, in Ω or F.
    pub values: Vec<f64>,
}

/// Lists a series over a range.
///
/// # Errors
/// Where no value of the series lies in the range, or more than 4096 do.
pub fn list(series: Series, range: ValueRange) -> Result<SeriesList> {
    let values = series.values(range.low, range.high);
    if values.is_empty() {
        let unit = if range.kind == Kind::Resistor { "R" } else { "F" };
        let (low, high) = (rkm(range.low, unit), rkm(range.high, unit));
        let error = Error::new(ErrorKind::Search, format!("no value of {series} lies from {low} to {high}"));
        return Err(match series.nearest(range.low) {
            Some(near) => error.help(format!("the nearest value is {}", rkm(near, unit))),
            None => error,
        });
    }
    if values.len() > MOST_VALUES {
        let message = format!(
            "{} values of {series} lie in this range, more than the {MOST_VALUES} that are listed",
            values.len()
        );
        return Err(Error::new(ErrorKind::Search, message).help("narrow the range, or take a coarser series"));
    }
    Ok(SeriesList {
        series,
        what: marked(range.kind),
        values,
    })
}

/// The standard value nearest to a wanted one, in ratio.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Nearest {
    /// The series.
    pub series: Series,
    /// What the values are of.
    pub what: MarkedPart,
    /// What was wanted, in Ω or F.
    pub wanted: f64,
    /// The nearest value of the series, in Ω or F.
    pub value: f64,
    /// How far it lies from what was wanted, in percent of what was wanted; above zero when larger.
    pub error_percent: f64,
    /// The largest value of the series not above what was wanted, in Ω or F.
    pub below: f64,
    /// The smallest value of the series not below what was wanted, in Ω or F.
    pub above: f64,
}

/// Finds the value of a series nearest to a wanted resistance or capacitance.
///
/// # Errors
/// Where the text is no such value, or one that no part has.
pub fn nearest(series: Series, wanted: &Passage<'_>) -> Result<Nearest> {
    let wanted_at = wanted.trimmed();
    let (kind, wanted) = kind_and_value(&wanted_at)?;
    check_limits(&wanted_at, kind, wanted)?;
    let found = series.nearest(wanted).zip(series.neighbours(wanted));
    let (value, (below, above)) = found.ok_or_else(|| {
        let message = format!("`{}` has no neighbour in {series}", wanted_at.text());
        Error::at(&wanted_at, ErrorKind::Range, message)
    })?;
    Ok(Nearest {
        series,
        what: marked(kind),
        wanted,
        value,
        error_percent: (value - wanted) / wanted * 100.0,
        below,
        above,
    })
}

const fn marked(kind: Kind) -> MarkedPart {
    match kind {
        Kind::Resistor => MarkedPart::Resistor,
        Kind::Capacitor => MarkedPart::Capacitor,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Source;

    fn range(text: &str) -> Result<ValueRange> {
        ValueRange::read(&Source::inline("range", text).passage())
    }

    fn near(series: Series, text: &str) -> Result<Nearest> {
        nearest(series, &Source::inline("wanted", text).passage())
    }

    #[test]
    fn a_series_over_a_range() {
        let listed = list(Series::E6, range("1n .. 10 n").unwrap()).unwrap();
        assert_eq!(listed.what, MarkedPart::Capacitor);
        assert_eq!(listed.values, [1e-9, 1.5e-9, 2.2e-9, 3.3e-9, 4.7e-9, 6.8e-9, 1e-8]);
        assert_eq!(list(Series::E12, range("1k..1M").unwrap()).unwrap().values.len(), 37);
        assert_eq!(list(Series::E3, range("470R..1k").unwrap()).unwrap().values, [470.0, 1000.0]);
    }

    #[test]
    fn ranges_that_are_none_say_why() {
        for (text, words) in [
            ("1k", "no `..`"),
            ("1k..22n", "expected a resistance, found a capacitance prefix"),
            ("1M..1k", "write `1k..1M`"),
            ("0..1k", "expected 0.001R to 1000G"),
            ("1p..1e9 F", "expected p001 to 1000000000u"),
            ("1k..", "found nothing"),
            ("470..1k", "470 Ω: write `470R`"),
            ("100..500k", "100 kΩ: write `100k`"),
            ("100p..223", "22 nF if it stands on a capacitor: write `22n`"),
            ("1 H..2 H", "found an inductance"),
            ("-1k..1k", "no value of a part"),
        ] {
            let picture = range(text).unwrap_err().picture();
            assert!(picture.contains(words), "`{text}`: expected `{words}` in\n{picture}");
        }
        let empty = list(Series::E3, range("5k..6k").unwrap()).unwrap_err();
        assert!(empty.picture().contains("the nearest value is 4k7"), "{}", empty.picture());
        assert!(
            read_series(&Source::inline("series", "E25").passage())
                .unwrap_err()
                .picture()
                .contains("did you mean `E24`")
        );
        assert_eq!(read_series(&Source::inline("series", "e96").passage()), Ok(Series::E96));
    }

    #[test]
    fn the_nearest_value_with_its_error() {
        let found = near(Series::E24, "76.123 k").unwrap();
        assert_eq!((found.value, found.below, found.above), (75e3, 75e3, 82e3));
        // (75 − 76.123) / 76.123
        assert!((found.error_percent - -1.475_244).abs() < 1e-6, "{}", found.error_percent);
        let exact = near(Series::E12, "22n").unwrap();
        assert_eq!((exact.value, exact.error_percent), (22e-9, 0.0));
        for text in ["0", "-1 k", "1e300 Ω", "2 H", "0.022"] {
            near(Series::E12, text).unwrap_err();
        }
    }
}
