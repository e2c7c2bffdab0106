//! Guitar + knob setting → nodes, branches and ports.

use super::graph::{Circuit, GROUND, Node};
use super::recipe::{Branch, Draft, Recipe};
use super::{Origin, Place, Port, Setting};
use crate::guitar::{Guitar, Hookup, Joint, Pickup, Slot, Tone};
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
        let mut netlist = Netlist::new(draft, Some(SOURCE), OUTPUT, vec![(GROUND, GROUND); ports.len()]);
        netlist.pickup_and_volume(guitar, setting, ports);
        if let Some(tone) = &guitar.tone {
            netlist.tone(tone, setting.tone, ports);
        }
        if !netlist.is_port(Port::Jack, ports, (OUTPUT, GROUND)) {
            netlist.capacitor(OUTPUT, guitar.cable.capacitance.value(), Origin::Cable);
            netlist.capacitor(OUTPUT, guitar.input.capacitance.value(), Origin::Exact);
            netlist.resistor(OUTPUT, GROUND, guitar.input.resistance.value(), Origin::Exact);
        }
        for (index, load) in guitar.loads.iter().enumerate() {
            netlist.network((joint(load.at), GROUND), &load.network, Place::Load(index));
        }
        netlist.recipe()
    }

    /// Plans N and D of any networks between any nodes; without a source N is zero. A network of no members is a wire if it is a
    /// series.
    #[must_use]
    pub fn of_networks(branches: &[(Node, Node, Network)], source: Option<Node>, output: Node, ports: &[(Node, Node)]) -> Self {
        let mut netlist = Netlist::new(Draft::new(false), source, output, ports.to_vec());
        for (index, (from, to, network)) in branches.iter().enumerate() {
            netlist.network((*from, *to), network, Place::Load(index));
        }
        netlist.recipe()
    }
}

/// A circuit being put together.
struct Netlist {
    draft: Draft,
    circuit: Circuit,
}

impl Netlist {
    fn new(draft: Draft, source: Option<Node>, output: Node, ports: Vec<(Node, Node)>) -> Self {
        Self {
            draft,
            circuit: Circuit {
                branches: Vec::new(),
                ports,
                source,
                output,
            },
        }
    }

    fn recipe(mut self) -> Recipe {
        let terms = self.circuit.terms(&mut self.draft);
        self.draft.recipe(&terms)
    }

    fn pickup_and_volume(&mut self, guitar: &Guitar, setting: Setting, ports: &[Port]) {
        if !self.is_port(Port::Pickup, ports, (SOURCE, PICKUP)) {
            let winding = self.draft.winding(&guitar.pickup);
            self.branch(SOURCE, PICKUP, winding);
            self.capacitor(PICKUP, guitar.pickup.capacitance.value(), Origin::WindingCapacitance);
        }
        if !self.slot(Slot::Series, (PICKUP, INPUT_LUG), guitar.series.as_ref(), ports) {
            self.branch(PICKUP, INPUT_LUG, Branch::WIRE);
        }
        self.slot(Slot::Across, (INPUT_LUG, GROUND), guitar.across.as_ref(), ports);
        let track = guitar.volume.pot.resistance.value();
        let wiper = guitar.volume.pot.taper.wiper(setting.volume);
        self.resistor(INPUT_LUG, OUTPUT, track * (1.0 - wiper), Origin::VolumeTrack);
        self.resistor(OUTPUT, GROUND, track * wiper, Origin::VolumeTrack);
        self.slot(Slot::Bleed, (INPUT_LUG, OUTPUT), guitar.volume.bleed.as_ref(), ports);
    }

    fn tone(&mut self, tone: &Tone, rotation: f64, ports: &[Port]) {
        if tone.no_load && rotation >= 1.0 {
            return;
        }
        let hot = joint(tone.joined_at);
        let track = tone.pot.resistance.value();
        let wiper = tone.pot.taper.wiper(rotation);
        match tone.hookup {
            Hookup::Rheostat => self.resistor(hot, TONE_END, track * wiper, Origin::ToneTrack),
            Hookup::Shelf => {
                self.resistor(hot, TONE_WIPER, track * (1.0 - wiper), Origin::ToneTrack);
                self.resistor(TONE_WIPER, TONE_END, track * wiper, Origin::ToneTrack);
                self.slot(Slot::Bypass, (hot, TONE_WIPER), tone.bypass.as_ref(), ports);
            }
        }
        self.slot(Slot::Tone, (TONE_END, GROUND), tone.network.as_ref(), ports);
    }

    /// Whether something stands between a slot's nodes: a port or a network.
    fn slot(&mut self, slot: Slot, nodes: (Node, Node), fitted: Option<&Network>, ports: &[Port]) -> bool {
        if self.is_port(Port::Slot(slot), ports, nodes) {
            return true;
        }
        if let Some(network) = fitted {
            self.network(nodes, network, Place::Slot(slot));
        }
        fitted.is_some()
    }

    /// Gives a port its nodes; `false` if it is none of those asked for.
    fn is_port(&mut self, port: Port, ports: &[Port], nodes: (Node, Node)) -> bool {
        let place = ports.iter().position(|own| *own == port);
        if let Some(place) = place {
            self.circuit.ports[place] = nodes;
        }
        place.is_some()
    }

    fn resistor(&mut self, from: Node, to: Node, resistance: f64, origin: Origin) {
        let branch = self.draft.resistor(resistance, origin);
        self.branch(from, to, branch);
    }

    fn capacitor(&mut self, from: Node, capacitance: f64, origin: Origin) {
        let branch = self.draft.capacitor(capacitance, origin);
        self.branch(from, GROUND, branch);
    }

    fn network(&mut self, (from, to): (Node, Node), network: &Network, place: Place) {
        let branch = self.draft.network(network, place, &mut 0);
        self.branch(from, to, branch);
    }

    fn branch(&mut self, from: Node, to: Node, branch: Branch) {
        self.circuit.branches.push((from, to, branch));
    }
}

fn joint(joint: Joint) -> Node {
    match joint {
        Joint::Pickup => INPUT_LUG,
        Joint::Wiper => OUTPUT,
    }
}

impl Draft {
    /// Winding resistance and coil: R + s·L₀ + Σ (s·Lᵢ ∥ Rᵢ).
    fn winding(&mut self, pickup: &Pickup) -> Branch {
        let resistor = self.resistor(pickup.resistance.value(), Origin::WindingResistance);
        let coil = self.inductor(pickup.lossless_inductance(), Origin::Inductance);
        let mut winding = self.in_a_row(resistor, coil);
        for cell in &pickup.loss {
            let share = self.inductor(cell.inductance.value(), Origin::Inductance);
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
