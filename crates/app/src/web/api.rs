//! The one door over HTTP: the same calculations, shapes and faults as `compute` on the command line.

use super::error::WebError;
use axum::Json;
use axum::body::Bytes;
use axum::extract::Path;
use axum::extract::rejection::BytesRejection;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};
use stillwheel_door::{Fault, Format, calculations, find, read_bytes};

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
pub(crate) async fn compute(Path(name): Path<String>, headers: HeaderMap, body: Result<Bytes, BytesRejection>) -> Response {
    let calculation = match find(&name) {
        Ok(c) => c,
        Err(f) => return refusal(StatusCode::NOT_FOUND, &f),
    };
    // A form of another site's page can send text, but not this type without being asked first.
    let is_json = headers.get(header::CONTENT_TYPE).is_some_and(|t| t.as_bytes().starts_with(b"application/json"));
    if !is_json {
        let f = Fault::new("input", "this body", "JSON, sent as application/json; see /schema", "the content type is another");
        return refusal(StatusCode::UNPROCESSABLE_ENTITY, &f);
    }
    let body = match body {
        Ok(bytes) => bytes,
        Err(e) => return refusal(e.status(), &Fault::new("input", "this body", "at most 12 MiB of JSON", e.body_text())),
    };
    let run = move || read_bytes(&body, Some(Format::Json)).and_then(|input| calculation.run(input));
    match tokio::task::spawn_blocking(run).await {
        Ok(Ok(out)) => Json(out).into_response(),
        Ok(Err(f)) => refusal(StatusCode::UNPROCESSABLE_ENTITY, &f),
        Err(e) => WebError::Broken(e.into()).into_response(),
    }
}

fn refusal(status: StatusCode, fault: &Fault) -> Response {
    (status, Json(json!({ "fault": fault }))).into_response()
}
