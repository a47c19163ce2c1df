//! Calls that set a plate out, or measure one on a photo.

use std::collections::BTreeSet;

use api::*;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use plate::photo::{HoleKind, Photo, Reference, Wanted, measure, measure_at};
use plate::{Fit, Score, Spare, Weights, Wishes};
use serde_json::json;
use survey::intent::{Intent, NewEntry, TakenHole};
use survey::pattern::Point;
use survey::{Board, Cable, CableId, Construction, EntryId, EntryKind, Millimetres, PlateId, Problem};

use crate::App;
use crate::error::from_store;
use crate::proof::refused;

type Reply<C> = Result<<C as Call>::Reply, ApiError>;

/// Quality of the rectified picture, percent.
const QUALITY: u8 = 85;
/// A measured hole is an entry that is there already where its centre is this near, mm.
const SAME: f64 = 8.0;
/// Most holes tapped by hand.
const MOST_TAPS: usize = 100;

impl App {
    pub(crate) fn entries_for_cables(&self, request: EntriesForCables) -> Reply<EntriesForCables> {
        let board = self.read_board(request.board)?;
        if board.plates.get(&request.plate).is_none_or(|plate| plate.removed) {
            return Err(no_plate(request.plate));
        }
        let (mut chosen, mut left, mut entries) = (Vec::new(), Vec::new(), Vec::new());
        for (id, cable, name) in cables_without_entry(&board) {
            match gland_for(cable, self.plate_tables) {
                Ok((kind, size, word)) => {
                    chosen.push(format!("{name}: {} {size}{word}", kind.words()));
                    entries.push(NewEntry { kind, size, at: None, cable: Some(id) });
                }
                Err(why) => left.push(format!("{name}: {why}.")),
            }
        }
        let intent = (!entries.is_empty()).then(|| json!(Intent::AddEntries { plate: request.plate, entries }));
        Ok(NewEntriesReply { chosen, left, intent })
    }

    pub(crate) fn set_out_plate(&self, request: SetOutPlate) -> Reply<SetOutPlate> {
        let board = self.read_board(request.board)?;
        let spares =
            request.spares.into_iter().map(|size| Spare { kind: EntryKind::Blanked, size }).collect::<Vec<_>>();
        let wishes = Wishes { spares, keep_placed: request.keep_placed, ..Wishes::default() };
        let found = plate::solve(&board, request.plate, self.plate_tables, &wishes).map_err(refused)?;
        let record = board.plates.get(&request.plate).ok_or_else(|| no_plate(request.plate))?;
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
            places: moved.iter().map(|place| format!("{}: {}", label(&place.entry), place_words(place.at))).collect(),
            intent: (!moved.is_empty()).then(|| json!(Intent::PlaceEntries { plate: request.plate, places: moved })),
            spares: found
                .spares
                .iter()
                .map(|spare| format!("spare {}: {}", spare.spare.size, place_words(spare.at)))
                .collect(),
            before,
            after: score_view(found.score),
            bound: found.bound,
            proven: found.proven,
            left: found.left_out.iter().map(|one| format!("{}: {}.", one.label, one.why)).collect(),
            notes: found.notes,
            cautions: papers::BEFORE_DRILLING.iter().map(|caution| (*caution).to_owned()).collect(),
        })
    }

    pub(crate) fn drag_entry(&self, request: DragEntry) -> Reply<DragEntry> {
        let board = self.read_board(request.board)?;
        let found =
            plate::drag(&board, request.plate, request.entry, request.to, self.plate_tables).map_err(refused)?;
        let snapped = found
            .snapped
            .iter()
            .map(|line| format!("{} of {}", if line.row { "row" } else { "column" }, line.with))
            .collect();
        Ok(DragReply { at: found.at, snapped, why: found.why })
    }

    pub(crate) fn measure_photo(&self, request: MeasurePhoto) -> Reply<MeasurePhoto> {
        let (board, bytes) = {
            let mut store = self.store();
            let board = store.board(request.board).map_err(from_store)?.board;
            let hash = board.photos.get(&request.photo).filter(|photo| !photo.removed).map(|photo| photo.hash.clone());
            let hash = hash.ok_or_else(|| ApiError::not_found("there is no such photo on this board"))?;
            let bytes = store.photo(&hash).map_err(from_store)?;
            (board, bytes)
        };
        if request.taps.len() > MOST_TAPS {
            return Err(too_many_taps(request.taps.len()));
        }
        let photo = Photo::decode(&bytes).map_err(refused)?;
        let pixels = |[x, y]: Point| [x * f64::from(photo.width()), y * f64::from(photo.height())];
        let taps = request.corners.map(pixels);
        let reference = match request.check_line {
            Some(check_line) => Reference::Sheet { check_line, within: 0.25, plate: Some(taps) },
            None => {
                let [width, depth, within] = plate_size(&board, request.plate)?;
                Reference::Corners { taps, width, depth, within }
            }
        };
        let wanted = Wanted::default();
        let mut found = measure(&photo, &reference, &wanted).map_err(refused)?;
        let mut notes = found.notes;
        for tap in request.taps {
            match measure_at(&photo, &found.located, pixels(tap), &wanted) {
                Ok(hole) => {
                    let near = |other: &plate::photo::MeasuredHole| {
                        distance(other.centre, hole.centre) < (other.diameter + hole.diameter) / 4.0
                    };
                    found.holes.retain(|other| !near(other));
                    found.holes.push(hole);
                }
                Err(error) => notes.push(error.to_string()),
            }
        }
        let picture = found.rectified.jpeg(QUALITY).map_err(refused)?;
        let mut taken = BTreeSet::new();
        let holes = found.holes.into_iter().map(|hole| measured(&board, request.plate, hole, &mut taken)).collect();
        Ok(MeasuredPlate {
            size: found.located.size,
            picture: Blob { media: "image/jpeg".to_owned(), base64: STANDARD.encode(picture) },
            holes,
            notes,
        })
    }
}

fn no_plate(plate: PlateId) -> ApiError {
    ApiError::not_found(format!("/plates/{plate}: there is no such plate on this board"))
}

fn too_many_taps(count: usize) -> ApiError {
    ApiError::refused(vec![Problem::refused("/taps", count, "too many holes tapped", format!("tap up to {MOST_TAPS}"))])
}

fn distance(a: Point, b: Point) -> f64 {
    let (x, y) = (a[0] - b[0], a[1] - b[1]);
    (x * x + y * y).sqrt()
}

fn place_words([x, y]: Point) -> String {
    format!("x {x} mm, y {y} mm")
}

fn score_view(score: Score) -> PlateScore {
    PlateScore { length: score.length, crossings: score.crossings, rows: score.rows, total: score.total }
}

/// Cables of circuits and supply that go through no entry yet, with the name of what they feed.
fn cables_without_entry(board: &Board) -> Vec<(CableId, &Cable, String)> {
    let used: BTreeSet<CableId> = board
        .live_plates()
        .flat_map(|(_, plate)| plate.entries.values())
        .filter(|entry| !entry.removed)
        .flat_map(|entry| entry.cable.iter().chain(&entry.others))
        .copied()
        .collect();
    let circuits = board.live_circuits().filter_map(|(_, circuit)| {
        let (id, cable) = board.cable_of(circuit)?;
        let name = format!("{} {}", plate::circuit_label(board, circuit), circuit.description);
        Some((id, cable, name.trim_end().to_owned()))
    });
    let supply = board.supply.cable.and_then(|id| {
        let cable = board.cables.get(&id).filter(|cable| !cable.removed)?;
        Some((id, cable, "incoming cable".to_owned()))
    });
    let mut seen = BTreeSet::new();
    supply.into_iter().chain(circuits).filter(|(id, ..)| !used.contains(id) && seen.insert(*id)).collect()
}

/// Kind and size of the gland for a cable, and what to say beside it.
fn gland_for(cable: &Cable, tables: &plate::Tables) -> Result<(EntryKind, String, &'static str), String> {
    let kind = match cable.construction.get() {
        Some(Construction::Armoured) => EntryKind::ArmouredGland,
        Some(Construction::Multicore | Construction::FlatTwinEarth | Construction::Flexible) => {
            EntryKind::CompressionGland
        }
        Some(Construction::SingleCore) => {
            return Err("all conductors of a circuit go through one opening: add a conduit, bush or cut-out".to_owned());
        }
        None => return Err("its construction is not known: enter it first".to_owned()),
    };
    let (under, overall, _) = plate::cable_diameters(cable, tables);
    let overall = overall.ok_or("its diameter is not known: measure it, or enter cores and size")?;
    let found = match kind {
        EntryKind::ArmouredGland => plate::choose_gland(under, overall, tables),
        _ => plate::choose_compression_gland(overall, tables),
    };
    let best = found.iter().find(|one| one.fit == Fit::Fits).or_else(|| found.iter().find(|one| one.fit == Fit::Edge));
    let best = best.ok_or("no listed gland takes its diameter: measure it again")?;
    let word = if best.fit == Fit::Fits { "" } else { ", at the edge of its range: measure the cable first" };
    Ok((kind, best.size.clone(), word))
}

/// Width and depth of a plate in millimetres, and how far either may be off.
fn plate_size(board: &Board, id: PlateId) -> Result<[f64; 3], ApiError> {
    let plate = board.plates.get(&id).filter(|plate| !plate.removed).ok_or_else(|| no_plate(id))?;
    let side = |field: &str, reading: &survey::Reading<Millimetres>| {
        reading.range().map(|range| (range.lo().get(), range.hi().get())).ok_or_else(|| {
            ApiError::refused(vec![Problem::refused(
                format!("/plates/{id}/{field}"),
                "",
                "the plate's size gives the photo its scale, and it is not known",
                "measure the plate, or lay the printed marker sheet beside it",
            )])
        })
    };
    let (width, depth) = (side("width", &plate.width)?, side("depth", &plate.depth)?);
    let middle = |(lo, hi): (f64, f64)| f64::midpoint(lo, hi);
    // Half a division of a millimetre rule where no tolerance was given.
    let within = ((width.1 - width.0) / 2.0).max((depth.1 - depth.0) / 2.0).max(0.5);
    Ok([middle(width), middle(depth), within])
}

fn measured(
    board: &Board,
    plate: PlateId,
    hole: plate::photo::MeasuredHole,
    taken: &mut BTreeSet<EntryId>,
) -> MeasuredHole {
    // A tenth of a millimetre is as fine as a photo goes.
    let tenth = |value: f64| (value * 10.0).round() / 10.0;
    let up = |value: f64| (value * 10.0).ceil() / 10.0;
    let at = hole.centre.map(tenth);
    let (length, upright) = match hole.kind {
        HoleKind::Circle => (None, false),
        HoleKind::Slot { length, angle } => (Some(tenth(length)), angle.abs() > 45.0),
    };
    let diameter = tenth(hole.diameter);
    let entry = board
        .plates
        .get(&plate)
        .into_iter()
        .flat_map(|plate| &plate.entries)
        .filter(|(id, entry)| !entry.removed && !taken.contains(id))
        .filter_map(|(id, entry)| Some((distance(entry.at?, at), *id)))
        .filter(|(far, _)| *far <= SAME)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, id)| id);
    taken.extend(entry);
    let (across, height) = match length {
        // Width and height are those of the opening as the plate lies.
        Some(length) if upright => (diameter, Some(length)),
        Some(length) => (length, Some(diameter)),
        None => (diameter, None),
    };
    let (at_within, diameter_within) = (up(hole.centre_within), up(hole.diameter_within));
    let take = TakenHole {
        entry,
        at,
        at_within: Millimetres::new(at_within),
        diameter: Millimetres::new(across),
        diameter_within: Millimetres::new(diameter_within),
        height: height.map(Millimetres::new),
    };
    let shape = match length {
        Some(length) => format!("slot {length} × {diameter} mm"),
        None => format!("Ø {diameter} ± {diameter_within} mm"),
    };
    MeasuredHole {
        words: format!("{shape} at x {}, y {} mm, within {at_within} mm", at[0], at[1]),
        at,
        at_within,
        diameter,
        diameter_within,
        length,
        confidence: hole.confidence,
        entry,
        take: json!(take),
    }
}
