//! Photos by a drawer of its own, of what goes wrong on site: curled sheets, covered markers, cables in
//! holes, marks that look like holes, a recorded size that is wrong. No hole far off, and no mark taken
//! for a hole, without a word about it.

#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "a test stops where it fails, on one machine")]

mod common;

use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use common::{Sheet, Sides, outside};
use plate::photo::{MeasuredHole, Photo, PhotoError, PlatePhoto, Recorded, Reference, Wanted, measure};
use serde::Deserialize;

/// Smallest holes whose finding is judged, in millimetres.
const LEAST_JUDGED: f64 = 10.0;

/// A drawn photo and its truth; millimetres from the corner tapped first.
#[derive(Deserialize)]
struct Case {
    photo: String,
    taps: [[f64; 2]; 4],
    size: [f64; 2],
    holes: Vec<Hole>,
    decoys: Vec<Decoy>,
    sides: Option<Sides>,
    sheet: Option<Sheet>,
    recorded: Option<Sides>,
    contradicts: bool,
    about: serde_json::Value,
}

#[derive(Deserialize)]
struct Hole {
    centre: [f64; 2],
    diameter: f64,
    length: f64,
    occupied: bool,
    rim_seen: f64,
}

#[derive(Deserialize)]
struct Decoy {
    centre: [f64; 2],
    diameter: f64,
    what: String,
}

impl Case {
    fn reference(&self) -> Reference {
        if let Some(Sides { width, depth, within }) = self.sides {
            return Reference::Corners { taps: self.taps, width, depth, within };
        }
        let Sheet { check_line, within } = *self.sheet.as_ref().unwrap();
        let recorded = self.recorded.map(|Sides { width, depth, within }| Recorded { width, depth, within });
        Reference::Sheet { check_line, within, plate: Some(self.taps), recorded }
    }
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

#[derive(Default)]
struct Tally {
    refused: usize,
    /// Believed holes: off and said to be off, in millimetres.
    centres: Vec<(f64, f64)>,
    diameters: Vec<(f64, f64)>,
    /// Believed holes that are off by more than 2 mm, and marks believed to be holes, in words.
    far_off: Vec<String>,
    marks: Vec<String>,
    /// Open holes of photos that do not contradict themselves and are not too steep: how many, and how many
    /// are believed.
    open: [usize; 2],
    /// Open holes of all photos that do not contradict themselves: how many, and how many are shown, believed
    /// or with a note.
    shown: [usize; 2],
    contradicting: usize,
    /// Contradictions not told, and told where there is none.
    missed: Vec<String>,
    feigned: Vec<String>,
    decoys: usize,
    noted: usize,
}

impl Tally {
    fn add(&mut self, case: &Case, answer: &Result<PlatePhoto, PhotoError>) {
        self.decoys += case.decoys.len();
        self.contradicting += usize::from(case.contradicts);
        let answer = match answer {
            Ok(answer) => answer,
            Err(error) => {
                println!("{} ({}): {error}", case.photo, case.about);
                self.refused += 1;
                return;
            }
        };
        let told = !answer.located.contradictions.is_empty();
        let words = format!("{} {:?} size {:?}", case.photo, answer.located.contradictions, case.size);
        match (case.contradicts, told) {
            (true, false) => self.missed.push(words),
            (false, true) => self.feigned.push(words),
            _ => {}
        }
        let believed: Vec<&MeasuredHole> = answer.holes.iter().filter(|hole| hole.doubts.is_empty()).collect();
        self.noted += answer.holes.len() - believed.len() + answer.unsure.len();
        let mut hit = vec![false; case.holes.len()];
        for hole in believed {
            let reach = |truth: &Hole| truth.diameter.max(truth.length) / 2.0;
            let nearest = (0..case.holes.len())
                .min_by(|a, b| {
                    distance(hole.centre, case.holes[*a].centre)
                        .total_cmp(&distance(hole.centre, case.holes[*b].centre))
                })
                .filter(|at| distance(hole.centre, case.holes[*at].centre) < reach(&case.holes[*at]) + 3.0);
            let Some(at) = nearest else {
                let what = case
                    .decoys
                    .iter()
                    .find(|decoy| distance(decoy.centre, hole.centre) < (decoy.diameter + hole.diameter) / 2.0);
                let what = what.map_or("nothing", |decoy| &decoy.what);
                self.marks.push(format!("{} {what} at {:?} Ø {:.1}", case.photo, hole.centre, hole.diameter));
                continue;
            };
            hit[at] = true;
            let truth = &case.holes[at];
            let off = distance(hole.centre, truth.centre);
            let wide = (hole.diameter - truth.diameter).abs();
            self.centres.push((off, hole.centre_within));
            self.diameters.push((wide, hole.diameter_within));
            if off > 2.0 || wide > 2.0 {
                self.far_off.push(format!(
                    "{} at {:?} Ø {:.1}: centre off {off:.2} ({:.2}), Ø off {wide:.2} ({:.2}); {}",
                    case.photo, truth.centre, truth.diameter, hole.centre_within, hole.diameter_within, case.about
                ));
            }
        }
        if told || case.contradicts {
            return;
        }
        for (hole, hit) in case.holes.iter().zip(hit) {
            if hole.occupied || hole.rim_seen < 0.98 || hole.diameter < LEAST_JUDGED {
                continue;
            }
            let seen = answer.holes.iter().chain(&answer.unsure);
            self.shown[0] += 1;
            self.shown[1] +=
                usize::from(seen.into_iter().any(|one| distance(one.centre, hole.centre) < hole.diameter / 2.0));
            // On a ground painted like the plate a hole is hardly seen.
            if case.about["tilt"].as_f64().unwrap() < 25.0 && case.about["ground"] != "same grey" {
                self.open[0] += 1;
                self.open[1] += usize::from(hit);
            }
        }
    }

    fn covered(of: &[(f64, f64)]) -> f64 {
        of.iter().filter(|(off, within)| off <= within).count() as f64 / of.len().max(1) as f64
    }

    fn told(&self, name: &str) {
        let mut offs: Vec<f64> = self.centres.iter().map(|(off, _)| *off).collect();
        offs.sort_by(f64::total_cmp);
        let mut said: Vec<f64> = self.centres.iter().map(|(_, within)| *within).collect();
        said.sort_by(f64::total_cmp);
        let middle = |sorted: &[f64]| sorted.get(sorted.len() / 2).copied().unwrap_or_default();
        println!(
            "{name}: {} refused; {} believed, {} noted; centre off {:.3} mm (median), {:.3} (most), said {:.3} (median), covered {:.3}; diameters covered {:.3}; open holes believed {} of {}, shown {} of {}; decoys {}; contradictions {}",
            self.refused,
            self.centres.len(),
            self.noted,
            middle(&offs),
            offs.last().copied().unwrap_or_default(),
            middle(&said),
            Self::covered(&self.centres),
            Self::covered(&self.diameters),
            self.open[1],
            self.open[0],
            self.shown[1],
            self.shown[0],
            self.decoys,
            self.contradicting
        );
        for (what, words) in
            [("far off", &self.far_off), ("mark", &self.marks), ("not told", &self.missed), ("feigned", &self.feigned)]
        {
            for line in words {
                println!("  {what}: {line}");
            }
        }
    }
}

/// Measures every photo of a folder.
fn measured(folder: &Path) -> Vec<(Case, Result<PlatePhoto, PhotoError>)> {
    let cases: Vec<Case> = serde_json::from_slice(&std::fs::read(folder.join("cases.json")).unwrap()).unwrap();
    let (next, answers) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                while let Some((at, case)) = {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    cases.get(at).map(|case| (at, case))
                } {
                    let photo = Photo::decode(&std::fs::read(folder.join(&case.photo)).unwrap()).unwrap();
                    answers.lock().unwrap().push((at, measure(&photo, &case.reference(), &Wanted::default())));
                }
            });
        }
    });
    let mut answers = answers.into_inner().unwrap();
    answers.sort_by_key(|(at, _)| *at);
    cases.into_iter().zip(answers.into_iter().map(|(_, answer)| answer)).collect()
}

fn judged(folder: &Path) -> Tally {
    let (mut all, mut sides, mut sheet) = (Tally::default(), Tally::default(), Tally::default());
    for (case, answer) in measured(folder) {
        all.add(&case, &answer);
        if case.sheet.is_some() { sheet.add(&case, &answer) } else { sides.add(&case, &answer) }
    }
    sides.told("by the plate's sides");
    sheet.told("by the marker sheet");
    all.told("all");
    all
}

#[test]
fn nothing_is_far_off_and_no_mark_is_a_hole_without_a_note() {
    // Photos that are there already, to look at figures only.
    if let Some(folder) = std::env::var_os("WAYWRIGHT_PHOTOS") {
        judged(Path::new(&folder));
        return;
    }
    let whole = std::env::var_os("WAYWRIGHT_WHOLE").is_some();
    // Seeds 1001 and on and 2001 and on were tuned on; 7001 to 7006, 9001 and 9002 are judged and spent. 7004: one mark
    // believed, one diameter 7.7 mm off. 7005: none of 179 marks, none of 116 believed holes off, one contradiction
    // feigned, 92 of 115 open holes believed. 7006, by the same rules, passes: none of 230 marks, none of 133 holes off,
    // 103 of 158. The whole run takes one that is neither, or the one asked for.
    let asked = std::env::var("WAYWRIGHT_SEED").ok();
    let (seed, count) = if whole { (asked.as_deref().unwrap_or("7007"), 60) } else { ("1001", 6) };
    let folder = tempfile::tempdir().unwrap();
    let number = count.to_string();
    let out = folder.path().to_str().unwrap();
    outside("draw_photo_hard.py", &["--seed", seed, "--count", &number, "--megapixels", "3", "--out", out]);
    let all = judged(folder.path());
    assert!(all.far_off.is_empty(), "{:?}", all.far_off);
    assert!(all.marks.is_empty(), "{:?}", all.marks);
    assert!(all.missed.is_empty(), "{:?}", all.missed);
    // Of the sixty, one by chance (99 of 100).
    assert!(all.feigned.len() <= usize::from(whole), "{:?}", all.feigned);
    assert!(Tally::covered(&all.centres) >= 0.95, "centres covered {}", Tally::covered(&all.centres));
    assert!(Tally::covered(&all.diameters) >= 0.95, "diameters covered {}", Tally::covered(&all.diameters));
    // "Cannot say" about everything says nothing.
    assert!(all.centres.len() >= 2 * count, "{} holes believed", all.centres.len());
    // A share says something where there are many. A single photo from nearly straight above shows a dark hole no
    // otherwise than a stain, so that not all can be believed.
    let enough = all.open[0] >= count && all.open[1] * 10 >= all.open[0] * 6;
    assert!(!whole || enough, "open holes believed {:?}", all.open);
    assert!(all.shown[0] >= count && all.shown[1] * 10 >= all.shown[0] * 9, "open holes shown {:?}", all.shown);
    assert!(all.refused * 5 <= count, "{} refused", all.refused);
}
