//! `serve`: the same answers as a page on this machine, for the counter and for a tablet beside the drums.
//!
//! It listens on the machine's own loopback address alone. A request must carry the token that the printed address brings, name this server as its host,
//! and, where it changes anything, come from one of these pages. Pages hold no inline script and ask for nothing from outside. What is uploaded lies in
//! a folder of its own that goes with the server; nothing of the shop's own files is written but the job book, and that only when asked.

mod car;
mod frame;
mod guard;
mod odd;
mod plan;

use crate::args::ServeArgs;
use crate::book;
use crate::output::{Failure, Output, data};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware;
use axum::routing::{get, post};
use pullcast::files::schema::FileKind;
use pullcast::files::scratch::of_kind;
use pullcast::files::shop::ShopFile;
use pullcast::report::Units;
use std::collections::BTreeMap;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use tokio::sync::Semaphore;

/// Largest upload: the longest log of a pull is a tenth of it.
pub(super) const MOST_BYTES: usize = 48 << 20;
/// Answers computed at once; others wait.
const AT_ONCE: usize = 2;
/// Folders below the shop's that are looked through for cars.
const DEPTH: usize = 3;

/// What the server holds.
pub(crate) struct Desk {
    pub(crate) shop: ShopFile,
    pub(crate) units: Units,
    pub(crate) book: PathBuf,
    pub(crate) token: String,
    pub(crate) port: u16,
    /// Car files found when it started.
    pub(crate) cars: Vec<PathBuf>,
    /// What was learned of each car, by its place.
    jobs: Mutex<BTreeMap<usize, Arc<car::Job>>>,
    scratch: PathBuf,
    pub(crate) turns: Semaphore,
}

impl Desk {
    /// An output that prints nothing.
    pub(crate) fn out(&self) -> Output<'_> {
        Output::silent(self.units, &self.shop)
    }

    pub(crate) fn jobs(&self) -> MutexGuard<'_, BTreeMap<usize, Arc<car::Job>>> {
        self.jobs.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The folder of a car's uploads.
    pub(crate) fn folder(&self, place: usize) -> PathBuf {
        self.scratch.join(format!("car{place}"))
    }
}

pub(crate) fn run(args: &ServeArgs, out: Output<'_>) -> Result<(), Failure> {
    let failed = |what: &str| {
        let what = what.to_owned();
        move |error: std::io::Error| Failure::Gate(format!("{what}: {error}"))
    };
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(1)
        .enable_io()
        .enable_time()
        .build()
        .map_err(failed("the server cannot start"))?;
    let scratch = book::scratch()?;
    runtime.block_on(async {
        let address = SocketAddr::from((Ipv4Addr::LOCALHOST, args.port.unwrap_or(0)));
        let listener = tokio::net::TcpListener::bind(address)
            .await
            .map_err(failed(&format!("{address} cannot be listened on")))?;
        let port = listener
            .local_addr()
            .map_err(failed("the server has no address"))?
            .port();
        let desk = Arc::new(Desk {
            shop: out.shop.clone(),
            units: out.units,
            book: book::path_of(args.book.as_deref(), out),
            token: guard::token(),
            port,
            cars: of_kind(Path::new(""), FileKind::Car, DEPTH),
            jobs: Mutex::default(),
            scratch: scratch.path().to_owned(),
            turns: Semaphore::new(AT_ONCE),
        });
        data(&format!("http://127.0.0.1:{port}/?key={}\n", desk.token))?;
        out.note("open this address in a browser of this machine; it holds the key, so keep it to yourself. Ctrl-C ends it");
        axum::serve(listener, routes(desk))
            .with_graceful_shutdown(async {
                // Without a signal to wait for it runs until it is killed.
                if tokio::signal::ctrl_c().await.is_err() {
                    std::future::pending::<()>().await;
                }
            })
            .await
            .map_err(failed("the server ended"))
    })
}

fn routes(desk: Arc<Desk>) -> Router {
    Router::new()
        .route("/", get(car::list))
        .route("/style.css", get(frame::style))
        .route("/page.js", get(frame::script))
        .route("/car/{place}", get(car::page).post(car::pulls))
        .route("/car/{place}/plan", get(plan::page).post(plan::page_of))
        .route("/car/{place}/answer", post(plan::answer))
        .route("/car/{place}/sheet", post(plan::sheet))
        .route("/car/{place}/keep", post(plan::keep))
        .route("/car/{place}/odd", get(odd::page).post(odd::answer))
        .route("/record", get(car::record))
        .fallback(frame::nowhere)
        .layer(DefaultBodyLimit::max(MOST_BYTES))
        .layer(middleware::from_fn_with_state(
            Arc::clone(&desk),
            guard::hold,
        ))
        .with_state(desk)
}

/// Runs something long beside the requests, when its turn comes.
pub(crate) async fn turn<T: Send + 'static>(
    desk: &Arc<Desk>,
    job: impl FnOnce(&Desk) -> Result<T, Failure> + Send + 'static,
) -> Result<T, Failure> {
    let desk = Arc::clone(desk);
    let ended = |_| Failure::Gate("the server is ending".to_owned());
    let _turn = desk.turns.acquire().await.map_err(ended)?;
    let there = Arc::clone(&desk);
    tokio::task::spawn_blocking(move || job(&there))
        .await
        .map_err(|_| Failure::Gate("the computation broke off; the page goes on".to_owned()))?
}
