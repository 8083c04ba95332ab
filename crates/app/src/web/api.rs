//! The one door over HTTP: the same calculations, shapes and faults as `compute` on the command line.

use super::error::WebError;
use axum::Json;
use axum::extract::Path;
use axum::extract::rejection::JsonRejection;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};
use stillwheel_door::{Fault, calculations, find};

/// `GET /api/compute`: names and what they answer.
pub(crate) async fn list() -> Json<Value> {
    Json(calculations().iter().map(|c| json!({ "name": c.name, "about": c.about })).collect())
}

/// `GET /api/compute/{name}/schema`: JSON Schemas of input and output.
pub(crate) async fn schema(Path(name): Path<String>) -> Response {
    match find(&name) {
        Ok(c) => {
            Json(json!({ "name": c.name, "about": c.about, "input": (c.input_schema)(), "output": (c.output_schema)() })).into_response()
        }
        Err(f) => refusal(StatusCode::NOT_FOUND, &f),
    }
}

/// `POST /api/compute/{name}`: JSON in, JSON out; a fault comes back as `{"fault": …}` with status 422.
pub(crate) async fn compute(Path(name): Path<String>, body: Result<Json<Value>, JsonRejection>) -> Response {
    let calculation = match find(&name) {
        Ok(c) => c,
        Err(f) => return refusal(StatusCode::NOT_FOUND, &f),
    };
    let input = match body {
        Ok(Json(v)) => v,
        Err(e) => {
            let status = e.status();
            let f = Fault::new("input", "this body", "JSON, sent as application/json; see /schema", e.body_text());
            return refusal(if status == StatusCode::PAYLOAD_TOO_LARGE { status } else { StatusCode::UNPROCESSABLE_ENTITY }, &f);
        }
    };
    match tokio::task::spawn_blocking(move || calculation.run(input)).await {
        Ok(Ok(out)) => Json(out).into_response(),
        Ok(Err(f)) => refusal(StatusCode::UNPROCESSABLE_ENTITY, &f),
        Err(e) => WebError::Broken(e.into()).into_response(),
    }
}

fn refusal(status: StatusCode, fault: &Fault) -> Response {
    (status, Json(json!({ "fault": fault }))).into_response()
}
