//! From the words of a header to what they name: ideas in any language, and the ideas that name a channel together.
//!
//! A list of headers would know the loggers its writer has seen. Here `Motordrehzahl`, `régime moteur` and `EngineSpeed` are two ideas, engine and rotation,
//! and any order, case, accent or compound of their words is the same name. It refuses to pass over a word that it does not know: a
//! `target boost` is not a boost.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::LazyLock;

use serde::Deserialize;

use super::channel::Channel;

/// What a table of names says it is.
const KIND: &str = "names";
/// The form of it that is read here.
const VERSION: i64 = 1;

/// The table as written in `names.toml`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    #[serde(default)]
    kind: Option<String>,
    #[serde(default)]
    version: Option<i64>,
    #[serde(default)]
    words: BTreeMap<String, String>,
    #[serde(default)]
    shorthand: BTreeMap<String, String>,
    #[serde(default)]
    names: BTreeMap<String, String>,
    #[serde(default)]
    channels: BTreeMap<String, Vec<String>>,
}

/// What a name names, and the unit that one of its words brings.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Named {
    /// Channels of that name; several where their dimension tells them apart.
    pub(super) channels: Vec<Channel>,
    /// The unit of a word such as `whp`.
    pub(super) unit: Option<String>,
    /// Whether the name says where power or torque was measured.
    pub(super) placed: bool,
    /// Whether it is a mixture in kilograms of air per kilogram of fuel.
    pub(super) air_fuel: bool,
    /// Whether it is one over the channel.
    pub(super) inverse: bool,
    /// Sides or axles that it is a part of: front, rear, left, right; none where both of a pair are named.
    pub(super) sides: Vec<String>,
}

/// The words known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lexicon {
    /// Ideas of each word.
    words: HashMap<String, Vec<String>>,
    shorthand: HashMap<String, String>,
    /// Whole names, words in order.
    names: HashMap<String, Channel>,
    /// Sets of ideas, sorted, and their channels.
    rules: HashMap<String, Vec<Channel>>,
}

/// An idea that says nothing.
const QUIET: &str = "quiet";
/// Ideas that say where something is measured.
const PLACES: &[&str] = &["wheel", "drum", "hub", "crank", "engine"];
/// Pairs of sides, each of which is a part.
const SIDES: [[&str; 2]; 2] = [["front", "rear"], ["left", "right"]];
/// Shortest part of a compound; the shortest words for oil are shorter.
const SHORTEST_PART: usize = 3;
/// Meanings tried of a name whose words have several.
const MOST_READINGS: usize = 256;

/// The program's own table.
pub(super) static OWN: LazyLock<Lexicon> = LazyLock::new(|| {
    let mut lexicon = Lexicon {
        words: HashMap::new(),
        shorthand: HashMap::new(),
        names: HashMap::new(),
        rules: HashMap::new(),
    };
    // A test reads it too; a table that cannot be read knows no names.
    let _ = lexicon.add(include_str!("names.toml"));
    lexicon
});

impl Default for Lexicon {
    fn default() -> Self {
        OWN.clone()
    }
}

/// Whether a header names drums, rolls or rollers, alone or at the front of a compound.
pub(in crate::files) fn names_drums(header: &str) -> bool {
    let of_drums = |known: &String| {
        let ideas = OWN.words.get(known);
        known.len() > SHORTEST_PART && ideas.is_some_and(|ideas| ideas.iter().any(|i| i == "drum"))
    };
    words_of(header).iter().any(|word| {
        let mut known = OWN.words.keys();
        known.any(|known| of_drums(known) && fold(word).starts_with(known.as_str()))
    })
}

impl Lexicon {
    /// Adds a table of the same form; what it says comes before what was there.
    pub(super) fn add(&mut self, text: &str) -> Result<(), String> {
        let written: Written = toml::from_str(text).map_err(|error| error.to_string())?;
        if let Some(kind) = written.kind.filter(|kind| kind != KIND) {
            return Err(format!(
                "kind = \"{kind}\" is not that of a table of names, \"{KIND}\""
            ));
        }
        if let Some(version) = written.version.filter(|version| *version != VERSION) {
            return Err(format!(
                "version = {version} is not known; this program reads version {VERSION}"
            ));
        }
        let channel = |name: &str| {
            Channel::named(name).ok_or_else(|| format!("'{name}' is not the name of a channel"))
        };
        for (idea, words) in &written.words {
            for word in words.split_whitespace() {
                let ideas = self.words.entry(fold(word)).or_default();
                if !ideas.contains(idea) {
                    ideas.push(idea.clone());
                }
            }
        }
        for (word, meant) in written.shorthand {
            self.shorthand.insert(fold(&word), meant);
        }
        for (name, of) in &written.names {
            self.names.insert(words_of(name).join(" "), channel(of)?);
        }
        for (name, rules) in &written.channels {
            let channel = channel(name)?;
            for rule in rules {
                let ideas: BTreeSet<&str> = rule.split_whitespace().collect();
                let channels = self.rules.entry(key(&ideas)).or_default();
                if !channels.contains(&channel) {
                    channels.push(channel);
                }
            }
        }
        Ok(())
    }

    /// What words name, if every one of them is known and together they name something.
    pub(super) fn named(&self, words: &[String]) -> Named {
        if let Some(&channel) = self.names.get(&words.join(" ")) {
            return Named {
                channels: vec![channel],
                placed: true,
                air_fuel: channel == Channel::Lambda,
                ..Named::default()
            };
        }
        let mut unit = None;
        let mut ideas: Vec<Vec<&str>> = Vec::new();
        let joined = self.joined(words);
        for word in &joined {
            if word.bytes().all(|byte| byte.is_ascii_digit()) {
                continue;
            }
            let Some(of_word) = self.ideas(word, &mut unit) else {
                return Named::default();
            };
            ideas.extend(of_word);
        }
        ideas.retain(|ideas| ideas.as_slice() != [QUIET]);
        let readings: usize = ideas.iter().map(Vec::len).product();
        if ideas.is_empty() || readings > MOST_READINGS {
            return Named::default();
        }
        let mut found = Named {
            unit,
            ..Named::default()
        };
        for reading in 0..readings {
            let mut rest = reading;
            let mut set = BTreeSet::new();
            for choices in &ideas {
                let idea = choices[rest % choices.len()];
                rest /= choices.len();
                if idea != QUIET {
                    set.insert(idea);
                }
            }
            let mut sides = Vec::new();
            for pair in SIDES {
                let named: Vec<&str> = pair.into_iter().filter(|side| set.remove(side)).collect();
                if let [only] = named.as_slice() {
                    sides.push((*only).to_owned());
                }
            }
            for &channel in self.rules.get(&key(&set)).into_iter().flatten() {
                if !found.channels.contains(&channel) {
                    found.channels.push(channel);
                    found.sides.clone_from(&sides);
                    // The intake's own air says more than the room's.
                    found.placed |= PLACES.iter().any(|place| set.contains(place))
                        || (channel == Channel::InletTemperature
                            && set.contains("intake")
                            && !set.contains("ambient"));
                    found.inverse |= set.contains("richness");
                    found.air_fuel |= set.contains("afr") || set.contains("fuel");
                }
            }
        }
        found
    }

    /// Neighbours that are one word of the shorthand together: `ft-lb`.
    fn joined(&self, words: &[String]) -> Vec<String> {
        let mut joined: Vec<String> = Vec::with_capacity(words.len());
        for word in words {
            if let Some(last) = joined.last_mut()
                && !self.words.contains_key(last.as_str())
                && self.shorthand.contains_key(&format!("{last}{word}"))
            {
                last.push_str(word);
            } else {
                joined.push(word.clone());
            }
        }
        joined
    }

    /// What words would name if those that nobody knows said nothing.
    pub(super) fn loosely(&self, words: &[String]) -> Vec<Channel> {
        let known: Vec<String> = words
            .iter()
            .filter(|word| self.ideas(word, &mut None).is_some())
            .cloned()
            .collect();
        let named = self.named(&known);
        // One side is not the whole.
        if named.sides.is_empty() {
            named.channels
        } else {
            Vec::new()
        }
    }

    /// The ideas of one word, of its parts where it is a compound or stands for several; none where it is not known.
    fn ideas(&self, word: &str, unit: &mut Option<String>) -> Option<Vec<Vec<&str>>> {
        if let Some(meant) = self.shorthand.get(word) {
            let (name, of) = super::words::split_bracket(meant);
            if let Some(of) = of {
                *unit = Some(of.to_owned());
            }
            return name
                .split_whitespace()
                .map(|word| self.simple(word))
                .collect();
        }
        if let Some(ideas) = self.simple(word) {
            return Some(vec![ideas]);
        }
        // An umlaut written as two letters.
        let single = word
            .replace("ae", "a")
            .replace("oe", "o")
            .replace("ue", "u");
        if let Some(ideas) = self.simple(&single) {
            return Some(vec![ideas]);
        }
        self.parts(word, unit).or_else(|| self.parts(&single, unit))
    }

    fn simple(&self, word: &str) -> Option<Vec<&str>> {
        let ideas = self.words.get(word)?;
        Some(ideas.iter().map(String::as_str).collect())
    }

    /// A compound taken apart: the longest first part whose rest is known too. Parts are joined as they are, or by s, n, en, e.
    fn parts(&self, word: &str, unit: &mut Option<String>) -> Option<Vec<Vec<&str>>> {
        let known = |part: &str| self.words.contains_key(part) || self.shorthand.contains_key(part);
        let cuts = word.char_indices().map(|(at, _)| at).skip(2);
        for at in cuts.collect::<Vec<_>>().into_iter().rev() {
            let (first, rest) = word.split_at(at);
            if !known(first) || (first.len() < SHORTEST_PART && first != "ol") {
                continue;
            }
            for joint in ["", "s", "en", "n", "e"] {
                let Some(rest) = rest.strip_prefix(joint) else {
                    continue;
                };
                // Of a part and a number the number says nothing: `afr1`.
                if rest.is_empty() && joint.is_empty() {
                    continue;
                }
                if rest.bytes().all(|byte| byte.is_ascii_digit()) && !rest.is_empty() {
                    return self.ideas(first, unit);
                }
                if rest.len() < 2 {
                    continue;
                }
                if let Some(more) = self.ideas(rest, unit) {
                    let mut ideas = self.ideas(first, unit)?;
                    ideas.extend(more);
                    return Some(ideas);
                }
            }
        }
        None
    }
}

fn key(ideas: &BTreeSet<&str>) -> String {
    ideas.iter().copied().collect::<Vec<_>>().join(" ")
}

/// Lower case without accents; what German and Polish write with two letters or one, with one.
pub(super) fn fold(word: &str) -> String {
    let mut folded = String::with_capacity(word.len());
    for letter in word.chars().flat_map(char::to_lowercase) {
        match letter {
            'ä' | 'á' | 'à' | 'â' | 'ã' | 'å' | 'ą' | 'ă' => folded.push('a'),
            'ö' | 'ó' | 'ò' | 'ô' | 'õ' | 'ø' | 'ő' => folded.push('o'),
            'ü' | 'ú' | 'ù' | 'û' | 'ű' | 'ů' => folded.push('u'),
            'é' | 'è' | 'ê' | 'ë' | 'ę' | 'ě' => folded.push('e'),
            'í' | 'ì' | 'î' | 'ï' => folded.push('i'),
            'ç' | 'ć' | 'č' => folded.push('c'),
            'ñ' | 'ń' | 'ň' => folded.push('n'),
            'ś' | 'š' | 'ş' => folded.push('s'),
            'ź' | 'ż' | 'ž' => folded.push('z'),
            'ł' => folded.push('l'),
            'ř' => folded.push('r'),
            'ý' => folded.push('y'),
            'ť' => folded.push('t'),
            'ď' => folded.push('d'),
            'ß' => folded.push_str("ss"),
            'æ' => folded.push_str("ae"),
            'œ' => folded.push_str("oe"),
            // Combining accents of decomposed text.
            '\u{300}'..='\u{36f}' => {}
            'λ' => folded.push_str("lambda"),
            other => folded.push(other),
        }
    }
    folded
}

/// Words of a header, folded: parted at blanks, signs, and where small letters meet capitals.
pub(super) fn words_of(name: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word = String::new();
    let mut before: Option<char> = None;
    let letters: Vec<char> = name.chars().collect();
    for (at, &letter) in letters.iter().enumerate() {
        let next_small = letters.get(at + 1).is_some_and(|c| c.is_lowercase());
        let hump = letter.is_uppercase()
            && before.is_some_and(|b| {
                b.is_lowercase() || b.is_ascii_digit() || (b.is_uppercase() && next_small)
            });
        if !letter.is_alphanumeric() || hump {
            words.push(std::mem::take(&mut word));
        }
        if letter.is_alphanumeric() || ('\u{300}'..='\u{36f}').contains(&letter) {
            word.push(letter);
        }
        before = Some(letter);
    }
    words.push(word);
    words
        .iter()
        .filter(|word| !word.is_empty())
        .map(|word| fold(word))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(name: &str) -> Vec<Channel> {
        let mut channels = OWN.named(&words_of(name)).channels;
        channels.sort();
        channels
    }

    #[test]
    fn the_table_can_be_read() {
        let mut lexicon = OWN.clone();
        assert_eq!(lexicon.add(include_str!("names.toml")), Ok(()));
        assert!(lexicon.add("[channels]\n\"flux\" = [\"power\"]\n").is_err());
        assert!(lexicon.add("[word]\nx = \"y\"\n").is_err());
        assert!(lexicon.add("kind = \"car\"\n").is_err());
        assert!(lexicon.add("version = 2\n").is_err());
    }

    #[test]
    #[expect(clippy::too_many_lines, reason = "a table of cases")]
    fn one_channel_has_its_name_in_many_languages() {
        use Channel as C;
        for (channel, names) in [
            (
                C::EngineSpeed,
                &[
                    "EngineSpeed",
                    "RPM",
                    "Motordrehzahl",
                    "régime moteur",
                    "Giri motore",
                    "toerental",
                    "Motorvarvtal",
                    "obroty silnika",
                    "Rotação do motor",
                    "régimen del motor",
                    "engine_rpm",
                    "Crank Speed",
                    "Drehzahl",
                ][..],
            ),
            (
                C::WheelPower,
                &[
                    "WHP",
                    "Wheel HP",
                    "wheelpower",
                    "Radleistung",
                    "Leistung am Rad",
                    "Puissance aux roues",
                    "potencia a la rueda",
                    "Potenza ruote",
                    "hjuleffekt",
                    "moc na kołach",
                    "wielvermogen",
                    "HP",
                    "Power",
                    "Potência nas rodas",
                ],
            ),
            (
                C::CorrectedWheelPower,
                &[
                    "Corrected Power",
                    "Leistung korrigiert",
                    "puissance corrigée",
                    "Power (SAE)",
                ],
            ),
            (
                C::CrankPower,
                &[
                    "Motorleistung",
                    "Puissance moteur",
                    "flywheel power",
                    "Engine Power",
                    "potencia motor",
                ],
            ),
            (C::MotorPower, &["motor power", "electric power"]),
            (
                C::WheelTorque,
                &[
                    "Torque",
                    "wheel_torque",
                    "Raddrehmoment",
                    "couple roues",
                    "coppia",
                ],
            ),
            (
                C::CoolantTemperature,
                &[
                    "Kühlmitteltemperatur",
                    "coolant temp",
                    "ECT",
                    "Kuehlwassertemperatur",
                    "Temp. eau",
                ],
            ),
            (
                C::InletTemperature,
                &["IAT", "Ansauglufttemperatur", "intake air temp"],
            ),
            (
                C::ThrottlePosition,
                &["TPS", "Drosselklappe", "throttle", "Gaspedal"],
            ),
            (
                C::Time,
                &[
                    "Timestamp",
                    "Zeit",
                    "elapsed time",
                    "tiempo",
                    "czas",
                    "seconds",
                ],
            ),
            (C::Lambda, &["AFR", "Lambda 1", "Air/Fuel Ratio", "λ"]),
        ] {
            for name in names {
                assert!(named(name).contains(&channel), "{name}: {:?}", named(name));
            }
        }
    }

    #[test]
    fn a_word_that_changes_the_meaning_is_not_passed_over() {
        for name in [
            "target boost",
            "RPM limit",
            "power loss",
            "flux capacitor",
            "Schleppleistung",
            "roll force sd",
            "gear",
            "",
        ] {
            assert_eq!(named(name), [], "{name}");
        }
    }
}
