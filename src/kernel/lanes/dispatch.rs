//! Which instruction set runs a loop. With `vector.rs` the only unsafe code: an [`Isa`] comes from nowhere but [`Isa::available`], so that safe
//! code cannot reach instructions that the processor lacks.

use std::fmt;

/// An instruction set that this processor has; only [`Isa::detect`], [`Isa::available`] and [`Isa::PORTABLE`] give one.
///
/// ```compile_fail,E0599
/// // Nobody can claim vectors that may not be there.
/// let isa = knobwright::kernel::lanes::Isa::Fused512;
/// ```
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Isa(Set);

/// What [`Isa`] holds; for the macro below and nobody else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Set {
    /// Whatever the compiler was told to assume.
    Portable,
    /// 256-bit vectors with fused multiply-add.
    #[cfg(target_arch = "x86_64")]
    Fused256,
    /// 512-bit vectors.
    #[cfg(target_arch = "x86_64")]
    Fused512,
}

impl Isa {
    /// The one that every processor has: whatever the compiler was told to assume.
    pub const PORTABLE: Self = Self(Set::Portable);

    /// The best one this processor has.
    #[must_use]
    pub fn detect() -> Self {
        Self::available().pop().unwrap_or(Self::PORTABLE)
    }

    /// Every one this processor has, the best last.
    #[must_use]
    pub fn available() -> Vec<Self> {
        #[allow(unused_mut)]
        let mut found = vec![Self::PORTABLE];
        #[cfg(target_arch = "x86_64")]
        {
            if is_x86_feature_detected!("avx2") && is_x86_feature_detected!("fma") {
                found.push(Self(Set::Fused256));
            }
            if is_x86_feature_detected!("avx512f") {
                found.push(Self(Set::Fused512));
            }
        }
        found
    }

    /// Which one it is.
    pub(super) fn set(self) -> Set {
        self.0
    }
}

impl fmt::Debug for Isa {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, formatter)
    }
}

/// Makes a method of [`Isa`] of each loop of the same name, compiled once for every instruction set.
macro_rules! on_every_set {
    ($($(#[$attribute:meta])* fn $name:ident($($argument:ident: $kind:ty),*) -> $result:ty;)*) => {
        impl $crate::kernel::lanes::Isa {
            $($(#[$attribute])*
            pub fn $name(self, $($argument: $kind),*) -> $result {
                #[cfg(target_arch = "x86_64")]
                #[target_feature(enable = "avx2,fma")]
                fn fused_256($($argument: $kind),*) -> $result {
                    $name::<$crate::kernel::lanes::vector::Fused256>($($argument),*)
                }
                #[cfg(target_arch = "x86_64")]
                #[target_feature(enable = "avx512f")]
                fn fused_512($($argument: $kind),*) -> $result {
                    $name::<$crate::kernel::lanes::vector::Fused512>($($argument),*)
                }
                use $crate::kernel::lanes::dispatch::Set;
                match self.set() {
                    Set::Portable => $name::<$crate::kernel::lanes::vector::Portable>($($argument),*),
                    // SAFETY: `available` alone makes the variant, where it found the features.
                    #[cfg(target_arch = "x86_64")]
                    Set::Fused256 => unsafe { fused_256($($argument),*) },
                    // SAFETY: as above.
                    #[cfg(target_arch = "x86_64")]
                    Set::Fused512 => unsafe { fused_512($($argument),*) },
                }
            })*
        }
    };
}
