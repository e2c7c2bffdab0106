//! `identify`: a pickup or a potentiometer from measurements.

use std::ffi::OsString;
use std::path::Path;

use clap_lex::OsStrExt;

use knobwright::circuit::Setting;
use knobwright::guitar::Guitar;
use knobwright::identify::file::guitar_file;
use knobwright::identify::peaks::{PeakOf, from_peaks};
use knobwright::identify::sweep::{Columns, Reading, Sweep};
use knobwright::identify::{Coil, Known, Measured, Request, Shunt, Way, identify, pots, read};
use knobwright::inputs::Inputs;
use knobwright::picture::of_identified;
use knobwright::recommend::assumed::StandIn;
use knobwright::report::{self, Document};
use knobwright::source::{Source, shown};
use knobwright::{Error, ErrorKind, Result};

use super::args::{Format, Identify, PeakWord};
use super::outputs::{Outputs, deliver, put};
use super::page::{PageFile, origin};
use super::plot::{Plot, picture_file};
use super::run::{Outcome, assignments, rotations, stand_in, tell, tell_assumed};
use super::terminal::width;

/// Does what was typed.
pub fn run(args: &Identify) -> Result<Outcome> {
    if args.plot.plot.is_some() && (args.pot_points.is_some() || !args.peak.is_empty()) {
        let message = "--plot shows a sweep and its fit, and there is no sweep";
        return Err(Error::new(ErrorKind::Conflict, message).help("leave --plot out, or give a sweep"));
    }
    let inputs = Inputs::default();
    let plot = Plot::read(&args.plot, &args.output)?;
    let page = PageFile::read(&args.page)?;
    let outputs = Outputs::new(&[
        ("--output", args.output.output.as_deref()),
        ("--plot", picture_file(&args.plot)),
        ("--page", args.page.page.as_deref()),
    ])?;
    let page = Page { file: page, args };
    if args.guitar.is_some() {
        // However little of it a fit takes, the file written takes the rest.
        inputs.guitar_source(args.guitar.as_deref())?;
        outputs.refuse_inputs(&inputs)?;
    }
    if let Some(text) = &args.pot_points {
        return run_pot(text, &page, &inputs);
    }
    if !args.peak.is_empty() {
        return run_peaks(&page, &inputs);
    }
    if args.impedance.is_empty() && args.response.is_empty() && args.jack.is_empty() {
        return Err(Error::new(ErrorKind::Missing, "nothing was measured").help(
            "give a sweep (--impedance sweep.csv), two peaks (--peak 470p=4.14k --peak 2n2=2.09k) or a pot's readings (--pot-points)",
        ));
    }
    let request = Request {
        measured: measured(args, &inputs)?,
        known: known(args)?,
        slope: args.slope,
        robust: args.robust,
    };
    outputs.refuse_inputs(&inputs)?;
    let found = identify(&request)?;
    let assumed = assumed(args, &inputs)?;
    tell_assumed(assumed.as_ref(), &args.output);
    let coil = found.best().map(|model| model.coil.clone());
    let drawn = plot.draw(|| Ok(of_identified(&found)));
    let (text, output) = match args.output.format {
        Format::Table => {
            if found.complaints.is_empty() {
                write_guitar(coil.as_ref(), args, &inputs)?;
            }
            (found.document(args.models, None).text(width()), None)
        }
        Format::Json => (report::json_assuming(assumed.as_ref(), &found)?, args.output.output.as_deref()),
        Format::Csv => (report::identified_csv(&found, args.models)?, args.output.output.as_deref()),
    };
    drawn.deliver_with(&text, output)?;
    page.write(&inputs, || found.document(args.models, Some(&of_identified(&found))))?;
    match (found.complaints.first(), &args.output.output) {
        (Some(complaint), Some(path)) if args.output.format == Format::Table => {
            let message = format!("{} was not written, because this is no pickup to build upon", path.display());
            Err(Error::new(ErrorKind::Missing, message).help(complaint.clone()))
        }
        _ => Ok(Outcome::Done),
    }
}

/// The page that goes beside, where one is wanted.
struct Page<'a> {
    file: Option<PageFile<'a>>,
    args: &'a Identify,
}

impl Page<'_> {
    fn write(&self, inputs: &Inputs, document: impl FnOnce() -> Document) -> Result<()> {
        let Some(file) = &self.file else { return Ok(()) };
        let guitar: Vec<_> = self.args.guitar.iter().map(|name| Some(name.as_os_str())).collect();
        file.write(document(), origin(inputs, &guitar, &[], &[])?, self.args.output.quiet)
    }
}

/// Writes the guitar file where one is wanted.
fn write_guitar(coil: Option<&Coil>, args: &Identify, inputs: &Inputs) -> Result<()> {
    if let (Some(path), Some(coil)) = (&args.output.output, coil) {
        let base = args.guitar.as_deref().map(|name| inputs.guitar_source(Some(name))).transpose()?;
        let file = guitar_file(
            base.as_ref().map(Source::text),
            args.pickup.as_deref(),
            coil,
            "# Found by measuring.\n",
        )?;
        put(path, file.as_bytes())?;
        if !args.output.quiet {
            tell(&format!("Written: {}", shown(path)));
        }
    }
    Ok(())
}

fn run_pot(text: &str, page: &Page<'_>, inputs: &Inputs) -> Result<Outcome> {
    let output = &page.args.output;
    let pot = pots::pot(&read::pot_points(&Source::inline("--pot-points", text).passage())?)?;
    let text = match output.format {
        Format::Table => pot.document().text(width()),
        Format::Json => report::json(&pot)?,
        Format::Csv => report::pot_csv(&pot)?,
    };
    deliver(&text, output.output.as_deref())?;
    page.write(inputs, || pot.document())?;
    Ok(Outcome::Done)
}

fn run_peaks(page: &Page<'_>, inputs: &Inputs) -> Result<Outcome> {
    let args = page.args;
    let read = |text: &String| read::peak(&Source::inline("--peak", text.as_str()).passage());
    let peaks = args.peak.iter().map(read).collect::<Result<Vec<_>>>()?;
    let known = known(args)?;
    if known.inductance.or(known.capacitance).or(known.cable).is_some() {
        return Err(Error::new(ErrorKind::Conflict, "peaks go with --known resistance alone"));
    }
    let resistance = known.resistance.ok_or_else(|| {
        Error::new(ErrorKind::Missing, "the pickup's DC resistance is missing")
            .help("read it with a multimeter across the pickup, disconnected from the controls: --known resistance=6k")
    })?;
    let of = match args.peak_of {
        PeakWord::Impedance => PeakOf::Impedance,
        PeakWord::Response => PeakOf::Response,
    };
    let beside = match of {
        PeakOf::Response => match &args.load {
            Some(load) => read::load(&Source::inline("--load", load.as_str()).passage())?.0,
            None => jig(args)?,
        },
        PeakOf::Impedance => jig(args)?,
    };
    let found = from_peaks(&peaks, of, resistance, beside)?;
    let (text, output) = match args.output.format {
        Format::Table => {
            write_guitar(Some(&report::coil_of_peaks(&found)), args, inputs)?;
            (found.document().text(width()), None)
        }
        Format::Json => (report::json(&found)?, args.output.output.as_deref()),
        Format::Csv => (report::peaks_csv(&found)?, args.output.output.as_deref()),
    };
    deliver(&text, output)?;
    page.write(inputs, || found.document())?;
    Ok(Outcome::Done)
}

fn known(args: &Identify) -> Result<Known> {
    let mut known = Known::default();
    for text in &args.known {
        read::known(&mut known, &Source::inline("--known", text.as_str()).passage())?;
    }
    Ok(known)
}

fn jig(args: &Identify) -> Result<Shunt> {
    args.jig
        .as_deref()
        .map_or(Ok(Shunt::default()), |text| read::shunt(&Source::inline("--jig", text).passage()))
}

fn measured(args: &Identify, inputs: &Inputs) -> Result<Vec<Measured>> {
    let columns = columns(args.columns.as_deref())?;
    let jig = jig(args)?;
    let one = |option: &'static str, text: &OsString, reading: Reading| -> Result<(Sweep, f64)> {
        let (added, path) = match text.split_once("=") {
            Some((added, path)) => (read::added(&Source::inline(option, added.to_string_lossy()).passage())?, path),
            None => (0.0, text.as_os_str()),
        };
        Ok((Sweep::read(&inputs.file(Path::new(path))?, reading, &columns)?, added))
    };
    let mut found = Vec::new();
    for text in &args.impedance {
        let (sweep, added) = one("--impedance", text, Reading::Impedance)?;
        let way = Way::Impedance(jig);
        found.push(Measured { sweep, way, added });
    }
    let goes_through = !(args.response.is_empty() && args.jack.is_empty());
    let controls = if goes_through { controls(args, inputs)? } else { None };
    let settings = settings(&args.volume, &args.tone, args.response.len() + args.jack.len(), "sweeps")?;
    let mut settings = settings.into_iter();
    let mut setting = || settings.next().unwrap_or(Setting::FULL);
    for text in &args.response {
        let (sweep, added) = one("--response", text, Reading::Level)?;
        let way = match (&args.load, &controls) {
            (Some(load), _) => {
                let (load, unknown) = read::load(&Source::inline("--load", load.as_str()).passage())?;
                Way::Response { load, unknown }
            }
            (None, Some(guitar)) => Way::Through(Box::new(guitar.clone()), setting()),
            (None, None) => {
                return Err(Error::new(ErrorKind::Missing, "what loaded the pickup in the response is missing")
                    .help("give it (--load 1M,470p), or the guitar whose controls it went through (--guitar my-guitar.toml)"));
            }
        };
        found.push(Measured { sweep, way, added });
    }
    for text in &args.jack {
        let (sweep, added) = one("--jack", text, Reading::Impedance)?;
        if let Some(guitar) = &controls {
            let way = Way::Jack(Box::new(guitar.clone()), setting(), jig);
            found.push(Measured { sweep, way, added });
        }
    }
    Ok(found)
}

/// What stands in for the controls that a sweep was taken through; nothing does where none was.
fn assumed(args: &Identify, inputs: &Inputs) -> Result<Option<StandIn>> {
    let name = args.guitar.as_deref().filter(|_| !args.jack.is_empty());
    let controls = name.map(|name| inputs.guitar(Some(name))).transpose()?;
    Ok(controls.and_then(|controls| stand_in(name, &controls)))
}

/// The guitar whose controls a sweep was taken through.
fn controls(args: &Identify, inputs: &Inputs) -> Result<Option<Guitar>> {
    let Some(name) = args.guitar.as_deref() else { return Ok(None) };
    let mut guitar = inputs.guitar(Some(name))?;
    guitar.need_one_pickup("a sweep through a guitar's controls")?;
    guitar.fit_all(&assignments("--with", &args.with)?, "--with")?;
    Ok(Some(guitar))
}

/// Columns as typed.
pub(super) fn columns(text: Option<&str>) -> Result<Columns> {
    text.map_or(Ok(Columns::default()), |text| {
        Columns::read(&Source::inline("--columns", text).passage())
    })
}

/// The knobs of each of so many sweeps: one position for all of them, or one each.
pub(super) fn settings(volume: &str, tone: &str, count: usize, what: &str) -> Result<Vec<Setting>> {
    let each = |option: &'static str, text: &str| -> Result<Vec<f64>> {
        let given = rotations(option, text)?;
        match given.as_slice() {
            [one] => Ok(vec![*one; count]),
            _ if given.len() == count => Ok(given),
            _ => {
                let message = format!("{option} lists {} positions for {count} {what}", given.len());
                Err(Error::new(ErrorKind::Conflict, message).help("give one for all, or one for each in the same order"))
            }
        }
    };
    let (volumes, tones) = (each("--volume", volume)?, each("--tone", tone)?);
    Ok(volumes
        .into_iter()
        .zip(tones)
        .map(|(volume, tone)| Setting { volume, tone })
        .collect())
}
