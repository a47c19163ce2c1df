//! Photos that are no photos, corners that are no corners: an answer each time, never a panic.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use plate::photo::{
    CHECK_LINE, Contradiction, Doubt, HoleKind, MOST_PIXELS, Photo, PhotoError, Recorded, Rectified, Reference, Side,
    Wanted, locate, marker_sheet, measure, measure_at,
};

const WIDTH: usize = 800;
const HEIGHT: usize = 500;
const TAPS: [[f64; 2]; 4] = [[102.0, 99.0], [698.0, 102.0], [702.0, 341.0], [99.0, 338.0]];

/// A plate of 300 by 120 mm at two pixels a millimetre from 100, 100, with a round hole of 20 mm at
/// 60, 50 and an upright slot of 10 by 30 mm at 200, 60.
fn grey(plate: u8, ground: u8) -> Vec<u8> {
    let mut out = Vec::with_capacity(WIDTH * HEIGHT);
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            // Sixteen looks a pixel, so that edges are as smooth as a lens makes them.
            let mut sum = 0u32;
            for i in 0..16 {
                let px = (x as f64 + (f64::from(i % 4) + 0.5) / 4.0 - 100.0) / 2.0;
                let py = (y as f64 + (f64::from(i / 4) + 0.5) / 4.0 - 100.0) / 2.0;
                let on = (0.0..300.0).contains(&px) && (0.0..120.0).contains(&py);
                let round = (px - 60.0) * (px - 60.0) + (py - 50.0) * (py - 50.0) < 100.0;
                let over = (py - 60.0) - (py - 60.0).clamp(-10.0, 10.0);
                let slot = (px - 200.0) * (px - 200.0) + over * over < 25.0;
                sum += u32::from(if on && !round && !slot { plate } else { ground });
            }
            out.push((sum / 16) as u8);
        }
    }
    out
}

fn photo(plate: u8, ground: u8) -> Photo {
    Photo::from_grey(WIDTH as u32, HEIGHT as u32, grey(plate, ground)).unwrap()
}

fn corners(taps: [[f64; 2]; 4]) -> Reference {
    Reference::Corners { taps, width: 300.0, depth: 120.0, within: 0.0 }
}

fn png(width: u32, height: u32, bytes: &[u8]) -> Vec<u8> {
    use image::ImageEncoder;
    let mut out = Vec::new();
    image::codecs::png::PngEncoder::new(&mut out)
        .write_image(bytes, width, height, image::ExtendedColorType::L8)
        .unwrap();
    out
}

#[test]
fn a_plain_plate_is_measured_and_the_same_every_time() {
    let photo = photo(180, 40);
    let answer = measure(&photo, &corners(TAPS), &Wanted::default()).unwrap();
    assert_eq!(answer, measure(&photo, &corners(TAPS), &Wanted::default()).unwrap());
    assert_eq!(answer.holes.len(), 2, "{:?}", answer.holes);
    let round = answer.holes.iter().find(|hole| hole.kind == HoleKind::Circle).unwrap();
    assert!((round.diameter - 20.0).abs() < 0.2 && round.diameter_within < 1.0, "{round:?}");
    assert!((round.centre[0] - 60.0).abs() < 0.15 && (round.centre[1] - 50.0).abs() < 0.15, "{round:?}");
    let slot = answer.holes.iter().find(|hole| hole.kind != HoleKind::Circle).unwrap();
    let HoleKind::Slot { length, angle } = slot.kind else { panic!("{slot:?}") };
    assert!((length - 30.0).abs() < 0.3 && (slot.diameter - 10.0).abs() < 0.3, "{slot:?}");
    assert!((angle.abs() - 90.0).abs() < 1.0, "{slot:?}");
    let Rectified { width, height, mm_per_pixel, .. } = answer.rectified;
    assert!((f64::from(width) * mm_per_pixel - 300.0).abs() < 1.0);
    assert!((f64::from(height) * mm_per_pixel - 120.0).abs() < 1.0);
    assert!(answer.rectified.jpeg(85).unwrap().len() > 1000);
    for (corner, expected) in answer.located.corners.iter().zip([[100.0, 100.0], [700.0, 100.0], [700.0, 340.0]]) {
        assert!((corner[0] - expected[0]).abs() < 0.3 && (corner[1] - expected[1]).abs() < 0.3, "{corner:?}");
    }
}

#[test]
fn a_tap_measures_the_hole_beneath_it() {
    let photo = photo(90, 230);
    let located = locate(&photo, &corners(TAPS)).unwrap();
    let hole = measure_at(&photo, &located, [226.0, 196.0], &Wanted::default()).unwrap();
    assert!((hole.diameter - 20.0).abs() < 0.2 && (hole.centre[0] - 60.0).abs() < 0.15, "{hole:?}");
    assert_eq!(measure_at(&photo, &located, [400.0, 160.0], &Wanted::default()), Err(PhotoError::NoHole));
    for tap in [[f64::NAN, 5.0], [5.0, 1e9], [-1.0, 5.0]] {
        let error = measure_at(&photo, &located, tap, &Wanted::default()).unwrap_err();
        assert!(error.to_string().contains("a place in the photo"), "{error}");
    }
}

#[test]
fn files_that_are_no_photos_are_refused_in_words() {
    let whole = png(WIDTH as u32, HEIGHT as u32, &grey(180, 40));
    assert!(Photo::decode(&whole).is_ok());
    for cut in [0, 1, 20, 60, whole.len() / 2, whole.len() - 20] {
        let error = Photo::decode(&whole[..cut]).unwrap_err();
        assert!(matches!(error, PhotoError::Unreadable(_)), "{cut}: {error}");
    }
    // Every byte of the head turned, and some further in: an answer of either kind.
    for at in (0..60).chain((60..whole.len()).step_by(whole.len() / 40)) {
        let mut damaged = whole.clone();
        damaged[at] ^= 0x55;
        let _ = Photo::decode(&damaged);
    }
    let error = Photo::decode(b"GIF89a and so on").unwrap_err().to_string();
    assert!(error.contains("neither JPEG nor PNG"), "{error}");
}

#[test]
fn a_hundred_megapixels_are_refused_from_the_head() {
    // The head of a PNG that claims 100 million pixels, with nothing behind it.
    let small = png(64, 64, &[7; 64 * 64]);
    let mut claim = small.clone();
    claim[16..20].copy_from_slice(&10_000u32.to_be_bytes());
    claim[20..24].copy_from_slice(&10_000u32.to_be_bytes());
    let crc = crc32(&claim[12..29]);
    claim[29..33].copy_from_slice(&crc.to_be_bytes());
    let error = Photo::decode(&claim).unwrap_err();
    assert!(matches!(error, PhotoError::TooLarge { .. }), "{error}");
    let text = error.to_string();
    assert!(
        text.contains("10000 by 10000") && text.contains(&format!("{} million", MOST_PIXELS / 1_000_000)),
        "{text}"
    );
    assert!(matches!(Photo::from_grey(10_000, 10_000, Vec::new()), Err(PhotoError::TooLarge { .. })));
    assert!(matches!(Photo::from_rgb(u32::MAX, u32::MAX, Vec::new()), Err(PhotoError::TooLarge { .. })));
    assert!(matches!(Photo::from_grey(10, 10, vec![0; 100]), Err(PhotoError::TooSmall { .. })));
    assert!(matches!(Photo::from_grey(100, 100, vec![0; 99]), Err(PhotoError::Unreadable(_))));
}

/// The check sum of PNG chunks (ISO/IEC 15948, annex D).
fn crc32(bytes: &[u8]) -> u32 {
    let mut crc = u32::MAX;
    for byte in bytes {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 { crc >> 1 ^ 0xedb8_8320 } else { crc >> 1 };
        }
    }
    !crc
}

#[test]
fn sizes_and_corners_that_make_no_plate_are_refused() {
    let photo = photo(180, 40);
    let refused = |reference: &Reference, words: &str| {
        let error = measure(&photo, reference, &Wanted::default()).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
    };
    for size in [0.0, -5.0, f64::NAN, f64::INFINITY, 1e9] {
        refused(&Reference::Corners { taps: TAPS, width: size, depth: 120.0, within: 0.0 }, "width");
        refused(&Reference::Corners { taps: TAPS, width: 300.0, depth: size, within: 0.0 }, "depth");
        refused(&Reference::Sheet { check_line: size, within: 0.0, plate: None, recorded: None }, "check line");
    }
    refused(&Reference::Corners { taps: TAPS, width: 300.0, depth: 120.0, within: f64::NAN }, "play");
    let [a, b, c, d] = TAPS;
    refused(&corners([d, c, b, a]), "the other way round");
    refused(&corners([a, c, b, d]), "no convex quadrilateral");
    refused(&corners([[100.0, 100.0], [300.0, 100.0], [500.0, 100.0], [700.0, 100.0]]), "no convex quadrilateral");
    refused(&corners([a, a, c, d]), "no convex quadrilateral");
    refused(&corners([[f64::NAN, 1.0], b, c, d]), "outside the photo");
    refused(&corners([[-9.0, 1.0], b, c, d]), "outside the photo");
    refused(&corners([a, [120.0, 99.0], [120.0, 120.0], [102.0, 120.0]]), "pixels long");
    refused(
        &Reference::Sheet { check_line: CHECK_LINE, within: 0.0, plate: None, recorded: None },
        "0 of the sheet's four markers",
    );
    let wanted = |least, most| measure(&photo, &corners(TAPS), &Wanted { least, most });
    for (least, most) in [(0.0, 50.0), (f64::NAN, 50.0), (10.0, f64::NAN), (50.0, 10.0), (5.0, 1e6)] {
        assert!(matches!(wanted(least, most), Err(PhotoError::Value { .. })), "{least} {most}");
    }
}

#[test]
fn pictures_of_nothing_are_answered() {
    for level in [0, 255, 128] {
        let blank = Photo::from_grey(WIDTH as u32, HEIGHT as u32, vec![level; WIDTH * HEIGHT]).unwrap();
        let error = measure(&blank, &corners(TAPS), &Wanted::default()).unwrap_err();
        assert!(matches!(error, PhotoError::Edge { .. }), "{error}");
        assert!(error.to_string().contains("is not seen near the taps"), "{error}");
        let sheet = Reference::Sheet { check_line: CHECK_LINE, within: 0.0, plate: Some(TAPS), recorded: None };
        assert_eq!(measure(&blank, &sheet, &Wanted::default()), Err(PhotoError::Markers { found: 0 }));
    }
    // Noise alone, and stripes: any answer will do, but there must be one.
    let mut state = 3u32;
    let noise: Vec<u8> = (0..WIDTH * HEIGHT)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 24) as u8
        })
        .collect();
    let stripes: Vec<u8> =
        (0..WIDTH * HEIGHT).map(|i| if (i % WIDTH / 7).is_multiple_of(2) { 0 } else { 255 }).collect();
    for bytes in [noise, stripes] {
        let odd = Photo::from_grey(WIDTH as u32, HEIGHT as u32, bytes).unwrap();
        let _ = measure(&odd, &corners(TAPS), &Wanted::default());
        let _ = measure(
            &odd,
            &Reference::Sheet { check_line: CHECK_LINE, within: 0.0, plate: None, recorded: None },
            &Wanted::default(),
        );
    }
}

#[test]
fn the_exif_orientation_turns_the_photo() {
    use image::ImageEncoder;
    use image::codecs::jpeg::JpegEncoder;
    // A segment with one entry: tag 0x0112 (orientation), 6: the first row is the right side (CIPA DC-008, 4.6.4).
    let mut exif = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0".to_vec();
    let mut plain = Vec::new();
    JpegEncoder::new_with_quality(&mut plain, 95)
        .write_image(&grey(180, 40), WIDTH as u32, HEIGHT as u32, image::ExtendedColorType::L8)
        .unwrap();
    let mut segment = vec![0xff, 0xe1];
    segment.extend(((exif.len() + 2) as u16).to_be_bytes());
    segment.append(&mut exif);
    let turned: Vec<u8> = plain[..2].iter().chain(&segment).chain(&plain[2..]).copied().collect();
    let (upright, photo) = (Photo::decode(&plain).unwrap(), Photo::decode(&turned).unwrap());
    assert_eq!((upright.width(), upright.height()), (800, 500));
    assert_eq!((photo.width(), photo.height()), (500, 800));
    // The point x, y of the file is seen at 500 - y, x. The plate's corners follow it round.
    let taps = TAPS.map(|[x, y]| [500.0 - y, x]);
    let answer = measure(&photo, &corners(taps), &Wanted::default()).unwrap();
    assert!((answer.holes[0].centre[0] - 60.0).abs() < 0.3 && answer.holes.len() == 2, "{:?}", answer.holes);
}

#[test]
fn a_sheet_alone_gives_the_scale() {
    let sheet = marker_sheet();
    let (width, height, scale) = (1000usize, 720usize, 3.0);
    let mut bytes = vec![235u8; width * height];
    for patch in &sheet.patches {
        for y in ((patch.y * scale).round() as usize)..(((patch.y + patch.height) * scale).round() as usize) {
            for x in ((patch.x * scale).round() as usize)..(((patch.x + patch.width) * scale).round() as usize) {
                bytes[(y + 40) * width + x + 50] = if patch.black { 20 } else { 235 };
            }
        }
    }
    // A dark disc of 24 mm in the middle of the sheet, at 148.5, 105 of it.
    for y in 0..height {
        for x in 0..width {
            let (dx, dy) = ((x as f64 + 0.5 - 50.0) / scale - 148.5, (y as f64 + 0.5 - 40.0) / scale - 105.0);
            if dx * dx + dy * dy < 144.0 {
                bytes[y * width + x] = 60;
            }
        }
    }
    let photo = Photo::from_grey(width as u32, height as u32, bytes).unwrap();
    // The rule says 202 mm: everything is a hundredth larger.
    let reference = Reference::Sheet { check_line: 202.0, within: 0.2, plate: None, recorded: None };
    let answer = measure(&photo, &reference, &Wanted::default()).unwrap();
    assert!(answer.holes.is_empty() && !answer.located.plate && answer.located.markers == 4);
    let tap = [50.0 + 148.5 * scale + 4.0, 40.0 + 105.0 * scale - 5.0];
    let hole = measure_at(&photo, &answer.located, tap, &Wanted::default()).unwrap();
    assert!((hole.diameter - 24.24).abs() < 0.15, "{hole:?}");
    // Counted from the first marker's corner, at 12, 12 of the sheet.
    assert!((hole.centre[0] - 136.5 * 1.01).abs() < 0.2 && (hole.centre[1] - 93.0 * 1.01).abs() < 0.2, "{hole:?}");
    assert!((hole.diameter - 24.24).abs() <= hole.diameter_within, "{hole:?}");
}

/// The sheet and below it a plate of 240 by 100 mm, at three pixels a millimetre on a dark ground, with a hole
/// of 24 mm at 60, 50 (its wall seen as of a plate of 2 mm from 337 mm straight above 127, -57), a black disc of
/// 24 mm at 120, 50, a ring drawn at 180, 50 and a disc of 16 mm in the ground's own grey at 215, 25.
fn sheet_and_plate() -> (Photo, [[f64; 2]; 4]) {
    let (width, height, scale) = (1000usize, 1100usize, 3.0);
    let sheet = marker_sheet();
    let mut bytes = vec![70u8; width * height];
    let mut fill = |x: f64, y: f64, w: f64, h: f64, level: u8| {
        for row in ((y * scale).round() as usize)..(((y + h) * scale).round() as usize) {
            for column in ((x * scale).round() as usize)..(((x + w) * scale).round() as usize) {
                bytes[(row + 40) * width + column + 50] = level;
            }
        }
    };
    fill(0.0, 0.0, sheet.size[0], sheet.size[1], 235);
    for patch in &sheet.patches {
        fill(patch.x, patch.y, patch.width, patch.height, if patch.black { 20 } else { 235 });
    }
    for y in 0..height {
        for x in 0..width {
            let mut sum = 0u32;
            for i in 0..16u8 {
                let px = (x as f64 + (f64::from(i % 4) + 0.5) / 4.0 - 120.0) / scale;
                let py = (y as f64 + (f64::from(i / 4) + 0.5) / 4.0 - 720.0) / scale;
                let far = |middle: f64| ((px - middle) * (px - middle) + (py - 50.0) * (py - 50.0)).sqrt();
                let (bx, by) = (px + 2.0 * (px - 127.0) / 337.0, py + 2.0 * (py + 57.0) / 337.0);
                let behind = (bx - 60.0) * (bx - 60.0) + (by - 50.0) * (by - 50.0) < 144.0;
                sum += u32::from(if !((0.0..240.0).contains(&px) && (0.0..100.0).contains(&py)) {
                    bytes[y * width + x]
                } else if far(60.0) < 12.0 {
                    if behind { 70 } else { 130 }
                } else if (px - 215.0) * (px - 215.0) + (py - 25.0) * (py - 25.0) < 64.0 {
                    70
                } else if far(120.0) < 12.0 {
                    15
                } else if (far(180.0) - 12.0).abs() < 0.8 {
                    40
                } else {
                    200
                });
            }
            bytes[y * width + x] = (sum / 16) as u8;
        }
    }
    let taps = [[121.0, 718.0], [838.0, 722.0], [841.0, 1018.0], [118.0, 1021.0]];
    (Photo::from_grey(width as u32, height as u32, bytes).unwrap(), taps)
}

#[test]
fn a_recorded_size_that_contradicts_the_sheet_is_told() {
    let (photo, taps) = sheet_and_plate();
    let by = |recorded| {
        let reference = Reference::Sheet { check_line: CHECK_LINE, within: 0.2, plate: Some(taps), recorded };
        measure(&photo, &reference, &Wanted::default())
    };
    let alone = by(None).unwrap();
    let right = by(Some(Recorded { width: 240.3, depth: 99.8, within: 0.5 })).unwrap();
    assert!(right.located.contradictions.is_empty(), "{:?}", right.located.contradictions);
    let middle = |answer: &plate::photo::PlatePhoto| {
        answer.holes.iter().find(|hole| (hole.centre[0] - 60.0).abs() < 3.0).unwrap().clone()
    };
    // The size on record makes up for not knowing how high the sheet lies.
    assert!(right.located.size_within[0] < alone.located.size_within[0]);
    assert!(middle(&right).centre_within < middle(&alone).centre_within);
    for (width, depth, side, off) in [(248.0, 100.0, Side::Width, 8.0), (240.0, 93.0, Side::Depth, 7.0)] {
        let wrong = by(Some(Recorded { width, depth, within: 0.5 })).unwrap();
        let [one] = &wrong.located.contradictions[..] else { panic!("{:?}", wrong.located.contradictions) };
        let Contradiction::RecordedAgainstSheet { side: told, .. } = one;
        assert_eq!(*told, side);
        assert!((one.off() - off).abs() < 1.5, "{one:?}");
        assert!(wrong.notes.iter().any(|note| note.contains("recorded as")), "{:?}", wrong.notes);
        assert!(!wrong.holes.is_empty() && wrong.holes.iter().all(|hole| hole.doubts.contains(&Doubt::Scale)));
        assert!(middle(&wrong).centre_within > middle(&alone).centre_within);
    }
    for (width, depth, within, words) in
        [(f64::NAN, 100.0, 0.5, "recorded width"), (240.0, -1.0, 0.5, "recorded depth"), (240.0, 100.0, -1.0, "play")]
    {
        let error = by(Some(Recorded { width, depth, within })).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
    }
}

#[test]
fn a_strip_of_shadow_beside_an_edge_is_not_the_plates() {
    // A dark strip of 2 mm on a bright ground below the front edge, as beside a plate that lies hollow.
    let mut bytes = grey(100, 200);
    for row in 340..344 {
        bytes[row * WIDTH + 100..row * WIDTH + 700].fill(40);
    }
    let photo = Photo::from_grey(WIDTH as u32, HEIGHT as u32, bytes).unwrap();
    let located = locate(&photo, &corners(TAPS)).unwrap();
    assert!((located.corners[2][1] - 340.0).abs() < 1.0, "{:?}", located.corners);
}

#[test]
fn a_hole_whose_place_is_hardly_known_says_so() {
    // The plate's size may be 8 mm off, and with it a hole far from the datum.
    let photo = photo(180, 40);
    let reference = Reference::Corners { taps: TAPS, width: 300.0, depth: 120.0, within: 8.0 };
    let answer = measure(&photo, &reference, &Wanted::default()).unwrap();
    let far = answer.holes.iter().find(|hole| (hole.centre[0] - 200.0).abs() < 8.0).unwrap();
    assert!(far.centre_within > 2.0 && far.doubts.contains(&Doubt::Loose), "{far:?}");
    let exact = measure(&photo, &corners(TAPS), &Wanted::default()).unwrap();
    assert!(exact.holes.iter().all(|hole| !hole.doubts.contains(&Doubt::Loose)), "{:?}", exact.holes);
}

#[test]
fn marks_on_the_plate_are_not_believed_to_be_holes() {
    let (photo, taps) = sheet_and_plate();
    let reference = Reference::Corners { taps, width: 240.0, depth: 100.0, within: 0.5 };
    let answer = measure(&photo, &reference, &Wanted::default()).unwrap();
    let believed: Vec<_> = answer.holes.iter().filter(|hole| hole.doubts.is_empty()).collect();
    assert_eq!(believed.len(), 1, "{:?}", answer.holes);
    assert!((believed[0].centre[0] - 60.0).abs() < 0.3 && (believed[0].diameter - 24.0).abs() < 0.4, "{believed:?}");
    let shown = answer.holes.iter().chain(&answer.unsure);
    let disc = shown.into_iter().find(|hole| (hole.centre[0] - 120.0).abs() < 1.0).unwrap();
    assert_eq!(disc.doubts, [Doubt::NoDepth]);
    // As grey as the ground, but without a wall.
    let shown = answer.holes.iter().chain(&answer.unsure);
    let disc = shown.into_iter().find(|hole| (hole.centre[0] - 215.0).abs() < 1.0).unwrap();
    assert_eq!(disc.doubts, [Doubt::NoDepth]);
    assert!(answer.notes.iter().any(|note| note.contains("may be no holes")), "{:?}", answer.notes);
}
