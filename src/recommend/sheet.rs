//! The build sheet as data: everything that is needed at the bench to turn an answer into a soldered guitar, and to check it afterwards.
//!
//! What is built is the answer that is printed first.

pub mod assembly;
mod bears;
mod checks;
mod parts;
mod selector;

use std::collections::BTreeMap;

pub use assembly::{Assembly, How, Join, Lead, Lug};
pub use checks::{CheckResistance, LevelRow, Levels};
pub use parts::SheetPart;

use super::instructions::rewiring;
use super::{Build, Prepared, Recommendation, Request, prepare};
use crate::circuit::Setting;
use crate::error::Result;
use crate::guitar::alteration::Alteration;
use crate::guitar::ensemble::{Ensemble, Lugs, Whose};
use crate::guitar::{Case, Guitar, Hookup, Joint, Slot};
use crate::kernel::same::Sound;
use crate::parts::network::{Component, Network};
use crate::source::Source;
use crate::target::Target;
use crate::tolerance::spreads;

/// An answer to be built.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The guitar's name.
    pub guitar: String,
    /// What was asked for.
    pub target: Target,
    /// Where the answer is to hold; none is the guitar as it is.
    pub cases: Vec<String>,
    /// Other pots, another cable, another wiring, each as an instruction.
    pub changes: Vec<String>,
    /// What goes in that is not there already, slot by slot.
    pub fit: Vec<Fitting>,
    /// The same changes, as options have them.
    pub altered: Vec<Alteration>,
    /// The command that holds the finished guitar against this sheet, as typed in a shell; none where nobody says.
    pub verify: Option<String>,
    /// What the present guitar has there instead.
    pub take_out: Vec<Fitted>,
    /// What stays as it is.
    pub stays: Vec<Fitted>,
    /// The parts of all that goes in, in slot and written order.
    pub parts: Vec<SheetPart>,
    /// Parts of what is taken out whose value goes in again.
    pub used_again: Vec<Component>,
    /// Other listed builds that sound the same, each as a whole.
    pub substitutes: Vec<Substitute>,
    /// How the tone control is to be wired; none without one.
    pub tone: Option<ToneWiring>,
    /// The knob positions at which the checks are made; the first is both knobs at full.
    pub positions: Vec<Setting>,
    /// What an ohmmeter reads at the jack, one a position.
    pub resistances: Vec<CheckResistance>,
    /// Levels to be expected, one table a case.
    pub levels: Vec<Levels>,
    /// The positions of the selector, each with what is connected there; none without one.
    pub selector: Vec<[String; 2]>,
    /// How these knobs are connected in a guitar of several pickups.
    pub several: Option<Several>,
    /// The cable that the levels hold for, in F, and the input's resistance in Ω; none where these differ by case.
    pub load: Option<(f64, f64)>,
}

/// How the knobs of a sheet are connected in a guitar of several pickups.
#[derive(Debug, Clone, PartialEq)]
pub struct Several {
    /// How the volume control is wired.
    pub volume: VolumeLeads,
    /// What is connected in the position of the selector that the resistances hold for.
    pub connected: String,
}

/// Which leads are on the lugs of a volume control.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum VolumeLeads {
    /// The selector on the input lug, the jack on the wiper.
    Shared,
    /// The pickup on the input lug, the wiper goes on to the selector.
    Joined,
    /// The pickup on the wiper, the input lug goes on to the selector.
    Independent,
    /// There is none: the signal goes straight to the jack.
    Absent,
}

/// A network in its slot.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The slot.
    pub slot: Slot,
    /// The network.
    pub network: Network,
}

/// A network that goes in.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitting {
    /// The slot.
    pub slot: Slot,
    /// The network.
    pub network: Network,
    /// What its parts are called on the sheet, in written order.
    pub labels: Vec<String>,
    /// How they are joined, and where the two ends go.
    pub assembly: Assembly,
}

/// Another build that sounds the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Substitute {
    /// What goes into each slot of the answer; none is nothing.
    pub slots: BTreeMap<Slot, Option<Network>>,
    /// Its margin in dB.
    pub margin_db: f64,
}

/// How the tone control is wired in the build.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToneWiring {
    /// How the potentiometer is used.
    pub hookup: Hookup,
    /// Where it is joined.
    pub joined_at: Joint,
    /// Whether the present guitar has it otherwise.
    pub changes: bool,
    /// Whether anything is fitted from the tone control to ground.
    pub has_network: bool,
}

/// The sheet of an answer; none where the guitar is best left as it is.
///
/// # Errors
/// As [`super::recommend`] with the same request.
pub fn sheet(request: &Request, result: &Recommendation) -> Result<Option<Sheet>> {
    let Some(Build { slots, guitar: answer, .. }) = &result.answer.build else {
        return Ok(None);
    };
    let (present, build) = prepare::guitars(request)?;
    let prepared = Prepared::new(request, present, build);
    let present = &prepared.present;
    let fit = fittings(present, answer);
    let said = request.lot.as_ref().map(|lot| lot.tolerances.clone()).unwrap_or_default();
    let bearings = bears::bearings(&prepared, &result.target, answer, &fit)?;
    let parts = parts::parts(&fit, &spreads(answer, &said, request.rules.stock.as_ref()), &bearings);
    let take_out: Vec<Fitted> = differing(present, answer);
    let positions = checks::positions(answer);
    Ok(Some(Sheet {
        guitar: answer.name.clone(),
        target: result.target.clone(),
        cases: result.cases.iter().map(|case| case.name.clone()).collect(),
        selector: selector::rows(answer),
        used_again: used_again(&take_out, &parts),
        changes: rewiring(present, answer),
        altered: Alteration::between(present, answer),
        verify: None,
        stays: stays(present, answer),
        substitutes: substitutes(&prepared, result, slots, answer)?,
        tone: tone_wiring(present, answer),
        resistances: checks::resistances(answer, &positions),
        levels: checks::levels(answer, &positions),
        several: Several::of(answer),
        load: load(answer),
        fit,
        take_out,
        parts,
        positions,
    }))
}

/// Cases may differ in cable or input; positions of a selector do not.
fn load(answer: &Guitar) -> Option<(f64, f64)> {
    let is_position = |case: &Case| case.position.is_some() && case.cable.or(case.input_capacitance).is_none() && case.input.is_none();
    let is_alike = answer.cases.iter().all(is_position);
    is_alike.then(|| (answer.cable.capacitance.value(), answer.input.resistance.value()))
}

impl Several {
    fn of(guitar: &Guitar) -> Option<Self> {
        // Where one pickup sounds alone, the guitar is as one of one pickup; its positions tell that there is a selector.
        let positions = guitar.positions();
        let first = positions.first().and_then(|case| case.position.as_deref());
        let ensemble = guitar.ensemble.as_deref().or(first.map(|position| &position.ensemble));
        let of_several = |ensemble: &Ensemble| match (ensemble.volume, ensemble.own.lugs) {
            (Whose::Shared, _) => VolumeLeads::Shared,
            (Whose::Pickup, Lugs::Joined) => VolumeLeads::Joined,
            (Whose::Pickup, Lugs::Independent) => VolumeLeads::Independent,
        };
        let absent = (!guitar.volume.is_fitted).then_some(VolumeLeads::Absent);
        Some(Self {
            volume: absent.or(ensemble.map(of_several))?,
            connected: ensemble.map(selector::connected).unwrap_or_default(),
        })
    }
}

/// A guitar with what a result writes for some slots.
fn fitted_with(guitar: &Guitar, slots: &BTreeMap<Slot, String>) -> Result<Guitar> {
    let mut guitar = guitar.clone();
    for (slot, network) in read(slots)? {
        guitar.fit(slot, network);
    }
    Ok(guitar)
}

fn read(slots: &BTreeMap<Slot, String>) -> Result<BTreeMap<Slot, Option<Network>>> {
    let read = |(slot, written): (&Slot, &String)| {
        let source = Source::inline("result", written.as_str());
        Ok((*slot, Network::read(&source.passage())?))
    };
    slots.iter().map(read).collect()
}

fn all_fitted(guitar: &Guitar) -> impl Iterator<Item = Fitted> {
    Slot::ALL.into_iter().filter_map(|slot| {
        let network = guitar.fitted(slot)?.clone();
        Some(Fitted { slot, network })
    })
}

/// What one guitar has that the other has not in the same slot.
fn differing(guitar: &Guitar, other: &Guitar) -> Vec<Fitted> {
    all_fitted(guitar)
        .filter(|fitted| other.fitted(fitted.slot) != Some(&fitted.network))
        .collect()
}

fn stays(present: &Guitar, answer: &Guitar) -> Vec<Fitted> {
    all_fitted(answer)
        .filter(|fitted| present.fitted(fitted.slot) == Some(&fitted.network))
        .collect()
}

fn fittings(present: &Guitar, answer: &Guitar) -> Vec<Fitting> {
    let mut labels = parts::Labels::default();
    let fitting = |fitted: Fitted| {
        let labels: Vec<String> = fitted.network.components().iter().map(|part| labels.next(*part)).collect();
        let ends = assembly::ends(fitted.slot);
        Fitting {
            slot: fitted.slot,
            assembly: assembly::assembly(&fitted.network, &labels, ends),
            network: fitted.network,
            labels,
        }
    };
    differing(answer, present).into_iter().map(fitting).collect()
}

/// Values that are both taken out and put in, each as often as both.
fn used_again(take_out: &[Fitted], parts: &[SheetPart]) -> Vec<Component> {
    let mut wanted: Vec<Component> = parts.iter().map(|part| part.component).collect();
    let out = take_out.iter().flat_map(|fitted| fitted.network.components());
    out.filter(|part| {
        let place = wanted.iter().position(|candidate| candidate == part);
        place.map(|place| wanted.swap_remove(place)).is_some()
    })
    .collect()
}

/// Listed builds that sound like the answer; slots that the answer leaves alone are left alone in them as well.
fn substitutes(prepared: &Prepared, result: &Recommendation, slots: &BTreeMap<Slot, String>, answer: &Guitar) -> Result<Vec<Substitute>> {
    let settings = prepared.heard_at(&result.target);
    let answer_in_cases = answer.in_cases();
    let sound = Sound::new(&answer_in_cases, &settings);
    let mut seen = vec![slots.clone()];
    let mut found = Vec::new();
    for build in &result.builds {
        let mut own = build.slots.clone();
        own.retain(|slot, _| slots.contains_key(slot));
        if seen.contains(&own) {
            continue;
        }
        let guitar = fitted_with(answer, &own)?;
        let alike = sound.is_like(&Sound::new(&guitar.in_cases(), &settings));
        let worst = if alike { prepared.worst_of(&guitar, &result.target)? } else { None };
        if let Some(worst) = worst {
            found.push(Substitute {
                slots: read(&own)?,
                margin_db: worst.margin,
            });
        }
        seen.push(own);
    }
    Ok(found)
}

fn tone_wiring(present: &Guitar, answer: &Guitar) -> Option<ToneWiring> {
    let tone = answer.tone.as_ref()?;
    let before = present.tone.as_ref();
    Some(ToneWiring {
        hookup: tone.hookup,
        joined_at: tone.joined_at,
        changes: before.is_none_or(|before| (before.hookup, before.joined_at) != (tone.hookup, tone.joined_at)),
        has_network: tone.network.is_some(),
    })
}
