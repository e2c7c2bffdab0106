//! Which knobs of a guitar a response turns: `--volume` and `--tone` each of their kind in turn, `--knob` one by its name.

use knobwright::guitar::knob::{Knob, Names};
use knobwright::guitar::whole::{View, Whole};
use knobwright::guitar::{Case, Guitar};
use knobwright::inputs::Inputs;
use knobwright::kernel::response::Response;
use knobwright::parts::choice::items;
use knobwright::source::{Passage, Source};
use knobwright::units::knob;
use knobwright::{Error, ErrorKind, Result};

use super::args;
use super::run::{assignments, check_knobs, rotations, seen, tell_guitar, view};

/// A view of a guitar, and where its own knobs are to stand.
pub struct Turned {
    pub guitar: Guitar,
    pub volumes: Vec<f64>,
    pub tones: Vec<f64>,
    /// What the view is called.
    knobs: String,
}

impl Turned {
    pub fn response<'r>(&'r self, frequencies: &'r [f64]) -> Response<'r> {
        Response {
            guitar: &self.guitar,
            volumes: &self.volumes,
            tones: &self.tones,
            frequencies,
        }
    }
}

/// Every view that is asked for, other knobs turned in cases of their own.
pub fn turned(args: &args::Response, inputs: &Inputs) -> Result<Vec<Turned>> {
    let volumes = rotations("--volume", &args.volume)?;
    let tones = rotations("--tone", &args.tone)?;
    let whole = inputs.whole(args.guitar.guitar.as_deref())?;
    let named = named(args, whole.views.first().and_then(View::names))?;
    let views = match &args.guitar.knobs {
        Some(_) => vec![view(inputs, &args.guitar)?],
        None => asked(whole, &named, &tones),
    };
    let one = |view: &View| {
        let mut guitar = seen(view, &args.guitar)?;
        tell_guitar(&guitar, &args.guitar, &args.output);
        guitar.fit_all(&assignments("--with", &args.guitar.with)?, "--with")?;
        let names = view.names();
        let own = |name: Option<&String>, usual: &[f64]| {
            let given = named.iter().find(|(knob, _)| Some(&knob.name) == name);
            given.map_or_else(|| usual.to_vec(), |(_, rotations)| rotations.clone())
        };
        let volumes = own(names.and_then(|names| names.volume.as_ref()), &volumes);
        let tones = own(names.and_then(|names| names.tone.as_ref()), &tones);
        check_knobs(&guitar, &volumes, &tones)?;
        let others: Vec<&(Knob, Vec<f64>)> = named
            .iter()
            .filter(|(knob, _)| names.is_none_or(|names| !names.is_turned(knob)))
            .collect();
        turn(&mut guitar, &others)?;
        Ok(Turned {
            guitar,
            volumes,
            tones,
            knobs: view.name.clone(),
        })
    };
    views.iter().map(one).collect()
}

/// The error for what shows the knobs of one view.
pub fn for_one(option: &str, turned: &[Turned]) -> Error {
    let names: Vec<&str> = turned.iter().map(|turned| turned.knobs.as_str()).collect();
    let message = format!("{option} shows one volume and one tone knob, and this guitar has more");
    let example = names.first().copied().unwrap_or_default();
    Error::new(ErrorKind::Conflict, message)
        .help(format!("say whose are meant: --knobs \"{example}\""))
        .help(format!("knobs of this guitar: {}", names.join(", ")))
}

/// Without `--knobs` a view that turns a knob named by `--knob`, or every volume knob, and with `--tone` every tone knob.
fn asked(whole: Whole, named: &[(Knob, Vec<f64>)], tones: &[f64]) -> Vec<View> {
    let turns_named = |view: &View| {
        let names = view.names();
        named.iter().any(|(knob, _)| names.is_some_and(|names| names.is_turned(knob)))
    };
    if let Some(own) = whole.views.iter().find(|view| turns_named(view)) {
        return vec![own.clone()];
    }
    let turns_tone = tones.iter().any(|tone| *tone < 1.0);
    let is_asked = |view: &View| {
        if turns_tone {
            view.guitar.tone.is_some()
        } else {
            !view.is_of_a_tone
        }
    };
    let asked: Vec<View> = whole.views.iter().filter(|view| is_asked(view)).cloned().collect();
    // A tone control that is not there is refused at the first of them.
    if asked.is_empty() {
        whole.views.into_iter().take(1).collect()
    } else {
        asked
    }
}

/// Every `--knob`: the knob, and where it is to stand.
fn named(args: &args::Response, names: Option<&Names>) -> Result<Vec<(Knob, Vec<f64>)>> {
    let mut found: Vec<(Knob, Vec<f64>)> = Vec::with_capacity(args.knob.len());
    for text in &args.knob {
        let source = Source::inline("--knob", text.as_str());
        let written = source.passage();
        let Some(names) = names else {
            let message = "--knob names a knob of a guitar with several pickups, and this one has one volume and one tone control";
            return Err(Error::new(ErrorKind::Conflict, message).help("turn them with --volume and --tone"));
        };
        let Some(equals) = text.find('=') else {
            return Err(
                Error::at(&written, ErrorKind::Syntax, format!("expected NAME=KNOB,…, found `{text}`"))
                    .label("no `=` here")
                    .help("for example: --knob \"neck volume=10,5\""),
            );
        };
        let name = written.part(0..equals).trimmed();
        let known = names.knob(name.text()).ok_or_else(|| unknown(&name, names))?;
        if found.iter().any(|(other, _)| other.name == known.name) {
            return Err(Error::at(&name, ErrorKind::Conflict, format!("`{}` is turned twice", known.name)).label("the second time"));
        }
        found.push((known.clone(), positions(&written.part(equals + 1..text.len()))?));
    }
    Ok(found)
}

fn unknown(name: &Passage<'_>, names: &Names) -> Error {
    let known = || names.knobs.iter().map(|knob| knob.name.as_str());
    Error::at(
        name,
        ErrorKind::Unknown,
        format!("this guitar has no knob called `{}`", name.text()),
    )
    .label("expected the name of a knob")
    .nearest(name.text(), known())
    .help(format!("knobs of this guitar: {}", known().collect::<Vec<_>>().join(", ")))
}

fn positions(written: &Passage<'_>) -> Result<Vec<f64>> {
    let read = |item: &Passage<'_>| {
        let number = item.text().parse::<f64>().ok().and_then(knob::rotation);
        number.ok_or_else(|| {
            Error::at(item, ErrorKind::Range, format!("`{}` is no position of a knob", item.text()))
                .label("expected 0 to 10, as on the knob")
        })
    };
    items(written).iter().map(read).collect()
}

/// More combinations of the positions of knobs than this are not answered at once.
const MOST_COMBINATIONS: usize = 1000;

/// Turns the knobs that stand still, in every position that connects them all: a case for each combination.
fn turn(guitar: &mut Guitar, others: &[&(Knob, Vec<f64>)]) -> Result<()> {
    if others.is_empty() {
        return Ok(());
    }
    let mut combinations: Vec<Vec<(&Knob, f64)>> = vec![Vec::new()];
    for (knob, rotations) in others {
        let count = combinations.len().saturating_mul(rotations.len());
        if count > MOST_COMBINATIONS {
            let message = format!("--knob makes {count} combinations of positions; {MOST_COMBINATIONS} is the most");
            return Err(Error::new(ErrorKind::Range, message).help("name fewer positions, or fewer knobs at once"));
        }
        let before = std::mem::take(&mut combinations);
        for rotation in rotations {
            combinations.extend(before.iter().map(|knobs| {
                let next: Vec<(&Knob, f64)> = knobs.iter().copied().chain([(knob, *rotation)]).collect();
                next
            }));
        }
    }
    let mut cases: Vec<Case> = Vec::new();
    for case in guitar.positions() {
        let Some(position) = case.position.as_deref() else { continue };
        cases.extend(combinations.iter().filter_map(|knobs| {
            let turned = position.turned(knobs)?;
            Some(Case {
                name: format!("{}{}", case.name, turned.turned_in_words()),
                position: Some(Box::new(turned)),
                ..case.clone()
            })
        }));
    }
    if cases.is_empty() {
        let names: Vec<&str> = others.iter().map(|(knob, _)| knob.name.as_str()).collect();
        let message = format!("no position of the selector connects all of these: {}", names.join(", "));
        return Err(Error::new(ErrorKind::Conflict, message).help("turn one of them at a time, or look at another pickup's with --knobs"));
    }
    guitar.cases = cases;
    Ok(())
}
