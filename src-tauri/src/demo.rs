//! The demo survey: an invented site with three boards, put into an empty store.

use api::{ApiError, ImportSurvey};

use crate::App;

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

/// Brings the demo in.
pub(crate) fn seed(app: &App) -> Result<(), ApiError> {
    for text in BOARDS {
        let view = app.import_survey(ImportSurvey { text: text.to_owned() })?;
        for (reference, pinned, caption, bytes) in PHOTOS {
            if view.board.reference == reference && view.board.photos.is_empty() {
                app.add_photo_bytes(view.board.id, bytes.to_vec(), caption, pinned)?;
            }
        }
    }
    Ok(())
}
