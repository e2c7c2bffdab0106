//! A file of several pickups → the views of its knobs: which volume and which tone knob are turned in each, and everything else at full.

use std::sync::Arc;

use super::ensemble::{Channel, Ensemble, Held, Lugs, Stage, Whose};
use super::knob::{Knob, Names, Track, Travel};
use super::selector::Use;
use super::several::{File, Named};
use super::shared::MOST_TONES;
use super::whole::{View, Whole, crossed};
use super::{Case, Guitar, Pickup, Position, Tone, Volume};
use crate::parts::network::Network;

/// Numbers of controls are given out by this many for each pickup, and behind the selector.
const STRIDE: usize = MOST_TONES + 3;

/// The number of a place's volume control, of each of its tone controls, of its bass cut. A place is a pickup by its number or, beyond all
/// pickups, what is behind the selector.
const fn volume_number(place: usize) -> usize {
    STRIDE * place
}

const fn tone_number(place: usize, tone: usize) -> usize {
    STRIDE * place + 1 + tone
}

const fn bass_cut_number(place: usize) -> usize {
    STRIDE * place + 1 + MOST_TONES
}

/// Which volume knob and which tone knob are turned.
#[derive(Clone)]
struct Focus {
    /// What the view is called.
    name: String,
    volume: VolumeAt,
    tone: Option<ToneAt>,
    /// Which position a rotary selector of a tone control's networks is in.
    choice: usize,
    /// Whether its volume knob is another view's too.
    is_of_a_tone: bool,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum VolumeAt {
    /// A guitar, or a pickup, without one.
    Nowhere,
    Shared,
    Pickup(usize),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum ToneAt {
    Shared(usize),
    Pickup(usize, usize),
}

impl Focus {
    fn volume_owner(&self) -> Option<usize> {
        match self.volume {
            VolumeAt::Pickup(number) => Some(number),
            VolumeAt::Nowhere | VolumeAt::Shared => None,
        }
    }

    /// The pickup that must sound for these knobs to do anything.
    fn owner(&self) -> Option<usize> {
        self.volume_owner().or(match self.tone {
            Some(ToneAt::Pickup(number, _)) => Some(number),
            _ => None,
        })
    }
}

/// A position of the selector, and of a rotary tone selector without a pot, if there is one.
struct Stand<'f> {
    name: String,
    named: &'f Named,
    choice: Option<usize>,
}

impl File {
    pub(super) fn whole(self) -> Whole {
        let foci = self.foci();
        let alone = foci.len() == 1;
        let views = foci.iter().filter_map(|focus| self.view(focus, alone)).collect();
        let stands = self.stands();
        let is_plain = self.pickups.len() == 1 && stands.len() == 1;
        Whole {
            name: self.name.clone(),
            views,
            positions: if is_plain {
                Vec::new()
            } else {
                stands.into_iter().map(|stand| stand.name).collect()
            },
        }
    }

    /// Every view: each volume knob with the first tone knob that goes with it, then each further tone knob with the volume knob before it.
    fn foci(&self) -> Vec<Focus> {
        let mut found: Vec<Focus> = self.volumes().into_iter().map(|volume| self.focus_of(volume)).collect();
        for tone in self.tones() {
            if found.iter().all(|focus| focus.tone != Some(tone)) {
                found.push(self.focus_on(tone, self.tone_name(tone), 0));
            }
        }
        if !self.shared.tones.is_empty() {
            let further = self.shared.choices.iter().enumerate().skip(1);
            found.extend(further.map(|(choice, named)| self.focus_on(ToneAt::Shared(0), format!("tone {}", named.name), choice)));
        }
        found
    }

    fn owners(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.pickups.len()).filter(|number| self.has_volume(*number))
    }

    /// Every volume knob; that of a guitar without any counts as one.
    fn volumes(&self) -> Vec<VolumeAt> {
        let shared = self.shared.volume.as_ref().map(|_| VolumeAt::Shared);
        let all: Vec<VolumeAt> = self.owners().map(VolumeAt::Pickup).chain(shared).collect();
        if all.is_empty() { vec![VolumeAt::Nowhere] } else { all }
    }

    fn tones(&self) -> Vec<ToneAt> {
        let shared = (0..self.shared.tones.len()).map(ToneAt::Shared);
        let own = self.pickups.iter().enumerate();
        let own = own.flat_map(|(number, own)| (0..own.tones.len()).map(move |tone| ToneAt::Pickup(number, tone)));
        shared.chain(own).collect()
    }

    fn focus_of(&self, volume: VolumeAt) -> Focus {
        let shared = self.tones().into_iter().find(|tone| matches!(tone, ToneAt::Shared(_)));
        let own = |pickup: usize| self.tones().into_iter().find(|tone| *tone == ToneAt::Pickup(pickup, 0));
        let tone = match volume {
            // A tone knob for all is not changed at each of several volume knobs.
            VolumeAt::Pickup(number) => own(number).or(shared.filter(|_| self.volumes().len() == 1)),
            VolumeAt::Shared => shared,
            VolumeAt::Nowhere => self.tones().first().copied(),
        };
        Focus {
            name: match (volume, tone) {
                (VolumeAt::Pickup(number), _) => self.pickup_name(number),
                (VolumeAt::Shared, _) => "volume".to_owned(),
                (VolumeAt::Nowhere, Some(tone)) => self.tone_name(tone),
                (VolumeAt::Nowhere, None) => "pickups".to_owned(),
            },
            volume,
            tone,
            choice: 0,
            is_of_a_tone: false,
        }
    }

    /// A tone knob with the volume knob that its pickups go through first.
    fn focus_on(&self, tone: ToneAt, name: String, choice: usize) -> Focus {
        let shared = self.shared.volume.as_ref().map(|_| VolumeAt::Shared);
        let volume = match tone {
            ToneAt::Pickup(number, _) if self.has_volume(number) => VolumeAt::Pickup(number),
            ToneAt::Pickup(..) => shared.unwrap_or(VolumeAt::Nowhere),
            ToneAt::Shared(_) => shared
                .or_else(|| self.owners().next().map(VolumeAt::Pickup))
                .unwrap_or(VolumeAt::Nowhere),
        };
        Focus {
            name,
            volume,
            tone: Some(tone),
            choice,
            is_of_a_tone: true,
        }
    }

    fn pickup_name(&self, number: usize) -> String {
        self.pickups.get(number).map(|own| own.name.clone()).unwrap_or_default()
    }

    fn tone_name(&self, tone: ToneAt) -> String {
        let named = match tone {
            ToneAt::Shared(place) => self.shared.tones.get(place),
            ToneAt::Pickup(number, place) => self.pickups.get(number).and_then(|own| own.tones.get(place)),
        };
        named.map(|tone| tone.name.clone()).unwrap_or_default()
    }

    fn volume_name(&self, volume: VolumeAt) -> Option<String> {
        match volume {
            VolumeAt::Nowhere => None,
            VolumeAt::Shared => Some("volume".to_owned()),
            VolumeAt::Pickup(number) => Some(format!("{} volume", self.pickup_name(number))),
        }
    }

    fn has_volume(&self, pickup: usize) -> bool {
        self.pickups.get(pickup).is_some_and(|own| own.volume.is_some())
    }

    fn names(&self, focus: &Focus) -> Names {
        Names {
            volume: self.volume_name(focus.volume),
            tone: focus.tone.map(|tone| self.tone_name(tone)),
            knobs: self.knobs(),
            positions: self.stands().into_iter().map(|stand| stand.name).collect(),
            pickups: self.pickups.iter().map(|own| own.name.clone()).collect(),
            inductances: self.pickups.iter().map(|own| own.pickup.inductance).collect(),
        }
    }

    /// Every knob of the guitar, by its name.
    fn knobs(&self) -> Vec<Knob> {
        let behind = self.pickups.len();
        let plain = |name: String, number: usize| Knob {
            has_view: name != BASS_CUT,
            name,
            tracks: vec![Track {
                number,
                travel: Travel::Plain,
            }],
        };
        let volumes = self.volumes().into_iter().filter_map(|volume| {
            let place = match volume {
                VolumeAt::Pickup(number) => number,
                VolumeAt::Shared | VolumeAt::Nowhere => behind,
            };
            self.volume_name(volume).map(|name| plain(name, volume_number(place)))
        });
        let tones = self.tones().into_iter().map(|tone| {
            let number = match tone {
                ToneAt::Shared(place) => tone_number(behind, place),
                ToneAt::Pickup(number, place) => tone_number(number, place),
            };
            plain(self.tone_name(tone), number)
        });
        let cut = self
            .shared
            .bass_cut
            .iter()
            .map(|_| plain(BASS_CUT.to_owned(), bass_cut_number(behind)));
        let blend = self.shared.blend.iter().map(|blend| {
            let [first, second] = blend.between;
            let track = |pickup: usize, travel| Track {
                number: volume_number(pickup),
                travel,
            };
            Knob {
                name: "blend".to_owned(),
                tracks: vec![track(first, Travel::SecondHalf), track(second, Travel::FirstHalf)],
                has_view: false,
            }
        });
        volumes.chain(tones).chain(cut).chain(blend).collect()
    }

    /// Every position of the selector, in each position of a rotary tone selector without a pot.
    fn stands(&self) -> Vec<Stand<'_>> {
        let has_choices = self.shared.tones.is_empty() && !self.shared.choices.is_empty();
        let plain = |named| Stand::new(named, None, String::clone(&named.0));
        if !has_choices {
            return self.positions.iter().map(plain).collect();
        }
        let is_alone = self.positions.len() == 1;
        let crossed = self.positions.iter().flat_map(|named| {
            self.shared.choices.iter().enumerate().map(move |(choice, own)| {
                let name = if is_alone {
                    own.name.clone()
                } else {
                    format!("{}, {}", named.0, own.name)
                };
                Stand::new(named, Some(choice), name)
            })
        });
        crossed.collect()
    }

    /// Whether the rotary tone selector is where it does the least: others' knobs stand at full as well.
    fn is_quiet(&self, stand: &Stand<'_>) -> bool {
        let least = self.shared.choices.iter().position(|choice| choice.network.is_none()).unwrap_or(0);
        stand.choice.is_none_or(|choice| choice == least)
    }

    fn view(&self, focus: &Focus, alone: bool) -> Option<View> {
        let owner = focus.owner();
        let sounds = |stand: &Stand<'_>| match owner {
            Some(owner) => stand.named.2.iter().any(|used| used.pickup == owner),
            None => true,
        };
        let is_free = |stand: &Stand<'_>| {
            let mut others = stand.named.2.iter().filter(|used| Some(used.pickup) != focus.volume_owner());
            focus.volume_owner().is_none() || focus.is_of_a_tone || !others.any(|used| self.has_volume(used.pickup))
        };
        let sounding = self.stands().into_iter().filter(sounds);
        let (mut judged, mut elsewhere): (Vec<_>, Vec<_>) = sounding.partition(|stand| is_free(stand) && self.is_quiet(stand));
        if judged.is_empty() {
            std::mem::swap(&mut judged, &mut elsewhere);
        }
        let names = Arc::new(self.names(focus));
        let cases = |stands: &[Stand<'_>], is_judged| -> Vec<Case> {
            let case = |stand| self.case(stand, focus, is_judged, &names);
            stands.iter().map(case).collect()
        };
        let (judged, elsewhere) = (cases(&judged, true), cases(&elsewhere, false));
        let first = judged.first()?.position.as_deref()?;
        let full_name = if alone {
            self.name.clone()
        } else {
            format!("{}, {}", self.name, focus.name)
        };
        let mut guitar = self.plain_part(full_name, first.pickup.clone(), focus)?;
        guitar.ensemble = first.simplified();
        let everywhere: Vec<Case> = judged.iter().chain(&elsewhere).cloned().collect();
        guitar.cases = crossed(&everywhere, &self.rest.cases);
        Some(View {
            name: focus.name.clone(),
            guitar,
            judged,
            elsewhere,
            cases: self.rest.cases.clone(),
            is_of_a_tone: focus.is_of_a_tone,
            lugs: focus
                .volume_owner()
                .and_then(|number| self.pickups.get(number)?.volume.as_ref().map(|(_, lugs)| *lugs)),
        })
    }

    /// Everything but pickups and what stands still.
    fn plain_part(&self, name: String, pickup: Pickup, focus: &Focus) -> Option<Guitar> {
        let own = focus.volume_owner().and_then(|number| self.pickups.get(number));
        let places = match own {
            Some(own) => [&own.series, &own.across],
            None => [&self.shared.series, &self.shared.across],
        };
        let volume = match (own, focus.volume) {
            (Some(own), _) => own.volume.as_ref().map(|(volume, _)| volume.clone()),
            (None, VolumeAt::Nowhere) => Some(Volume::absent()),
            (None, _) => self.shared.volume.clone(),
        };
        let tone = focus.tone.and_then(|tone| match tone {
            ToneAt::Shared(place) => self.shared_tone(place, focus),
            ToneAt::Pickup(number, place) => Some(self.pickups.get(number)?.tones.get(place)?.tone.clone()),
        });
        Some(self.rest.guitar(name, pickup, places.map(Clone::clone), volume?, tone))
    }

    /// A tone control behind the selector; a rotary selector gives the first of them its network.
    fn shared_tone(&self, place: usize, focus: &Focus) -> Option<Tone> {
        let mut tone = self.shared.tones.get(place)?.tone.clone();
        if let (0, Some(choice)) = (place, self.shared.choices.get(focus.choice)) {
            tone.network.clone_from(&choice.network);
        }
        Some(tone)
    }

    fn case(&self, stand: &Stand<'_>, focus: &Focus, is_judged: bool, names: &Arc<Names>) -> Case {
        let (_, joined, uses) = stand.named;
        let owner = focus.owner();
        let first = owner
            .and_then(|owner| uses.iter().position(|used| used.pickup == owner))
            .unwrap_or(0);
        // The own pickup is 0, the others follow in their order.
        let number = |place: usize| match place {
            _ if place == first => 0,
            _ if place < first => place + 1,
            _ => place,
        };
        let mut all: Vec<(usize, (Pickup, Channel))> = uses
            .iter()
            .enumerate()
            .filter_map(|(place, used)| Some((number(place), self.channel(*used, focus)?)))
            .collect();
        all.sort_by_key(|(number, _)| *number);
        let mut all = all.into_iter().map(|(_, channel)| channel);
        let mut case = Case {
            name: stand.name.clone(),
            ..Case::default()
        };
        if let Some((pickup, own)) = all.next() {
            let whose = |is_pickup: bool| if is_pickup { Whose::Pickup } else { Whose::Shared };
            case.position = Some(Box::new(Position {
                pickup,
                ensemble: Ensemble {
                    position: stand.name.clone(),
                    own,
                    others: all.collect(),
                    joined: joined.renumbered(&number),
                    volume: whose(focus.volume_owner().is_some()),
                    tone: whose(matches!(focus.tone, Some(ToneAt::Pickup(..)))),
                    shared: self.shared_stage(focus, stand.choice),
                    names: Arc::clone(names),
                },
                turned: Vec::new(),
                is_judged,
            }));
        }
        case
    }

    /// A pickup as a position uses it, with all of its own that is not turned.
    fn channel(&self, used: Use, focus: &Focus) -> Option<(Pickup, Channel)> {
        let own = self.pickups.get(used.pickup)?;
        let is_turned = focus.volume == VolumeAt::Pickup(used.pickup);
        let held = |volume: Volume, name: String| Held::full(volume, volume_number(used.pickup), name);
        let blend = self.shared.blend.as_ref().filter(|blend| blend.between.contains(&used.pickup));
        let blended = blend.map(|blend| {
            let volume = Volume {
                pot: blend.pot.clone(),
                bleed: None,
                is_fitted: true,
            };
            held(volume, format!("{} blend", own.name))
        });
        let volume = own.volume.as_ref().filter(|_| !is_turned);
        let volume = volume.map(|(volume, _)| held(volume.clone(), format!("{} volume", own.name)));
        let tones = own.tones.iter().enumerate();
        let still = tones.filter(|(place, _)| focus.tone != Some(ToneAt::Pickup(used.pickup, *place)));
        let tones = still.map(|(place, tone)| Held::full(tone.tone.clone(), tone_number(used.pickup, place), tone.name.clone()));
        let at_rest = |network: &Option<Network>| network.clone().filter(|_| !is_turned);
        let channel = Channel {
            name: own.name.clone(),
            number: used.pickup,
            state: used.state.and_then(|state| own.states.get(state)).map(|(name, _)| name.clone()),
            ratio: if used.reversed { -own.ratio } else { own.ratio },
            // Each track of a blend shorts its pickup when it is turned down, not the output.
            lugs: match (&own.volume, &blended) {
                (Some((_, lugs)), _) => *lugs,
                (None, Some(_)) => Lugs::Independent,
                (None, None) => Lugs::Joined,
            },
            stage: Stage {
                series: at_rest(&own.series),
                across: at_rest(&own.across),
                volume: volume.or(blended),
                tones: tones.collect(),
                ..Stage::default()
            },
        };
        Some((own.in_state(used.state).clone(), channel))
    }

    /// What is behind the selector and not turned.
    fn shared_stage(&self, focus: &Focus, choice: Option<usize>) -> Stage {
        let behind = self.pickups.len();
        // The places are those of the guitar where the volume control that is turned is behind the selector.
        let is_beside = focus.volume_owner().is_some();
        let at_rest = |network: &Option<Network>| network.clone().filter(|_| is_beside);
        let volume = self.shared.volume.clone().filter(|_| is_beside);
        let still = (0..self.shared.tones.len()).filter(|place| focus.tone != Some(ToneAt::Shared(*place)));
        let cut = self.shared.bass_cut.clone();
        Stage {
            series: at_rest(&self.shared.series),
            across: at_rest(&self.shared.across),
            choice: choice.and_then(|choice| self.shared.choices.get(choice)?.network.clone()),
            bass_cut: cut.map(|cut| Held::full(cut, bass_cut_number(behind), BASS_CUT.to_owned())),
            volume: volume.map(|volume| Held::full(volume, volume_number(behind), "volume".to_owned())),
            tones: still
                .filter_map(|place| {
                    let tone = self.shared_tone(place, focus)?;
                    Some(Held::full(tone, tone_number(behind, place), self.tone_name(ToneAt::Shared(place))))
                })
                .collect(),
        }
    }
}

const BASS_CUT: &str = "bass cut";

impl<'f> Stand<'f> {
    const fn new(named: &'f Named, choice: Option<usize>, name: String) -> Self {
        Self { name, named, choice }
    }
}

impl Position {
    /// Nothing where a guitar of one pickup says the same.
    fn simplified(&self) -> Option<Box<Ensemble>> {
        let own = &self.ensemble.own;
        let is_plain = self.ensemble.others.is_empty()
            && self.ensemble.shared == Stage::default()
            && own.stage == Stage::default()
            && own.ratio == 1.0
            && own.number == 0
            && own.lugs == Lugs::Joined;
        (!is_plain).then(|| Box::new(self.ensemble.clone()))
    }
}
