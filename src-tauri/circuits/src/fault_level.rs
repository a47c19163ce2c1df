//! Fault currents along a radial supply, by the method of IEC 60909-0 with ranges throughout.
//!
//! An equivalent source c·U0 drives the fault through the positive- and zero-sequence impedances
//! added up from the grid to the place of the fault. Symmetrical initial currents only; motors do
//! not feed back here.

mod agree;
mod along;

use survey::range::Span;
use survey::{Amps, Metres, Ohms, OhmsPerKilometre, Range, Ratio, Volts, Watts};

use crate::demand::root3;

pub(crate) use agree::{check, denied, loop_denied, most_told};
pub(crate) use along::Level;
pub use along::{Along, Currents, End, Extent, Wanting, along};

/// Largest or smallest fault current.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Case {
    /// To break: cold conductors, c = 1.05 (low voltage, tolerance 6 %; IEC 60909-0 table 1).
    Largest,
    /// To trip on: warm conductors, c = 0.95.
    Smallest,
}

impl Case {
    /// Voltage factor of the low-voltage side, IEC 60909-0 table 1.
    #[must_use]
    pub const fn factor(self) -> f64 {
        match self {
            Self::Largest => 1.05,
            Self::Smallest => 0.95,
        }
    }

    /// Voltage factor of the side above 1 kV, IEC 60909-0 table 1.
    const fn upper_factor(self) -> f64 {
        match self {
            Self::Largest => 1.1,
            Self::Smallest => 1.0,
        }
    }
}

/// Positive- and zero-sequence impedance from the source to a place, at low voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Path {
    /// R1, Ω.
    pub r1: Range<Ohms>,
    /// X1, Ω.
    pub x1: Range<Ohms>,
    /// R0, Ω.
    pub r0: Range<Ohms>,
    /// X0, Ω.
    pub x0: Range<Ohms>,
}

/// Rating of a delta-star transformer with its star point earthed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transformer {
    /// Rated apparent power, in volt-amperes.
    pub rated: Watts,
    /// Rated voltage between lines on the low side.
    pub voltage: Volts,
    /// Short-circuit voltage, as a share.
    pub uk: Ratio,
    /// Its resistive part.
    pub ukr: Ratio,
}

/// A length of cable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Run {
    /// Resistance of a line conductor at 20 °C.
    pub line: Range<OhmsPerKilometre>,
    /// Resistance of the return conductor, neutral or protective, at 20 °C.
    pub back: Range<OhmsPerKilometre>,
    /// Reactance of each.
    pub reactance: Range<OhmsPerKilometre>,
    /// Length.
    pub length: Range<Metres>,
    /// Ratio of warm to cold resistance, used for the smallest current.
    pub warm: Ratio,
}

const THREE: Span = Span::point(3.0);

impl Path {
    /// Behind a transformer on a grid of this short-circuit power (in volt-amperes, at the upper
    /// side) and R/X ratio. The transformer's zero-sequence impedance is taken equal to its
    /// positive one, as for a delta-star winding; the correction KT of IEC 60909-0, 6.3.3 counts
    /// for the largest current.
    #[must_use]
    pub fn behind(transformer: &Transformer, grid: Range<Watts>, r_over_x: Ratio, case: Case) -> Self {
        let square = Span::point(transformer.voltage.get()).square();
        let of_grid = Span::point(case.upper_factor()) * square / grid.numbers();
        let ratio = Span::point(r_over_x.get());
        let grid_x = of_grid / (Span::point(1.0) + ratio.square()).sqrt();
        let grid_r = grid_x * ratio;
        let base = square / Span::point(transformer.rated.get());
        let (uk, ukr) = (Span::point(transformer.uk.get()), Span::point(transformer.ukr.get()));
        let ux = (uk.square() - ukr.square()).sqrt();
        let correction = match case {
            Case::Largest => Span::point(0.95 * case.factor()) / (Span::point(1.0) + Span::point(0.6) * ux),
            Case::Smallest => Span::point(1.0),
        };
        let (r, x) = (ukr * base * correction, ux * base * correction);
        Self { r1: (grid_r + r).of(), x1: (grid_x + x).of(), r0: r.of(), x0: x.of() }
    }

    /// With a run of cable added: Z0 = Zline + 3·Zback.
    #[must_use]
    pub fn along(self, run: &Run, case: Case) -> Self {
        let length = run.length.numbers() / Span::point(1000.0);
        let warm = match case {
            Case::Largest => Span::point(1.0),
            Case::Smallest => Span::point(run.warm.get()),
        };
        let (line, back) = (run.line.numbers() * length * warm, run.back.numbers() * length * warm);
        let x = run.reactance.numbers() * length;
        Self {
            r1: (self.r1.numbers() + line).of(),
            x1: (self.x1.numbers() + x).of(),
            r0: (self.r0.numbers() + line + THREE * back).of(),
            x0: (self.x0.numbers() + x + THREE * x).of(),
        }
    }

    /// Three-phase fault, c·U0/|Z1|.
    #[must_use]
    pub fn three_phase(&self, voltage: Range<Volts>, case: Case) -> Range<Amps> {
        let size = (self.r1.numbers().square() + self.x1.numbers().square()).sqrt();
        (drive(voltage, case) / size).of()
    }

    /// Line to line, √3·c·U0/(2·|Z1|).
    #[must_use]
    pub fn line_line(&self, voltage: Range<Volts>, case: Case) -> Range<Amps> {
        (self.three_phase(voltage, case).numbers() * root3() * Span::point(0.5)).of()
    }

    /// Line to the return conductor, c·U0/|(2·Z1 + Z0)/3|.
    #[must_use]
    pub fn line_earth(&self, voltage: Range<Volts>, case: Case) -> Range<Amps> {
        let two = Span::point(2.0);
        let r = two * self.r1.numbers() + self.r0.numbers();
        let x = two * self.x1.numbers() + self.x0.numbers();
        (drive(voltage, case) * THREE / (r.square() + x.square()).sqrt()).of()
    }
}

fn drive(voltage: Range<Volts>, case: Case) -> Span {
    voltage.numbers() * Span::point(case.factor())
}
