//! What sounds and loads beside one pickup with one volume and one tone control: the other pickups of a guitar as one position of its
//! selector connects them, and every control that is not being turned.
//!
//! A guitar of several pickups is always looked at from one volume knob and one tone knob ([`super::whole`]); everything else stands still
//! and is here.

use std::sync::Arc;

use super::knob::{Knob, Names};
use super::{Pickup, Potentiometer, Tone, Volume};
use crate::parts::network::Network;

/// Everything connected in one position besides what a [`super::Guitar`] of one pickup has.
#[derive(Debug, Clone, PartialEq)]
pub struct Ensemble {
    /// Which position of the selector it is.
    pub position: String,
    /// How the guitar's own pickup is used.
    pub own: Channel,
    /// The other pickups that are connected.
    pub others: Vec<(Pickup, Channel)>,
    /// How they are joined; 0 is the guitar's own pickup, the others follow.
    pub joined: Joined,
    /// Whose the guitar's own volume control is, and with it the places for a bleed, in series and across.
    pub volume: Whose,
    /// Whose the guitar's own tone control is.
    pub tone: Whose,
    /// What is behind the selector and stands still.
    pub shared: Stage,
    /// What everything is called.
    pub names: Arc<Names>,
}

/// Where a control is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// The own pickup's.
    Pickup,
    /// Behind the selector, for all pickups.
    Shared,
}

/// A pickup's way to the selector.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// The pickup's name.
    pub name: String,
    /// Its place among the pickups of the file.
    pub number: usize,
    /// Which of its states it is in, if not the first values.
    pub state: Option<String>,
    /// How many times the EMF of a pickup of 0 dB; below zero where it is reversed.
    pub ratio: f64,
    /// Which lug of its own volume control the pickup is on.
    pub lugs: Lugs,
    /// Its controls and networks, as far as they stand still.
    pub stage: Stage,
}

/// Where a network is that stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Beside {
    /// At a control, by its number.
    Held(usize),
    /// In series with or across a pickup, by its number.
    Channel(usize),
    /// Behind the selector, in series or across, where the volume control that is turned is a pickup's.
    Shared,
}

/// Controls and networks that stand still.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stage {
    /// In series before the controls.
    pub series: Option<Network>,
    /// From behind it to ground.
    pub across: Option<Network>,
    /// What a rotary tone selector without a pot connects from there to ground.
    pub choice: Option<Network>,
    /// A bass cut, behind what is in series.
    pub bass_cut: Option<Held<BassCut>>,
    /// The volume control.
    pub volume: Option<Held<Volume>>,
    /// The tone controls.
    pub tones: Vec<Held<Tone>>,
}

/// A control that stands still.
#[derive(Debug, Clone, PartialEq)]
pub struct Held<T> {
    /// The control.
    pub control: T,
    /// Which of the file's controls it is, whatever position it is seen in.
    pub number: usize,
    /// What its owner calls it: `neck volume`, `bass cut`.
    pub name: String,
    /// Its rotation.
    pub rotation: f64,
}

/// A bass-cut control: a network in the signal's way, and across it the track beyond the wiper, which is nothing at full.
#[derive(Debug, Clone, PartialEq)]
pub struct BassCut {
    /// The potentiometer.
    pub pot: Potentiometer,
    /// In the signal's way; `None` is open.
    pub network: Option<Network>,
}

/// How a volume control that is a pickup's own is wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lugs {
    /// The pickup on the input lug, the wiper is the output: one volume at 0 silences all that sounds with it.
    #[default]
    Joined,
    /// The pickup on the wiper, the input lug is the output: one volume at 0 leaves the others sounding.
    Independent,
}

impl Lugs {
    /// The word a user types.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Joined => "joined",
            Self::Independent => "independent",
        }
    }
}

/// How pickups are connected with each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Joined {
    /// One of them, by its number.
    One(usize),
    /// Side by side.
    Parallel(Vec<Joined>),
    /// One on top of the other, the first from ground.
    Series(Vec<Joined>),
}

impl Joined {
    /// The numbers of all pickups in it.
    #[must_use]
    pub fn members(&self) -> Vec<usize> {
        match self {
            Self::One(number) => vec![*number],
            Self::Parallel(members) | Self::Series(members) => members.iter().flat_map(Self::members).collect(),
        }
    }

    /// The same with every number replaced.
    #[must_use]
    pub fn renumbered(&self, number: &impl Fn(usize) -> usize) -> Self {
        let each = |members: &[Self]| members.iter().map(|member| member.renumbered(number)).collect();
        match self {
            Self::One(own) => Self::One(number(*own)),
            Self::Parallel(members) => Self::Parallel(each(members)),
            Self::Series(members) => Self::Series(each(members)),
        }
    }
}

impl Stage {
    /// Networks in the order in which their parts are numbered, by where they are: in series and across, then at each control.
    fn networks_mut(&mut self, own: Beside) -> Vec<(Beside, Vec<&mut Network>)> {
        let places = self.series.iter_mut().chain(&mut self.across).chain(&mut self.choice);
        let mut found = vec![(own, places.collect())];
        for held in self.bass_cut.iter_mut() {
            found.push((Beside::Held(held.number), held.control.network.iter_mut().collect()));
        }
        for held in self.volume.iter_mut() {
            found.push((Beside::Held(held.number), held.control.bleed.iter_mut().collect()));
        }
        for held in &mut self.tones {
            let tone = &mut held.control;
            found.push((Beside::Held(held.number), tone.network.iter_mut().chain(&mut tone.bypass).collect()));
        }
        found
    }

    /// Every control that stands still.
    fn knobs_mut(&mut self) -> impl Iterator<Item = HeldKnob<'_>> {
        let cuts = self.bass_cut.iter_mut().map(|held| held.knob(|cut| &mut cut.pot, false));
        let volumes = self.volume.iter_mut().map(|held| held.knob(|volume| &mut volume.pot, true));
        let tones = self.tones.iter_mut().map(|held| held.knob(|tone| &mut tone.pot, false));
        cuts.chain(volumes).chain(tones)
    }
}

/// A control that stands still, of whatever kind.
pub struct HeldKnob<'h> {
    /// Which of the file's controls it is.
    pub number: usize,
    /// What its owner calls it.
    pub name: &'h str,
    /// Whether it is a volume control.
    pub is_volume: bool,
    /// Its potentiometer.
    pub pot: &'h mut Potentiometer,
    /// Its rotation.
    pub rotation: &'h mut f64,
}

impl<T> Held<T> {
    /// A control at full.
    pub(super) fn full(control: T, number: usize, name: String) -> Self {
        Self {
            control,
            number,
            name,
            rotation: 1.0,
        }
    }

    fn knob(&mut self, pot: impl FnOnce(&mut T) -> &mut Potentiometer, is_volume: bool) -> HeldKnob<'_> {
        HeldKnob {
            number: self.number,
            name: &self.name,
            is_volume,
            pot: pot(&mut self.control),
            rotation: &mut self.rotation,
        }
    }
}

impl Ensemble {
    /// Every network that stands still, by its place; several at one place in the order in which their parts are numbered.
    pub fn networks_mut(&mut self) -> Vec<(Beside, Vec<&mut Network>)> {
        let channels = std::iter::once(&mut self.own).chain(self.others.iter_mut().map(|(_, channel)| channel));
        let stages = channels.map(|channel| (Beside::Channel(channel.number), &mut channel.stage));
        let stages = stages.chain([(Beside::Shared, &mut self.shared)]);
        let mut found: Vec<(Beside, Vec<&mut Network>)> = stages.flat_map(|(place, stage)| stage.networks_mut(place)).collect();
        found.retain(|(_, networks)| !networks.is_empty());
        found
    }

    /// The same, to look at.
    #[must_use]
    pub fn networks(&self) -> Vec<(Beside, Vec<Network>)> {
        let mut copy = self.clone();
        let found = copy.networks_mut();
        found
            .into_iter()
            .map(|(place, networks)| (place, networks.into_iter().map(|network| network.clone()).collect()))
            .collect()
    }

    /// Every control that stands still.
    pub fn held_knobs_mut(&mut self) -> Vec<HeldKnob<'_>> {
        let channels = std::iter::once(&mut self.own).chain(self.others.iter_mut().map(|(_, channel)| channel));
        let stages = channels.map(|channel| &mut channel.stage).chain([&mut self.shared]);
        stages.flat_map(Stage::knobs_mut).collect()
    }

    /// Turns a knob where it stands still; whether it does so here.
    pub fn turn(&mut self, knob: &Knob, rotation: f64) -> bool {
        let mut is_here = false;
        for held in self.held_knobs_mut() {
            if let Some(track) = knob.tracks.iter().find(|track| track.number == held.number) {
                *held.rotation = track.travel.rotation(rotation);
                is_here = true;
            }
        }
        is_here
    }

    /// Every pickup's way to the selector, the own one first.
    pub fn channels(&self) -> impl Iterator<Item = &Channel> {
        std::iter::once(&self.own).chain(self.others.iter().map(|(_, channel)| channel))
    }
}
