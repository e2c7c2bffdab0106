//! Quantities with their units: finite by construction, so that no NaN or infinity can come in.

mod decimal;
pub mod knob;
pub mod marking;
mod read;
mod spelling;
mod suffix;
mod write;

pub(crate) use decimal::Decimal;
pub use read::{
    Quantity, read_decibels, read_farads, read_farads_per_metre, read_fraction, read_henries, read_hertz, read_metres, read_ohms,
    read_quantity,
};
pub use write::{grouped, rkm, with_prefix, with_prefix_rounded};

use serde::Serialize;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// The quantity, if the number is finite.
            #[must_use]
            pub const fn new(value: f64) -> Option<Self> {
                if value.is_finite() { Some(Self(value)) } else { None }
            }

            /// The number in the SI unit.
            #[must_use]
            pub const fn value(self) -> f64 {
                self.0
            }
        }
    };
}

quantity!(
    /// Resistance in Ω.
    Ohms
);
quantity!(
    /// Capacitance in F.
    Farads
);
quantity!(
    /// Inductance in H.
    Henries
);
quantity!(
    /// Frequency in Hz.
    Hertz
);
quantity!(
    /// Level or level difference in dB.
    Decibels
);
quantity!(
    /// A share of one: a tolerance, a taper's mid fraction, a rotation.
    Fraction
);

impl Ohms {
    /// 1 MΩ, what guitar inputs have.
    pub const MEGOHM: Self = Self(1e6);
    /// No resistance at all.
    pub const ZERO: Self = Self(0.0);
}

impl Farads {
    /// No capacitance at all.
    pub const ZERO: Self = Self(0.0);
}
