//! What the server holds while it runs.

use super::DEPTH;
use super::car::Job;
use super::columns::Tray;
use super::draft::Draft;
use super::guard::token;
use super::spread::Run;
use super::tablet::Pairing;
use crate::args::QuoteArgs;
use crate::book;
use crate::learned;
use crate::output::Output;
use pullcast::ask::quote::{Bases, Question};
use pullcast::dyno::correction::Standard;
use pullcast::files::schema::FileKind;
use pullcast::files::scratch::{clear, of_kind};
use pullcast::files::shop::ShopFile;
use pullcast::fit::own_jobs::{ClosedJob, Learned};
use pullcast::report::Units;
use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Semaphore;

/// Answers computed at once; others wait.
const AT_ONCE: usize = 2;
/// Uploads read at once.
const UPLOADS: usize = 2;
/// Cars whose draws are kept, 28 MB each.
const MOST_BASES: usize = 3;
/// Pages whose last question is remembered, so that a newer one takes it back.
const MOST_ASKING: usize = 64;

/// What the server holds.
pub(crate) struct Desk {
    pub(crate) shop: ShopFile,
    pub(crate) units: Units,
    pub(crate) book: PathBuf,
    /// Whether quotes learn from the shop's closed jobs.
    learns: bool,
    /// Those of the last quote, and what they taught.
    own_jobs: Mutex<(Vec<ClosedJob>, Option<Arc<Learned>>)>,
    pub(crate) token: String,
    /// Car files found when it started, and those written since.
    cars: Mutex<Vec<PathBuf>>,
    /// What was learned of each car, by its place.
    jobs: Mutex<BTreeMap<usize, Arc<Job>>>,
    /// Logs dropped on each car.
    trays: Mutex<BTreeMap<usize, Tray>>,
    /// Plans side by side.
    boards: Mutex<BTreeMap<usize, Vec<Draft>>>,
    /// Spreads that run or have run.
    runs: Mutex<BTreeMap<usize, Arc<Run>>>,
    /// The weather station that was given last.
    station: Mutex<Option<PathBuf>>,
    /// Draws without a plan, the last used last.
    bases: Mutex<Vec<Arc<Bases>>>,
    /// Held while draws are made, so that nobody makes them twice.
    making: Mutex<()>,
    /// The last question of each page.
    asking: Mutex<VecDeque<(String, Arc<AtomicBool>)>>,
    pairing: Mutex<Pairing>,
    /// Held while a code is tried.
    pub(super) pairs: tokio::sync::Mutex<()>,
    scratch: PathBuf,
    folders: AtomicUsize,
    pub(super) turns: Semaphore,
    pub(super) quick: Semaphore,
    pub(super) uploads: Semaphore,
    pub(super) long: Semaphore,
}

/// What a mutex holds: a computation that broke off has changed nothing by halves.
fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Desk {
    pub(super) fn new(
        (book, learns): (Option<&Path>, bool),
        scratch: &Path,
        tablet: Option<String>,
        out: Output<'_>,
    ) -> Self {
        Self {
            shop: out.shop.clone(),
            units: out.units,
            book: book::path_of(book, out),
            learns,
            own_jobs: Mutex::default(),
            token: token(),
            cars: Mutex::new(of_kind(Path::new(""), FileKind::Car, DEPTH)),
            jobs: Mutex::default(),
            trays: Mutex::default(),
            boards: Mutex::default(),
            runs: Mutex::default(),
            station: Mutex::default(),
            bases: Mutex::default(),
            making: Mutex::default(),
            asking: Mutex::default(),
            pairing: Mutex::new(Pairing::at(tablet)),
            pairs: tokio::sync::Mutex::default(),
            scratch: scratch.to_owned(),
            folders: AtomicUsize::new(0),
            turns: Semaphore::new(AT_ONCE),
            quick: Semaphore::new(AT_ONCE),
            uploads: Semaphore::new(UPLOADS),
            long: Semaphore::new(1),
        }
    }

    /// An output that prints nothing.
    pub(crate) fn out(&self) -> Output<'_> {
        Output::silent(self.units, &self.shop)
    }

    /// The shop's closed jobs as the book has them now, and what they taught. A book that cannot be read teaches nothing; the page of the book says why.
    pub(super) fn own_jobs(&self) -> (Vec<ClosedJob>, Option<Arc<Learned>>) {
        if !self.learns {
            return (Vec::new(), None);
        }
        let jobs = learned::of_book(&self.book).unwrap_or_default();
        let mut known = held(&self.own_jobs);
        if known.0 != jobs {
            let taught = learned::learned(&jobs, &self.shop.noise().miss, QuoteArgs::SEED);
            *known = (jobs, taught);
        }
        known.clone()
    }

    /// The correction shown beside the reading.
    pub(super) fn standard(&self) -> Standard {
        self.shop.standard.unwrap_or(Standard::SaeJ1349)
    }

    pub(super) fn cars(&self) -> MutexGuard<'_, Vec<PathBuf>> {
        held(&self.cars)
    }

    pub(super) fn jobs(&self) -> MutexGuard<'_, BTreeMap<usize, Arc<Job>>> {
        held(&self.jobs)
    }

    pub(super) fn boards(&self) -> MutexGuard<'_, BTreeMap<usize, Vec<Draft>>> {
        held(&self.boards)
    }

    pub(super) fn runs(&self) -> MutexGuard<'_, BTreeMap<usize, Arc<Run>>> {
        held(&self.runs)
    }

    pub(super) fn pairing(&self) -> MutexGuard<'_, Pairing> {
        held(&self.pairing)
    }

    pub(super) fn tray(&self, place: usize) -> Option<Tray> {
        held(&self.trays).get(&place).cloned()
    }

    /// Keeps the logs dropped on a car, in the place of those before.
    pub(super) fn put_tray(&self, place: usize, tray: Option<Tray>) {
        let now = tray.as_ref().map(|tray| tray.folder().to_owned());
        let before = {
            let mut trays = held(&self.trays);
            match tray {
                Some(tray) => trays.insert(place, tray),
                None => trays.remove(&place),
            }
        };
        let fitted = self.jobs().get(&place).and_then(|job| {
            let (path, ..) = job.visit.as_ref()?;
            path.parent().map(Path::to_owned)
        });
        if let Some(before) = before
            && Some(before.folder()) != now.as_deref()
            && Some(before.folder()) != fitted.as_deref()
        {
            clear(before.folder());
        }
    }

    /// Takes the folder of an uploaded visit away; a visit of the shop's own stays.
    pub(super) fn forget(&self, visit: &Path) {
        if let Some(folder) = visit.parent().filter(|f| f.starts_with(&self.scratch)) {
            clear(folder);
        }
    }

    pub(super) fn station(&self) -> Option<PathBuf> {
        held(&self.station).clone()
    }

    pub(super) fn put_station(&self, path: PathBuf) {
        let before = held(&self.station).replace(path);
        if let Some(before) = before {
            self.forget(&before);
        }
    }

    /// A folder that nobody else writes to.
    pub(super) fn new_folder(&self) -> PathBuf {
        let number = self.folders.fetch_add(1, Ordering::Relaxed);
        self.scratch.join(number.to_string())
    }

    /// The draws of a question without its plan, made when they are first asked for.
    pub(super) fn bases(&self, question: &Question<'_>) -> Arc<Bases> {
        let _making = held(&self.making);
        let mut found = None;
        {
            let mut bases = held(&self.bases);
            if let Some(at) = bases.iter().position(|bases| bases.fit(question)) {
                found = Some(bases.remove(at));
            }
        }
        let found = found.unwrap_or_else(|| Arc::new(question.bases()));
        let mut bases = held(&self.bases);
        bases.push(Arc::clone(&found));
        if bases.len() > MOST_BASES {
            bases.remove(0);
        }
        found
    }

    /// Takes back the question that a page asked before, and gives what takes this one back.
    pub(super) fn asked(&self, who: &str) -> Arc<AtomicBool> {
        let over = Arc::new(AtomicBool::new(false));
        if who.is_empty() {
            return over;
        }
        let mut asking = held(&self.asking);
        if let Some(at) = asking.iter().position(|(name, _)| name == who)
            && let Some((_, before)) = asking.remove(at)
        {
            before.store(true, Ordering::Relaxed);
        }
        asking.push_back((who.chars().take(64).collect(), Arc::clone(&over)));
        if asking.len() > MOST_ASKING {
            asking.pop_front();
        }
        over
    }
}
