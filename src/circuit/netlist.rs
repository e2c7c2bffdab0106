//! Guitar + knob setting → nodes, branches and ports.

use super::graph::{Circuit, Emf, GROUND, Node};
use super::recipe::{Branch, Draft, Recipe, Wiped};
use super::{Origin, Place, Port, Setting};
use crate::guitar::ensemble::{BassCut, Beside, Channel, Ensemble, Held, Joined, Lugs, Stage, Whose};
use crate::guitar::{Guitar, Hookup, Joint, Pickup, Potentiometer, Slot, Tone, Volume};
use crate::parts::network::{Component, Network};

/// The pickup's EMF.
const SOURCE: Node = 1;
/// P: the pickup's hot end.
const PICKUP: Node = 2;
/// N: the volume control's input lug.
const INPUT_LUG: Node = 3;
/// W: the volume control's wiper, the output.
const OUTPUT: Node = 4;
/// The tone control's wiper, with hookup shelf.
const TONE_WIPER: Node = 5;
/// Between the tone control's track and the tone slot.
const TONE_END: Node = 6;
/// Nodes from here on are numbered as they are needed.
const FIRST_FREE: Node = 7;

impl Recipe {
    /// Plans N and D of a guitar at a knob setting. What the guitar has at a port is left out.
    #[must_use]
    pub fn new(guitar: &Guitar, setting: Setting, ports: &[Port]) -> Self {
        Self::of_guitar(Draft::new(false), guitar, setting, ports)
    }

    /// The same at direct current.
    #[must_use]
    pub fn at_rest(guitar: &Guitar, setting: Setting, ports: &[Port]) -> Self {
        Self::of_guitar(Draft::new(true), guitar, setting, ports)
    }

    fn of_guitar(draft: Draft, guitar: &Guitar, setting: Setting, ports: &[Port]) -> Self {
        let mut netlist = Netlist::new(draft, OUTPUT, ports);
        let at = match &guitar.ensemble {
            None => netlist.alone(guitar, setting),
            Some(ensemble) => netlist.together(guitar, ensemble, setting),
        };
        if let Some(tone) = &guitar.tone {
            netlist.tone(&Used::<Tone>::turned(tone), setting.tone, at.tone);
        }
        if !netlist.is_port(Port::Jack, (OUTPUT, GROUND)) {
            netlist.capacitor((OUTPUT, GROUND), guitar.cable.capacitance.value(), Origin::Cable);
            netlist.capacitor((OUTPUT, GROUND), guitar.input.capacitance.value(), Origin::Exact);
            netlist.resistor((OUTPUT, GROUND), guitar.input.resistance.value(), Origin::Exact);
        }
        for (index, load) in guitar.loads.iter().enumerate() {
            netlist.network((at.load.joint(load.at), GROUND), &load.network, Place::Load(index));
        }
        netlist.recipe()
    }

    /// Plans N and D of any networks between any nodes; without a source N is zero. A network of no members is a wire if it is a
    /// series.
    #[must_use]
    pub fn of_networks(branches: &[(Node, Node, Network)], source: Option<Node>, output: Node, ports: &[(Node, Node)]) -> Self {
        let mut netlist = Netlist::new(Draft::new(false), output, &[]);
        netlist.circuit.ports = ports.to_vec();
        netlist.circuit.emfs.extend(source.map(|root| Emf {
            root,
            cold: GROUND,
            ratio: 1.0,
        }));
        for (index, (from, to, network)) in branches.iter().enumerate() {
            netlist.network((*from, *to), network, Place::Load(index));
        }
        netlist.recipe()
    }
}

/// Both ends of a volume control.
#[derive(Clone, Copy)]
struct Lugged {
    input: Node,
    output: Node,
}

impl Lugged {
    fn joint(self, joint: Joint) -> Node {
        match joint {
            Joint::Pickup => self.input,
            Joint::Wiper => self.output,
        }
    }
}

/// Where the controls that are turned are.
struct At {
    tone: Lugged,
    load: Lugged,
}

/// A control with what its values are called, and whether its networks are in slots.
struct Used<'g, T> {
    control: &'g T,
    track: Origin,
    taper: Origin,
    held: Option<usize>,
}

impl<'g> Used<'g, Volume> {
    fn turned(control: &'g Volume) -> Self {
        Self {
            control,
            track: Origin::VolumeTrack,
            taper: Origin::VolumeTaper,
            held: None,
        }
    }
}

impl<'g> Used<'g, Tone> {
    fn turned(control: &'g Tone) -> Self {
        Self {
            control,
            track: Origin::ToneTrack,
            taper: Origin::ToneTaper,
            held: None,
        }
    }
}

impl<'g, T> Used<'g, T> {
    fn held(held: &'g Held<T>) -> Self {
        Self {
            control: &held.control,
            track: Origin::HeldTrack(held.number),
            taper: Origin::HeldTaper(held.number),
            held: Some(held.number),
        }
    }
}

/// A circuit being put together.
struct Netlist<'p> {
    draft: Draft,
    circuit: Circuit,
    asked: &'p [Port],
    next: Node,
}

impl<'p> Netlist<'p> {
    fn new(draft: Draft, output: Node, asked: &'p [Port]) -> Self {
        Self {
            draft,
            circuit: Circuit {
                branches: Vec::new(),
                ports: vec![(GROUND, GROUND); asked.len()],
                emfs: Vec::new(),
                output,
            },
            asked,
            next: FIRST_FREE,
        }
    }

    fn recipe(mut self) -> Recipe {
        let terms = self.circuit.terms(&mut self.draft);
        self.draft.recipe(&terms)
    }

    fn node(&mut self) -> Node {
        self.next += 1;
        self.next - 1
    }

    /// A guitar of one pickup.
    fn alone(&mut self, guitar: &Guitar, setting: Setting) -> At {
        self.emf(SOURCE, GROUND, 1.0);
        if !self.is_port(Port::Pickup, (SOURCE, PICKUP)) {
            self.pickup(&guitar.pickup, 0, [SOURCE, GROUND, PICKUP]);
        }
        let lugs = Lugged {
            input: INPUT_LUG,
            output: OUTPUT,
        };
        self.input_places(guitar, (PICKUP, INPUT_LUG));
        self.volume(&Used::<Volume>::turned(&guitar.volume), setting.volume, lugs, Lugs::Joined);
        At { tone: lugs, load: lugs }
    }

    /// A guitar of several pickups, as one position of its selector connects them.
    fn together(&mut self, guitar: &Guitar, ensemble: &Ensemble, setting: Setting) -> At {
        let is_own = ensemble.volume == Whose::Pickup;
        // What all pickups lead to: the output, unless something is behind the selector.
        let has_stage = !is_own || ensemble.shared.volume.is_some();
        let shared = Lugged {
            input: if has_stage { INPUT_LUG } else { OUTPUT },
            output: OUTPUT,
        };
        let cut = ensemble.shared.bass_cut.as_ref();
        let before_cut = if cut.is_some() { self.node() } else { shared.input };
        let has_series = !is_own || ensemble.shared.series.is_some();
        let meeting = if has_series { PICKUP } else { before_cut };
        let mut own = shared;
        self.joined(guitar, ensemble, &ensemble.joined, (GROUND, meeting), setting, &mut own);
        if let Some(cut) = cut {
            self.bass_cut(cut, (before_cut, shared.input));
        }
        if is_own {
            self.held_stage(&ensemble.shared, Beside::Shared, (meeting, before_cut), shared);
        } else {
            self.series_place(guitar, (meeting, before_cut));
            self.slot(Slot::Across, (shared.input, GROUND), guitar.across.as_ref());
            self.held_places(&ensemble.shared, Beside::Shared, (before_cut, before_cut), shared.input);
            self.held_tones(&ensemble.shared.tones, shared);
            self.volume(&Used::<Volume>::turned(&guitar.volume), setting.volume, shared, Lugs::Joined);
        }
        let of = |whose| match whose {
            Whose::Pickup => own,
            Whose::Shared => shared,
        };
        At {
            tone: of(ensemble.tone),
            load: shared,
        }
    }

    /// Pickups between two nodes; writes down where the own one's controls are.
    fn joined(
        &mut self,
        guitar: &Guitar,
        ensemble: &Ensemble,
        joined: &Joined,
        (cold, hot): (Node, Node),
        setting: Setting,
        own: &mut Lugged,
    ) {
        match joined {
            Joined::Parallel(members) => {
                for member in members {
                    self.joined(guitar, ensemble, member, (cold, hot), setting, own);
                }
            }
            Joined::Series(members) => {
                let mut below = cold;
                for (index, member) in members.iter().enumerate() {
                    let above = if index + 1 == members.len() { hot } else { self.node() };
                    self.joined(guitar, ensemble, member, (below, above), setting, own);
                    below = above;
                }
            }
            Joined::One(0) => {
                let focus = (ensemble.volume == Whose::Pickup).then_some((guitar, setting));
                *own = self.channel(&guitar.pickup, &ensemble.own, (cold, hot), focus);
            }
            Joined::One(number) => {
                if let Some((pickup, channel)) = ensemble.others.get(number - 1) {
                    self.channel(pickup, channel, (cold, hot), None);
                }
            }
        }
    }

    /// A pickup with its own controls between two nodes; the guitar's own volume control is that of the `focus`.
    fn channel(&mut self, pickup: &Pickup, channel: &Channel, (cold, hot): (Node, Node), focus: Option<(&Guitar, Setting)>) -> Lugged {
        let (root, end) = (self.node(), self.node());
        self.emf(root, cold, channel.ratio);
        self.pickup(pickup, channel.number, [root, cold, end]);
        let has_volume = focus.is_some() || channel.stage.volume.is_some();
        let near = if has_volume { self.node() } else { hot };
        let lugs = Lugged { input: near, output: hot };
        match focus {
            Some((guitar, setting)) => {
                self.input_places(guitar, (end, near));
                self.held_tones(&channel.stage.tones, lugs);
                self.volume(&Used::<Volume>::turned(&guitar.volume), setting.volume, lugs, channel.lugs);
            }
            None => {
                self.held_places(&channel.stage, Beside::Channel(channel.number), (end, near), near);
                self.held_tones(&channel.stage.tones, lugs);
                if let Some(volume) = &channel.stage.volume {
                    self.volume(&Used::held(volume), volume.rotation, lugs, channel.lugs);
                }
            }
        }
        lugs
    }

    fn held_stage(&mut self, stage: &Stage, place: Beside, in_series: (Node, Node), lugs: Lugged) {
        self.held_places(stage, place, in_series, lugs.input);
        self.held_tones(&stage.tones, lugs);
        if let Some(volume) = &stage.volume {
            self.volume(&Used::held(volume), volume.rotation, lugs, Lugs::Joined);
        }
    }

    /// What stands still in series and, from a lug to ground, across.
    fn held_places(&mut self, stage: &Stage, place: Beside, (from, to): (Node, Node), lug: Node) {
        let mut next = 0;
        let series = stage
            .series
            .as_ref()
            .map(|network| self.draft.network(network, Place::Beside(place), &mut next));
        if from != to {
            self.branch(from, to, series.unwrap_or(Branch::WIRE));
        }
        for network in stage.across.iter().chain(&stage.choice) {
            let across = self.draft.network(network, Place::Beside(place), &mut next);
            self.branch(lug, GROUND, across);
        }
    }

    /// A network in the signal's way, and across it the track beyond the wiper.
    fn bass_cut(&mut self, held: &Held<BassCut>, (from, to): (Node, Node)) {
        let origins = [Origin::HeldTrack(held.number), Origin::HeldTaper(held.number)];
        self.beyond((from, to), &held.control.pot, held.rotation, origins);
        if let Some(network) = &held.control.network {
            self.network((from, to), network, Place::Beside(Beside::Held(held.number)));
        }
    }

    fn held_tones(&mut self, tones: &[Held<Tone>], lugs: Lugged) {
        for tone in tones {
            self.tone(&Used::held(tone), tone.rotation, lugs);
        }
    }

    fn emf(&mut self, root: Node, cold: Node, ratio: f64) {
        self.circuit.emfs.push(Emf { root, cold, ratio });
    }

    /// A pickup's winding from the root of its EMF, and its capacitance across both.
    fn pickup(&mut self, pickup: &Pickup, number: usize, [root, cold, hot]: [Node; 3]) {
        let winding = self.draft.winding(pickup, number);
        self.branch(root, hot, winding);
        self.capacitor((hot, cold), pickup.capacitance.value(), Origin::WindingCapacitance(number));
    }

    /// The places in series and across, before the volume control that is turned.
    fn input_places(&mut self, guitar: &Guitar, (from, to): (Node, Node)) {
        self.series_place(guitar, (from, to));
        self.slot(Slot::Across, (to, GROUND), guitar.across.as_ref());
    }

    fn series_place(&mut self, guitar: &Guitar, (from, to): (Node, Node)) {
        if !self.slot(Slot::Series, (from, to), guitar.series.as_ref()) {
            self.branch(from, to, Branch::WIRE);
        }
    }

    /// A volume control: the signal enters at its upper lug and leaves at its wiper, or the other way round.
    fn volume(&mut self, used: &Used<'_, Volume>, rotation: f64, lugs: Lugged, wired: Lugs) {
        let pot = &used.control.pot;
        let origins = [used.track, used.taper];
        let (upper, middle) = match wired {
            Lugs::Joined => (lugs.input, lugs.output),
            Lugs::Independent => (lugs.output, lugs.input),
        };
        if used.control.is_fitted {
            self.beyond((upper, middle), pot, rotation, origins);
            self.below((middle, GROUND), pot, rotation, origins);
        } else {
            self.branch(upper, middle, Branch::WIRE);
        }
        match used.held {
            None => {
                self.slot(Slot::Bleed, (upper, middle), used.control.bleed.as_ref());
            }
            Some(number) => {
                if let Some(bleed) = &used.control.bleed {
                    self.network((upper, middle), bleed, Place::Beside(Beside::Held(number)));
                }
            }
        }
    }

    fn tone(&mut self, used: &Used<'_, Tone>, rotation: f64, lugs: Lugged) {
        let tone = used.control;
        if tone.no_load && rotation >= 1.0 {
            return;
        }
        let (inner, end) = match used.held {
            None => (TONE_WIPER, TONE_END),
            Some(_) => (self.node(), self.node()),
        };
        let hot = lugs.joint(tone.joined_at);
        let origins = [used.track, used.taper];
        let is_shelf = tone.hookup == Hookup::Shelf;
        if is_shelf {
            self.beyond((hot, inner), &tone.pot, rotation, origins);
        }
        let from = if is_shelf { inner } else { hot };
        self.below((from, end), &tone.pot, rotation, origins);
        match used.held {
            None => {
                if is_shelf {
                    self.slot(Slot::Bypass, (hot, inner), tone.bypass.as_ref());
                }
                self.slot(Slot::Tone, (end, GROUND), tone.network.as_ref());
            }
            Some(number) => {
                let places = [(tone.network.as_ref(), (end, GROUND)), (tone.bypass.as_ref(), (hot, inner))];
                let mut next = 0;
                for (network, (from, to)) in places {
                    if let Some(network) = network {
                        let branch = self.draft.network(network, Place::Beside(Beside::Held(number)), &mut next);
                        self.branch(from, to, branch);
                    }
                }
            }
        }
    }

    /// Whether something stands between a slot's nodes: a port or a network.
    fn slot(&mut self, slot: Slot, nodes: (Node, Node), fitted: Option<&Network>) -> bool {
        if self.is_port(Port::Slot(slot), nodes) {
            return true;
        }
        if let Some(network) = fitted {
            self.network(nodes, network, Place::Slot(slot));
        }
        fitted.is_some()
    }

    /// Gives a port its nodes; `false` if it is none of those asked for.
    fn is_port(&mut self, port: Port, nodes: (Node, Node)) -> bool {
        let place = self.asked.iter().position(|own| *own == port);
        if let Some(place) = place {
            self.circuit.ports[place] = nodes;
        }
        place.is_some()
    }

    fn resistor(&mut self, (from, to): (Node, Node), resistance: f64, origin: Origin) {
        let branch = self.draft.resistor(resistance, origin);
        self.branch(from, to, branch);
    }

    /// The part of a track from the counter-clockwise lug to the wiper.
    fn below(&mut self, nodes: (Node, Node), pot: &Potentiometer, rotation: f64, origins: [Origin; 2]) {
        self.wiped(nodes, pot, rotation, origins, false);
    }

    /// The part of a track beyond the wiper.
    fn beyond(&mut self, nodes: (Node, Node), pot: &Potentiometer, rotation: f64, origins: [Origin; 2]) {
        self.wiped(nodes, pot, rotation, origins, true);
    }

    fn wiped(&mut self, (from, to): (Node, Node), pot: &Potentiometer, rotation: f64, [track, taper]: [Origin; 2], beyond: bool) {
        let wiper = pot.taper.wiper(rotation);
        let share = if beyond { 1.0 - wiper } else { wiper };
        let is_between = wiper > 0.0 && wiper < 1.0;
        let wiped = pot.taper.law().filter(|_| is_between).map(|(law, mid)| Wiped {
            origin: taper,
            law,
            mid,
            rotation,
            beyond,
        });
        let branch = self.draft.wiped(pot.resistance.value() * share, track, wiped);
        self.branch(from, to, branch);
    }

    fn capacitor(&mut self, (from, to): (Node, Node), capacitance: f64, origin: Origin) {
        let branch = self.draft.capacitor(capacitance, origin);
        self.branch(from, to, branch);
    }

    fn network(&mut self, (from, to): (Node, Node), network: &Network, place: Place) {
        let branch = self.draft.network(network, place, &mut 0);
        self.branch(from, to, branch);
    }

    fn branch(&mut self, from: Node, to: Node, branch: Branch) {
        self.circuit.branches.push((from, to, branch));
    }
}

impl Draft {
    /// Winding resistance and coil: R + s·L₀ + Σ (s·Lᵢ ∥ Rᵢ).
    fn winding(&mut self, pickup: &Pickup, number: usize) -> Branch {
        let resistor = self.resistor(pickup.resistance.value(), Origin::WindingResistance(number));
        let coil = self.inductor(pickup.lossless_inductance(), Origin::Inductance(number));
        let mut winding = self.in_a_row(resistor, coil);
        for cell in &pickup.loss {
            let share = self.inductor(cell.inductance.value(), Origin::Inductance(number));
            let loss = self.resistor(cell.resistance.value(), Origin::Exact);
            let cell = self.side_by_side(share, loss);
            winding = self.in_a_row(winding, cell);
        }
        winding
    }

    /// `next` counts the parts in written order.
    fn network(&mut self, network: &Network, place: Place, next: &mut usize) -> Branch {
        match network {
            Network::Series(members) => members.iter().fold(Branch::WIRE, |row, member| {
                let member = self.network(member, place, next);
                self.in_a_row(row, member)
            }),
            Network::Parallel(members) => members.iter().fold(Branch::OPEN, |side, member| {
                let member = self.network(member, place, next);
                self.side_by_side(side, member)
            }),
            Network::Free(_) => {
                *next += 1;
                Branch::OPEN
            }
            Network::Fixed(component) => {
                let origin = Origin::Part(place, *next);
                *next += 1;
                match component {
                    Component::Resistor(value) => self.resistor(value.value(), origin),
                    Component::Capacitor(value) => self.capacitor(value.value(), origin),
                    Component::Inductor(value) => self.inductor(value.value(), origin),
                }
            }
        }
    }
}
