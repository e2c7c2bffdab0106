//! Tolerance letters of IEC 60062; the table is from memory, with D to N and the asymmetric letters seen in public capacitor charts.

use std::fmt;

use serde::Serialize;

use crate::units::with_prefix;

/// How far a part's true value may lie from its mark.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Tolerance {
    /// Either way, as a share of the value.
    Share(f64),
    /// Downwards and upwards, as shares of the value, both written positive.
    Shares(f64, f64),
    /// Either way, in F: capacitors below 10 pF.
    Farads(f64),
}

/// Symmetric letters and their shares.
const SYMMETRIC: &[(char, f64)] = &[
    ('E', 0.000_05),
    ('L', 0.000_1),
    ('P', 0.000_2),
    ('W', 0.000_5),
    ('B', 0.001),
    ('C', 0.002_5),
    ('D', 0.005),
    ('F', 0.01),
    ('G', 0.02),
    ('H', 0.03),
    ('J', 0.05),
    ('K', 0.1),
    ('M', 0.2),
    ('N', 0.3),
];

const ASYMMETRIC: &[(char, f64, f64)] = &[('Q', 0.1, 0.3), ('T', 0.1, 0.5), ('S', 0.2, 0.5), ('Y', 0.2, 0.5), ('Z', 0.2, 0.8)];

const BELOW_TEN_PICOFARADS: &[(char, f64)] = &[('B', 0.1e-12), ('C', 0.25e-12), ('D', 0.5e-12), ('F', 1e-12), ('G', 2e-12)];

impl Tolerance {
    /// What a letter says on a resistor, or on a capacitor from 10 pF on.
    #[must_use]
    pub fn of_letter(letter: char) -> Option<Self> {
        let symmetric = SYMMETRIC
            .iter()
            .find(|(known, _)| *known == letter)
            .map(|(_, share)| Self::Share(*share));
        symmetric.or_else(|| {
            let (_, down, up) = ASYMMETRIC.iter().find(|(known, ..)| *known == letter)?;
            Some(Self::Shares(*down, *up))
        })
    }

    /// What a letter says on a capacitor of a value in F: below 10 pF some letters are picofarads, not percent.
    #[must_use]
    pub fn of_capacitor_letter(letter: char, farads: f64) -> Option<Self> {
        let absolute = BELOW_TEN_PICOFARADS.iter().find(|(known, _)| *known == letter && farads < 10e-12);
        absolute
            .map(|(_, spread)| Self::Farads(*spread))
            .or_else(|| Self::of_letter(letter))
    }

    /// The letter that says this on a capacitor of a value in F.
    #[must_use]
    pub fn capacitor_letter(self, farads: f64) -> Option<char> {
        ('A'..='Z').find(|letter| Self::of_capacitor_letter(*letter, farads) == Some(self))
    }

    /// The letter that says this on a resistor.
    #[must_use]
    pub fn letter(self) -> Option<char> {
        ('A'..='Z').find(|letter| Self::of_letter(*letter) == Some(self))
    }
}

/// A share in percent, in the digits a table prints.
fn percent(share: f64) -> String {
    let text = format!("{:.4}", share * 100.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl fmt::Display for Tolerance {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Share(share) => write!(formatter, "±{} %", percent(*share)),
            Self::Shares(down, up) => write!(formatter, "−{} +{} %", percent(*down), percent(*up)),
            Self::Farads(spread) => write!(formatter, "±{}", with_prefix(*spread, "F")),
        }
    }
}
