//! Calls that set a plate out, or measure one on a photo.

use api::*;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use plate::photo::{HoleKind, Photo, PhotoError, Recorded, Reference, Wanted, measure_with_taps, taken};
use plate::{Fit, Score, Spare, Weights, Wishes};
use serde_json::json;
use survey::intent::{Intent, TakenHole};
use survey::message::Argument;
use survey::pattern::Point;
use survey::range::Span;
use survey::{Board, EntryId, EntryKind, Plate, PlateId, Problem, say};

use crate::App;
use crate::error::{from_store, not_found};
use crate::proof::wanting;

type Reply<C> = Result<<C as Call>::Reply, ApiError>;

/// Quality of the rectified picture, percent.
const QUALITY: u8 = 85;
/// How far the check line's length may be off as measured with a steel rule, mm.
const LINE_WITHIN: f64 = 0.25;
/// Most holes tapped by hand.
const MOST_TAPS: usize = 100;

impl App {
    pub(crate) fn entries_for_cables(&self, request: EntriesForCables) -> Reply<EntriesForCables> {
        let board = self.read_board(request.board)?;
        live_plate(&board, request.plate)?;
        let found = plate::missing_entries(&board, self.plate_tables);
        let chosen = found.chosen.iter().map(chosen_words).collect();
        let left = found
            .left
            .iter()
            .map(|(cable, why)| say!("plate-missing-left", cable = cable.clone(), why = why.clone()).to_string());
        let entries: Vec<_> = found.chosen.into_iter().map(|one| one.entry).collect();
        let intent = (!entries.is_empty()).then(|| json!(Intent::AddEntries { plate: request.plate, entries }));
        Ok(NewEntriesReply { chosen, left: left.collect(), intent })
    }

    pub(crate) fn set_out_plate(&self, request: SetOutPlate) -> Reply<SetOutPlate> {
        let board = self.read_board(request.board)?;
        let spares =
            request.spares.into_iter().map(|size| Spare { kind: EntryKind::Blanked, size }).collect::<Vec<_>>();
        let wishes = Wishes { spares, keep_placed: request.keep_placed, ..Wishes::default() };
        let found = plate::solve(&board, request.plate, self.plate_tables, &wishes)
            .map_err(|error| wanting(error.place(), error.message()))?;
        let record = live_plate(&board, request.plate)?;
        let labels = plate::entry_labels(record);
        let label = |id: &EntryId| labels.get(id).cloned().unwrap_or_default();
        let all_placed = record.entries.values().all(|entry| entry.removed || entry.at.is_some());
        let before = all_placed
            .then(|| plate::score(&board, request.plate, self.plate_tables, &Weights::default()).ok())
            .flatten()
            .map(score_view);
        let moved: Vec<_> = found
            .places
            .iter()
            .copied()
            .filter(|place| record.entries.get(&place.entry).is_none_or(|entry| entry.at != Some(place.at)))
            .collect();
        Ok(SetOutReply {
            places: moved
                .iter()
                .map(|place| {
                    let (entry, place) = (label(&place.entry), plate::from_left_rear(place.at));
                    say!("plate-solve-place", entry = entry, place = place).to_string()
                })
                .collect(),
            intent: (!moved.is_empty()).then(|| json!(Intent::PlaceEntries { plate: request.plate, places: moved })),
            spares: found
                .spares
                .iter()
                .map(|spare| {
                    let (size, place) = (spare.spare.size.clone(), plate::from_left_rear(spare.at));
                    say!("plate-solve-spare", size = size, place = place).to_string()
                })
                .collect(),
            before,
            after: score_view(found.score),
            bound: found.bound,
            proven: found.proven,
            left: found
                .left_out
                .iter()
                .map(|one| say!("plate-solve-left", entry = one.label.clone(), why = one.why.clone()).to_string())
                .collect(),
            notes: found.notes.iter().map(ToString::to_string).collect(),
            cautions: crate::cautions(survey::Outlet::Drilling),
        })
    }

    pub(crate) fn drag_entry(&self, request: DragEntry) -> Reply<DragEntry> {
        let board = self.read_board(request.board)?;
        let found = plate::drag(&board, request.plate, request.entry, request.to, self.plate_tables)
            .map_err(|error| wanting(error.place(), error.message()))?;
        let snapped = found
            .snapped
            .iter()
            .map(|line| {
                let entry = line.with.clone();
                let line = if line.row {
                    say!("plate-drag-row", entry = entry)
                } else {
                    say!("plate-drag-column", entry = entry)
                };
                line.to_string()
            })
            .collect();
        Ok(DragReply { at: found.at, snapped, why: found.why.iter().map(ToString::to_string).collect() })
    }

    pub(crate) fn measure_photo(&self, request: MeasurePhoto) -> Reply<MeasurePhoto> {
        let (board, bytes) = {
            let mut store = self.store();
            let board = store.board(request.board).map_err(from_store)?.board;
            let hash = board.photos.get(&request.photo).filter(|photo| !photo.removed).map(|photo| photo.hash.clone());
            let hash = hash.ok_or_else(|| not_found(&say!("cli-no-photo-here")))?;
            let bytes = store.photo(&hash).map_err(from_store)?;
            (board, bytes)
        };
        if request.taps.len() > MOST_TAPS {
            return Err(too_many_taps(request.taps.len()));
        }
        let plate = live_plate(&board, request.plate)?;
        let photo = Photo::decode(&bytes).map_err(unmeasured)?;
        let pixels = |[x, y]: Point| [x * f64::from(photo.width()), y * f64::from(photo.height())];
        let corners = request.corners.map(pixels);
        let reference = match request.check_line {
            Some(check_line) => {
                let recorded = Recorded::of_plate(plate);
                Reference::Sheet { check_line, within: LINE_WITHIN, plate: Some(corners), recorded }
            }
            None => Reference::of_plate(plate, corners).map_err(|field| no_size(request.plate, field))?,
        };
        let taps: Vec<Point> = request.taps.into_iter().map(pixels).collect();
        let found = measure_with_taps(&photo, &reference, &Wanted::default(), &taps).map_err(unmeasured)?;
        let picture = found.rectified.jpeg(QUALITY).map_err(unmeasured)?;
        let shapes: Vec<_> = found.holes.into_iter().chain(found.unsure).collect();
        let holes = shapes.iter().zip(taken(plate, &shapes)).map(|(hole, take)| measured(hole, &take));
        Ok(MeasuredPlate {
            size: found.located.size,
            picture: Blob { media: "image/jpeg".to_owned(), base64: STANDARD.encode(picture) },
            holes: holes.collect(),
            notes: found.notes.iter().map(ToString::to_string).collect(),
        })
    }
}

fn live_plate(board: &Board, id: PlateId) -> Result<&Plate, ApiError> {
    board
        .plates
        .get(&id)
        .filter(|plate| !plate.removed)
        .ok_or_else(|| not_found(&say!("cli-no-plate-here", place = format!("/plates/{id}"))))
}

fn no_size(plate: PlateId, field: &str) -> ApiError {
    ApiError::refused(vec![Problem::refused(
        format!("/plates/{plate}/{field}"),
        "",
        say!("photo-no-scale"),
        say!("photo-no-scale-remedy"),
    )])
}

fn too_many_taps(count: usize) -> ApiError {
    ApiError::refused(vec![Problem::refused(
        "/taps",
        count,
        say!("photo-taps"),
        say!("photo-taps-remedy", most = MOST_TAPS),
    )])
}

/// A photo that gives no measures, and why.
fn unmeasured(error: PhotoError) -> ApiError {
    wanting("/", error.message())
}

fn chosen_words(one: &plate::Chosen) -> String {
    let (cable, kind, size) = (one.name.clone(), one.entry.kind.words(), one.entry.size.clone());
    let words = if one.fit == Fit::Fits {
        say!("plate-missing-chosen", cable = cable, kind = kind, size = size)
    } else {
        say!("plate-missing-chosen-edge", cable = cable, kind = kind, size = size)
    };
    words.to_string()
}

fn score_view(score: Score) -> PlateScore {
    PlateScore { length: score.length, crossings: score.crossings, rows: score.rows, total: score.total }
}

fn measured(hole: &plate::photo::MeasuredHole, take: &TakenHole) -> MeasuredHole {
    let (at_within, diameter_within) = (take.at_within.get(), take.diameter_within.get());
    let across = take.diameter.get();
    let (diameter, length) = match (hole.kind, take.height) {
        (HoleKind::Slot { .. }, Some(height)) => (across.min(height.get()), Some(across.max(height.get()))),
        _ => (across, None),
    };
    let exact = |value| Argument::Span { span: Span::point(value), unit: "", digits: 8 };
    let (place, within) = (plate::from_left_rear(take.at), exact(at_within));
    let words = match length {
        Some(length) => {
            say!("photo-hole-slot", length = exact(length), width = exact(diameter), place = place, at_within = within)
        }
        None => say!(
            "photo-hole-round",
            diameter = exact(diameter),
            within = exact(diameter_within),
            place = place,
            at_within = within
        ),
    };
    MeasuredHole {
        words: words.to_string(),
        at: take.at,
        at_within,
        diameter,
        diameter_within,
        length,
        confidence: hole.confidence,
        sure: hole.is_sure(),
        doubts: hole.doubts.iter().map(ToString::to_string).collect(),
        entry: take.entry,
        take: json!(take),
    }
}
