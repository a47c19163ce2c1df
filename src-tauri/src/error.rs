//! Errors of the inner crates, mapped to what crosses the boundary.

use std::path::Path;

use api::ApiError;
use store::{DocumentError, StoreError};
use survey::message::Argument;
use survey::{Message, Problem, say};

/// A failure of the machine, as a sentence.
pub(crate) fn failed(message: impl Into<Message>) -> ApiError {
    ApiError::failed(message.into().to_string())
}

/// Something that is not there.
pub(crate) fn not_found(message: &Message) -> ApiError {
    ApiError::not_found(message.to_string())
}

/// A file that the system does not read or write, in the system's own words.
pub(crate) fn wrong_file(path: &Path, error: &std::io::Error) -> ApiError {
    failed(say!("cli-file", file = path.display().to_string(), why = error.to_string()))
}

/// An error of the store.
pub(crate) fn from_store(error: StoreError) -> ApiError {
    match error {
        StoreError::Refused(problems) => ApiError::refused(problems),
        StoreError::NotFound { .. } | StoreError::NoPhoto(_) => ApiError::not_found(error.to_string()),
        StoreError::Nothing(what) => ApiError::refused(vec![Problem::refused(
            "/",
            what,
            if what == "redo" { say!("problem-nothing-to-redo") } else { say!("problem-nothing-to-undo") },
            say!("remedy-nothing"),
        )]),
        StoreError::NoConflict { ref path } => {
            ApiError::refused(vec![Problem::refused(path.clone(), "", say!("problem-settled"), say!("remedy-settled"))])
        }
        StoreError::Photo(ref reason) => {
            ApiError::refused(vec![Problem::refused("/photo", "", reason.clone(), say!("remedy-picture"))])
        }
        // What these say is wrong with the edit, not with the store.
        StoreError::Document(
            ref wrong @ (DocumentError::Path(ref path)
            | DocumentError::Inside(ref path)
            | DocumentError::Record(ref path)),
        ) => ApiError::refused(vec![Problem::refused(path.clone(), "", wrong.to_string(), say!("remedy-as-in-file"))]),
        StoreError::Document(DocumentError::Whole) => ApiError::refused(vec![Problem::refused(
            "",
            "",
            DocumentError::Whole.to_string(),
            say!("remedy-as-in-file"),
        )]),
        StoreError::Exists { kind, id } => ApiError::refused(vec![Problem::refused(
            "/id",
            id,
            say!("problem-exists", kind = Argument::Choice(kind)),
            say!("remedy-exists"),
        )]),
        StoreError::Database(ref cause) if cause.to_string().contains("readonly") => {
            ApiError::refused(vec![Problem::refused("/", "", say!("problem-read-only"), say!("remedy-read-only"))])
        }
        other => failed(other.to_string()),
    }
}
