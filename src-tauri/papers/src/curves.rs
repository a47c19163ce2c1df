//! Time-current bands of the devices a fault passes, as one drawing on logarithmic scales.

use std::fmt::Write as _;

use circuits::selectivity::{AT_ONCE, Band, BandPoint, Chain};

use survey::{Message, say};

use crate::text::{number, xml};

/// The drawing, in its own units.
const WIDTH: f64 = 640.0;
const HEIGHT: f64 = 620.0;
/// The plot within it: left, upper, right, lower.
const PLOT: [f64; 4] = [70.0, 20.0, 625.0, 500.0];
/// Longest time shown, in seconds: beyond the four hours of the largest fuses' conventional time (IEC 60269-1, from
/// memory).
const LONGEST: f64 = 20_000.0;
/// Fill, line and dashes of the device upstream, then of the circuit's.
const LOOKS: [[&str; 3]; 2] = [["#b9c7d6", "#123a63", ""], ["#f3d9a4", "#7a4a00", "7 4"]];

/// Scales of a plot: currents from a power of ten to another.
struct Scales {
    least: f64,
    most: f64,
}

impl Scales {
    fn x(&self, current: f64) -> f64 {
        let share =
            libm::log10(current.clamp(self.least, self.most) / self.least) / libm::log10(self.most / self.least);
        PLOT[0] + share * (PLOT[2] - PLOT[0])
    }

    fn y(time: f64) -> f64 {
        let least = AT_ONCE.get();
        let share = libm::log10(time.clamp(least, LONGEST) / least) / libm::log10(LONGEST / least);
        PLOT[3] - share * (PLOT[3] - PLOT[1])
    }

    fn points<'a>(&self, points: impl Iterator<Item = &'a BandPoint>, out: &mut String) {
        for point in points {
            let (x, y) = (self.x(point.current.get()), Self::y(point.time.get()));
            // Writing to a String cannot fail.
            let _ = write!(out, "{},{} ", number(x), number(y));
        }
    }
}

/// Draws a chain. Earlier than its band no device opens, later each has opened; where two bands overlap
/// both may open.
#[must_use]
pub fn time_current(chain: &Chain, title: &Message) -> String {
    let currents = chain.links.iter().flat_map(|link| link.band.earliest.iter().chain(&link.band.latest));
    let smallest = currents.map(|point| point.current.get()).fold(f64::INFINITY, f64::min).clamp(0.1, 10_000.0);
    let scales = Scales { least: libm::pow(10.0, libm::log10(smallest).floor()), most: 100_000.0 };
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" \
         font-family=\"sans-serif\" font-size=\"14\">\n<title>{}</title>\n<rect width=\"{WIDTH}\" height=\"{HEIGHT}\" \
         fill=\"#fff\"/>\n",
        xml(&title.words())
    );
    grid(&scales, &mut out);
    for link in &chain.links {
        let [fill, line, dashes] = LOOKS[usize::from(!link.upstream)];
        let Band { earliest, latest } = &link.band;
        let mut area = String::new();
        scales.points(earliest.iter(), &mut area);
        scales.points(latest.iter().rev(), &mut area);
        let _ = writeln!(out, "<polygon points=\"{}\" fill=\"{fill}\" fill-opacity=\"0.6\"/>", area.trim());
        for edge in [earliest, latest] {
            let mut points = String::new();
            scales.points(edge.iter(), &mut points);
            let _ = writeln!(
                out,
                "<polyline points=\"{}\" fill=\"none\" stroke=\"{line}\" stroke-width=\"2\" stroke-dasharray=\"{dashes}\"/>",
                points.trim()
            );
        }
    }
    if let Some(fault) = chain.fault {
        let ends = [fault.lo().get(), fault.hi().get()];
        let x = ends.map(|end| scales.x(end.max(scales.least)));
        let _ = writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"#000\" fill-opacity=\"0.25\"/>",
            number(x[0]),
            PLOT[1],
            number((x[1] - x[0]).max(2.0)),
            PLOT[3] - PLOT[1]
        );
    }
    legend(chain, &mut out);
    out.push_str("</svg>\n");
    out
}

fn grid(scales: &Scales, out: &mut String) {
    let mut line = |a: [f64; 2], b: [f64; 2], strong: bool| {
        let colour = if strong { "#777" } else { "#ddd" };
        let _ = writeln!(
            out,
            "<path d=\"M{} {}L{} {}\" stroke=\"{colour}\"/>",
            number(a[0]),
            number(a[1]),
            number(b[0]),
            number(b[1])
        );
    };
    let mut words: Vec<(f64, f64, &str, String)> = Vec::new();
    let decades = |least: f64, most: f64| {
        let (from, to) = (libm::log10(least).round() as i32, libm::log10(most).floor() as i32);
        (from..=to).map(|power| libm::pow(10.0, f64::from(power))).collect::<Vec<_>>()
    };
    for decade in decades(scales.least, scales.most) {
        for part in 1..10 {
            let current = decade * f64::from(part);
            if current <= scales.most {
                line([scales.x(current), PLOT[1]], [scales.x(current), PLOT[3]], part == 1);
            }
        }
        let shown = if decade >= 1000.0 { format!("{} kA", decade / 1000.0) } else { format!("{decade} A") };
        let anchor = if decade < 0.9 * scales.most { "middle" } else { "end" };
        words.push((scales.x(decade), PLOT[3] + 18.0, anchor, shown));
    }
    for decade in decades(AT_ONCE.get(), LONGEST) {
        for part in 1..10 {
            let time = decade * f64::from(part);
            if time <= LONGEST {
                line([PLOT[0], Scales::y(time)], [PLOT[2], Scales::y(time)], part == 1);
            }
        }
        let shown = if decade < 0.9 { format!("{} ms", (decade * 1000.0).round()) } else { format!("{decade} s") };
        words.push((PLOT[0] - 6.0, Scales::y(decade) + 5.0, "end", shown));
    }
    for (x, y, anchor, words) in words {
        let _ = writeln!(out, "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\">{words}</text>", number(x), number(y));
    }
}

fn legend(chain: &Chain, out: &mut String) {
    let mut y = PLOT[3] + 44.0;
    for upstream in [true, false] {
        let names = chain.links.iter().filter(|link| link.upstream == upstream).map(|link| link.name.clone());
        let Some(devices) = names.reduce(|one, other| say!("curve-or", one = one, other = other)) else { continue };
        let [fill, line, dashes] = LOOKS[usize::from(!upstream)];
        let what = if upstream {
            say!("curve-upstream", devices = devices)
        } else {
            say!("curve-of-circuit", devices = devices)
        };
        let _ = writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"28\" height=\"12\" fill=\"{fill}\" stroke=\"{line}\" stroke-width=\"2\" \
             stroke-dasharray=\"{dashes}\"/><text x=\"{}\" y=\"{}\">{}</text>",
            PLOT[0],
            number(y - 11.0),
            PLOT[0] + 36.0,
            number(y),
            xml(&what.words())
        );
        y += 22.0;
    }
    let fault = chain.fault.map(|_| say!("curve-fault"));
    let missing = chain.missing.iter().map(|what| say!("curve-not-shown", what = what.clone()));
    for words in fault.into_iter().chain(missing) {
        let _ = writeln!(out, "<text x=\"{}\" y=\"{}\">{}</text>", PLOT[0], number(y), xml(&words.words()));
        y += 20.0;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

    use circuits::selectivity::{Link, Overcurrent, band};
    use survey::{Amps, Curve, Range};

    use super::*;

    fn links() -> Vec<Link> {
        let tables = circuits::Tables::shipped().unwrap();
        let link = |name: &'static str, upstream, device| Link {
            name: name.into(),
            upstream,
            band: band(device, &tables).unwrap(),
        };
        vec![
            link("100 A fuse", true, Overcurrent::Fuse { rated: Amps::new(100.0) }),
            link("B16 <breaker>", false, Overcurrent::Breaker { curve: Curve::B, rated: Amps::new(16.0) }),
        ]
    }

    #[test]
    fn every_device_is_drawn_within_the_plot() {
        let fault = Some(Range::new(Amps::new(2000.0), Amps::new(3000.0)));
        let drawn = time_current(&Chain { links: links(), fault, missing: vec!["a & b".into()] }, &"3L1".into());
        assert_eq!((drawn.matches("<polygon").count(), drawn.matches("<polyline").count()), (2, 4));
        assert!(drawn.contains("B16 &lt;breaker&gt;, of this circuit") && drawn.contains("a &amp; b"), "{drawn}");
        for list in drawn.split("points=\"").skip(1) {
            for point in list.split('"').next().unwrap().split(' ') {
                let (x, y) = point.split_once(',').unwrap();
                let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
                assert!((PLOT[0]..=PLOT[2]).contains(&x) && (PLOT[1]..=PLOT[3]).contains(&y), "{point}");
            }
        }
        // Ten times the current is always as far along.
        let scales = Scales { least: 1.0, most: 100_000.0 };
        assert!((scales.x(100.0) - scales.x(10.0) - (scales.x(10.0) - scales.x(1.0))).abs() < 1e-9);
    }

    #[test]
    fn a_chain_without_devices_is_drawn_empty() {
        let drawn = time_current(&Chain::default(), &Message::default());
        assert!(drawn.ends_with("</svg>\n") && !drawn.contains("polygon") && !drawn.contains("NaN"));
    }
}
