//! Errors of the inner crates, mapped to what crosses the boundary.

use api::ApiError;
use store::StoreError;

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
        StoreError::Exists { kind, id } => ApiError::refused(vec![Problem::refused(
            "/id",
            id,
            format!("this {kind} is in the store already"),
            "open it instead",
        )]),
        other => failed(other.to_string()),
    }
}
