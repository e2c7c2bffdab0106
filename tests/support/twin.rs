//! A second solver that shares no code with the library: modified nodal analysis on a netlist of single components, dense, by nalgebra.
//!
//! After C.-W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to network analysis", IEEE Trans. Circuits Syst. 22(6), 1975:
//! the source, and every resistor and inductor, has its current as an unknown of its own, so that zero ohms is an exact equation.

use knobwright::circuit::Setting;
use knobwright::guitar::taper::Taper;
use knobwright::guitar::{Guitar, Hookup, Joint, Tone};
use knobwright::parts::network::{Component, Network};
use nalgebra::{DMatrix, DVector};
use num_complex::Complex64;
use std::f64::consts::TAU;

/// Scale of impedances, so that the equations mix numbers of like size.
const REFERENCE_OHMS: f64 = 1e5;

#[derive(Clone)]
/// What a single component obeys.
enum Law {
    /// V = Z·I, Z in Ω.
    Impedance(Complex64),
    /// I = Y·V, Y in S.
    Admittance(Complex64),
}

#[derive(Clone)]
struct Element {
    from: usize,
    to: usize,
    law: Law,
}

#[derive(Clone)]
/// Single components between numbered nodes; node 0 is ground.
pub struct Netlist {
    omega: f64,
    nodes: usize,
    elements: Vec<Element>,
}

impl Netlist {
    pub fn new(frequency_hz: f64) -> Self {
        Self {
            omega: TAU * frequency_hz,
            nodes: 1,
            elements: Vec::new(),
        }
    }

    pub fn node(&mut self) -> usize {
        self.nodes += 1;
        self.nodes - 1
    }

    pub fn resistor(&mut self, from: usize, to: usize, ohms: f64) {
        if ohms == 0.0 && self.joined(from)[to] {
            // A second wire beside a wire would leave the current of each undetermined.
            return;
        }
        let law = Law::Impedance(ohms.into());
        self.elements.push(Element { from, to, law });
    }

    pub fn inductor(&mut self, from: usize, to: usize, henries: f64) {
        let law = Law::Impedance(Complex64::new(0.0, self.omega * henries));
        self.elements.push(Element { from, to, law });
    }

    pub fn capacitor(&mut self, from: usize, to: usize, farads: f64) {
        let law = Law::Admittance(Complex64::new(0.0, self.omega * farads));
        self.elements.push(Element { from, to, law });
    }

    /// A network, component by component, with nodes of its own between those in series.
    pub fn network(&mut self, from: usize, to: usize, network: &Network) {
        match network {
            Network::Fixed(Component::Resistor(value)) => self.resistor(from, to, value.value()),
            Network::Fixed(Component::Capacitor(value)) => self.capacitor(from, to, value.value()),
            Network::Fixed(Component::Inductor(value)) => self.inductor(from, to, value.value()),
            Network::Free(part) => panic!("`{}` has no value", part.name),
            Network::Parallel(members) => members.iter().for_each(|member| self.network(from, to, member)),
            Network::Series(members) => {
                let mut here = from;
                for (index, member) in members.iter().enumerate() {
                    let next = if index + 1 == members.len() { to } else { self.node() };
                    self.network(here, next, member);
                    here = next;
                }
            }
        }
    }

    /// Which nodes can be reached from one through elements that pass `through`, never entering a node of `barred`.
    fn reached(&self, start: usize, barred: &[bool], through: impl Fn(&Law) -> bool) -> Vec<bool> {
        let mut reached = vec![false; self.nodes];
        reached[start] = true;
        for _ in 0..self.nodes {
            for Element { from, to, law } in &self.elements {
                if through(law) && !barred[*from] && !barred[*to] && (reached[*from] || reached[*to]) {
                    reached[*from] = true;
                    reached[*to] = true;
                }
            }
        }
        reached
    }

    /// The nodes that zero resistances join to one.
    fn joined(&self, node: usize) -> Vec<bool> {
        let none = vec![false; self.nodes];
        self.reached(node, &none, |law| matches!(law, Law::Impedance(z) if *z == Complex64::ZERO))
    }

    /// V(output)/V(source) with an ideal EMF at `source`; exactly zero where nothing leads from source to output but through ground.
    pub fn transfer(&self, source: usize, output: usize) -> Complex64 {
        let grounded = self.joined(0);
        let live = self.reached(source, &grounded, |law| !matches!(law, Law::Admittance(y) if *y == Complex64::ZERO));
        if !live[output] {
            return Complex64::ZERO;
        }
        self.driven(0, source, output)
    }

    /// V(output) with an ideal EMF of 1 V from one node to another.
    pub fn driven(&self, cold: usize, source: usize, output: usize) -> Complex64 {
        let (matrix, right) = self.equations(cold, source);
        let factors = matrix.clone().lu();
        let mut solution = factors.solve(&right).expect("the network has one solution");
        // Two steps of iterative refinement take out what the elimination rounded off.
        for _ in 0..2 {
            let residual = &right - &matrix * &solution;
            solution += factors.solve(&residual).expect("the network has one solution");
        }
        solution[output - 1]
    }

    /// Kirchhoff's current law at every node but ground, one law for every impedance, and the EMF; currents are scaled by the reference.
    fn equations(&self, cold: usize, source: usize) -> (DMatrix<Complex64>, DVector<Complex64>) {
        let impedances = self
            .elements
            .iter()
            .filter(|element| matches!(element.law, Law::Impedance(_)))
            .count();
        let voltages = self.nodes - 1;
        let size = voltages + impedances + 1;
        let mut matrix = DMatrix::zeros(size, size);
        let mut right = DVector::zeros(size);
        let mut add = |row: Option<usize>, column: Option<usize>, value: Complex64| {
            if let (Some(row), Some(column)) = (row, column) {
                matrix[(row, column)] += value;
            }
        };
        let one = Complex64::ONE;
        let mut current = voltages;
        for element in &self.elements {
            let (from, to) = (element.from.checked_sub(1), element.to.checked_sub(1));
            match element.law {
                Law::Admittance(y) => {
                    let y = y * REFERENCE_OHMS;
                    add(from, from, y);
                    add(from, to, -y);
                    add(to, from, -y);
                    add(to, to, y);
                }
                Law::Impedance(z) => {
                    add(from, Some(current), one);
                    add(to, Some(current), -one);
                    add(Some(current), from, one);
                    add(Some(current), to, -one);
                    add(Some(current), Some(current), -z / REFERENCE_OHMS);
                    current += 1;
                }
            }
        }
        add(source.checked_sub(1), Some(current), one);
        add(Some(current), source.checked_sub(1), one);
        add(cold.checked_sub(1), Some(current), -one);
        add(Some(current), cold.checked_sub(1), -one);
        right[current] = one;
        (matrix, right)
    }
}

/// V_W/E of a guitar, from its plain data and nothing else.
pub fn transfer(guitar: &Guitar, setting: Setting, frequency_hz: f64) -> Complex64 {
    let mut net = Netlist::new(frequency_hz);
    let source = net.node();
    let before_controls = coil(&mut net, guitar, source);
    let input_lug = match &guitar.series {
        None => before_controls,
        Some(network) => {
            let node = net.node();
            net.network(before_controls, node, network);
            node
        }
    };
    if let Some(across) = &guitar.across {
        net.network(input_lug, 0, across);
    }
    let output = net.node();
    let fraction = wiper(&guitar.volume.pot.taper, setting.volume);
    let track = guitar.volume.pot.resistance.value();
    net.resistor(input_lug, output, track * (1.0 - fraction));
    net.resistor(output, 0, track * fraction);
    if let Some(bleed) = &guitar.volume.bleed {
        net.network(input_lug, output, bleed);
    }
    let at = |joint| match joint {
        Joint::Pickup => input_lug,
        Joint::Wiper => output,
    };
    if let Some(tone) = &guitar.tone {
        tone_branch(&mut net, tone, setting.tone, at(tone.joined_at));
    }
    for load in &guitar.loads {
        net.network(at(load.at), 0, &load.network);
    }
    net.capacitor(output, 0, guitar.cable.capacitance.value());
    net.capacitor(output, 0, guitar.input.capacitance.value());
    net.resistor(output, 0, guitar.input.resistance.value());
    net.transfer(source, output)
}

/// Winding resistance, coil and winding capacitance; gives the pickup's own terminal.
fn coil(net: &mut Netlist, guitar: &Guitar, source: usize) -> usize {
    let pickup = &guitar.pickup;
    let mut here = net.node();
    net.resistor(source, here, pickup.resistance.value());
    let mut lossless = pickup.inductance.value();
    for cell in &pickup.loss {
        let next = net.node();
        net.inductor(here, next, cell.inductance.value());
        net.resistor(here, next, cell.resistance.value());
        lossless -= cell.inductance.value();
        here = next;
    }
    let terminal = net.node();
    net.inductor(here, terminal, lossless.max(0.0));
    net.capacitor(terminal, 0, pickup.capacitance.value());
    terminal
}

fn tone_branch(net: &mut Netlist, tone: &Tone, rotation: f64, hot: usize) {
    if tone.no_load && rotation == 1.0 {
        return;
    }
    let Some(network) = &tone.network else {
        return;
    };
    let track = tone.pot.resistance.value();
    let fraction = wiper(&tone.pot.taper, rotation);
    let contact = match tone.hookup {
        Hookup::Rheostat => hot,
        Hookup::Shelf => {
            let contact = net.node();
            net.resistor(hot, contact, track * (1.0 - fraction));
            if let Some(bypass) = &tone.bypass {
                net.network(hot, contact, bypass);
            }
            contact
        }
    };
    let end = net.node();
    net.resistor(contact, end, track * fraction);
    net.network(end, 0, network);
}

/// Rotation → wiper fraction, written from the laws without cancellation near the ends.
pub fn wiper(taper: &Taper, x: f64) -> f64 {
    let steepness = |m: f64| 2.0 * ((1.0 - m) / m).ln();
    match taper {
        _ if x <= 0.0 => 0.0,
        _ if x >= 1.0 => 1.0,
        Taper::Linear => x,
        Taper::Audio(m) => (steepness(m.value()) * x).exp_m1() / steepness(m.value()).exp_m1(),
        Taper::ReverseAudio(m) => (-steepness(m.value()) * x).exp_m1() / (-steepness(m.value())).exp_m1(),
        Taper::TwoSlope(m) if x <= 0.5 => 2.0 * m.value() * x,
        Taper::TwoSlope(m) => m.value() + 2.0 * (1.0 - m.value()) * (x - 0.5),
        Taper::Table(curve) => straight(curve.points(), x).expect("a taper spans 0 to 1"),
    }
}

/// Straight lines between points; `None` outside them.
pub fn straight(points: &[[f64; 2]], x: f64) -> Option<f64> {
    points.windows(2).find_map(|pair| {
        let ([x0, y0], [x1, y1]) = (pair[0], pair[1]);
        (x0 <= x && x <= x1).then(|| y0 + (y1 - y0) * ((x - x0) / (x1 - x0)))
    })
}
