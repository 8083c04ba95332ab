//! A form with files, read whole before it is taken apart.
//!
//! The parser looks for its boundary in all that it has each time more arrives: a body without one, in small pieces, would keep a thread
//! busy for minutes. In one piece it is looked through once.

use super::error::WebError;
use axum::body::{Body, Bytes};
use axum::extract::{FromRequest, Multipart, Request};
use stillwheel_door::Fault;

/// The form.
pub(crate) struct Upload(pub(crate) Multipart);

impl<S: Send + Sync> FromRequest<S> for Upload {
    type Rejection = WebError;

    async fn from_request(request: Request, state: &S) -> Result<Self, WebError> {
        let refused =
            |why: String| WebError::Fault(Fault::new("file", "this upload", "a form with files, within the size of the page", why));
        let head = request.headers().clone();
        let (method, uri, known) = (request.method().clone(), request.uri().clone(), request.extensions().clone());
        let whole = Bytes::from_request(request, state).await.map_err(|e| refused(e.body_text()))?;
        let mut again = Request::new(Body::from(whole));
        // The page's own limit of size is among what is known of the request.
        (*again.method_mut(), *again.uri_mut(), *again.headers_mut(), *again.extensions_mut()) = (method, uri, head, known);
        Ok(Self(Multipart::from_request(again, state).await.map_err(|e| refused(e.body_text()))?))
    }
}
