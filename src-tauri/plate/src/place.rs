//! A first place for a new entry.

use survey::pattern::{Point, Rect};
use survey::{Board, EntryKind, PlateId};

use crate::hole::hole_for;
use crate::setting_out::{SettingOut, setting_out};
use crate::shape::{BODY_GAP, EDGE_WITHOUT_USABLE, Shape, TINY};
use crate::tables::Tables;

/// The first legal place on whole millimetres for a new entry: on a row that is begun or the first
/// one, else on a fresh row clear of all others, else wherever there is room; as near the left rear
/// corner as that allows. `None` where the plate's size, the fitting or the room is missing.
#[must_use]
pub fn next_place(board: &Board, plate: PlateId, kind: EntryKind, size: &str, tables: &Tables) -> Option<Point> {
    let set = setting_out(board, plate, tables).ok()?;
    let hole = hole_for(kind, size, tables)?;
    let body = hole.body([0.0, 0.0]);
    let room = room(&set, hole.opening.shape([0.0, 0.0]), body);
    let others: Vec<Shape> = set.entries.iter().map(|entry| entry.hole.body(entry.centre)).collect();
    let keep_outs: Vec<Shape> = set.keep_outs.iter().map(|rect| Shape::of(*rect)).collect();
    let top = (room.y - TINY).ceil();
    let last = room.bottom() + TINY;
    let free = |y: f64| {
        let mut barred: Vec<(f64, f64)> = others
            .iter()
            .filter_map(|other| body.barred(*other, y, BODY_GAP))
            .chain(keep_outs.iter().filter_map(|other| body.barred(*other, y, 0.0)))
            .collect();
        barred.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut x = (room.x - TINY).ceil();
        for (from, to) in barred {
            if from + TINY >= x {
                // The free stretch before this one holds x, and later ones begin further right.
                break;
            }
            if x < to - TINY {
                x = (to - TINY).ceil();
            }
        }
        (x <= room.right() + TINY).then_some([x, y])
    };
    let mut rows: Vec<f64> = set.entries.iter().map(|entry| entry.centre[1]).filter(|y| y.fract() == 0.0).collect();
    rows.push(top);
    rows.sort_by(f64::total_cmp);
    rows.dedup();
    let reach = |other: &Shape| other.centre[1] + other.half[1] + other.radius + body.half[1] + body.radius + BODY_GAP;
    let fresh = others.iter().map(reach).fold(top, f64::max);
    let begun = rows.into_iter().filter(|y| *y >= top && *y <= last);
    let steps = |from: f64| std::iter::successors(Some(from), |y| Some(y + 1.0)).take_while(move |y| *y <= last);
    begun.chain(steps((fresh - TINY).ceil())).chain(steps(top)).find_map(free)
}

/// Where the centre of a body may lie.
pub(crate) fn room(set: &SettingOut, opening: Shape, body: Shape) -> Rect {
    let (whole, [w, h]) = match set.usable {
        Some(usable) => (usable, [body.half[0] + body.radius, body.half[1] + body.radius]),
        None => {
            let edge = opening.radius + EDGE_WITHOUT_USABLE;
            let reach = |axis: usize| (opening.half[axis] + edge).max(body.half[axis] + body.radius);
            (set.outline, [reach(0), reach(1)])
        }
    };
    Rect::new(whole.x + w, whole.y + h, whole.w - 2.0 * w, whole.h - 2.0 * h)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::check_plate;
    use crate::checks::tests::{entry, plate_board};
    use survey::Verdict;

    #[test]
    fn entries_placed_one_after_another_break_no_rule_until_the_plate_is_full() {
        let (mut board, plate) = plate_board(200.0, 90.0);
        let mut placed = Vec::new();
        while let Some(at) = next_place(&board, plate, EntryKind::ArmouredGland, "20S", Tables::shipped()) {
            assert!(at.iter().all(|number| number.fract() == 0.0), "{at:?}");
            entry(&mut board, plate, EntryKind::ArmouredGland, "20S", at);
            placed.push(at);
            assert!(placed.len() < 50);
        }
        // Bodies of 27.7 and a gap of 3 on 180 × 70: two rows of five, and one between them at the end.
        assert_eq!(placed[..2], [[24.0, 24.0], [55.0, 24.0]]);
        assert_eq!(placed[4..6], [[148.0, 24.0], [24.0, 55.0]]);
        assert_eq!(placed.len(), 11);
        let checks = check_plate(&board, plate, Tables::shipped());
        assert!(checks.iter().all(|check| check.verdict != Verdict::Fails), "{checks:#?}");
    }

    #[test]
    fn a_keep_out_is_stepped_over() {
        let (mut board, plate) = plate_board(200.0, 90.0);
        board.plates.get_mut(&plate).unwrap().keep_outs.push(Rect::new(0.0, 0.0, 60.0, 90.0));
        let at = next_place(&board, plate, EntryKind::Conduit, "25", Tables::shipped()).unwrap();
        // Body 37 across: 60 + 18.5, on the next whole millimetre.
        assert_eq!(at, [79.0, 29.0]);
    }
}
