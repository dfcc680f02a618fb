//! `serve`: the same answers as a page on this machine, for the counter and for a tablet beside the drums.
//!
//! It listens on the machine's own loopback address and, where it is told to, on one address of the shop's network. A request must carry the token that
//! the printed address brings or that of a paired device, name this server as its host, and, where it changes anything, come from one of these pages.
//! Pages hold no inline script and ask for nothing from outside. What is uploaded lies in a folder of its own that goes with the server; of the shop's own
//! files it writes, when asked, the job book, a new car's file, and what is remembered of a log's columns beside the car.

mod beside;
mod car;
mod columns;
mod desk;
mod draft;
mod form;
mod frame;
mod guard;
mod jobs;
mod more;
mod odd;
mod plan;
mod spread;
mod tablet;
mod upload;

pub(crate) use desk::Desk;

use crate::args::ServeArgs;
use crate::book;
use crate::output::{Failure, Output, data};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::middleware;
use axum::routing::{get, post};
use guard::{Door, MOST_BYTES};
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};

/// Folders below the shop's that are looked through for cars.
const DEPTH: usize = 3;
/// Bytes of a form without logs.
const MOST_FORM_BYTES: usize = 256 << 10;

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
    let bound = async |address: SocketAddr| {
        let taken = failed(&format!("{address} cannot be listened on"));
        let listener = TcpListener::bind(address).await.map_err(taken)?;
        let address = listener
            .local_addr()
            .map_err(failed("the server has no address"))?;
        Ok::<_, Failure>((listener, address))
    };
    runtime.block_on(async {
        let counter = SocketAddr::from((Ipv4Addr::LOCALHOST, args.port.unwrap_or(0)));
        let (counter, address) = bound(counter).await?;
        let port = address.port();
        let tablet = match args.listen {
            Some(address) => Some(bound(address).await?),
            None => None,
        };
        let desk = Arc::new(Desk::new(
            (args.book.as_deref(), !args.no_learning),
            scratch.path(),
            tablet.as_ref().map(|(_, address)| address.to_string()),
            out,
        ));
        data(&format!("http://127.0.0.1:{port}/?key={}\n", desk.token))?;
        out.note("open this address in a browser of this machine; it holds the key, so keep it to yourself. Ctrl-C ends it");
        if let Some((_, address)) = &tablet {
            data(&format!(
                "http://{address}/ on a tablet of the shop's network, code {}\n",
                desk.pairing().shown()
            ))?;
        }
        // Both doors close together.
        let (end, ended) = watch::channel(false);
        tokio::spawn(async move {
            // Without a signal to wait for it runs until it is killed.
            if tokio::signal::ctrl_c().await.is_err() {
                std::future::pending::<()>().await;
            }
            let _ = end.send(true);
        });
        let serve = |listener: TcpListener, door: Door| {
            let mut ended = ended.clone();
            let routes = routes(&desk, door);
            async move {
                axum::serve(listener, routes)
                    .with_graceful_shutdown(async move {
                        let _ = ended.wait_for(|ended| *ended).await;
                    })
                    .await
            }
        };
        let counter = serve(counter, Door::Counter(port));
        let ran = match tablet {
            Some((listener, address)) => {
                let tablet = serve(listener, Door::Tablet(address.to_string()));
                tokio::try_join!(counter, tablet).map(|_| ())
            }
            None => counter.await,
        };
        ran.map_err(failed("the server ended"))
    })
}

fn routes(desk: &Arc<Desk>, door: Door) -> Router {
    let logs = || DefaultBodyLimit::max(MOST_BYTES);
    Router::new()
        .route("/", get(car::list))
        .route("/style.css", get(frame::style))
        .route("/page.js", get(frame::script))
        .route("/icon.svg", get(frame::icon))
        .route("/new", get(car::blank).post(car::create))
        .route(
            "/car/{place}",
            get(car::page).merge(post(car::pulls).layer(logs())),
        )
        .route("/car/{place}/columns", post(car::corrected))
        .route("/car/{place}/plan", get(plan::page).post(plan::page_of))
        .route("/car/{place}/answer", post(plan::answer))
        .route("/car/{place}/reach", post(more::reach))
        .route("/car/{place}/row", post(more::row))
        .route("/car/{place}/beside", get(beside::page).post(beside::set))
        .route("/car/{place}/beside/{which}/away", post(beside::away))
        .route(
            "/car/{place}/spread",
            get(spread::page).post(spread::page_of),
        )
        .route("/car/{place}/spread/run", post(spread::run).layer(logs()))
        .route("/car/{place}/spread/so-far", get(spread::so_far))
        .route("/car/{place}/spread/end", post(spread::end))
        .route("/car/{place}/sheet", post(plan::sheet))
        .route("/car/{place}/keep", post(plan::keep))
        .route(
            "/car/{place}/odd",
            get(odd::page).merge(post(odd::answer).layer(logs())),
        )
        .route("/book", get(jobs::list))
        .route("/book/{number}", get(jobs::page))
        .route("/book/{number}/sheet", get(jobs::sheet))
        .route("/book/{number}/sheet.pdf", get(jobs::pdf))
        .route("/book/{number}/close", post(jobs::close).layer(logs()))
        .route("/book/{number}/note", post(jobs::note))
        .route("/tablet", get(tablet::page).post(tablet::change))
        .route(
            "/pair",
            post(tablet::pair).layer(DefaultBodyLimit::max(1024)),
        )
        .fallback(frame::nowhere)
        .layer(DefaultBodyLimit::max(MOST_FORM_BYTES))
        .layer(middleware::from_fn_with_state(
            (Arc::clone(desk), door),
            guard::hold,
        ))
        .with_state(Arc::clone(desk))
}

/// Runs something long beside the requests, when its turn comes.
pub(crate) async fn turn<T: Send + 'static>(
    desk: &Arc<Desk>,
    job: impl FnOnce(&Desk) -> Result<T, Failure> + Send + 'static,
) -> Result<T, Failure> {
    waited(desk, &desk.turns, job).await
}

/// Runs something short, which does not wait for what is long.
pub(crate) async fn at_once<T: Send + 'static>(
    desk: &Arc<Desk>,
    job: impl FnOnce(&Desk) -> Result<T, Failure> + Send + 'static,
) -> Result<T, Failure> {
    waited(desk, &desk.quick, job).await
}

async fn waited<T: Send + 'static>(
    desk: &Arc<Desk>,
    turns: &Semaphore,
    job: impl FnOnce(&Desk) -> Result<T, Failure> + Send + 'static,
) -> Result<T, Failure> {
    let ended = |_| Failure::Gate("the server is ending".to_owned());
    let _turn = turns.acquire().await.map_err(ended)?;
    let there = Arc::clone(desk);
    tokio::task::spawn_blocking(move || job(&there))
        .await
        .map_err(|_| Failure::Gate("the computation broke off; the page goes on".to_owned()))?
}
