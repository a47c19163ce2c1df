//! Files as raw bytes: in by POST, out by GET, both by way of a file on the disk.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::pin::Pin;
use std::sync::atomic::{AtomicU64, Ordering};
use std::task::{Context, Poll};

use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{Path as Parts, State};
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use hyper::body::{Frame, SizeHint};

use crate::{Shared, broke_off, each_part, refuse, reply, sent_as, told};

/// A file on its way; it goes away with this.
pub(crate) struct OnItsWay(PathBuf);

impl OnItsWay {
    /// A file of its own, empty.
    fn new(folder: &Path) -> io::Result<(Self, File)> {
        static COUNT: AtomicU64 = AtomicU64::new(0);
        let name = format!("{}-{}.part", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        let path = folder.join(name);
        let mut options = OpenOptions::new();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let file = options.open(&path)?;
        Ok((Self(path), file))
    }
}

impl Drop for OnItsWay {
    fn drop(&mut self) {
        // Left over, it is swept away when the app is next opened.
        let _left = fs::remove_file(&self.0);
    }
}

fn no_room(error: &io::Error) -> Response {
    refuse(StatusCode::INTERNAL_SERVER_ERROR, &format!("no file can be made in the store's folder: {error}"))
}

/// Takes a file in: written to the disk as it comes, then handed over.
pub(crate) async fn take(
    State(shared): State<Shared>,
    Parts((name, request)): Parts<(String, String)>,
    headers: HeaderMap,
    body: Body,
) -> Response {
    if !sent_as(&headers, "application/octet-stream") {
        return refuse(StatusCode::UNSUPPORTED_MEDIA_TYPE, "send the file as application/octet-stream");
    }
    let Some(largest) = (shared.answers.largest_file)(&name) else {
        return refuse(StatusCode::NOT_FOUND, "no call of this name takes a file");
    };
    let (on_its_way, mut file) = match OnItsWay::new(&shared.answers.folder) {
        Ok(made) => made,
        Err(error) => return no_room(&error),
    };
    if let Err(refusal) = each_part(body, largest, shared.patience.part, |part| file.write_all(&part)).await {
        return refusal.into_response();
    }
    drop(file);
    let take = shared.answers.take.clone();
    reply(tokio::task::spawn_blocking(move || take(&name, request.as_bytes(), &on_its_way.0)).await)
}

/// Gives a file: written to the disk whole first, so that what goes wrong is told and not cut off.
pub(crate) async fn give(State(shared): State<Shared>, Parts((name, request)): Parts<(String, String)>) -> Response {
    let on_its_way = match OnItsWay::new(&shared.answers.folder) {
        Ok((on_its_way, _)) => on_its_way,
        Err(error) => return no_room(&error),
    };
    let answers = shared.answers;
    let work = move || (answers.give)(&name, request.as_bytes(), &on_its_way.0).map(|given| (given, on_its_way));
    let (given, on_its_way) = match tokio::task::spawn_blocking(work).await {
        Ok(Ok(given)) => given,
        Ok(Err(error)) => return told(error),
        Err(_) => return broke_off(),
    };
    let opened = File::open(&on_its_way.0).and_then(|file| Ok((file.metadata()?.len(), file)));
    let (left, file) = match opened {
        Ok(opened) => opened,
        Err(error) => return no_room(&error),
    };
    let saved: String = given.name.chars().filter(|letter| letter.is_ascii_graphic() && *letter != '"').collect();
    let value = |text: String, other| HeaderValue::from_str(&text).unwrap_or(HeaderValue::from_static(other));
    let mut response = Response::new(Body::new(FileBody { file, left, _on_its_way: on_its_way }));
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, value(given.media, "application/octet-stream"));
    headers.insert(header::CONTENT_DISPOSITION, value(format!("attachment; filename=\"{saved}\""), "attachment"));
    response
}

/// A file as a body, a part at a time.
struct FileBody {
    file: File,
    left: u64,
    _on_its_way: OnItsWay,
}

/// Bytes read at a time.
const PART: u64 = 128 * 1024;

impl HttpBody for FileBody {
    type Data = Bytes;
    type Error = io::Error;

    fn poll_frame(mut self: Pin<&mut Self>, _: &mut Context<'_>) -> Poll<Option<io::Result<Frame<Bytes>>>> {
        if self.left == 0 {
            return Poll::Ready(None);
        }
        let length = self.left.min(PART);
        let mut part = vec![0; usize::try_from(length).unwrap_or_default()];
        Poll::Ready(Some(self.file.read_exact(&mut part).map(|()| {
            self.left -= length;
            Frame::data(part.into())
        })))
    }

    fn size_hint(&self) -> SizeHint {
        SizeHint::with_exact(self.left)
    }
}
