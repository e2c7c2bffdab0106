//! Networks: one-ports of resistors, capacitors and inductors in series and in parallel, some of them still to be chosen.

use std::fmt;

use num_complex::Complex64;
use serde::Serialize;

use crate::units::{Farads, Henries, Ohms, rkm};

mod parse;

/// Parts in one network at most.
pub const MOST_PARTS: usize = parse::MOST_PARTS;

/// A one-port. "Nothing fitted" is not a network; it is `None` where a network is optional.
#[derive(Debug, Clone, PartialEq)]
pub enum Network {
    /// A part of known value.
    Fixed(Component),
    /// A part to be chosen.
    Free(FreePart),
    /// At least two networks one after the other; none of them is itself a series.
    Series(Vec<Network>),
    /// At least two networks side by side; none of them is itself a parallel.
    Parallel(Vec<Network>),
}

/// A part of known value. Values are above zero: a wire is the absence of a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Component {
    /// A resistor.
    Resistor(Ohms),
    /// A capacitor.
    Capacitor(Farads),
    /// An inductor.
    Inductor(Henries),
}

/// What can be chosen from a series or a stock list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Resistors, in Ω.
    Resistor,
    /// Capacitors, in F.
    Capacitor,
}

impl Kind {
    /// The letter a free part of this kind begins with.
    #[must_use]
    pub const fn letter(self) -> &'static str {
        match self {
            Self::Resistor => "R",
            Self::Capacitor => "C",
        }
    }

    /// `resistor` or `capacitor`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Resistor => "resistor",
            Self::Capacitor => "capacitor",
        }
    }

    /// A component of this kind; `None` unless the value is finite.
    #[must_use]
    pub fn component(self, value: f64) -> Option<Component> {
        match self {
            Self::Resistor => Ohms::new(value).map(Component::Resistor),
            Self::Capacitor => Farads::new(value).map(Component::Capacitor),
        }
    }
}

/// A part whose value is still to be chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FreePart {
    /// Resistor or capacitor.
    pub kind: Kind,
    /// `R`, `C`, `R1`, …; unique inside one network.
    pub name: String,
}

/// An admittance in S, with the exact short that no number can be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Admittance {
    /// A finite admittance; zero is an exact open circuit.
    Value(Complex64),
    /// A short circuit.
    Short,
}

impl Admittance {
    /// An open circuit.
    pub const OPEN: Self = Self::Value(Complex64::ZERO);

    fn impedance(self) -> Option<Complex64> {
        match self {
            Self::Short => Some(Complex64::ZERO),
            Self::Value(value) if value == Complex64::ZERO => None,
            Self::Value(value) => Some(value.inv()),
        }
    }

    fn from_impedance(impedance: Complex64) -> Self {
        if impedance == Complex64::ZERO {
            Self::Short
        } else {
            Self::Value(impedance.inv())
        }
    }
}

impl Component {
    /// Y(s) in S.
    #[must_use]
    pub fn admittance(self, s: Complex64) -> Admittance {
        match self {
            Self::Resistor(resistance) => Admittance::from_impedance(resistance.value().into()),
            Self::Capacitor(capacitance) => Admittance::Value(s * capacitance.value()),
            Self::Inductor(inductance) => Admittance::from_impedance(s * inductance.value()),
        }
    }

    /// The value in its SI unit.
    #[must_use]
    pub fn value(self) -> f64 {
        match self {
            Self::Resistor(resistance) => resistance.value(),
            Self::Capacitor(capacitance) => capacitance.value(),
            Self::Inductor(inductance) => inductance.value(),
        }
    }

    /// The kind a stock list would file it under; inductors have none.
    #[must_use]
    pub fn kind(self) -> Option<Kind> {
        match self {
            Self::Resistor(_) => Some(Kind::Resistor),
            Self::Capacitor(_) => Some(Kind::Capacitor),
            Self::Inductor(_) => None,
        }
    }
}

impl Network {
    /// The parts still to be chosen, in written order.
    #[must_use]
    pub fn free_parts(&self) -> Vec<&FreePart> {
        match self {
            Self::Fixed(_) => Vec::new(),
            Self::Free(part) => vec![part],
            Self::Series(members) | Self::Parallel(members) => members.iter().flat_map(Self::free_parts).collect(),
        }
    }

    /// The parts of known value, in written order.
    #[must_use]
    pub fn components(&self) -> Vec<Component> {
        match self {
            Self::Fixed(component) => vec![*component],
            Self::Free(_) => Vec::new(),
            Self::Series(members) | Self::Parallel(members) => members.iter().flat_map(Self::components).collect(),
        }
    }

    /// How many parts it is made of, chosen or not.
    #[must_use]
    pub fn part_count(&self) -> usize {
        match self {
            Self::Fixed(_) | Self::Free(_) => 1,
            Self::Series(members) | Self::Parallel(members) => members.iter().map(Self::part_count).sum(),
        }
    }

    /// The network with its free parts given values, in written order; parts without a (finite) value stay free.
    #[must_use]
    pub fn with_values(&self, values: &[f64]) -> Self {
        self.with_next_values(&mut values.iter().copied())
    }

    fn with_next_values(&self, values: &mut impl Iterator<Item = f64>) -> Self {
        let mut fill = |members: &[Self]| members.iter().map(|member| member.with_next_values(values)).collect();
        match self {
            Self::Fixed(component) => Self::Fixed(*component),
            Self::Series(members) => Self::Series(fill(members)),
            Self::Parallel(members) => Self::Parallel(fill(members)),
            Self::Free(part) => match values.next().and_then(|value| part.kind.component(value)) {
                Some(component) => Self::Fixed(component),
                None => Self::Free(part.clone()),
            },
        }
    }

    /// The network with its free parts replaced, in written order, by networks; free parts without one stay free. A series put into a
    /// series is laid flat, as is a parallel in a parallel.
    #[must_use]
    pub fn with_networks(&self, networks: &[Self]) -> Self {
        self.with_next_networks(&mut networks.iter().cloned())
    }

    fn with_next_networks(&self, networks: &mut impl Iterator<Item = Self>) -> Self {
        let mut fill = |members: &[Self]| members.iter().map(|member| member.with_next_networks(networks)).collect();
        match self {
            Self::Fixed(component) => Self::Fixed(*component),
            Self::Series(members) => parse::series(fill(members)),
            Self::Parallel(members) => parse::parallel(fill(members)),
            Self::Free(part) => networks.next().unwrap_or_else(|| Self::Free(part.clone())),
        }
    }

    /// The single parts, fixed and free, in written order.
    #[must_use]
    pub fn leaves(&self) -> Vec<&Self> {
        match self {
            Self::Fixed(_) | Self::Free(_) => vec![self],
            Self::Series(members) | Self::Parallel(members) => members.iter().flat_map(Self::leaves).collect(),
        }
    }

    /// Y(s) in S, with the free parts' values in written order. A free part without a value is open.
    #[must_use]
    pub fn admittance(&self, s: Complex64, values: &[f64]) -> Admittance {
        self.admittance_next(s, &mut values.iter().copied())
    }

    fn admittance_next(&self, s: Complex64, values: &mut impl Iterator<Item = f64>) -> Admittance {
        match self {
            Self::Fixed(component) => component.admittance(s),
            Self::Free(part) => match values.next().and_then(|value| part.kind.component(value)) {
                Some(component) => component.admittance(s),
                None => Admittance::OPEN,
            },
            Self::Series(members) => {
                let mut total = Some(Complex64::ZERO);
                for member in members {
                    let impedance = member.admittance_next(s, values).impedance();
                    total = total.zip(impedance).map(|(sum, next)| sum + next);
                }
                total.map_or(Admittance::OPEN, Admittance::from_impedance)
            }
            Self::Parallel(members) => {
                let mut total = Admittance::OPEN;
                for member in members {
                    total = match (total, member.admittance_next(s, values)) {
                        (Admittance::Value(sum), Admittance::Value(next)) => Admittance::Value(sum + next),
                        _ => Admittance::Short,
                    };
                }
                total
            }
        }
    }
}

impl fmt::Display for Component {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Resistor(value) => formatter.write_str(&rkm(value.value(), "R")),
            Self::Capacitor(value) => formatter.write_str(&rkm(value.value(), "F")),
            Self::Inductor(value) => formatter.write_str(&rkm(value.value(), "H")),
        }
    }
}

/// The written form; it reads back to the same network.
impl fmt::Display for Network {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let list = |formatter: &mut fmt::Formatter<'_>, members: &[Self], between: &str| {
            for (index, member) in members.iter().enumerate() {
                if index > 0 {
                    formatter.write_str(between)?;
                }
                match member {
                    Self::Series(_) => write!(formatter, "({member})")?,
                    Self::Parallel(_) => write!(formatter, "({member})")?,
                    _ => write!(formatter, "{member}")?,
                }
            }
            Ok(())
        };
        match self {
            Self::Fixed(component) => component.fmt(formatter),
            Self::Free(part) => formatter.write_str(&part.name),
            Self::Series(members) => list(formatter, members, " + "),
            Self::Parallel(members) => list(formatter, members, " || "),
        }
    }
}
