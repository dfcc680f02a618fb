//! A number, or as many side by side as a vector unit takes: what the equations of a car are written in.
//!
//! Exists so that an equation stands once, and is computed at one engine speed or at eight in the time of one. A constant stands to the
//! right of an operator; `c − x` and `c/x` have names. Where a case decides, both answers are computed and one is chosen. It refuses fused
//! products and sums, and powers of the C library: what is side by side comes out the same on every machine, to the last bit.

mod lanes;

#[cfg(test)]
pub(crate) use lanes::on_each_unit;
pub(crate) use lanes::{LANES, Vectors, on_this_machine};

use std::ops::{Add, BitAnd, BitOr, Div, Mul, Neg, Sub};

/// A number, or several.
pub trait Real:
    Copy
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
{
    /// What is true or false of each.
    type Mask: Copy + BitAnd<Output = Self::Mask> + BitOr<Output = Self::Mask>;
    /// How many.
    const COUNT: usize;

    /// A number, as many times as there are here.
    #[must_use]
    fn of(self, value: f64) -> Self;
    /// One of them.
    fn one(self, which: usize) -> f64;
    /// Each made from its place.
    #[must_use]
    fn made(self, from: impl FnMut(usize) -> f64) -> Self;
    /// The whole part of a number from 0 on.
    #[must_use]
    fn whole(self) -> Self;
    /// `√x`.
    #[must_use]
    fn sqrt(self) -> Self;
    /// `|x|`.
    #[must_use]
    fn abs(self) -> Self;
    /// `eˣ`.
    #[must_use]
    fn exp(self) -> Self;
    /// `eˣ − 1`.
    #[must_use]
    fn exp_m1(self) -> Self;
    /// `ln x`, x above 0.
    #[must_use]
    fn ln(self) -> Self;
    /// `ln(1 + x)`, x above −1.
    #[must_use]
    fn ln_1p(self) -> Self;
    /// `xᶜ`, x above 0.
    #[must_use]
    fn powf(self, exponent: f64) -> Self;
    /// The smaller.
    #[must_use]
    fn min(self, other: Self) -> Self;
    /// The larger.
    #[must_use]
    fn max(self, other: Self) -> Self;
    /// Which are below others.
    fn below(self, other: Self) -> Self::Mask;
    /// The first where a mask is true, the second where not.
    #[must_use]
    fn choose(mask: Self::Mask, yes: Self, no: Self) -> Self;
    /// Which are true in the first and not in the second.
    fn without(mask: Self::Mask, other: Self::Mask) -> Self::Mask;
    /// Whether a mask is true anywhere.
    fn any(mask: Self::Mask) -> bool;

    /// No smaller than a bound.
    #[inline(always)]
    #[must_use]
    fn at_least(self, bound: f64) -> Self {
        self.max(self.of(bound))
    }
    /// No larger than a bound.
    #[inline(always)]
    #[must_use]
    fn at_most(self, bound: f64) -> Self {
        self.min(self.of(bound))
    }
    /// Held between two bounds.
    #[inline(always)]
    #[must_use]
    fn within(self, low: f64, high: f64) -> Self {
        self.at_least(low).at_most(high)
    }
    /// `c − x`.
    #[inline(always)]
    #[must_use]
    fn taken_from(self, value: f64) -> Self {
        self.of(value) - self
    }
    /// `c/x`.
    #[inline(always)]
    #[must_use]
    fn dividing(self, value: f64) -> Self {
        self.of(value) / self
    }
    /// `x²`.
    #[inline(always)]
    #[must_use]
    fn squared(self) -> Self {
        self * self
    }
}

impl Real for f64 {
    type Mask = bool;
    const COUNT: usize = 1;

    #[inline(always)]
    fn of(self, value: f64) -> Self {
        value
    }
    #[inline(always)]
    fn one(self, _which: usize) -> f64 {
        self
    }
    #[inline(always)]
    fn made(self, mut from: impl FnMut(usize) -> f64) -> Self {
        from(0)
    }
    #[inline(always)]
    #[expect(clippy::cast_possible_truncation, reason = "truncation is the purpose")]
    fn whole(self) -> Self {
        // Without a vector unit of its own, `floor` is a call.
        self as i64 as f64
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        self.sqrt()
    }
    #[inline(always)]
    fn abs(self) -> Self {
        self.abs()
    }
    #[inline(always)]
    fn exp(self) -> Self {
        self.exp()
    }
    #[inline(always)]
    fn exp_m1(self) -> Self {
        self.exp_m1()
    }
    #[inline(always)]
    fn ln(self) -> Self {
        self.ln()
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        self.ln_1p()
    }
    #[inline(always)]
    fn powf(self, exponent: f64) -> Self {
        self.powf(exponent)
    }
    #[inline(always)]
    fn min(self, other: Self) -> Self {
        self.min(other)
    }
    #[inline(always)]
    fn max(self, other: Self) -> Self {
        self.max(other)
    }
    #[inline(always)]
    fn below(self, other: Self) -> bool {
        self < other
    }
    #[inline(always)]
    fn choose(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }
    #[inline(always)]
    fn without(mask: bool, other: bool) -> bool {
        mask && !other
    }
    #[inline(always)]
    fn any(mask: bool) -> bool {
        mask
    }
}
