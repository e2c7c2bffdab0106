//! Eight doubles side by side, as wide as the processor has them.

use super::{LANES, Lane};

/// The few operations the loops need. `less` takes its second argument where a number is none, so that NaN never hides a smaller number.
pub(super) trait Vector: Copy {
    fn splat(value: f64) -> Self;
    fn load(lane: &Lane) -> Self;
    fn store(self) -> Lane;
    fn add(self, other: Self) -> Self;
    fn sub(self, other: Self) -> Self;
    fn mul(self, other: Self) -> Self;
    fn div(self, other: Self) -> Self;
    /// self·factor + term
    fn mul_add(self, factor: Self, term: Self) -> Self;
    /// self·factor − term
    fn mul_sub(self, factor: Self, term: Self) -> Self;
    /// self where it is below other, else other.
    fn less(self, other: Self) -> Self;
    /// self where it is above other, else other.
    fn more(self, other: Self) -> Self;
    /// Whether some number is below zero.
    fn is_anywhere_below_zero(self) -> bool;
    /// Whether every one is a number below zero.
    fn is_everywhere_below_zero(self) -> bool;
}

/// Arrays; the compiler makes of them what it can.
#[derive(Clone, Copy)]
pub(super) struct Portable(Lane);

impl Portable {
    #[inline(always)]
    fn with(self, other: Self, operation: impl Fn(f64, f64) -> f64) -> Self {
        let mut result = [0.0; LANES];
        for ((result, one), other) in result.iter_mut().zip(self.0).zip(other.0) {
            *result = operation(one, other);
        }
        Self(result)
    }
}

impl Vector for Portable {
    #[inline(always)]
    fn splat(value: f64) -> Self {
        Self([value; LANES])
    }
    #[inline(always)]
    fn load(lane: &Lane) -> Self {
        Self(*lane)
    }
    #[inline(always)]
    fn store(self) -> Lane {
        self.0
    }
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        self.with(other, |one, other| one + other)
    }
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        self.with(other, |one, other| one - other)
    }
    #[inline(always)]
    fn mul(self, other: Self) -> Self {
        self.with(other, |one, other| one * other)
    }
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        self.with(other, |one, other| one / other)
    }
    #[inline(always)]
    fn mul_add(self, factor: Self, term: Self) -> Self {
        self.mul(factor).add(term)
    }
    #[inline(always)]
    fn mul_sub(self, factor: Self, term: Self) -> Self {
        self.mul(factor).sub(term)
    }
    #[inline(always)]
    fn less(self, other: Self) -> Self {
        self.with(other, |one, other| if one < other { one } else { other })
    }
    #[inline(always)]
    fn more(self, other: Self) -> Self {
        self.with(other, |one, other| if one > other { one } else { other })
    }
    #[inline(always)]
    fn is_anywhere_below_zero(self) -> bool {
        self.0.iter().any(|value| *value < 0.0)
    }
    #[inline(always)]
    fn is_everywhere_below_zero(self) -> bool {
        self.0.iter().all(|value| *value < 0.0)
    }
}

#[cfg(target_arch = "x86_64")]
pub(super) use x86::{Fused256, Fused512};

#[cfg(target_arch = "x86_64")]
mod x86 {
    use std::arch::x86_64::{
        __m256d, __m512d, _CMP_LT_OQ, _mm256_add_pd, _mm256_cmp_pd, _mm256_div_pd, _mm256_fmadd_pd, _mm256_fmsub_pd, _mm256_loadu_pd,
        _mm256_max_pd, _mm256_min_pd, _mm256_movemask_pd, _mm256_mul_pd, _mm256_set1_pd, _mm256_storeu_pd, _mm256_sub_pd, _mm512_add_pd,
        _mm512_cmp_pd_mask, _mm512_div_pd, _mm512_fmadd_pd, _mm512_fmsub_pd, _mm512_loadu_pd, _mm512_max_pd, _mm512_min_pd, _mm512_mul_pd,
        _mm512_set1_pd, _mm512_storeu_pd, _mm512_sub_pd,
    };

    use super::Vector;
    use crate::kernel::lanes::{LANES, Lane};

    /// Instructions beyond the portable ones; the only place that calls any.
    macro_rules! instructions {
        ($($code:tt)*) => {
            // SAFETY: only loops that `dispatch` runs where it found the features make these types; a lane holds eight doubles, all of
            // which a whole vector or two halves read or write.
            unsafe { $($code)* }
        };
    }

    /// Two 256-bit vectors. Made only by loops that run where these instructions were found.
    #[derive(Clone, Copy)]
    pub(in crate::kernel::lanes) struct Fused256(__m256d, __m256d);

    /// One 512-bit vector. Made only by loops that run where these instructions were found.
    #[derive(Clone, Copy)]
    pub(in crate::kernel::lanes) struct Fused512(__m512d);

    /// An operation on both halves, or on the whole.
    macro_rules! operations {
        ($($name:ident: $half:ident, $whole:ident;)*) => {
            impl Fused256 {
                $(#[inline(always)]
                fn $name(self, other: Self) -> Self {
                    instructions!(Self($half(self.0, other.0), $half(self.1, other.1)))
                })*
            }
            impl Fused512 {
                $(#[inline(always)]
                fn $name(self, other: Self) -> Self {
                    instructions!(Self($whole(self.0, other.0)))
                })*
            }
        };
    }

    operations! {
        sum: _mm256_add_pd, _mm512_add_pd;
        difference: _mm256_sub_pd, _mm512_sub_pd;
        product: _mm256_mul_pd, _mm512_mul_pd;
        quotient: _mm256_div_pd, _mm512_div_pd;
        smaller: _mm256_min_pd, _mm512_min_pd;
        larger: _mm256_max_pd, _mm512_max_pd;
    }

    /// What both types do alike.
    macro_rules! arithmetic {
        () => {
            #[inline(always)]
            fn add(self, other: Self) -> Self {
                self.sum(other)
            }
            #[inline(always)]
            fn sub(self, other: Self) -> Self {
                self.difference(other)
            }
            #[inline(always)]
            fn mul(self, other: Self) -> Self {
                self.product(other)
            }
            #[inline(always)]
            fn div(self, other: Self) -> Self {
                self.quotient(other)
            }
            #[inline(always)]
            fn less(self, other: Self) -> Self {
                self.smaller(other)
            }
            #[inline(always)]
            fn more(self, other: Self) -> Self {
                self.larger(other)
            }
        };
    }

    impl Fused256 {
        /// A bit for each number below zero, of the lower and of the upper half.
        #[inline(always)]
        fn below_zero(self) -> [i32; 2] {
            instructions! {
                let zero = _mm256_set1_pd(0.0);
                let bits = [_mm256_cmp_pd::<_CMP_LT_OQ>(self.0, zero), _mm256_cmp_pd::<_CMP_LT_OQ>(self.1, zero)];
                [_mm256_movemask_pd(bits[0]), _mm256_movemask_pd(bits[1])]
            }
        }
    }

    impl Fused512 {
        /// A bit for each number below zero.
        #[inline(always)]
        fn below_zero(self) -> u8 {
            instructions!(_mm512_cmp_pd_mask::<_CMP_LT_OQ>(self.0, _mm512_set1_pd(0.0)))
        }
    }

    impl Vector for Fused256 {
        arithmetic!();
        #[inline(always)]
        fn is_anywhere_below_zero(self) -> bool {
            self.below_zero() != [0, 0]
        }
        #[inline(always)]
        fn is_everywhere_below_zero(self) -> bool {
            self.below_zero() == [0b1111, 0b1111]
        }
        #[inline(always)]
        fn splat(value: f64) -> Self {
            instructions!(Self(_mm256_set1_pd(value), _mm256_set1_pd(value)))
        }
        #[inline(always)]
        fn load(lane: &Lane) -> Self {
            instructions!(Self(_mm256_loadu_pd(lane.as_ptr()), _mm256_loadu_pd(lane.as_ptr().add(LANES / 2))))
        }
        #[inline(always)]
        fn store(self) -> Lane {
            let mut lane = [0.0; LANES];
            instructions! {
                _mm256_storeu_pd(lane.as_mut_ptr(), self.0);
                _mm256_storeu_pd(lane.as_mut_ptr().add(LANES / 2), self.1);
            }
            lane
        }
        #[inline(always)]
        fn mul_sub(self, factor: Self, term: Self) -> Self {
            instructions!(Self(
                _mm256_fmsub_pd(self.0, factor.0, term.0),
                _mm256_fmsub_pd(self.1, factor.1, term.1)
            ))
        }
        #[inline(always)]
        fn mul_add(self, factor: Self, term: Self) -> Self {
            instructions!(Self(
                _mm256_fmadd_pd(self.0, factor.0, term.0),
                _mm256_fmadd_pd(self.1, factor.1, term.1)
            ))
        }
    }

    impl Vector for Fused512 {
        arithmetic!();
        #[inline(always)]
        fn is_anywhere_below_zero(self) -> bool {
            self.below_zero() != 0
        }
        #[inline(always)]
        fn is_everywhere_below_zero(self) -> bool {
            self.below_zero() == u8::MAX
        }
        #[inline(always)]
        fn splat(value: f64) -> Self {
            instructions!(Self(_mm512_set1_pd(value)))
        }
        #[inline(always)]
        fn load(lane: &Lane) -> Self {
            instructions!(Self(_mm512_loadu_pd(lane.as_ptr())))
        }
        #[inline(always)]
        fn store(self) -> Lane {
            let mut lane = [0.0; LANES];
            instructions!(_mm512_storeu_pd(lane.as_mut_ptr(), self.0));
            lane
        }
        #[inline(always)]
        fn mul_add(self, factor: Self, term: Self) -> Self {
            instructions!(Self(_mm512_fmadd_pd(self.0, factor.0, term.0)))
        }
        #[inline(always)]
        fn mul_sub(self, factor: Self, term: Self) -> Self {
            instructions!(Self(_mm512_fmsub_pd(self.0, factor.0, term.0)))
        }
    }
}
