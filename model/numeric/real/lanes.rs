//! Eight numbers side by side, with exponential and logarithm of their own.
//!
//! Both are written in plain products and sums, so that every width of vector unit, and none, gives the same bits; each is within 2 ulp of
//! the exact value.

use super::Real;
use fearless_simd::{Level, Select, Simd, SimdBase, SimdFloat, SimdMask, f64x8, mask64x8};
use std::ops::{Add, BitAnd, BitOr, Div, Mul, Neg, Sub};
use std::sync::LazyLock;

/// Numbers side by side.
pub(crate) const LANES: usize = 8;

/// What can be done with a vector unit, whichever it is.
pub(crate) trait Vectors {
    /// What comes of it.
    type Output;

    /// Does it. `like` holds noughts: numbers of its kind are made from it.
    fn run<R: Real>(self, like: R) -> Self::Output;
}

static LEVEL: LazyLock<Level> = LazyLock::new(Level::new);

/// Does it with the widest vector unit of this machine; the bits that come of it are the same on any.
pub(crate) fn on_this_machine<V: Vectors>(task: V) -> V::Output {
    on(*LEVEL, task)
}

/// The same with the unit of a level.
#[cfg(target_arch = "x86_64")]
fn on<V: Vectors>(level: Level, task: V) -> V::Output {
    // Each is compiled for itself, which takes its time: the one between the last two is left out.
    if let Some(simd) = level.as_avx512() {
        return simd.vectorize(
            #[inline(always)]
            || task.run(Lanes(f64x8::splat(simd, 0.0))),
        );
    }
    if let Some(simd) = level.as_avx2() {
        return simd.vectorize(
            #[inline(always)]
            || task.run(Lanes(f64x8::splat(simd, 0.0))),
        );
    }
    let Some(simd) = level.as_sse2() else {
        unreachable!("SSE2 is part of x86-64")
    };
    simd.vectorize(
        #[inline(always)]
        || task.run(Lanes(f64x8::splat(simd, 0.0))),
    )
}

/// The same elsewhere.
#[cfg(not(target_arch = "x86_64"))]
fn on<V: Vectors>(level: Level, task: V) -> V::Output {
    fearless_simd::dispatch!(level, simd => task.run(Lanes(f64x8::splat(simd, 0.0))))
}

/// What comes of it with each kind of vector unit that this machine has.
#[cfg(test)]
pub(crate) fn on_each_unit<V: Vectors>(task: impl Fn() -> V) -> Vec<V::Output> {
    #[cfg(target_arch = "x86_64")]
    let narrower = [
        LEVEL.as_avx2().map(Level::Avx2),
        LEVEL.as_sse2().map(Level::Sse2),
    ];
    #[cfg(not(target_arch = "x86_64"))]
    let narrower = [None];
    let levels = std::iter::once(*LEVEL).chain(narrower.into_iter().flatten());
    levels.map(|level| on(level, task())).collect()
}

const LN2_HIGH: f64 = f64::from_bits(0x3fe6_2e42_fee0_0000);
const LN2_LOW: f64 = f64::from_bits(0x3dea_39ef_3579_3c76);
/// Added to a number below 2⁵¹, it leaves the nearest whole number in the last bits.
const ROUNDING: f64 = 6_755_399_441_055_744.0;
/// Beyond it an exponential is no longer a normal number.
const MOST_EXPONENT: f64 = 708.0;
/// `1/n!` from n = 2.
const EXP: [f64; 12] = [
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
];
/// Of `ln((1 + s)/(1 − s)) = 2s + s·R(s²)`, s² up to 0.0295 (coefficients of the logarithm of fdlibm 5.3, 1993: error of R below 2⁻⁵⁸·⁴⁵).
const LOG: [f64; 7] = [
    0.6666666666666735,
    0.3999999999940942,
    0.2857142874366239,
    0.22222198432149784,
    0.1818357216161805,
    0.15313837699209373,
    0.14798198605116586,
];

/// Eight numbers in a vector unit.
#[derive(Clone, Copy)]
struct Lanes<S: Simd>(f64x8<S>);

/// What is true or false of each.
#[derive(Clone, Copy)]
struct Which<S: Simd>(mask64x8<S>);

macro_rules! operators {
    ($($operator:ident $method:ident;)*) => {$(
        impl<S: Simd> $operator for Lanes<S> {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self($operator::$method(self.0, other.0))
            }
        }
    )*};
    (with numbers: $($operator:ident $method:ident;)*) => {
        operators! { $($operator $method;)* }
        $(impl<S: Simd> $operator<f64> for Lanes<S> {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                Self($operator::$method(self.0, other))
            }
        })*
    };
}
operators! { with numbers: Add add; Sub sub; Mul mul; }
operators! { Div div; }

impl<S: Simd> Div<f64> for Lanes<S> {
    type Output = Self;
    /// By the reciprocal: a division of eight numbers takes as long as ten products.
    #[inline(always)]
    fn div(self, other: f64) -> Self {
        Self(self.0 * (1.0 / other))
    }
}
impl<S: Simd> Neg for Lanes<S> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl<S: Simd> BitAnd for Which<S> {
    type Output = Self;
    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }
}
impl<S: Simd> BitOr for Which<S> {
    type Output = Self;
    #[inline(always)]
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

/// `2ᵏ` and `e^r − 1` with `x = k ln 2 + r`.
#[inline(always)]
fn parts_of_exp<S: Simd>(x: Lanes<S>) -> (Lanes<S>, Lanes<S>) {
    let x = x.within(-MOST_EXPONENT, MOST_EXPONENT);
    let shifted = x * std::f64::consts::LOG2_E + ROUNDING;
    let k = shifted - ROUNDING;
    let r = (x - k * LN2_HIGH) - k * LN2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    let pair = |n: usize| r * EXP[n + 1] + EXP[n];
    let low = pair(0) + r2 * pair(2);
    let middle = pair(4) + r2 * pair(6);
    let high = pair(8) + r2 * pair(10);
    let rest = low + r4 * (middle + r4 * high);
    let two_to_k = (shifted.0.to_bits() << 52) + 1.0_f64.to_bits();
    (Lanes(f64x8::from_bits(two_to_k)), r + r2 * rest)
}

impl<S: Simd> Real for Lanes<S> {
    type Mask = Which<S>;
    const COUNT: usize = LANES;

    #[inline(always)]
    fn of(self, value: f64) -> Self {
        Self(f64x8::splat(self.0.simd, value))
    }
    #[inline(always)]
    fn one(self, which: usize) -> f64 {
        self.0[which]
    }
    #[inline(always)]
    fn made(self, from: impl FnMut(usize) -> f64) -> Self {
        Self(f64x8::from_fn(self.0.simd, from))
    }
    #[inline(always)]
    fn whole(self) -> Self {
        Self(self.0.floor())
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(self.0.sqrt())
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Self(self.0.abs())
    }
    #[inline(always)]
    fn exp(self) -> Self {
        let (two_to_k, less_one) = parts_of_exp(self);
        (less_one + 1.0) * two_to_k
    }
    #[inline(always)]
    fn exp_m1(self) -> Self {
        let (two_to_k, less_one) = parts_of_exp(self);
        two_to_k * less_one + (two_to_k - 1.0)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        // x = 2ᵏ m, √½ ≤ m < √2.
        const HALF_ROOT: u64 = 0x3fe6_a09e_0000_0000;
        const MANTISSA: u64 = 0x000f_ffff_ffff_ffff;
        const TWO_TO_52: u64 = 0x4330_0000_0000_0000;
        let bits = self.0.to_bits() + (1.0_f64.to_bits() - HALF_ROOT);
        let power = Self(f64x8::from_bits((bits >> 52) | TWO_TO_52));
        let k = power - (f64::from_bits(TWO_TO_52) + 1023.0);
        let f = Self(f64x8::from_bits((bits & MANTISSA) + HALF_ROOT)) - 1.0;
        let s = f / (f + 2.0);
        let z = s * s;
        let w = z * z;
        let odd = z * (w * (w * (w * LOG[6] + LOG[4]) + LOG[2]) + LOG[0]);
        let even = w * (w * (w * LOG[5] + LOG[3]) + LOG[1]);
        let half = f * f * 0.5;
        s * (half + (odd + even)) + k * LN2_LOW - half + f + k * LN2_HIGH
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        // What rounding of 1 + x took is given back in proportion (W. Kahan; from memory).
        let whole = self + 1.0;
        let kept = whole - 1.0;
        let lost = kept.abs().below(self.of(1e-300));
        let safe = Self::choose(lost, self.of(1.0), kept);
        Self::choose(lost, self, whole.ln() * (self / safe))
    }
    #[inline(always)]
    fn powf(self, exponent: f64) -> Self {
        (self.ln() * exponent).exp()
    }
    #[inline(always)]
    fn min(self, other: Self) -> Self {
        Self::choose(other.below(self), other, self)
    }
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        Self::choose(self.below(other), other, self)
    }
    #[inline(always)]
    fn below(self, other: Self) -> Self::Mask {
        Which(self.0.simd_lt(other.0))
    }
    #[inline(always)]
    fn choose(mask: Self::Mask, yes: Self, no: Self) -> Self {
        Self(Select::select(mask.0, yes.0, no.0))
    }
    #[inline(always)]
    fn without(mask: Self::Mask, other: Self::Mask) -> Self::Mask {
        Which(mask.0 & !other.0)
    }
    #[inline(always)]
    fn any(mask: Self::Mask) -> bool {
        mask.0.any_true()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Four functions of eight numbers at a time.
    struct Functions<'a>(&'a [f64]);

    impl Vectors for Functions<'_> {
        type Output = Vec<[f64; 4]>;

        #[inline(always)]
        fn run<R: Real>(self, like: R) -> Self::Output {
            let groups = self.0.chunks(R::COUNT);
            groups
                .flat_map(|group| {
                    let x = like.made(|k| group[k.min(group.len() - 1)]);
                    let (e, less) = (x.exp(), x.exp_m1());
                    let (ln, more) = (x.abs().ln(), x.abs().ln_1p());
                    let one = |k| [e.one(k), less.one(k), ln.one(k), more.one(k)];
                    (0..group.len()).map(one).collect::<Vec<_>>()
                })
                .collect()
        }
    }

    /// Of both signs, from 1e-9 to 600, and some whole ones.
    fn numbers() -> Vec<f64> {
        let sizes = (0..20_000).map(|k| 1e-9 * (1.3552e-3 * f64::from(k)).exp());
        let signed = sizes.flat_map(|x| [x, -x]);
        signed.chain((1..60).map(f64::from)).collect()
    }

    fn ulp(x: f64) -> f64 {
        let x = x.abs();
        f64::from_bits(x.to_bits() + 1) - x
    }

    #[test]
    fn exponentials_and_logarithms_are_those_of_the_library() {
        let numbers = numbers();
        let mut worst = [0.0_f64; 4];
        for (x, found) in numbers.iter().zip(on_this_machine(Functions(&numbers))) {
            let true_ones = [x.exp(), x.exp_m1(), x.abs().ln(), x.abs().ln_1p()];
            for ((worst, found), truth) in worst.iter_mut().zip(found).zip(true_ones) {
                *worst = worst.max((found - truth).abs() / ulp(truth));
            }
        }
        // Each stated to 2 ulp, the logarithm of 1 + x to twice that: two roundings more. The library's are within one.
        for (worst, most) in worst.into_iter().zip([3.0, 3.0, 3.0, 5.0]) {
            assert!(worst <= most, "{worst}");
        }
    }

    #[test]
    fn every_vector_unit_gives_the_same_bits() {
        let numbers = numbers();
        let found = on_each_unit(|| Functions(&numbers));
        let bits = |of: &[[f64; 4]]| of.as_flattened().iter().map(|x| x.to_bits()).collect();
        let found: Vec<Vec<u64>> = found.iter().map(|of| bits(of)).collect();
        assert!(found.windows(2).all(|pair| pair[0] == pair[1]));
    }

    #[test]
    fn ends_are_kept() {
        let ends = [-1e9, f64::NEG_INFINITY, 1e9];
        let [[gone, ..], [none, ..], [most, ..]] = on_this_machine(Functions(&ends))[..] else {
            panic!("three numbers")
        };
        assert!(gone < 1e-307 && none < 1e-307 && most > 1e307);
    }
}
