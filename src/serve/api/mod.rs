//! The requests of the page, answered as JSON. `docs/serve.md` lists the addresses.

mod answer;
mod error;
mod queue;

use answer::{Answer, Json, answered};
pub(super) use error::ApiError;

use std::sync::Arc;

use axum::Router;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, State};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::from_fn_with_state;
use axum::response::IntoResponse as _;
use axum::routing::{get, post};

use super::gate::gate;
use super::{Shared, assets};
use crate::command::ONE_FILE;
use halfturn_answers::{Refusal, paths};

/// Largest body of a request \[bytes\].
const BODY_BYTES: usize = 1024 * 1024;

/// All addresses.
pub(super) fn router(shared: Arc<Shared>) -> Router {
    Router::new()
        .route("/", get(assets::page))
        .route("/icon.svg", get(assets::icon))
        .route("/page/player.js", get(assets::player_script))
        .route("/page/player.css", get(assets::player_style))
        .route("/page/{*name}", get(assets::asset))
        .merge(answers())
        .route("/api/start", get(start))
        .route("/api/jobs", post(queue::submit))
        .route("/api/jobs/{id}", get(queue::status).delete(queue::stop))
        .route("/api/jobs/{id}/report", get(queue::report))
        .fallback(async || ApiError::from(Refusal::nothing_here()).into_response())
        .method_not_allowed_fallback(async || {
            ApiError::new(
                StatusCode::METHOD_NOT_ALLOWED,
                "this address does not take this method",
            )
            .into_response()
        })
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .layer(from_fn_with_state(Arc::clone(&shared), gate))
        .with_state(shared)
}

/// What is answered at once.
fn answers() -> Router<Arc<Shared>> {
    paths().fold(Router::new(), |router, path| {
        let answer =
            async move |State(shared): State<Arc<Shared>>, headers: HeaderMap, body: Bytes| {
                answered(&shared, &headers, path, body).await
            };
        router.route(&format!("/api/{path}"), post(answer))
    })
}

/// `GET /api/start`
async fn start(State(shared): State<Arc<Shared>>) -> Json {
    let mut start = halfturn_answers::start(&shared.start);
    start["engine_bytes"] = ONE_FILE.len().into();
    Json(start)
}
