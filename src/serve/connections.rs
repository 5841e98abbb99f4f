//! Sockets -> requests. Every wait has an end, and there is a limit to how many are open.

use std::convert::Infallible;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::{Request, StatusCode};
use axum::response::{IntoResponse as _, Response};
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{Semaphore, watch};
use tokio::time::timeout;
use tower::ServiceExt as _;

use super::api::ApiError;

/// Connections at once. The next ones wait for one of these to end.
const MOST_CONNECTIONS: usize = 512;

/// How long a client may take for the head of a request, and between two requests.
const HEAD_TIME: Duration = Duration::from_secs(10);

/// How long a whole request may take, its body and its answer included.
const REQUEST_TIME: Duration = Duration::from_secs(30);

/// How long a connection is used. Browsers open a new one without being asked.
const CONNECTION_TIME: Duration = Duration::from_secs(120);

/// How long a client may then take to read the answer that it waits for.
const LAST_ANSWER_TIME: Duration = Duration::from_secs(60);

/// Largest head of a request \[bytes\].
const HEAD_BYTES: usize = 32 * 1024;

/// Pause after a socket could not be taken, as when the program has no more file handles.
const PAUSE: Duration = Duration::from_millis(50);

/// Takes connections until `stop` turns true.
pub(super) async fn accept(listener: TcpListener, router: Router, mut stop: watch::Receiver<bool>) {
    let slots = Arc::new(Semaphore::new(MOST_CONNECTIONS));
    loop {
        let taken = async {
            let slot = Arc::clone(&slots).acquire_owned().await;
            (slot, listener.accept().await)
        };
        let (slot, accepted) = tokio::select! {
            taken = taken => taken,
            _ = stop.wait_for(|stop| *stop) => return,
        };
        match accepted {
            Ok((socket, _)) => {
                let router = router.clone();
                tokio::spawn(async move {
                    serve_one(socket, router).await;
                    drop(slot);
                });
            }
            Err(_) => tokio::time::sleep(PAUSE).await,
        }
    }
}

async fn serve_one(socket: TcpStream, router: Router) {
    let _ = socket.set_nodelay(true);
    let service = service_fn(move |request: Request<Incoming>| answer(router.clone(), request));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_buf_size(HEAD_BYTES)
        .serve_connection(TokioIo::new(socket), service);
    let mut connection = pin!(connection);
    // A client that breaks off or talks nonsense is its own affair.
    if timeout(CONNECTION_TIME, connection.as_mut()).await.is_err() {
        // One that does not read must not stay for ever.
        connection.as_mut().graceful_shutdown();
        let _ = timeout(LAST_ANSWER_TIME, connection).await;
    }
}

async fn answer(router: Router, request: Request<Incoming>) -> Result<Response, Infallible> {
    let request = request.map(Body::new);
    match timeout(REQUEST_TIME, router.oneshot(request)).await {
        Ok(answer) => answer,
        Err(_) => {
            let why = "the request took too long";
            Ok(ApiError::new(StatusCode::REQUEST_TIMEOUT, why).into_response())
        }
    }
}
