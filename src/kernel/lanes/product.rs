//! Products of many powers, the exponents kept apart so that wide bands neither underflow nor overflow: the mean of the levels with one
//! logarithm a band instead of one a point.

use super::vector::Vector;
use super::{LANES, Lane};

/// How many factors are multiplied before the exponent is set aside: four powers of 10^±77 stay within doubles.
const FACTORS_BETWEEN: usize = 4;
/// Bits of a double's fraction, and its exponent where the value is from 1 to 2.
const FRACTION_BITS: u32 = 52;
const BIAS: u64 = 1023;
/// From here on an exponent, or the sign above it, belongs to no positive finite number.
const NOT_FINITE: u64 = 0x7ff;

/// A product in each lane; no number where a factor is no positive finite number.
#[derive(Clone, Copy)]
pub(super) struct Product<V> {
    factors: V,
    exponents: Lane,
    pending: usize,
}

impl<V: Vector> Product<V> {
    #[inline(always)]
    pub(super) fn one() -> Self {
        Self {
            factors: V::splat(1.0),
            exponents: [0.0; LANES],
            pending: 0,
        }
    }

    #[inline(always)]
    pub(super) fn times(&mut self, factor: V) {
        self.factors = self.factors.mul(factor);
        self.pending += 1;
        if self.pending == FACTORS_BETWEEN {
            self.set_exponents_aside();
        }
    }

    #[inline(always)]
    fn set_exponents_aside(&mut self) {
        let mut fractions = self.factors.store();
        for (own, sum) in fractions.iter_mut().zip(&mut self.exponents) {
            let bits = own.to_bits();
            let exponent = bits >> FRACTION_BITS;
            let fraction = f64::from_bits(bits & ((1 << FRACTION_BITS) - 1) | BIAS << FRACTION_BITS);
            // Zero and what is below the normal numbers have the exponent 0.
            let is_sound = exponent != 0 && exponent < NOT_FINITE;
            *own = if is_sound { fraction } else { f64::NAN };
            *sum += exponent as f64 - BIAS as f64;
        }
        self.factors = V::load(&fractions);
        self.pending = 0;
    }

    /// log₂ of the product in each lane.
    #[inline(always)]
    pub(super) fn logarithm(mut self) -> Lane {
        self.set_exponents_aside();
        let mut logarithms = self.factors.store();
        for (logarithm, exponent) in logarithms.iter_mut().zip(&self.exponents) {
            *logarithm = logarithm.log2() + exponent;
        }
        logarithms
    }

    /// The root of a degree, in each lane.
    #[inline(always)]
    pub(super) fn root(self, degree: usize) -> Lane {
        let mut roots = self.logarithm();
        for root in &mut roots {
            *root = (*root / degree as f64).exp2();
        }
        roots
    }
}
