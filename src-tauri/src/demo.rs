//! The demo survey: an invented site with three boards, put into an empty store.

use api::ApiError;
use store::{Op, ReadPhoto, StoreError};
use survey::{Board, Photo, PhotoId, file, intent};

use crate::error::from_store;
use crate::{App, calls};

const BOARDS: [&str; 3] = [
    include_str!("../../seed-data/demo/ph-db1.json"),
    include_str!("../../seed-data/demo/bl-db2.json"),
    include_str!("../../seed-data/demo/br-db3.json"),
];

/// A picture drawn by our own generator, the board it belongs to, what it shows, its caption.
const PHOTOS: [(&str, &str, &str, &[u8]); 1] = [(
    "PH-DB1",
    "",
    "Press hall board, cover off, as found (drawn for the demo)",
    include_bytes!("../../seed-data/demo/ph-db1.jpg"),
)];

/// Brings the demo in: all of it in one transaction, so that whatever ends the program meanwhile
/// leaves nothing of it. Boards that are here already stay as they are, so that one which an
/// earlier version brought in by half is completed. It has the same history on every store.
pub(crate) fn seed(app: &App) -> Result<(), ApiError> {
    let mut surveys = Vec::new();
    let mut photos = Vec::new();
    for text in BOARDS {
        let mut survey = file::read(text).map_err(ApiError::refused)?;
        for (reference, pinned, caption, bytes) in PHOTOS {
            if survey.board.reference != reference {
                continue;
            }
            let read = ReadPhoto::of(bytes).map_err(from_store)?;
            let photo = Photo {
                hash: read.meta.hash.clone(),
                media: read.meta.media.clone(),
                width: read.meta.width,
                height: read.meta.height,
                caption: caption.to_owned(),
                pinned: pinned.to_owned(),
                ..Photo::default()
            };
            survey.board.photos.insert(photo_id(&photo.hash), photo);
            photos.push((read, bytes));
        }
        surveys.push(survey);
    }
    let role = app.role();
    let mut store = app.store();
    store
        .batch(|store| {
            for (read, bytes) in &photos {
                store.add_read_photo(read, bytes)?;
            }
            for survey in &surveys {
                match store.board(survey.board.id) {
                    // A person may have edited it meanwhile, so only a photo that never came is added.
                    Ok(known) if known.board.photos.is_empty() && !survey.board.photos.is_empty() => {
                        let whole = Board { photos: survey.board.photos.clone(), ..known.board.clone() };
                        let changes = intent::difference(&known.board, &whole);
                        let op = Op::new("photo of the demo", &role);
                        store.import_changes(op, survey.board.id, &changes, |_, _| Ok(()))?;
                    }
                    Ok(_) => {}
                    Err(StoreError::NotFound { .. }) => drop(calls::take_survey(store, &role, survey)?),
                    Err(error) => return Err(error),
                }
            }
            Ok::<_, StoreError>(())
        })
        .map_err(from_store)
}

/// True where the demo was begun here, by whichever version.
pub(crate) fn is_begun(app: &App) -> Result<bool, ApiError> {
    let demo = file::read(BOARDS[0]).map_err(ApiError::refused)?;
    Ok(app.store().sites(false).map_err(from_store)?.iter().any(|site| site.id == demo.board.site))
}

/// The same on every store: a photo brought in twice is one.
fn photo_id(hash: &str) -> PhotoId {
    let number = u128::from_str_radix(hash.get(..32).unwrap_or_default(), 16).unwrap_or_default();
    PhotoId(uuid::Builder::from_custom_bytes(number.to_be_bytes()).into_uuid())
}
