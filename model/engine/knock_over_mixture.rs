//! The knock map over the mixture: whole maps at steps of λ, made when first asked for, and straight lines between.
//!
//! Exists because a search for a mixture asks for a hundred maps of one cylinder, and each costs milliseconds. It refuses
//! to follow any other input than λ: another cylinder or fuel needs another of these.
//!
//! Source: derived by tabulating [`KnockMap`]; what the straight lines cost is measured in `validation/knock.rs`.

use super::knock_map::{KnockMap, KnockMapInput};
use super::whole_part;
use std::sync::OnceLock;

/// Step of λ. λ = 1, where the heat released bends, is a node.
const STEP: f64 = 0.05;
const NODES: usize = 41;

/// Knock maps of one cylinder and fuel at any mixture.
#[derive(Debug, Clone)]
pub struct KnockOverMixture {
    input: KnockMapInput,
    made: Vec<OnceLock<KnockMap>>,
}

impl KnockOverMixture {
    /// Nothing is made yet; the λ of the input is not used.
    pub fn new(input: KnockMapInput) -> Self {
        Self {
            input,
            made: vec![OnceLock::new(); NODES],
        }
    }

    /// What the map at a mixture is made for.
    pub fn input(&self, lambda: f64) -> KnockMapInput {
        KnockMapInput {
            lambda,
            ..self.input
        }
    }

    /// The map at a mixture; between λ 0 and 2 by straight lines, beyond by itself.
    pub fn at(&self, lambda: f64) -> KnockMap {
        let place = lambda / STEP;
        if !(0.0..NODES as f64 - 1.0).contains(&place) {
            return KnockMap::build(&self.input(lambda));
        }
        let below = whole_part(place);
        let share = place - below as f64;
        let node = |index: usize| {
            self.made[index].get_or_init(|| KnockMap::build(&self.input(STEP * index as f64)))
        };
        if share == 0.0 {
            return node(below).clone();
        }
        node(below).toward(node(below + 1), share)
    }
}
