//! The setting-out of whole plates: no rule broken, what stays stays, the same answer every time.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod common;

use common::{Dice, PLATE, board, circuit, entry, entry_mut, mm, take, thrown, twenty_four};
use plate::{
    EarthTags, NotReady, SolveError, Spanner, Spare, Tables, Weights, Wishes, check_plate, drag, score, setting_out,
    solve, wiring_space,
};
use survey::pattern::{Face, Rect};
use survey::{Construction, EntryKind, Reading, Verdict};

const GEOMETRY: [&str; 5] = ["plate-inside", "plate-keep-out", "plate-clearance", "plate-metal", "plate-section"];

fn quick() -> Wishes {
    Wishes { effort: 300_000, ..Wishes::default() }
}

#[test]
fn a_solved_plate_breaks_no_rule_and_scores_what_it_says() {
    let mut dice = Dice(1);
    let (mut solved, mut refused) = (0, 0);
    for _ in 0..80 {
        let count = 1 + dice.below(20);
        let mut board = thrown(&mut dice, count);
        // What stands there already may break rules: here it does not.
        for entry in board.plates.get_mut(&PLATE).unwrap().entries.values_mut() {
            (entry.existing, entry.locked) = (false, false);
        }
        match solve(&board, PLATE, Tables::shipped(), &quick()) {
            Ok(solution) => {
                solved += 1;
                assert_eq!(solution.places.len(), count);
                assert!(solution.bound <= solution.score.total + 1e-9);
                take(&mut board, &solution.places);
                let now = score(&board, PLATE, Tables::shipped(), &Weights::default()).unwrap();
                assert!((now.total - solution.score.total).abs() < 1e-6, "{now:?} {:?}", solution.score);
                for place in &solution.places {
                    assert!(place.at.iter().all(|number| number.fract() == 0.0), "{place:?}");
                }
                for check in check_plate(&board, PLATE, Tables::shipped()) {
                    let ours = GEOMETRY.contains(&check.rule.as_str());
                    assert!(!ours || check.verdict != Verdict::Fails, "{check:#?}");
                }
            }
            Err(SolveError::NoRoom { lacking, .. }) => {
                refused += 1;
                assert!(!lacking.is_empty());
            }
            Err(other) => panic!("{other}"),
        }
    }
    assert!(solved >= 30 && refused >= 5, "{solved} solved, {refused} refused: the plates are no test");
}

#[test]
fn twenty_four_entries_are_set_out_in_few_rows_without_crossings() {
    let board = twenty_four();
    let solution = solve(&board, PLATE, Tables::shipped(), &Wishes::default()).unwrap();
    assert_eq!(solution.places.len(), 24);
    let more = Wishes { effort: 6_000_000, ..Wishes::default() };
    let better = solve(&board, PLATE, Tables::shipped(), &more).unwrap();
    // Of 276 pairs of cables.
    assert!(better.score.crossings <= 6 && better.score.rows <= 8, "{:?}", better.score);
    assert_eq!(solution, solve(&board, PLATE, Tables::shipped(), &Wishes::default()).unwrap());
}

#[test]
fn existing_and_locked_entries_stay_and_others_keep_clear_of_them() {
    let mut board = board(Face::Top, 300.0, 100.0, 10.0);
    let old = entry(&mut board, EntryKind::Conduit, "25", Some([81.3, 44.7]), None);
    entry_mut(&mut board, old).existing = true;
    let fast = entry(&mut board, EntryKind::Conduit, "20", Some([200.0, 50.0]), None);
    entry_mut(&mut board, fast).locked = true;
    let free = entry(&mut board, EntryKind::Conduit, "20", Some([82.0, 45.0]), None);
    let solution = solve(&board, PLATE, Tables::shipped(), &quick()).unwrap();
    assert_eq!(solution.places.iter().map(|place| place.entry).collect::<Vec<_>>(), [free]);
    take(&mut board, &solution.places);
    assert!(check_plate(&board, PLATE, Tables::shipped()).iter().all(|check| check.verdict != Verdict::Fails));
    let kept = Wishes { keep_placed: true, ..quick() };
    assert_eq!(solve(&board, PLATE, Tables::shipped(), &kept).unwrap().places, vec![]);
}

/// Two cables whose ways lie left and right must not be swapped, on whichever face.
#[test]
fn cables_meet_their_ways_without_crossing() {
    for face in [Face::Top, Face::Bottom, Face::Left, Face::Right] {
        let mut board = board(face, 360.0, 100.0, 10.0);
        let mut cables = Vec::new();
        for pole in ["1L1", "2L1", "11L3", "12L3"] {
            let cable = circuit(&mut board, pole, Construction::Multicore, 3, 2.5);
            cables.push(cable);
            entry(&mut board, EntryKind::CompressionGland, "M20", None, Some(cable));
        }
        let solution = solve(&board, PLATE, Tables::shipped(), &quick()).unwrap();
        assert_eq!(solution.score.crossings, 0, "{face:?} {solution:#?}");
        let space = wiring_space(&board, PLATE);
        let x = |nth: usize| space.targets[&cables[nth]].x;
        // Odd ways lie in the left column: from below, left and right change places.
        match face {
            Face::Top => assert!(x(0) < x(1)),
            Face::Bottom => assert!(x(0) > x(1)),
            Face::Left => assert!(x(0) > x(2)),
            _ => assert!(x(0) < x(2)),
        }
    }
}

#[test]
fn a_full_plate_names_the_least_that_would_do_and_that_one_does() {
    let mut board = board(Face::Bottom, 120.0, 60.0, 10.0);
    for _ in 0..6 {
        entry(&mut board, EntryKind::CompressionGland, "M20", None, None);
    }
    // Bodies of 30 with a gap of 3: three in the one row that fits.
    let error = solve(&board, PLATE, Tables::shipped(), &quick()).unwrap_err();
    let SolveError::NoRoom { least: Some([width, depth]), ref lacking, .. } = error else { panic!("{error}") };
    assert!(lacking.len() >= 3, "{error}");
    // By hand: two rows need 63 mm to drill, 83 deep; one row of six needs 195, 215 wide.
    assert!((width == 120.0 && depth <= 90.0) || (depth == 60.0 && width <= 220.0) || width * depth <= 120.0 * 90.0);
    let plate = board.plates.get_mut(&PLATE).unwrap();
    (plate.width, plate.depth) = (mm(width), mm(depth));
    plate.usable = Some(Rect::new(10.0, 10.0, width - 20.0, depth - 20.0));
    assert!(solve(&board, PLATE, Tables::shipped(), &Wishes::default()).is_ok());
}

#[test]
fn room_is_kept_for_spares_and_for_the_spanner() {
    let mut board = board(Face::Bottom, 300.0, 60.0, 10.0);
    for _ in 0..3 {
        entry(&mut board, EntryKind::CompressionGland, "M20", None, None);
    }
    let spare = Spare { kind: EntryKind::CompressionGland, size: "M20".to_owned() };
    let with = |count: usize, spanner: Spanner| {
        solve(&board, PLATE, Tables::shipped(), &Wishes { spares: vec![spare.clone(); count], spanner, ..quick() })
    };
    // 280 mm take eight bodies of 30 with 3 between them: (280 + 3) / 33.
    assert_eq!(with(5, Spanner::Thin).unwrap().spares.len(), 5);
    assert!(matches!(with(6, Spanner::Thin), Err(SolveError::NoRoom { .. })));
    // An open spanner on 26 mm flats: half of 2.1 * 26 + 2 is 28.3, 1 beside it: none fits 40 mm deep.
    assert!(matches!(with(0, Spanner::Open), Err(SolveError::NoRoom { .. })));
    // A tubular one: half of 1.4 * 26 + 2, and 1, and half of 30 make 35.2, so 36 on whole millimetres.
    let tubular = Wishes { spanner: Spanner::Tubular, ..quick() };
    let places = solve(&board, PLATE, Tables::shipped(), &tubular).unwrap().places;
    for pair in [(0, 1), (0, 2), (1, 2)] {
        let (a, b) = (places[pair.0].at, places[pair.1].at);
        let (x, y) = (a[0] - b[0], a[1] - b[1]);
        assert!(x * x + y * y >= 35.2 * 35.2, "{places:?}");
    }
    let odd = Spare { kind: EntryKind::Conduit, size: "21".to_owned() };
    let error = solve(&board, PLATE, Tables::shipped(), &Wishes { spares: vec![odd], ..quick() }).unwrap_err();
    assert!(error.to_string().contains("\"21\""), "{error}");
}

#[test]
fn earth_tags_get_room_or_it_is_said() {
    let mut board = board(Face::Bottom, 200.0, 60.0, 10.0);
    for _ in 0..4 {
        entry(&mut board, EntryKind::ArmouredGland, "20S", None, None);
    }
    let of =
        |board: &survey::Board, earth_tags| solve(board, PLATE, Tables::shipped(), &Wishes { earth_tags, ..quick() });
    assert!(of(&board, EarthTags::Room).unwrap().notes.is_empty());
    board.plates.get_mut(&PLATE).unwrap().usable = Some(Rect::new(10.0, 15.0, 125.0, 30.0));
    assert!(matches!(of(&board, EarthTags::Room), Err(SolveError::NoRoom { .. })));
    let without = of(&board, EarthTags::IfRoom).unwrap();
    assert!(without.notes.iter().any(|note| note.contains("earthing locknut")), "{:?}", without.notes);
}

#[test]
fn bad_plates_get_a_clear_answer() {
    let mut board = board(Face::Bottom, 300.0, 100.0, 10.0);
    let quick = quick();
    let run = |board: &survey::Board| solve(board, PLATE, Tables::shipped(), &quick);
    assert_eq!(run(&board).unwrap().places, vec![]);
    // Overlapping holes that are there stay; the new one finds its place.
    for at in [[100.0, 50.0], [104.0, 50.0], [100.0, 50.0]] {
        let old = entry(&mut board, EntryKind::Conduit, "25", Some(at), None);
        entry_mut(&mut board, old).existing = true;
    }
    let new = entry(&mut board, EntryKind::Conduit, "25", None, None);
    assert_eq!(run(&board).unwrap().places[0].entry, new);
    for (hole, size) in [(0.0, "25"), (1e9, "25"), (-5.0, ""), (f64::NAN, "25")] {
        entry_mut(&mut board, new).hole = Some(survey::Millimetres::new(hole));
        entry_mut(&mut board, new).size = size.to_owned();
        let solution = run(&board).unwrap();
        assert_eq!((solution.places.len(), solution.left_out.len()), (0, 1), "{hole}");
    }
    entry_mut(&mut board, new).hole = Some(survey::Millimetres::new(1900.0));
    assert!(matches!(run(&board), Err(SolveError::NoRoom { .. })));
    entry_mut(&mut board, new).hole = None;
    entry_mut(&mut board, new).at = Some([f64::NAN, f64::INFINITY]);
    entry_mut(&mut board, new).size = "25".to_owned();
    assert_eq!(run(&board).unwrap().places.len(), 1);
    for rect in [Rect::new(f64::NAN, 0.0, 1.0, 1.0), Rect::new(0.0, 0.0, 1e9, 1e9), Rect::new(0.0, 0.0, -5.0, 5.0)] {
        board.plates.get_mut(&PLATE).unwrap().keep_outs.push(rect);
    }
    assert_eq!(run(&board).unwrap().places.len(), 1);
    for _ in 0..1000 {
        entry(&mut board, EntryKind::Conduit, "25", None, None);
    }
    assert!(matches!(run(&board), Err(SolveError::TooMany { count: 1004 })));
    assert!(!check_plate(&board, PLATE, Tables::shipped()).is_empty());
    assert!(drag(&board, PLATE, new, [50.0, 50.0], Tables::shipped()).unwrap().at.is_some());
    board.plates.get_mut(&PLATE).unwrap().width = Reading::unknown();
    let error = run(&board).unwrap_err();
    assert!(matches!(error, SolveError::TooMany { .. } | SolveError::NotReady(NotReady::NoSize { .. })), "{error}");
    board.plates.get_mut(&PLATE).unwrap().entries.clear();
    assert!(matches!(run(&board), Err(SolveError::NotReady(NotReady::NoSize { field: "width", .. }))));
    board.plates.clear();
    assert!(matches!(run(&board), Err(SolveError::NotReady(NotReady::NoPlate(_)))));
}

#[test]
fn a_dragged_entry_lands_on_the_nearest_legal_place_or_says_why_not() {
    let mut board = board(Face::Bottom, 300.0, 100.0, 10.0);
    let fast = entry(&mut board, EntryKind::Conduit, "25", Some([100.0, 50.0]), None);
    entry_mut(&mut board, fast).locked = true;
    let free = entry(&mut board, EntryKind::Conduit, "25", Some([200.0, 50.0]), None);
    let to = |at| drag(&board, PLATE, free, at, Tables::shipped()).unwrap();
    // Bodies of 37 and a gap of 3: centres 40 apart on one row, drawn to it.
    assert_eq!(to([150.4, 52.0]).at, Some([150.0, 50.0]));
    assert_eq!(to([150.4, 52.0]).snapped[0].with, "E1");
    let near = to([130.0, 50.0]);
    assert_eq!(near.at, Some([140.0, 50.0]));
    assert!(near.why.iter().any(|why| why.contains("foul E1")), "{near:?}");
    let outside = to([-40.0, 400.0]);
    assert_eq!(outside.at, Some([29.0, 71.0]));
    assert!(outside.why.iter().any(|why| why.contains("outside")), "{outside:?}");
    assert!(drag(&board, PLATE, free, [f64::NAN, 1.0], Tables::shipped()).is_err());
    let stays = drag(&board, PLATE, fast, [50.0, 50.0], Tables::shipped()).unwrap();
    assert!(stays.at.is_none() && stays.why[0].contains("locked"));
    // The place found is legal by the checks.
    let mut moved = board.clone();
    entry_mut(&mut moved, free).at = near.at;
    assert!(setting_out(&moved, PLATE, Tables::shipped()).unwrap().unplaced.is_empty());
    let checks = check_plate(&moved, PLATE, Tables::shipped());
    assert!(checks.iter().all(|check| check.verdict != Verdict::Fails), "{checks:#?}");
}

/// What stands in the way is named: where the pattern's depth, which nobody measured, forbids the bends, that depth is to
/// be measured, and the one named would do; of less, a bend is too tight.
#[test]
fn a_depth_that_nobody_measured_is_named_as_the_cause() {
    let mut found = 0;
    for count in 1..=9 {
        let mut board = board(Face::Bottom, 400.0, 120.0, 10.0);
        for index in 0..count {
            let pole = format!("{}L1", index + 1);
            let cable = circuit(&mut board, &pole, Construction::Armoured, 4, 70.0);
            board.cables.get_mut(&cable).unwrap().diameter = mm(42.0);
            board.cables.get_mut(&cable).unwrap().bedding_diameter = mm(36.0);
            entry(&mut board, EntryKind::ArmouredGland, "50S", None, Some(cable));
        }
        let answer = solve(&board, PLATE, Tables::shipped(), &quick());
        println!("{count}: {answer:?}");
        let Err(error @ SolveError::NoRoom { depth: Some(depth), .. }) = answer else { continue };
        found += 1;
        assert!(error.to_string().contains(&format!("{depth} mm would do")), "{error}");
        board.plates.get_mut(&PLATE).unwrap().wiring_depth = mm(depth);
        assert!(solve(&board, PLATE, Tables::shipped(), &quick()).is_ok(), "{depth}");
        let bends = |board: &survey::Board| -> Vec<Verdict> {
            let mut set = board.clone();
            for place in solve(board, PLATE, Tables::shipped(), &quick()).unwrap().places {
                set.plates.get_mut(&PLATE).unwrap().entries.get_mut(&place.entry).unwrap().at = Some(place.at);
            }
            let checks = check_plate(&set, PLATE, Tables::shipped());
            checks.iter().filter(|check| check.rule == "plate-bend").map(|check| check.verdict).collect()
        };
        assert!(bends(&board).iter().all(|verdict| *verdict == Verdict::Holds), "{:?}", bends(&board));
        board.plates.get_mut(&PLATE).unwrap().wiring_depth = mm(depth - 5.0);
        assert!(bends(&board).contains(&Verdict::Fails), "{:?}", bends(&board));
    }
    assert!(found > 0);
}
