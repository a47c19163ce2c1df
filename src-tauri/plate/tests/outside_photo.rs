//! Photos drawn by another program, with known holes: what is measured on them, and how far off it is.
//! OpenCV judges the projective map.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails, on one machine")]

mod common;

use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use common::{Dice, Sheet, Sides, outside};
use plate::photo::{
    HoleKind, Homography, MeasuredHole, Photo, PhotoError, PlatePhoto, Reference, Wanted, marker_sheet, measure,
};
use serde::Deserialize;
use serde_json::json;

/// A drawn photo and its truth.
#[derive(Deserialize)]
struct Case {
    photo: String,
    taps: [[f64; 2]; 4],
    size: [f64; 2],
    holes: Vec<Hole>,
    sides: Option<Sides>,
    sheet: Option<Sheet>,
}

/// A true hole: millimetres from the corner tapped first.
#[derive(Deserialize)]
struct Hole {
    centre: [f64; 2],
    diameter: f64,
    length: f64,
}

/// A hole found: how far off it is and was said to be, in millimetres.
struct Off {
    centre: f64,
    centre_within: f64,
    diameter: f64,
    diameter_within: f64,
    /// Difference of a slot's length.
    length: Option<f64>,
}

#[derive(Default)]
struct Tally {
    photos: usize,
    holes: usize,
    refused: usize,
    wrong: usize,
    found: Vec<Off>,
}

impl Tally {
    fn add(&mut self, case: &Case, answer: &Result<PlatePhoto, PhotoError>) {
        self.photos += 1;
        self.holes += case.holes.len();
        let Ok(answer) = answer else {
            self.refused += 1;
            return;
        };
        let mut left: Vec<&MeasuredHole> = answer.holes.iter().collect();
        for hole in &case.holes {
            let apart = |measured: &MeasuredHole| distance(measured.centre, hole.centre);
            let nearest = (0..left.len()).min_by(|a, b| apart(left[*a]).total_cmp(&apart(left[*b])));
            let Some(at) = nearest.filter(|at| apart(left[*at]) < hole.diameter / 2.0) else { continue };
            let measured = left.swap_remove(at);
            self.found.push(Off {
                centre: apart(measured),
                centre_within: measured.centre_within,
                diameter: measured.diameter - hole.diameter,
                diameter_within: measured.diameter_within,
                length: match measured.kind {
                    HoleKind::Slot { length, .. } => Some(length - hole.length),
                    HoleKind::Circle => None,
                },
            });
        }
        self.wrong += left.len();
    }

    fn recall(&self) -> f64 {
        self.found.len() as f64 / self.holes as f64
    }

    /// Holes that are none, as a share of those measured.
    fn wrong_share(&self) -> f64 {
        self.wrong as f64 / (self.wrong + self.found.len()).max(1) as f64
    }

    fn share(&self, of: impl Fn(&Off) -> bool) -> f64 {
        self.found.iter().filter(|off| of(off)).count() as f64 / self.found.len() as f64
    }

    fn quantile(&self, share: f64, of: impl Fn(&Off) -> f64) -> f64 {
        let mut all: Vec<f64> = self.found.iter().map(of).collect();
        all.sort_by(f64::total_cmp);
        all[((all.len() - 1) as f64 * share).round() as usize]
    }

    fn told(&self, name: &str) {
        println!(
            "{name}: {} photos ({} refused), {} holes, recall {:.4}, wrong {} ({:.4})",
            self.photos,
            self.refused,
            self.holes,
            self.recall(),
            self.wrong,
            self.wrong_share()
        );
        println!(
            "  centre off {:.3} mm (median), {:.3} (p99), {:.3} (most); said {:.3} (median); covered {:.3}",
            self.quantile(0.5, |off| off.centre),
            self.quantile(0.99, |off| off.centre),
            self.quantile(1.0, |off| off.centre),
            self.quantile(0.5, |off| off.centre_within),
            self.share(|off| off.centre <= off.centre_within)
        );
        println!(
            "  diameter off {:.3} mm (median), {:.3} (p99), {:+.3} (mean); said {:.3} (median); covered {:.3}",
            self.quantile(0.5, |off| off.diameter.abs()),
            self.quantile(0.99, |off| off.diameter.abs()),
            self.found.iter().map(|off| off.diameter).sum::<f64>() / self.found.len() as f64,
            self.quantile(0.5, |off| off.diameter_within),
            self.share(|off| off.diameter.abs() <= off.diameter_within)
        );
        let lengths: Vec<f64> = self.found.iter().filter_map(|off| off.length).collect();
        if !lengths.is_empty() {
            let mean = lengths.iter().sum::<f64>() / lengths.len() as f64;
            let most = lengths.iter().fold(0.0, |most: f64, length| most.max(length.abs()));
            println!("  {} slots, length off {mean:+.3} mm (mean), {most:.3} (most)", lengths.len());
        }
    }

    /// What photos are to be good for.
    fn check(&self) {
        assert!(self.recall() >= 0.99, "recall {}", self.recall());
        assert!(self.wrong_share() <= 0.01, "wrong {}", self.wrong_share());
        assert!(self.quantile(0.5, |off| off.centre) <= 0.3, "centre, median");
        assert!(self.quantile(0.99, |off| off.centre) <= 1.0, "centre, p99");
        assert!(self.share(|off| off.centre <= off.centre_within) >= 0.95, "centres covered");
        assert!(self.share(|off| off.diameter.abs() <= off.diameter_within) >= 0.95, "diameters covered");
        // An uncertainty that covers everything says nothing.
        assert!(self.quantile(0.5, |off| off.centre_within) <= 0.5, "centre_within, median");
        assert!(self.quantile(0.5, |off| off.diameter_within) <= 0.5, "diameter_within, median");
    }
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Has photos drawn and measures each; in the order drawn.
fn measured(folder: &Path, count: usize, more: &[&str]) -> Vec<(Case, Result<PlatePhoto, PhotoError>)> {
    let sheet = marker_sheet();
    let patches: Vec<_> = sheet.patches.iter().map(|p| json!([p.x, p.y, p.width, p.height, p.black])).collect();
    let told = json!({ "size": sheet.size, "patches": patches, "words": sheet.words });
    let sheet = folder.join("sheet.json");
    std::fs::write(&sheet, told.to_string()).unwrap();
    let number = count.to_string();
    let mut arguments = vec!["draw", sheet.to_str().unwrap(), folder.to_str().unwrap(), &number];
    arguments.extend(more);
    outside("plate_photos.py", &arguments);
    let cases: Vec<Case> = serde_json::from_slice(&std::fs::read(folder.join("cases.json")).unwrap()).unwrap();
    assert_eq!(cases.len(), count);
    let (next, answers) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(case) = cases.get(at) else { break };
                    let photo = Photo::decode(&std::fs::read(folder.join(&case.photo)).unwrap()).unwrap();
                    let reference = match (&case.sides, &case.sheet) {
                        (Some(Sides { width, depth, within }), _) => {
                            Reference::Corners { taps: case.taps, width: *width, depth: *depth, within: *within }
                        }
                        (None, Some(Sheet { check_line, within })) => Reference::Sheet {
                            check_line: *check_line,
                            within: *within,
                            plate: Some(case.taps),
                            recorded: None,
                        },
                        (None, None) => panic!("{} has no reference", case.photo),
                    };
                    answers.lock().unwrap().push((at, measure(&photo, &reference, &Wanted::default())));
                }
            });
        }
    });
    let mut answers = answers.into_inner().unwrap();
    answers.sort_by_key(|(at, _)| *at);
    assert!(answers.iter().enumerate().all(|(at, (number, _))| at == *number) && answers.len() == count);
    cases.into_iter().zip(answers.into_iter().map(|(_, answer)| answer)).collect()
}

#[test]
fn holes_are_measured_on_hard_photos() {
    let folder = tempfile::tempdir().unwrap();
    let (mut all, mut usual, mut by_sides, mut by_sheet) =
        (Tally::default(), Tally::default(), Tally::default(), Tally::default());
    for (case, answer) in measured(folder.path(), 220, &[]) {
        if let Err(error) = &answer {
            println!("{}: {error}", case.photo);
        }
        all.add(&case, &answer);
        if case.size == [300.0, 120.0] {
            usual.add(&case, &answer);
        }
        if case.sheet.is_some() { by_sheet.add(&case, &answer) } else { by_sides.add(&case, &answer) }
    }
    by_sides.told("by the plate's sides");
    by_sheet.told("by the marker sheet");
    usual.told("plates of 300 by 120 mm");
    all.told("all");
    assert!(all.photos == 220 && by_sheet.photos >= 80 && by_sides.photos >= 80 && usual.photos >= 100);
    usual.check();
    all.check();
}

#[test]
fn nothing_is_off_on_photos_without_what_makes_them_hard() {
    let folder = tempfile::tempdir().unwrap();
    let mut all = Tally::default();
    for (case, answer) in measured(folder.path(), 15, &["--easy"]) {
        all.add(&case, &answer);
    }
    all.told("thin plates, sharp, no noise");
    assert_eq!((all.photos, all.refused, all.wrong, all.found.len()), (15, 0, 0, all.holes));
    assert!(all.quantile(0.5, |off| off.centre) < 0.04 && all.quantile(1.0, |off| off.centre) < 0.3);
    assert!(all.quantile(0.5, |off| off.diameter.abs()) < 0.05);
}

/// The largest difference of two maps from millimetres (to 400) to pixels (to 4000), both brought to unit
/// squares and unit size (Frobenius norm).
fn apart(a: &[[f64; 3]; 3], b: &[[f64; 3]; 3]) -> f64 {
    let normal = |rows: &[[f64; 3]; 3]| -> Vec<f64> {
        let scaled: Vec<f64> = (0..9)
            .map(|i| {
                let (row, column) = (i / 3, i % 3);
                rows[row][column] / if row < 2 { 4000.0 } else { 1.0 } * if column < 2 { 400.0 } else { 1.0 }
            })
            .collect();
        let size = scaled.iter().map(|number| number * number).sum::<f64>().sqrt() * scaled[8].signum();
        scaled.iter().map(|number| number / size).collect()
    };
    normal(a).iter().zip(normal(b)).map(|(p, q)| (p - q).abs()).fold(0.0, f64::max)
}

/// Points and where each is seen.
type Pairs = (Vec<[f64; 2]>, Vec<[f64; 2]>);

#[test]
fn opencv_finds_the_same_projective_maps() {
    #[derive(Deserialize)]
    struct Answer {
        least_squares: [[f64; 3]; 3],
        exact: Option<[[f64; 3]; 3]>,
    }
    let mut dice = Dice(7);
    // Sixteenths, which single precision holds exactly: OpenCV takes four points in no other.
    let mut near = |place: f64, by: usize| place + (dice.below(32 * by) as f64 / 16.0 - by as f64);
    let mut sets: Vec<Pairs> = Vec::new();
    for _ in 0..150 {
        let from = [[40.0, 40.0], [360.0, 40.0], [360.0, 360.0], [40.0, 360.0]].map(|p| p.map(|n| near(n, 35)));
        let to = [[800.0, 800.0], [3200.0, 800.0], [3200.0, 3200.0], [800.0, 3200.0]].map(|p| p.map(|n| near(n, 600)));
        sets.push((from.to_vec(), to.to_vec()));
    }
    for number in 0..150 {
        let base = sets[number].clone();
        let map = Homography::fit(&base.0, &base.1).unwrap();
        let mut from = base.0.clone();
        from.extend((0..4 + number % 40).map(|_| [near(200.0, 180), near(200.0, 180)]));
        let to = from.iter().map(|point| map.apply(*point).map(|n| near(n, 2))).collect();
        sets.push((from, to));
    }
    let folder = tempfile::tempdir().unwrap();
    let (asked, answered) = (folder.path().join("sets.json"), folder.path().join("maps.json"));
    let told: Vec<_> = sets.iter().map(|(from, to)| json!({ "from": from, "to": to })).collect();
    std::fs::write(&asked, serde_json::to_string(&told).unwrap()).unwrap();
    outside("plate_photos.py", &["maps".as_ref(), asked.as_os_str(), answered.as_os_str()]);
    let answers: Vec<Answer> = serde_json::from_slice(&std::fs::read(&answered).unwrap()).unwrap();
    assert_eq!(answers.len(), sets.len());
    let (mut worst, mut exact) = (0.0f64, 0);
    for ((from, to), answer) in sets.iter().zip(&answers) {
        let ours = Homography::fit(from, to).unwrap().rows;
        worst = worst.max(apart(&ours, &answer.least_squares));
        if let Some(theirs) = &answer.exact {
            worst = worst.max(apart(&ours, theirs));
            exact += 1;
        }
    }
    println!("{} maps, {exact} of four points: {worst:.2e} apart at most", sets.len());
    assert_eq!(exact, 150);
    assert!(worst < 1e-6, "{worst}");
}
