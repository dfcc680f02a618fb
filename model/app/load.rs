//! Reading the files a verb names: all of them before the first complaint, so that every mistake is seen at once.

use crate::args::{DrawArgs, StartArgs};
use crate::hint;
use crate::output::{Failure, Output, overwrite};
use pullcast::air::Day;
use pullcast::ask::basis;
use pullcast::ask::rules::Class;
use pullcast::belief::prior::Prior;
use pullcast::belief::sheet::Sheet;
use pullcast::dyno::pull::AxleStart;
use pullcast::files::inputs::kind_of;
use pullcast::files::schema::FileKind;
use pullcast::files::shelf::{self, Shelf, Taken};
use pullcast::files::shop::{self, ShopFile, ShownUnits};
use pullcast::files::{
    self, CarFile, Code, DrumLogFile, PlanFile, Problem, Problems, VisitFile, inputs,
};
use pullcast::parts::Plan;
use pullcast::report::Units;
use std::path::{Path, PathBuf};

/// A file of another kind than its place asks for.
pub(crate) const ANOTHER_KIND: Code = Code::new("another_kind");

/// Files being read, and what was found wrong in them.
#[derive(Debug)]
pub(crate) struct Files<'s> {
    out: Output<'s>,
    /// The verb that reads them.
    verb: &'static str,
    /// What was named, and as what.
    named: Vec<(PathBuf, FileKind)>,
    problems: Problems,
    /// What was read, and what that names.
    inputs: Vec<PathBuf>,
    /// Radius of the drums of the car read last, m.
    drum_radius_m: Option<f64>,
    /// Cars read: a fitted car may take the place of the car it was fitted from.
    cars: Vec<PathBuf>,
    outputs: Vec<Target>,
}

/// A file to be written.
#[derive(Debug)]
struct Target {
    path: PathBuf,
    force: bool,
    /// Whether it is a car file.
    car: bool,
}

/// The air of a pull, and where it came from.
#[derive(Debug, Clone)]
pub(crate) struct Air {
    pub(crate) day: Day,
    pub(crate) source: String,
    /// Altitude of the room, where the file states it, m.
    pub(crate) altitude_m: Option<f64>,
}

impl<'s> Files<'s> {
    pub(crate) fn of(verb: &'static str, out: Output<'s>) -> Self {
        Self {
            out,
            verb,
            named: Vec::new(),
            problems: Problems::new(),
            inputs: Vec::new(),
            cars: Vec::new(),
            outputs: Vec::new(),
            drum_radius_m: None,
        }
    }

    /// Puts the right call in the place of the complaints about files named in each other's place.
    fn rearranged(&mut self) {
        let found: Vec<_> = self
            .named
            .iter()
            .map(|(path, expected)| (path, *expected, kind_of(path).unwrap_or(*expected)))
            .collect();
        let call = hint::call(self.verb, &found);
        let mut problems = std::mem::take(&mut self.problems);
        for (path, expected, is) in found {
            if is == expected {
                continue;
            }
            let name = path.display().to_string();
            problems = problems.without_file(&name);
            let message = format!(
                "this is a {} file, given as the {} file",
                is.word(),
                expected.word()
            );
            let problem = Problem::of_file(ANOTHER_KIND, name, message);
            problems.push(
                problem
                    .expected(format!("a {} file", expected.word()))
                    .help(call.clone()),
            );
        }
        self.problems = problems;
    }

    fn keep<T>(&mut self, read: Result<(T, Problems), Problems>) -> Option<T> {
        match read {
            Ok((value, warnings)) => {
                self.problems.append(warnings);
                Some(value)
            }
            Err(problems) => {
                self.problems.append(problems);
                None
            }
        }
    }

    fn reads(&mut self, path: &Path, kind: FileKind) {
        self.named.push((path.to_owned(), kind));
        self.inputs.push(path.to_owned());
        self.inputs.extend(inputs::named_by(path));
    }

    pub(crate) fn car(&mut self, path: &Path) -> Option<CarFile> {
        self.cars.push(path.to_owned());
        self.named.push((path.to_owned(), FileKind::Car));
        self.inputs.extend(inputs::named_by(path));
        let read = shop::open_car(path, self.out.shop);
        let (car, taken) =
            self.keep(read.map(|(car, taken, problems)| ((car, taken), problems)))?;
        let profile = self.out.shop.path.as_deref().map(Path::display);
        if let Some(profile) = profile {
            let parts = [("rig", taken.rig), ("fuel", taken.pump)];
            for (what, name) in parts {
                if let Some(name) = name {
                    self.out.note(&format!("{what} '{name}' from {profile}"));
                }
            }
        }
        self.drum_radius_m = Some(car.sheet.centre.drums.radius_m);
        Some(car)
    }

    /// A plan, checked against the car where both could be read.
    pub(crate) fn plan(&mut self, path: &Path, car: Option<&CarFile>) -> Option<PlanFile> {
        self.reads(path, FileKind::Plan);
        let shelf = || shelf(self.out);
        let read = files::shelf::open_plan(path, shelf);
        let plan = self.keep(read)?;
        for Taken { name, version } in plan.from_shelf.iter().flat_map(|from| &from.taken) {
            self.out
                .note(&format!("part '{name}', version {version}, from the shelf"));
        }
        if let Some(car) = car {
            let setup = &car.sheet.centre;
            self.problems.append(plan.remarks(setup));
            if let Err(unfit) = plan.check(&setup.car) {
                self.problems.append(unfit);
            }
        }
        Some(plan)
    }

    /// Visits, in the order named. The same recording twice would count as twice the evidence.
    pub(crate) fn visits(&mut self, paths: &[PathBuf]) -> Vec<Option<VisitFile>> {
        for path in paths {
            self.reads(path, FileKind::Visit);
        }
        let visits: Vec<_> = paths
            .iter()
            .map(|path| self.keep(files::visit::open_on(path, self.drum_radius_m)))
            .collect();
        let read = paths.iter().map(PathBuf::as_path).zip(&visits);
        self.problems.append(files::visit::repeated(
            read.filter_map(|(path, file)| Some((path, file.as_ref()?))),
        ));
        visits
    }

    /// Visits of pulls on drums alone: what is held against them must be such a pull too.
    pub(crate) fn drum_visits(&mut self, paths: &[PathBuf]) -> Vec<Option<VisitFile>> {
        let visits = self.visits(paths);
        for problem in visits.iter().flatten().filter_map(VisitFile::not_on_drums) {
            self.problems.push(problem);
        }
        visits
    }

    pub(crate) fn drum_log(&mut self, path: &Path) -> Option<DrumLogFile> {
        self.reads(path, FileKind::DrumLog);
        self.keep(files::drum_log::open(path))
    }

    pub(crate) fn weather(&mut self, path: &Path) -> Option<Air> {
        self.reads(path, FileKind::Weather);
        let weather = self.keep(files::weather::open(path))?;
        Some(Air {
            day: weather.day,
            source: path.display().to_string(),
            altitude_m: weather.altitude_m,
        })
    }

    pub(crate) fn class(&mut self, path: &Path) -> Option<Class> {
        self.reads(path, FileKind::Class);
        self.keep(files::class::open(path))
    }

    pub(crate) fn station(
        &mut self,
        path: &Path,
        options: &files::station::Options,
    ) -> Option<files::Station> {
        self.inputs.push(path.to_owned());
        self.keep(files::station::open(path, options))
    }

    /// Charts to be written.
    pub(crate) fn drawing(&mut self, args: &DrawArgs, force: bool) {
        self.output(args.svg.as_deref(), force);
        self.output(args.png.as_deref(), force);
    }

    /// A table to be written. An output that would be refused is refused before the work, not after it.
    pub(crate) fn output(&mut self, path: Option<&Path>, force: bool) {
        self.target(path, force, false);
    }

    /// A car file to be written, which may replace the car read.
    pub(crate) fn car_output(&mut self, path: Option<&Path>, force: bool) {
        self.target(path, force, true);
    }

    fn target(&mut self, path: Option<&Path>, force: bool, car: bool) {
        self.outputs.extend(path.map(|path| Target {
            path: path.to_owned(),
            force,
            car,
        }));
    }

    /// What stands against the output: a file that is read is never replaced, any other only if asked, and where nothing can be written
    /// there is no use in beginning.
    fn refusal(&self, Target { path, force, car }: &Target) -> Option<Problem> {
        let name = path.display().to_string();
        let cars = self.cars.iter().filter(|_| !car);
        if self
            .inputs
            .iter()
            .chain(cars)
            .any(|input| inputs::same_file(input, path))
        {
            let message = "this file is read by the same command, so it is not overwritten";
            return Some(
                Problem::of_file(Code::FILE_IS_INPUT, name, message).expected("a new name"),
            );
        }
        let found = files::check_writable(path, overwrite(*force)).err()?;
        let problem = found.iter().next()?.clone();
        Some(if problem.code == Code::FILE_EXISTS {
            problem.expected("a new name, or --force to replace it")
        } else {
            problem
        })
    }

    /// Shows warnings and gives them on, or fails with everything that was found.
    pub(crate) fn finish(mut self, out: Output<'_>) -> Result<Problems, Failure> {
        let refusals: Vec<Problem> = self
            .outputs
            .iter()
            .filter_map(|o| self.refusal(o))
            .collect();
        for refusal in refusals {
            self.problems.push(refusal);
        }
        if self.problems.has_errors() {
            self.rearranged();
            return Err(Failure::Files(self.problems));
        }
        out.problems(&self.problems);
        Ok(self.problems)
    }
}

/// Where the shelf lies: beside the profile, or in the working folder or one above it; none where there is none.
pub(crate) fn shelf_path(out: Output<'_>) -> Option<PathBuf> {
    let profile = out.shop.path.as_deref().and_then(Path::parent);
    let beside = profile.map(|folder| folder.join(shelf::NAME));
    let found = || shelf::find(&std::env::current_dir().ok()?);
    beside.filter(|path| path.is_file()).or_else(found)
}

/// The shop's shelf; an empty one where there is none.
pub(crate) fn shelf(out: Output<'_>) -> Result<Shelf, Problems> {
    let Some(path) = shelf_path(out) else {
        return Ok(Shelf::default());
    };
    Shelf::open(&path).map(|(shelf, _)| shelf)
}

/// A value that reading without errors must have given.
pub(crate) fn read<T>(value: Option<T>) -> Result<T, Failure> {
    value.ok_or_else(|| {
        Failure::Gate("a file was read without a result and without a problem".to_owned())
    })
}

/// The shop's profile: the one named, the nearest one, or an empty one; with what is wrong in it.
pub(crate) fn shop(named: Option<&Path>) -> (ShopFile, Problems) {
    let found = || shop::find(&std::env::current_dir().ok()?);
    let Some(path) = named.map(Path::to_owned).or_else(found) else {
        return (ShopFile::default(), Problems::new());
    };
    match shop::open(&path) {
        Ok(read) => read,
        Err(problems) => (ShopFile::default(), problems),
    }
}

/// Units as a profile names them.
pub(crate) const fn units(shown: ShownUnits) -> Units {
    match shown {
        ShownUnits::Metric => Units::Metric,
        ShownUnits::Shop => Units::Shop,
    }
}

impl From<Air> for basis::Air {
    fn from(air: Air) -> Self {
        Self::stated(air.day, air.source)
    }
}

/// A car on its drums, the work planned for it if any, and the air.
pub(crate) struct Subject {
    pub(crate) sheet: Sheet,
    pub(crate) plan: Option<Plan<Prior>>,
    pub(crate) air: basis::Air,
}

impl StartArgs {
    /// How the electric axle starts, if anything is asked of it.
    pub(crate) fn asked(&self) -> Option<AxleStart> {
        let asked = self.charge.is_some() || self.electric_axle.is_some();
        asked.then(|| AxleStart {
            on: self.electric_axle.is_none_or(bool::from),
            charge: self.charge.unwrap_or(AxleStart::RESTED.charge),
            ..AxleStart::RESTED
        })
    }
}

/// Asking something of an axle that is not there.
pub(crate) fn no_electric_axle() -> Failure {
    Failure::Usage(
        "--charge and --electric-axle are for a car with an [electric_axle]; this car file has none"
            .to_owned(),
    )
}

/// Reads what `predict` and `trace` share: a car, a plan, and the air.
pub(crate) fn subject(
    mut files: Files<'_>,
    car: &Path,
    plan: Option<&Path>,
    weather: Option<&Path>,
    out: Output<'_>,
) -> Result<Subject, Failure> {
    let car = files.car(car);
    let plan = plan.map(|path| files.plan(path, car.as_ref()));
    let air = weather.map(|path| files.weather(path));
    files.finish(out)?;
    let plan = plan.map(read).transpose()?;
    let air = air.map(read).transpose()?;
    Ok(Subject {
        sheet: read(car)?.sheet,
        plan: plan.map(|file| file.plan),
        air: air.map_or_else(basis::Air::reference, Into::into),
    })
}
