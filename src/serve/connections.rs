//! Sockets -> requests. Every wait has an end, and the number of open connections a limit.

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

/// Most connections at once. The next ones wait until one ends.
const MOST_CONNECTIONS: usize = 512;

/// How long a client may take for the head of a request, and between two requests.
const HEAD_TIME: Duration = Duration::from_secs(10);

/// How long a whole request may take, with body and answer.
const REQUEST_TIME: Duration = Duration::from_secs(30);

/// How long a connection is used.
#[derive(Debug, Clone, Copy)]
struct Lifetime {
    /// How long it takes requests. Browsers then open a new connection without being asked.
    requests: Duration,
    /// How long its client may then take to read the last answer.
    last_answer: Duration,
}

const LIFETIME: Lifetime = Lifetime {
    requests: Duration::from_secs(120),
    last_answer: Duration::from_secs(60),
};

/// Largest head of a request \[bytes\].
const HEAD_BYTES: usize = 32 * 1024;

/// Pause after a socket could not be accepted, for example because the program has no more file handles.
const PAUSE: Duration = Duration::from_millis(50);

/// Accepts connections until `stop` turns true.
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
                    serve_one(socket, router, LIFETIME).await;
                    drop(slot);
                });
            }
            Err(_) => tokio::time::sleep(PAUSE).await,
        }
    }
}

async fn serve_one(socket: TcpStream, router: Router, lifetime: Lifetime) {
    let _ = socket.set_nodelay(true);
    let service = service_fn(move |request: Request<Incoming>| answer(router.clone(), request));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_TIME)
        .max_buf_size(HEAD_BYTES)
        .serve_connection(TokioIo::new(socket), service);
    let mut connection = pin!(connection);
    // A client that breaks off or sends nonsense harms only itself.
    let requests = timeout(lifetime.requests, connection.as_mut());
    if requests.await.is_err() {
        // A client that does not read must not stay for ever.
        connection.as_mut().graceful_shutdown();
        let _ = timeout(lifetime.last_answer, connection).await;
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

#[cfg(test)]
mod tests {
    use std::io::{Read as _, Write as _};

    use axum::routing::get;

    use super::*;

    /// Far more than any socket buffer holds.
    const LARGE: usize = 64 * 1024 * 1024;

    /// Serves one client on its own thread. The client asks twice and reads or does not. Returns the number of bytes
    /// that it read.
    fn served(lifetime: Lifetime, reads: bool) -> usize {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .expect("a runtime");
        runtime.block_on(async {
            let listener = TcpListener::bind("127.0.0.1:0").await.expect("a port");
            let address = listener.local_addr().expect("its address");
            let (gone, wait) = std::sync::mpsc::channel::<()>();
            let client = std::thread::spawn(move || {
                let mut socket = std::net::TcpStream::connect(address).expect("it listens");
                let request = "GET / HTTP/1.1\r\nhost: x\r\n\r\n";
                socket.write_all(request.as_bytes()).expect("it is sent");
                let mut read = Vec::new();
                if reads {
                    let _ = socket.read_to_end(&mut read);
                } else {
                    let _ = wait.recv();
                }
                read.len()
            });
            let (socket, _) = listener.accept().await.expect("a client");
            let router = Router::new().route("/", get(async || vec![b'x'; LARGE]));
            let end = timeout(HEAD_TIME, serve_one(socket, router, lifetime)).await;
            assert!(end.is_ok(), "the connection ends by itself");
            drop(gone);
            client.join().expect("the client ends")
        })
    }

    #[test]
    fn a_client_that_does_not_read_is_let_go() {
        let lifetime = Lifetime {
            requests: Duration::from_millis(100),
            last_answer: Duration::from_millis(100),
        };
        served(lifetime, false);
    }

    #[test]
    fn one_that_reads_has_its_answer_whole_though_its_time_is_over() {
        let lifetime = Lifetime {
            requests: Duration::from_millis(1),
            last_answer: Duration::from_secs(60),
        };
        assert!(served(lifetime, true) > LARGE);
    }
}
