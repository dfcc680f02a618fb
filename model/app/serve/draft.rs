//! A plan as it stands in a form, and the files that say the same.

use super::car::Job;
use super::frame::AIR;
use crate::output::Failure;
use pullcast::ask::basis::Air;
use pullcast::ask::quote::Question;
use pullcast::belief::Prior;
use pullcast::files::TomlFile;
use pullcast::files::{plan as plan_file, weather};
use pullcast::parts::row::Holds;
use pullcast::parts::{Plan, kinds};

/// Changes that a plan on a page may hold.
pub(super) const MOST_CHANGES: usize = 24;
/// Fields that belong to the moment and not to the plan.
const PASSING: [&str; 5] = ["do", "new", "ask", "who", "place"];

/// Fields of a form in their order.
pub(crate) type Fields = Vec<(String, String)>;

/// A plan as it stands in the form.
#[derive(Debug, Clone, Default)]
pub(crate) struct Draft {
    /// Kind and written values of each change.
    pub(super) changes: Vec<(String, Fields)>,
    pub(super) fields: Fields,
}

impl Draft {
    pub(super) fn of(fields: Fields) -> Self {
        let mut draft = Self::default();
        // Kinds first: a form with logs does not keep the order of its fields.
        while draft.changes.len() < MOST_CHANGES {
            let wanted = format!("kind.{}", draft.changes.len());
            let Some((_, kind)) = fields.iter().find(|(name, _)| *name == wanted) else {
                break;
            };
            draft.changes.push((kind.clone(), Vec::new()));
        }
        for (name, value) in &fields {
            if let Some((place, key)) = name.split_once('.')
                && let Some(change) = place
                    .parse()
                    .ok()
                    .and_then(|n: usize| draft.changes.get_mut(n))
            {
                change.1.push((key.to_owned(), value.trim().to_owned()));
            }
        }
        draft.fields = fields;
        draft
    }

    pub(super) fn text(&self, name: &str) -> &str {
        let found = self.fields.iter().find(|(key, _)| key == name);
        found.map_or("", |(_, value)| value.trim())
    }

    /// Its name, or a usual one.
    pub(super) fn name(&self) -> &str {
        match self.text("name") {
            "" => "planned work",
            name => name,
        }
    }

    /// What a pressed button asks for.
    pub(super) fn pressed(&mut self) {
        let asked = self.text("do").to_owned();
        if asked == "add" {
            let kind = self.text("new").to_owned();
            if kinds().any(|k| k.word == kind) && self.changes.len() < MOST_CHANGES {
                self.changes.push((kind, Vec::new()));
            }
        } else if let Some(place) = asked.strip_prefix("drop.").and_then(|n| n.parse().ok())
            && self.changes.len() > place
        {
            self.changes.remove(place);
        }
    }

    /// The fields that make it again: to be carried along by another form.
    pub(super) fn kept(&self) -> Fields {
        let mut kept: Fields = Vec::new();
        for (place, (kind, fields)) in self.changes.iter().enumerate() {
            kept.push((format!("kind.{place}"), kind.clone()));
            let of = fields.iter().filter(|(_, value)| !value.is_empty());
            kept.extend(of.map(|(key, value)| (format!("{place}.{key}"), value.clone())));
        }
        let own = |name: &str| !name.contains('.') && !PASSING.contains(&name);
        let rest = self
            .fields
            .iter()
            .filter(|(name, value)| own(name) && !value.is_empty());
        kept.extend(rest.cloned());
        kept
    }

    /// The plan file that says the same.
    pub(super) fn toml(&self) -> String {
        let mut changes = Vec::new();
        for (kind, fields) in &self.changes {
            let mut change = toml::Table::new();
            change.insert("kind".to_owned(), kind.as_str().into());
            let rows = kinds()
                .find(|k| k.word == *kind)
                .map_or(&[][..], |k| k.rows);
            for row in rows {
                let written = fields.iter().find(|(key, _)| key == row.key);
                let Some((_, value)) = written.filter(|(_, value)| !value.is_empty()) else {
                    continue;
                };
                let value: toml::Value = match (row.holds, value.as_str()) {
                    (Holds::Switch, "true") => true.into(),
                    (Holds::Switch, "false") => false.into(),
                    (Holds::Count(..), text) if text.parse::<i64>().is_ok() => {
                        text.parse::<i64>().unwrap_or_default().into()
                    }
                    (_, text) => text.into(),
                };
                change.insert(row.key.to_owned(), value);
            }
            changes.push(toml::Value::Table(change));
        }
        let mut plan = toml::Table::new();
        plan.insert("kind".to_owned(), "plan".into());
        plan.insert("version".to_owned(), 1.into());
        plan.insert("name".to_owned(), self.name().into());
        plan.insert("change".to_owned(), toml::Value::Array(changes));
        plan.to_string()
    }

    /// The plan, checked against the car; none where nothing is planned.
    pub(super) fn plan(&self, job: &Job) -> Result<Option<Plan<Prior>>, Failure> {
        if self.changes.is_empty() {
            return Ok(None);
        }
        let file = TomlFile::parse("the plan", &self.toml())?;
        let (plan, _) = plan_file::read(&file, job.folder())?;
        plan.check(&job.car.sheet.centre.car)?;
        Ok(Some(plan.plan))
    }

    /// The plan, where there has to be one.
    pub(super) fn some_plan(&self, job: &Job) -> Result<Plan<Prior>, Failure> {
        let lacking = || Failure::Usage("add at least one change to the plan first".to_owned());
        self.plan(job)?.ok_or_else(lacking)
    }

    /// The weather file of the pull after, where anything is said of it.
    pub(super) fn weather(&self) -> Option<String> {
        let mut air = toml::Table::new();
        for key in AIR {
            if !self.text(key).is_empty() {
                air.insert(key.to_owned(), self.text(key).into());
            }
        }
        if air.is_empty() {
            return None;
        }
        air.insert("kind".to_owned(), "weather".into());
        air.insert("version".to_owned(), 1.into());
        Some(air.to_string())
    }

    pub(super) fn air(&self) -> Result<Option<Air>, Failure> {
        let Some(text) = self.weather() else {
            return Ok(None);
        };
        let (read, _) = weather::read(&TomlFile::parse("the air after the work", &text)?)?;
        Ok(Some(Air::stated(read.day, "as entered")))
    }

    /// Peak power that the customer hopes for, W.
    pub(super) fn hoped(&self) -> Result<Option<f64>, Failure> {
        match self.text("hoped") {
            "" => Ok(None),
            text => crate::values::target(text)
                .map(Some)
                .map_err(Failure::Usage),
        }
    }

    /// The question of the range to promise.
    pub(super) fn question<'q>(
        &self,
        desk: &super::Desk,
        job: &'q Job,
        plan: &'q Plan<Prior>,
    ) -> Result<Question<'q>, Failure> {
        Ok(Question {
            standard: desk.standard(),
            noise: desk.shop.noise(),
            learned: desk.own_jobs().1,
            hoped_w: self.hoped()?,
            ..Question::new(job.sheet(), plan, job.visits(), self.air()?)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(pairs: &[(&str, &str)]) -> Fields {
        let owned = |(a, b): &(&str, &str)| ((*a).to_owned(), (*b).to_owned());
        pairs.iter().map(owned).collect()
    }

    #[test]
    fn a_form_becomes_the_plan_file_that_says_the_same() {
        let mut draft = Draft::of(fields(&[
            ("name", "pulley \"up\"\n[x]"),
            ("kind.0", "pulley"),
            ("0.ratio_factor", "1.1"),
            ("0.no_such_key", "1"),
            ("kind.7", "pulley"),
            ("new", "mixture"),
            ("do", "add"),
        ]));
        draft.pressed();
        let plan: toml::Table =
            toml::from_str(&draft.toml()).expect("sound TOML whatever was typed");
        assert_eq!(plan["name"].as_str(), Some("pulley \"up\"\n[x]"));
        let changes = plan["change"].as_array().expect("a list");
        assert_eq!(changes.len(), 2);
        assert_eq!(changes[0]["ratio_factor"].as_str(), Some("1.1"));
        assert!(changes[0].get("no_such_key").is_none());
        assert_eq!(changes[1]["kind"].as_str(), Some("mixture"));
        // Carried along by another form it is the same plan.
        assert_eq!(Draft::of(draft.kept()).toml(), draft.toml());
        draft.fields = fields(&[("do", "drop.0")]);
        draft.pressed();
        assert_eq!(draft.changes.len(), 1);
    }
}
