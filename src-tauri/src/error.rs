//! Errors of the inner crates, mapped to what crosses the boundary.

use api::ApiError;
use store::{DocumentError, StoreError};

/// A failure of the machine, as a sentence.
pub(crate) fn failed(message: impl Into<String>) -> ApiError {
    ApiError::failed(message)
}

/// An error of the store.
pub(crate) fn from_store(error: StoreError) -> ApiError {
    use survey::Problem;
    match error {
        StoreError::Refused(problems) => ApiError::refused(problems),
        StoreError::NotFound { .. } | StoreError::NoPhoto(_) => ApiError::not_found(error.to_string()),
        StoreError::Nothing(what) => ApiError::refused(vec![Problem::refused(
            "/",
            what,
            format!("there is nothing to {what}"),
            "make an edit first",
        )]),
        StoreError::NoConflict { ref path } => ApiError::refused(vec![Problem::refused(
            path.clone(),
            "",
            "no such value stands here any more",
            "look at the field again: it may be settled already",
        )]),
        StoreError::Photo(ref reason) => {
            ApiError::refused(vec![Problem::refused("/photo", "", reason.clone(), "give a JPEG or PNG picture")])
        }
        // What these say is wrong with the edit, not with the store.
        StoreError::Document(
            ref wrong @ (DocumentError::Path(ref path)
            | DocumentError::Inside(ref path)
            | DocumentError::Record(ref path)),
        ) => ApiError::refused(vec![Problem::refused(
            path.clone(),
            "",
            wrong.to_string(),
            "set a field as it stands in the survey file",
        )]),
        StoreError::Document(DocumentError::Whole) => ApiError::refused(vec![Problem::refused(
            "",
            "",
            DocumentError::Whole.to_string(),
            "set a field as it stands in the survey file",
        )]),
        StoreError::Exists { kind, id } => ApiError::refused(vec![Problem::refused(
            "/id",
            id,
            format!("this {kind} is in the store already"),
            "open it instead",
        )]),
        StoreError::Database(ref cause) if cause.to_string().contains("readonly") => {
            ApiError::refused(vec![Problem::refused(
                "/",
                "",
                "the store is on a medium, or in a folder, that cannot be written",
                "copy the whole folder to where it can be, then open it there",
            )])
        }
        other => failed(other.to_string()),
    }
}
