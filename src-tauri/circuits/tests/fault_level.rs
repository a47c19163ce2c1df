//! Fault currents against a network solved with pandapower 3.5.6 (IEC 60909, general-purpose
//! power-system library): 630 kVA, uk 4 %, ukr 1.1 %, on 250/150 MVA with R/X 0.1; 30 m of main
//! cable at 0.0754 Ω/km, 25 m of final cable at 1.15 Ω/km, reactance 0.08 Ω/km, return conductors as
//! the lines; smallest currents with conductors at 70 °C (0.004/K: factor 1.2). Hand calculation
//! by the same rules agrees to the last digit.
#![allow(clippy::unwrap_used)]

use circuits::fault_level::{Case, Path, Run, Transformer};
use survey::{Metres, OhmsPerKilometre, Quantity, Range, Ratio, Volts, Watts};

fn point<Q: Quantity>(value: f64) -> Range<Q> {
    Range::point(Q::of(value))
}

fn run(resistance: f64, length: f64) -> Run {
    Run {
        line: point::<OhmsPerKilometre>(resistance),
        back: point::<OhmsPerKilometre>(resistance),
        reactance: point::<OhmsPerKilometre>(0.08),
        length: point::<Metres>(length),
        warm: Ratio::new(1.2),
    }
}

#[test]
fn a_transformer_and_two_cables() {
    let transformer = Transformer {
        rated: Watts::new(630e3),
        voltage: Volts::new(400.0),
        uk: Ratio::new(0.04),
        ukr: Ratio::new(0.011),
    };
    let voltage = Range::point(Volts::new(400.0 / 3.0_f64.sqrt()));
    // kA: three-phase, line to line, line to earth; at the transformer, after the main, at the end.
    for (case, power, expected) in [
        (Case::Largest, 250e6, [[22.880, 19.815, 23.390], [17.832, 15.443, 14.704], [6.583, 5.701, 3.594]]),
        (Case::Smallest, 150e6, [[19.571, 16.949, 20.203], [15.267, 13.222, 12.623], [5.113, 4.428, 2.754]]),
    ] {
        let start = Path::behind(&transformer, point::<Watts>(power), Ratio::new(0.1), case);
        let main = start.along(&run(0.0754, 30.0), case);
        let end = main.along(&run(1.15, 25.0), case);
        for (path, expected) in [start, main, end].iter().zip(expected) {
            let found =
                [path.three_phase(voltage, case), path.line_line(voltage, case), path.line_earth(voltage, case)];
            for (found, expected) in found.iter().zip(expected) {
                let kiloamperes = found.hi().get() / 1000.0;
                assert!((kiloamperes - expected).abs() < 0.001, "{case:?}: {kiloamperes} against {expected}");
                assert!(found.width() < 1e-6);
            }
        }
    }
}

/// Sub-board of a published problem, read in a public page (worked by hand, all in phase): 13 990 A
/// at 230 V, then 0.0040 Ω and 0.025 Ω: 11 252 A and 5 062 A.
#[test]
fn resistances_in_phase_add_up() {
    let zero = point(0.0);
    let source = Path { r1: point(230.0 / 13_990.0), x1: zero, r0: zero, x0: zero };
    let per_metre = |ohms: f64| Run { reactance: point(0.0), ..run(ohms * 1000.0, 1.0) };
    // The problem has no voltage factor: it is divided out.
    let voltage = Range::point(Volts::new(230.0 / Case::Largest.factor()));
    let main = source.along(&per_metre(0.0040), Case::Largest);
    let board = main.along(&per_metre(0.025), Case::Largest);
    assert!((main.three_phase(voltage, Case::Largest).hi().get() - 11_252.0).abs() < 1.0);
    assert!((board.three_phase(voltage, Case::Largest).hi().get() - 5_062.0).abs() < 1.0);
}

#[test]
fn ranges_hold_their_points() {
    let wide = Run { length: Range::new(Metres::new(20.0), Metres::new(30.0)), ..run(1.15, 25.0) };
    let zero = point(0.0);
    let source = Path { r1: point(0.01), x1: point(0.01), r0: zero, x0: zero };
    let voltage = Range::point(Volts::new(230.0));
    let around = source.along(&wide, Case::Smallest).line_earth(voltage, Case::Smallest);
    for length in [20.0, 25.0, 30.0] {
        let exact = source.along(&run(1.15, length), Case::Smallest).line_earth(voltage, Case::Smallest);
        assert!(around.lo() <= exact.lo() && exact.hi() <= around.hi());
    }
}
