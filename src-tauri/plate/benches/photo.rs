//! How long a photo of 12 million pixels takes: read, and measured with 12 holes found.

#![allow(clippy::unwrap_used, missing_docs, reason = "a bench stops where it fails")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use image::ImageEncoder;
use image::codecs::jpeg::JpegEncoder;
use plate::photo::{Homography, Photo, Reference, Wanted, measure};

const SIZE: [u32; 2] = [4000, 3000];
const PLATE: [f64; 2] = [300.0, 120.0];
const CORNERS: [[f64; 2]; 4] = [[420.0, 700.0], [3600.0, 560.0], [3780.0, 2150.0], [260.0, 2010.0]];

/// A plate with twelve holes of 10 to 32 mm, in perspective and uneven light, with grain.
fn photo() -> Vec<u8> {
    let plate = [[0.0, 0.0], [PLATE[0], 0.0], PLATE, [0.0, PLATE[1]]];
    let back = Homography::fit(&CORNERS, &plate).unwrap();
    let holes: Vec<([f64; 2], f64)> = (0..12)
        .map(|i| ([30.0 + 48.0 * f64::from(i % 6), if i < 6 { 35.0 } else { 85.0 }], 5.0 + f64::from(i)))
        .collect();
    let mut state = 1u32;
    let mut bytes = Vec::new();
    for y in 0..SIZE[1] {
        for x in 0..SIZE[0] {
            let mut level = 0.0;
            for i in 0..4 {
                let look = [f64::from(x) + 0.25 + 0.5 * f64::from(i % 2), f64::from(y) + 0.25 + 0.5 * f64::from(i / 2)];
                let [u, v] = back.apply(look);
                let on = (0.0..PLATE[0]).contains(&u) && (0.0..PLATE[1]).contains(&v);
                let through =
                    holes.iter().any(|([a, b], radius)| (u - a) * (u - a) + (v - b) * (v - b) < radius * radius);
                level += if on && !through { 42.0 } else { 13.0 };
            }
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = f64::from(state >> 28) - 7.5;
            let grey = (level * (0.8 + 0.3 * f64::from(x) / 4000.0) + grain) as u8;
            bytes.extend([grey, grey, grey.saturating_sub(6)]);
        }
    }
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, 92)
        .write_image(&bytes, SIZE[0], SIZE[1], image::ExtendedColorType::Rgb8)
        .unwrap();
    out
}

fn bench(criterion: &mut Criterion) {
    let file = photo();
    let mut group = criterion.benchmark_group("photo of 12 MP");
    group.sample_size(10);
    group.bench_function("read", |bencher| bencher.iter(|| Photo::decode(black_box(&file)).unwrap()));
    let photo = Photo::decode(&file).unwrap();
    let taps = CORNERS.map(|[x, y]| [x + 14.0, y - 9.0]);
    let reference = Reference::Corners { taps, width: PLATE[0], depth: PLATE[1], within: 0.25 };
    assert_eq!(measure(&photo, &reference, &Wanted::default()).unwrap().holes.len(), 12);
    group.bench_function("measure", |bencher| {
        bencher.iter(|| measure(black_box(&photo), &reference, &Wanted::default()).unwrap());
    });
    group.finish();
}

criterion_group!(benches, bench);
criterion_main!(benches);
