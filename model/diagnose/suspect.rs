//! A cause held against a log: its sizes and evidence, its probability, and the trace it left.
//!
//! Exists so that what finds these and what reads them need not know each other. It refuses to compute any of them.

use super::cause::Cause;
use super::disturb::{ExpectedLog, Fault};
use super::expect::{Channel, Fact};
use super::form::Form;
use super::rival::Trials;
use super::size::Size;
use crate::dyno::Pull;
use nalgebra::DMatrix;
use std::sync::Arc;

/// A cause with its sizes as the log would have them.
#[derive(Debug, Clone)]
pub struct Explained {
    /// The cause.
    pub cause: Cause,
    /// How it shows.
    pub form: Form,
    /// Another cause at work with it, where the log asks for two.
    pub with: Option<(Cause, Form)>,
    /// How many of its numbers describe the first of two causes.
    pub(super) own: usize,
    /// What its numbers mean.
    pub sizes: Vec<Size>,
    /// The numbers, SI.
    pub values: Vec<f64>,
    /// Lower and upper end of their central 90 %.
    pub intervals: Vec<(f64, f64)>,
    /// Logarithm of the evidence.
    pub log_evidence: f64,
    /// Sizes tried on the way.
    pub trials: Trials,
    /// What follows from the numbers: its meaning, value and central 90 %.
    pub derived: Vec<(Size, f64, (f64, f64))>,
    /// Logarithm of the likelihood at the peak, curve by curve in the order of the scene, then the facts.
    pub(super) parts: Vec<f64>,
    /// What the log would show.
    pub(super) shown: Arc<ExpectedLog>,
    /// What it would show of a fault at the rig alone, where one in the car is at work with it.
    pub(super) by_rig: Option<Arc<ExpectedLog>>,
    /// Peak and covariance in standardised coordinates.
    pub(super) peak: (Vec<f64>, DMatrix<f64>),
}

impl Explained {
    /// The causes at work.
    pub(super) fn faults(&self) -> Vec<Fault> {
        let (cause, form) = (self.cause, self.form);
        let other = self.with.map(|(cause, form)| Fault { cause, form });
        std::iter::once(Fault { cause, form })
            .chain(other)
            .collect()
    }

    /// What it says of one of its causes; nothing of others.
    pub(super) fn part(&self, cause: Cause) -> Option<Self> {
        if self.cause == cause {
            let own = self.own;
            return Some(Self {
                sizes: self.sizes[..own].to_vec(),
                values: self.values[..own].to_vec(),
                intervals: self.intervals[..own].to_vec(),
                ..self.clone()
            });
        }
        let (other, form) = self.with.filter(|with| with.0 == cause)?;
        let own = self.own;
        Some(Self {
            cause: other,
            form,
            with: Some((self.cause, self.form)),
            sizes: self.sizes[own..].to_vec(),
            values: self.values[own..].to_vec(),
            intervals: self.intervals[own..].to_vec(),
            derived: Vec::new(),
            ..self.clone()
        })
    }

    /// Every number with its meaning and central 90 %, what follows from others first.
    pub fn numbers(&self) -> Vec<(Size, f64, (f64, f64))> {
        let own = self.sizes.iter().zip(&self.values).zip(&self.intervals);
        let own = own.map(|((size, value), interval)| (*size, *value, *interval));
        self.derived.iter().copied().chain(own).collect()
    }

    /// The pull behind what the log would show.
    pub fn pull(&self) -> &Pull {
        &self.shown.pull
    }
}

/// A cause with everything known about it.
#[derive(Debug, Clone)]
pub struct Suspect {
    /// The cause, its likeliest form, sizes and evidence.
    pub explained: Explained,
    /// Its probability.
    pub probability: f64,
    /// Other ways of it that the log bears out as well.
    pub alike: Vec<Form>,
    /// Change of peak power at the drums that it makes, W; of what the rig shows where the rig is at fault.
    pub power_w: f64,
    /// Engine speed at which it changes power most, rpm, and the relative change there.
    pub worst: (f64, f64),
    /// What it accounts for in the log, most telling first.
    pub signs: Vec<Sign>,
    /// What is in the log and the cause leaves unexplained, worst first.
    pub left: Vec<Sign>,
    /// What was seen and what the cause makes, curve by curve.
    pub traces: Vec<Trace>,
}

/// A curve of the odd pull against that of a sound one.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// Which.
    pub channel: Channel,
    /// Engine speed as reported, rpm; what was measured less sound; what the cause makes it less sound.
    pub points: Vec<(f64, f64, f64)>,
}

/// A part of the log that speaks for a cause.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Sign {
    /// A curve: what was seen and what the cause makes it, both against a sound pull, where it speaks most.
    Curve {
        /// Which.
        channel: Channel,
        /// Engine speed, rpm.
        rpm: f64,
        /// Measured less sound.
        seen: f64,
        /// Cause less sound.
        explained: f64,
        /// By how much the log's logarithmic likelihood rises for it; of what is left, its standard deviations.
        weight: f64,
    },
    /// A fact about the rig.
    Fact {
        /// Which.
        fact: Fact,
        /// As found; zero is right.
        seen: f64,
        /// As the cause would make it.
        explained: f64,
        /// By how much the log's logarithmic likelihood rises for it.
        weight: f64,
    },
}

impl Sign {
    /// By how much the logarithmic likelihood rises for it.
    pub const fn weight(&self) -> f64 {
        match self {
            Self::Curve { weight, .. } | Self::Fact { weight, .. } => *weight,
        }
    }
}
