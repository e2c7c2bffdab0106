//! Guitar + knob setting → nodes, branches and the ports of the free slots. Zero resistances merge nodes.

use num_complex::Complex64;

use super::nodal::{GROUND, MOST_NODES, Node, merge};
use super::{Origin, Place, Setting};
use crate::guitar::{Guitar, Hookup, Joint, Pickup, Slot, Tone};
use crate::parts::network::{Admittance, Network};

/// The pickup's EMF.
pub(super) const SOURCE: Node = 1;
/// P: the pickup's hot end.
const PICKUP: Node = 2;
/// N: the volume control's input lug.
const INPUT_LUG: Node = 3;
/// W: the volume control's wiper, the output.
pub(super) const OUTPUT: Node = 4;
/// The tone control's wiper, with hookup shelf.
const TONE_WIPER: Node = 5;
/// Between the tone control's track and the tone slot.
const TONE_END: Node = 6;

/// What lies between two nodes.
#[derive(Debug, Clone, Copy)]
pub(super) enum Element<'g> {
    /// Winding resistance and coil.
    Winding(&'g Pickup),
    /// Resistance in Ω, above zero.
    Resistance(f64, Origin),
    /// Capacitance in F.
    Capacitance(f64, Origin),
    /// A fitted network.
    Network(&'g Network, Place),
}

impl Element<'_> {
    /// Y(s) in S.
    pub(super) fn admittance(self, s: Complex64) -> Admittance {
        match self {
            Self::Winding(pickup) => Admittance::Value(winding_impedance(pickup, s).inv()),
            Self::Resistance(resistance, _) => Admittance::Value(Complex64::from(resistance).inv()),
            Self::Capacitance(capacitance, _) => Admittance::Value(s * capacitance),
            Self::Network(network, _) => network.admittance(s, &[]),
        }
    }
}

/// R + s·L₀ + Σ (s·Lᵢ ∥ Rᵢ)
fn winding_impedance(pickup: &Pickup, s: Complex64) -> Complex64 {
    let mut impedance = s * pickup.lossless_inductance() + pickup.resistance.value();
    for cell in &pickup.loss {
        let (reactance, resistance) = (s * cell.inductance.value(), cell.resistance.value());
        impedance += reactance * resistance / (reactance + resistance);
    }
    impedance
}

/// A guitar at one knob setting.
#[derive(Debug)]
pub(super) struct Netlist<'g> {
    /// Branches; both ends may be one class after merging.
    pub(super) branches: Vec<(Node, Node, Element<'g>)>,
    /// The class each node belongs to.
    pub(super) classes: [Node; MOST_NODES],
    /// The two nodes of each free slot, in the order asked for; both ground when the slot is not connected.
    pub(super) ports: Vec<(Node, Node)>,
}

impl<'g> Netlist<'g> {
    /// The circuit with the given slots left free as ports, whatever the guitar has in them.
    pub(super) fn new(guitar: &'g Guitar, setting: Setting, free: &[Slot]) -> Self {
        let mut netlist = Self {
            branches: Vec::with_capacity(16),
            classes: std::array::from_fn(|node| node),
            ports: vec![(GROUND, GROUND); free.len()],
        };
        netlist.pickup_and_volume(guitar, setting, free);
        if let Some(tone) = &guitar.tone {
            netlist.tone(tone, setting.tone, free);
        }
        netlist.shunt(OUTPUT, Element::Capacitance(guitar.cable.capacitance.value(), Origin::Cable));
        netlist.shunt(OUTPUT, Element::Capacitance(guitar.input.capacitance.value(), Origin::Exact));
        netlist.shunt(OUTPUT, Element::Resistance(guitar.input.resistance.value(), Origin::Exact));
        for (index, load) in guitar.loads.iter().enumerate() {
            netlist.shunt(joint(load.at), Element::Network(&load.network, Place::Load(index)));
        }
        netlist
    }

    fn pickup_and_volume(&mut self, guitar: &'g Guitar, setting: Setting, free: &[Slot]) {
        self.branches.push((SOURCE, PICKUP, Element::Winding(&guitar.pickup)));
        let winding = guitar.pickup.capacitance.value();
        self.shunt(PICKUP, Element::Capacitance(winding, Origin::WindingCapacitance));
        match (&guitar.series, free.contains(&Slot::Series)) {
            (None, false) => merge(&mut self.classes, PICKUP, INPUT_LUG),
            (fitted, _) => self.slot(Slot::Series, (PICKUP, INPUT_LUG), fitted.as_ref(), free),
        }
        let track = guitar.volume.pot.resistance.value();
        let wiper = guitar.volume.pot.taper.wiper(setting.volume);
        self.track(INPUT_LUG, OUTPUT, track * (1.0 - wiper), Origin::VolumeTrack);
        self.track(OUTPUT, GROUND, track * wiper, Origin::VolumeTrack);
        self.slot(Slot::Bleed, (INPUT_LUG, OUTPUT), guitar.volume.bleed.as_ref(), free);
    }

    fn tone(&mut self, tone: &'g Tone, rotation: f64, free: &[Slot]) {
        if tone.no_load && rotation >= 1.0 {
            return;
        }
        let hot = joint(tone.joined_at);
        let track = tone.pot.resistance.value();
        let wiper = tone.pot.taper.wiper(rotation);
        match tone.hookup {
            Hookup::Rheostat => self.track(hot, TONE_END, track * wiper, Origin::ToneTrack),
            Hookup::Shelf => {
                self.track(hot, TONE_WIPER, track * (1.0 - wiper), Origin::ToneTrack);
                self.track(TONE_WIPER, TONE_END, track * wiper, Origin::ToneTrack);
                self.slot(Slot::Bypass, (hot, TONE_WIPER), tone.bypass.as_ref(), free);
            }
        }
        self.slot(Slot::Tone, (TONE_END, GROUND), tone.network.as_ref(), free);
    }

    fn slot(&mut self, slot: Slot, nodes: (Node, Node), fitted: Option<&'g Network>, free: &[Slot]) {
        match (free.iter().position(|candidate| *candidate == slot), fitted) {
            (Some(index), _) => self.ports[index] = nodes,
            (None, Some(network)) => {
                let element = Element::Network(network, Place::Slot(slot));
                self.branches.push((nodes.0, nodes.1, element));
            }
            (None, None) => {}
        }
    }

    fn track(&mut self, from: Node, to: Node, resistance: f64, origin: Origin) {
        if resistance == 0.0 {
            merge(&mut self.classes, from, to);
        } else {
            self.branches.push((from, to, Element::Resistance(resistance, origin)));
        }
    }

    fn shunt(&mut self, node: Node, element: Element<'g>) {
        self.branches.push((node, GROUND, element));
    }
}

fn joint(joint: Joint) -> Node {
    match joint {
        Joint::Pickup => INPUT_LUG,
        Joint::Wiper => OUTPUT,
    }
}
