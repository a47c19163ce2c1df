//! The key of one start of the host: who has the whole address that was printed holds it.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::Response;

use crate::refuse;

/// The header that a request bears the key in. A page from elsewhere cannot set it without being asked first.
pub const KEY_HEADER: &str = "waywright-key";
/// What the key is called in an address: of the page, which hands it on, and of a file to download, which is a link
/// and bears no header.
const KEY_PARAMETER: &str = "key";
/// Fewest letters of a key: as hexadecimal digits, 128 bits.
const SHORTEST: usize = 32;

/// A secret of one start. A cookie is none: a browser sends it to every port of this machine.
#[derive(Clone)]
pub struct Key(String);

impl Key {
    /// A key of letters and digits, not to be guessed. None where it is shorter than 32, or has others.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let fits = text.len() >= SHORTEST && text.bytes().all(|byte| byte.is_ascii_alphanumeric());
        fits.then(|| Self(text.to_owned()))
    }

    /// The part of a page's address that holds it.
    #[must_use]
    pub fn query(&self) -> String {
        format!("?{KEY_PARAMETER}={}", self.0)
    }

    /// In the same time wherever the two differ.
    fn is(&self, other: &[u8]) -> bool {
        let own = self.0.as_bytes();
        own.len() == other.len() && own.iter().zip(other).fold(0, |differs, (a, b)| differs | (a ^ b)) == 0
    }
}

/// Answers who holds the key.
pub(crate) async fn holders_only(State(key): State<Arc<Key>>, request: Request, next: Next) -> Response {
    let in_header = request.headers().get(KEY_HEADER).map(|value| value.as_bytes());
    let given = in_header.or_else(|| {
        let query = request.uri().query().filter(|_| request.method() == Method::GET)?;
        let mut pairs = query.split('&').filter_map(|pair| pair.split_once('='));
        pairs.find(|(name, _)| *name == KEY_PARAMETER).map(|(_, value)| value.as_bytes())
    });
    match given {
        None | Some([]) => refuse(
            StatusCode::UNAUTHORIZED,
            "this address answers only who holds its key: open the whole address that was printed when it was served",
        ),
        Some(given) if key.is(given) => next.run(request).await,
        Some(_) => refuse(
            StatusCode::FORBIDDEN,
            "this key is of another start: open the whole address that was printed this time",
        ),
    }
}
