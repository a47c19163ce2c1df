//! The published tables that the checks read. Text in, typed look-ups out.
//!
//! The files are `seed-data/tables/*.csv`; each names its standard, its source and, row by row,
//! what was read and what is from memory. A user's own national tables take their place.

mod assembly;
mod grid;
mod laid;
mod sheet;
mod steps;
pub(crate) mod trace;

use std::collections::BTreeMap;

use survey::range::Span;
use survey::{
    Amps, Argument, Construction, CpcForm, Curve, Formation, Insulation, Layout as Lie, LoadKind, Material, Message,
    Method, Network, Range, SquareMillimetres, say,
};
use thiserror::Error;

pub(crate) use assembly::{Asked, Assembly};
use grid::Grid;
pub(crate) use laid::Laid;
use sheet::{Row, Sheet};
pub(crate) use steps::Steps;
use steps::Trend;
use trace::{Mark, Trust};

macro_rules! texts {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {
        /// The texts of the tables, one CSV each.
        #[derive(Clone, Copy, Debug)]
        pub struct TableTexts<'a> { $($(#[$doc])* pub $name: &'a str),+ }

        impl TableTexts<'static> {
            /// The tables that come with the program.
            #[must_use]
            pub const fn shipped() -> Self {
                Self { $($name: include_str!(concat!("../../../../seed-data/tables/", stringify!($name), ".csv"))),+ }
            }
        }

        impl<'a> TableTexts<'a> {
            /// Name of every table, in order: the file is the name and `.csv`.
            pub const NAMES: &'static [&'static str] = &[$(stringify!($name)),+];

            /// Puts another text in the place of a table. False where there is no table of this name.
            pub fn replace(&mut self, name: &str, text: &'a str) -> bool {
                match name {
                    $(stringify!($name) => { self.$name = text; true })+
                    _ => false,
                }
            }

            /// Name and text of every table.
            fn all(&self) -> impl Iterator<Item = (&'static str, &'a str)> {
                [$((stringify!($name), self.$name)),+].into_iter()
            }

            /// The text of a table.
            #[must_use]
            pub fn text(&self, name: &str) -> Option<&'a str> {
                match name {
                    $(stringify!($name) => Some(self.$name),)+
                    _ => None,
                }
            }

            /// How many rows a table has, its head and its comments left out; 0 where there is no such table.
            #[must_use]
            pub fn rows(&self, name: &str) -> usize {
                self.text(name).map_or(0, sheet::count)
            }
        }
    };
}

texts!(
    /// Current-carrying capacity, IEC 60364-5-52 annex B.
    ampacity,
    /// Factor for surrounding temperature, IEC 60364-5-52 tables B.52.14 and B.52.15.
    ambient_factor,
    /// Factor for grouping, IEC 60364-5-52 tables B.52.17 to B.52.21.
    grouping_factor,
    /// Conductor resistance at 20 °C, IEC 60228.
    conductor_resistance,
    /// Temperature coefficients, reactance, resistivity of steel.
    conductor_constant,
    /// Voltage drop limits, IEC 60364-5-52 annex G.
    voltage_drop_limit,
    /// Disconnection times, IEC 60364-4-41.
    disconnection_time,
    /// Operating currents of protective devices, IEC 60898-1 and IEC 60269-1.
    protective_device,
    /// Time-current gates of gG fuses, IEC 60269-1.
    fuse_gate,
    /// Loop impedances printed for gG fuses, BS 7671 tables 41.2 and 41.4.
    fuse_loop,
    /// Cross-section of steel wire armour, BS 5467.
    armour_area,
    /// Resistance of steel wire armour, BS 5467.
    armour_resistance,
    /// Cables as they are made, BS 6004, IEC 60502-1, BS 5467.
    cable_make,
    /// Adiabatic factor k, IEC 60364-4-43 and IEC 60364-5-54.
    k_factor,
    /// Let-through energy of circuit-breakers, EN 60898-1 annex ZA.
    breaker_let_through,
    /// Ranges taken for values that are not known yet.
    assumed_range,
    /// Factor for third harmonics, IEC 60364-5-52 annex E.
    harmonic_factor,
    /// Factor for the ground, IEC 60364-5-52 table B.52.16.
    soil_factor,
    /// Factor for thermal insulation, BS 7671 table 52.2.
    insulation_factor,
    /// Starting of motors, common practice.
    motor_start,
    /// Forms of earth fault currents by load, common practice.
    residual_form,
    /// Operating bands of circuit-breakers and gG fuses, IEC 60898-1 and IEC 60269-1.
    operating_band,
    /// Times of RCDs, IEC 61008-1.
    rcd_time,
    /// Rated diversity factor, IEC 61439-3.
    diversity_factor,
    /// Power that a breaker's pole gives off, IEC 60898-1.
    power_loss,
    /// Temperature rise of enclosures, IEC TR 60890.
    enclosure_rise,
    /// Sizes of earthing and bonding conductors, IEC 60364-5-54.
    earthing_size,
);

/// What is wrong in a table, and where.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{words}", words = say!(
    "table-error",
    table = format!("{}.csv", .file),
    row = .row.to_string(),
    column = .column.clone(),
    value = .value.clone(),
    remedy = .remedy.clone()
))]
pub struct TableError {
    /// Name of the table.
    pub file: &'static str,
    /// Line in the file, from 1; 0 where the table as a whole is meant.
    pub row: u64,
    /// Column; empty where the row as a whole is meant.
    pub column: String,
    /// The value found, shortened to 60 letters.
    pub value: String,
    /// What would do.
    pub remedy: Message,
}

impl TableError {
    /// Where it is, for a person: "ampacity.csv, line 12, column \"amps\"".
    #[must_use]
    pub fn place(&self) -> String {
        let (table, line) = (format!("{}.csv", self.file), self.row.to_string());
        let place = match (self.row, self.column.as_str()) {
            (0, "") => say!("table-place", table = table),
            (0, column) => say!("table-place-column-alone", table = table, column = column.to_owned()),
            (_, "") => say!("table-place-line", table = table, line = line),
            (_, column) => say!("table-place-column", table = table, line = line, column = column.to_owned()),
        };
        place.to_string()
    }

    fn new(file: &'static str, row: u64, column: &str, value: &str, remedy: impl Into<Message>) -> Self {
        Self { file, row, column: column.to_owned(), value: value.chars().take(60).collect(), remedy: remedy.into() }
    }
}

/// How conductors lie, as the columns of the ampacity tables tell them apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Layout {
    Method(Method),
    Trefoil,
    Flat,
    SpacedHorizontal,
    SpacedVertical,
}

const LAYOUTS: &[(&str, Layout)] = &[
    ("A1", Layout::Method(Method::A1)),
    ("A2", Layout::Method(Method::A2)),
    ("B1", Layout::Method(Method::B1)),
    ("B2", Layout::Method(Method::B2)),
    ("C", Layout::Method(Method::C)),
    ("D1", Layout::Method(Method::D1)),
    ("D2", Layout::Method(Method::D2)),
    ("E", Layout::Method(Method::E)),
    ("F", Layout::Method(Method::F)),
    ("F_trefoil", Layout::Trefoil),
    ("F_flat", Layout::Flat),
    ("G_horiz", Layout::SpacedHorizontal),
    ("G_vert", Layout::SpacedVertical),
];
const MATERIALS: &[(&str, Material)] = &[("Cu", Material::Copper), ("Al", Material::Aluminium)];
const INSULATIONS: &[(&str, Insulation)] = &[("PVC70", Insulation::Pvc70), ("XLPE90", Insulation::Xlpe90)];
const CURVES: &[(&str, Option<Curve>)] =
    &[("B", Some(Curve::B)), ("C", Some(Curve::C)), ("D", Some(Curve::D)), ("any", None), ("gG", None)];

/// What surrounds a cable.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Medium {
    Air,
    Ground,
}

impl Medium {
    /// Where a cable laid by this method lies.
    pub(crate) const fn of(method: Method) -> Self {
        match method {
            Method::D1 | Method::D2 => Self::Ground,
            _ => Self::Air,
        }
    }

    /// The temperature the capacity tables are for, in °C: IEC 60364-5-52, B.52.2.
    pub(crate) const fn reference(self) -> f64 {
        match self {
            Self::Air => 30.0,
            Self::Ground => 20.0,
        }
    }
}

/// Conductor class of IEC 60228, as far as resistance differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Class {
    Solid,
    Stranded,
    Flexible,
}

/// A value that may be taken from a range while it is not known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Assumable {
    Voltage,
    PowerFactor,
    Efficiency,
    AmbientAir,
    AmbientGround,
    Grouped,
    DropBefore,
    Residual,
    Breaking,
    ThirdHarmonic,
    Start,
    ConduitArea,
    TrunkingArea,
    /// Of an adjustable breaker, as a multiple of its rating.
    OverloadSetting,
    /// Of an adjustable breaker, as a multiple of its overload setting.
    ShortCircuitSetting,
    /// Share of its rating that a device loses for each kelvin above the temperature up to which it carries it.
    Derating,
}

const ASSUMABLE: &[(&str, Assumable)] = &[
    ("voltage", Assumable::Voltage),
    ("power_factor", Assumable::PowerFactor),
    ("efficiency", Assumable::Efficiency),
    ("ambient_air", Assumable::AmbientAir),
    ("ambient_ground", Assumable::AmbientGround),
    ("grouped", Assumable::Grouped),
    ("drop_before", Assumable::DropBefore),
    ("residual", Assumable::Residual),
    ("breaking", Assumable::Breaking),
    ("third_harmonic", Assumable::ThirdHarmonic),
    ("start", Assumable::Start),
    ("conduit_area", Assumable::ConduitArea),
    ("trunking_area", Assumable::TrunkingArea),
    ("overload_setting", Assumable::OverloadSetting),
    ("short_circuit_setting", Assumable::ShortCircuitSetting),
    ("derating", Assumable::Derating),
];

/// A cable as it is made.
#[derive(Clone, Copy, Debug)]
struct Make {
    construction: Construction,
    size: f64,
    /// The protective conductor that comes in it, mm²; `None`: chosen apart.
    cpc: Option<f64>,
}

/// A gG fuse-link's gates: currents in A.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Gate {
    rated: f64,
    /// Surely clears within 5 s.
    pub(crate) clears_5s: f64,
    /// Surely clears within 0.1 s.
    pub(crate) clears_0_1s: f64,
    /// Surely does not melt within 10 s.
    pub(crate) stays_10s: f64,
    /// Surely does not melt within 0.1 s.
    pub(crate) stays_0_1s: f64,
    /// Least energy that melts it, A²s.
    pub(crate) least_energy: f64,
    mark: Mark,
}

impl Gate {
    /// Largest current in A that surely does not open it within a time in s. Between the gates and beyond: a slower
    /// melting never takes less I²t than a faster one.
    fn stays(&self, seconds: f64) -> f64 {
        let quick = (0.1 * self.stays_0_1s * self.stays_0_1s).max(self.least_energy);
        let slow = if seconds <= 10.0 { self.stays_10s } else { 0.0 };
        slow.max((quick / seconds).sqrt().min(self.stays_0_1s)).max((self.least_energy / seconds).sqrt())
    }

    /// Current in A that surely opens it within a time in s, up to 5 s.
    ///
    /// A straight line on logarithmic scales between the gates at 5 s and 0.1 s: a melting curve
    /// hangs below its chord, so the line is never too low (from the shape of such curves). In less than 0.1 s no
    /// more I²t melts it than at that gate.
    fn opens(&self, seconds: f64) -> f64 {
        if seconds < 0.1 {
            return self.clears_0_1s * (0.1 / seconds).sqrt();
        }
        let share = libm::log(5.0 / seconds.min(5.0)) / libm::log(50.0);
        self.clears_5s * libm::pow(self.clears_0_1s / self.clears_5s, share)
    }
}

/// A loop impedance that is printed for a fuse and a time.
#[derive(Clone, Copy, Debug)]
struct PrintedLoop {
    rated: f64,
    seconds: f64,
    /// Current in A that it stands for.
    current: f64,
    mark: Mark,
}

/// Voltage in V that printed loop impedances are for, Cmin in it: BS 7671, tables 41.2 to 41.4.
const PRINTED_FOR: f64 = 0.95 * 230.0;

/// A current that is printed for a type of breaker and a time, as a multiple of its rating.
#[derive(Clone, Copy, Debug)]
struct PrintedBand {
    curve: Curve,
    over: f64,
    upto: f64,
    multiple: f64,
    seconds: f64,
    mark: Mark,
}

/// What a conductor is, as far as the adiabatic factor tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Use {
    Line,
    Core,
    Separate,
    Armour,
    Conduit,
}

/// Metal of a conductor, steel among them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Metal {
    Of(Material),
    Steel,
}

#[derive(Clone, Copy, Debug)]
struct Adiabatic {
    used_as: Use,
    metal: Metal,
    insulation: Insulation,
    over: f64,
    upto: f64,
    k: f64,
    mark: Mark,
}

#[derive(Clone, Copy, Debug)]
struct LetThrough {
    curve: Curve,
    over: f64,
    upto: f64,
    breaking: f64,
    energy: f64,
    mark: Mark,
}

#[derive(Clone, Copy, Debug)]
struct TimeLimit {
    tt: bool,
    last_part: bool,
    over: f64,
    upto: f64,
    seconds: f64,
    mark: Mark,
}

#[derive(Clone, Copy, Debug)]
struct Band {
    over: f64,
    upto: f64,
    multiple: f64,
    mark: Mark,
}

/// Material, insulation, loaded conductors and layout of a column of capacities.
type Column = (Material, Insulation, u8, Layout);

/// Where a column of capacities stands.
fn column_place(&(material, insulation, loaded, layout): &Column) -> usize {
    let layout = match layout {
        Layout::Method(method) => method as usize,
        Layout::Trefoil => Method::ALL.len(),
        Layout::Flat => Method::ALL.len() + 1,
        Layout::SpacedHorizontal => Method::ALL.len() + 2,
        Layout::SpacedVertical => Method::ALL.len() + 3,
    };
    let layouts = Method::ALL.len() + 4;
    ((usize::from(loaded) * layouts + layout) * Material::ALL.len() + material as usize) * Insulation::ALL.len()
        + insulation as usize
}

fn ambient_place((medium, insulation): &(Medium, Insulation)) -> usize {
    *medium as usize * Insulation::ALL.len() + *insulation as usize
}

fn resistance_place((material, class): &(Material, Class)) -> usize {
    *class as usize * Material::ALL.len() + *material as usize
}

fn assumed_place((field, kind): &(Assumable, Option<LoadKind>)) -> usize {
    *field as usize * (LoadKind::ALL.len() + 1) + kind.map_or(0, |kind| kind as usize + 1)
}

/// One figure and the row it stands in.
#[derive(Clone, Copy, Debug, Default)]
struct Marked(f64, Mark);

impl Marked {
    /// The figure; its row counts as looked up.
    fn get(self) -> f64 {
        trace::note(self.1);
        self.0
    }
}

/// Every table, read and checked.
#[derive(Clone, Debug)]
pub struct Tables {
    ampacity: Grid<Steps>,
    ambient: Grid<Steps>,
    grouping: [Steps; 6],
    resistance: Grid<Steps>,
    /// Copper, aluminium, steel.
    alpha20: [Marked; 3],
    rho20_steel: Marked,
    reactance: Marked,
    drop_limit: [[Marked; 2]; 2],
    times: Vec<TimeLimit>,
    instantaneous: [(Span, Mark); 3],
    breaker_conventional: Marked,
    fuse_conventional: Vec<Band>,
    breaker_printed: Vec<PrintedBand>,
    gates: Vec<Gate>,
    fuse_printed: Vec<PrintedLoop>,
    armour: BTreeMap<u8, Steps>,
    armour_ohms: BTreeMap<u8, Steps>,
    makes: Vec<Make>,
    adiabatic: Vec<Adiabatic>,
    let_through: Vec<LetThrough>,
    assumed: Grid<Assumed>,
    /// Tables that are a user's own: whose.
    own: BTreeMap<String, String>,
    /// How a cable lies and what its load does.
    pub(crate) laid: Laid,
    /// Tables of the board as an assembly.
    pub(crate) assembly: Assembly,
}

/// A range taken for an unknown value.
#[derive(Clone, Debug)]
pub(crate) struct Assumed {
    /// The range, in the unit of the field.
    pub(crate) span: Span,
    /// Why this range.
    pub(crate) why: Message,
}

impl Tables {
    /// Reads the tables.
    ///
    /// # Errors
    /// The first thing wrong: file, row, column, value and what would do.
    pub fn parse(texts: &TableTexts) -> Result<Self, TableError> {
        let mut tables = Self {
            ampacity: Grid::default(),
            ambient: Grid::default(),
            grouping: Default::default(),
            resistance: Grid::default(),
            alpha20: Default::default(),
            rho20_steel: Marked::default(),
            reactance: Marked::default(),
            drop_limit: Default::default(),
            times: Vec::new(),
            instantaneous: Default::default(),
            breaker_conventional: Marked::default(),
            fuse_conventional: Vec::new(),
            breaker_printed: Vec::new(),
            gates: Vec::new(),
            fuse_printed: Vec::new(),
            armour: BTreeMap::new(),
            armour_ohms: BTreeMap::new(),
            makes: Vec::new(),
            adiabatic: Vec::new(),
            let_through: Vec::new(),
            assumed: Grid::default(),
            own: BTreeMap::new(),
            laid: Laid::default(),
            assembly: Assembly::default(),
        };
        for (name, text) in texts.all() {
            tables.read(name, text)?;
        }
        Ok(tables)
    }

    /// The same tables, one of them from another text; `None` where there is no table of this name.
    ///
    /// # Errors
    /// As for [`Self::parse`].
    pub fn with(&self, name: &str, text: &str) -> Result<Option<Self>, TableError> {
        let mut tables = self.clone();
        Ok(tables.read(name, text)?.then_some(tables))
    }

    /// Puts what a table says in its place. False where there is no table of this name.
    fn read(&mut self, name: &str, text: &str) -> Result<bool, TableError> {
        match name {
            "ampacity" => self.ampacity = Grid::of(ampacity(text)?, column_place),
            "ambient_factor" => self.ambient = Grid::of(ambient(text)?, ambient_place),
            "grouping_factor" => self.grouping = grouping(text)?,
            "conductor_resistance" => self.resistance = Grid::of(resistance(text)?, resistance_place),
            "conductor_constant" => (self.alpha20, self.rho20_steel, self.reactance) = constants(text)?,
            "voltage_drop_limit" => self.drop_limit = drop_limit(text)?,
            "disconnection_time" => self.times = times(text)?,
            "protective_device" => {
                (self.instantaneous, self.breaker_conventional, self.fuse_conventional, self.breaker_printed) =
                    devices(text)?;
            }
            "fuse_gate" => self.gates = gates(text)?,
            "fuse_loop" => self.fuse_printed = printed(text)?,
            "armour_area" => self.armour = armour("armour_area", "area_mm2", Trend::Rising, text)?,
            "armour_resistance" => {
                self.armour_ohms = armour("armour_resistance", "ohm_per_km", Trend::Falling, text)?;
            }
            "cable_make" => self.makes = makes(text)?,
            "k_factor" => self.adiabatic = adiabatic(text)?,
            "breaker_let_through" => self.let_through = let_through(text)?,
            "assumed_range" => self.assumed = Grid::of(assumed(text)?, assumed_place),
            _ => return Ok(self.laid.read(name, text)? || self.assembly.read(name, text)?),
        }
        Ok(true)
    }

    /// The tables that come with the program.
    ///
    /// # Errors
    /// None in practice: a test reads them.
    pub fn shipped() -> Result<Self, TableError> {
        Self::parse(&TableTexts::shipped())
    }

    /// The same, some of them told to be a user's own, each by its name and whose it is: checks that tell their rows say so.
    #[must_use]
    pub fn owned(mut self, own: impl IntoIterator<Item = (String, String)>) -> Self {
        self.own.extend(own);
        self
    }

    /// The rows of tables that were looked up, with those that are a user's own told so.
    pub(crate) fn say_whose(&self, told: Message) -> Message {
        if self.own.is_empty() {
            return told;
        }
        let Some((_, Argument::List(tables))) = told.arguments().next() else { return told };
        let whose = |rows: &Message| {
            let table = rows.arguments().find_map(|(name, argument)| match argument {
                Argument::Name(file) if name == "table" => file.strip_suffix(trace::FILE),
                _ => None,
            })?;
            let own = ("whose", self.own.get(table)?.clone().into());
            Some(Message::said_of("table-rows-own", rows.arguments().map(|(name, is)| (name, is.clone())).chain([own])))
        };
        let tables: Vec<Message> = tables.iter().map(|rows| whose(rows).unwrap_or_else(|| rows.clone())).collect();
        say!("tables-looked-up", tables = tables)
    }

    /// Current-carrying capacity It before any factor, IEC 60364-5-52 annex B. `loaded` is 2 or 3.
    ///
    /// A size between two tabulated ones gives the capacities of both. Three single-core cables
    /// in air (method F) may lie flat or in trefoil: both are in the range.
    #[must_use]
    pub fn capacity(
        &self,
        material: Material,
        insulation: Insulation,
        loaded: u8,
        method: Method,
        size: Range<SquareMillimetres>,
    ) -> Option<Range<Amps>> {
        self.capacity_formed((material, insulation, loaded, method, None), |steps| steps.around(size.numbers()))
    }

    /// The same for single cores of which it is known how they lie, by a look of one's own into the column. Of two
    /// spaced ones the tables have none.
    pub(crate) fn capacity_formed(
        &self,
        (material, insulation, loaded, method, formation): (Material, Insulation, u8, Method, Option<Formation>),
        look: impl Fn(&Steps) -> Option<Span>,
    ) -> Option<Range<Amps>> {
        let at = |layout| look(self.ampacity.get(column_place(&(material, insulation, loaded, layout)))?);
        let span = match (method, loaded, formation) {
            (Method::F, 3, Some(formation)) => at(match formation {
                Formation::Trefoil => Layout::Trefoil,
                Formation::Flat => Layout::Flat,
                Formation::SpacedFlat => Layout::SpacedHorizontal,
                Formation::SpacedUpright => Layout::SpacedVertical,
            })?,
            (Method::F, _, Some(Formation::SpacedFlat | Formation::SpacedUpright)) => return None,
            (Method::F, 3, None) => {
                let (trefoil, flat) = (at(Layout::Trefoil)?, at(Layout::Flat)?);
                Span { lo: trefoil.lo.min(flat.lo), hi: trefoil.hi.max(flat.hi) }
            }
            _ => at(Layout::Method(method))?,
        };
        Some(span.of())
    }

    /// Sizes that the capacity table of a method holds, rising, in mm².
    #[must_use]
    pub fn sizes(
        &self,
        material: Material,
        insulation: Insulation,
        loaded: u8,
        method: Method,
    ) -> Vec<SquareMillimetres> {
        let layout = if method == Method::F && loaded == 3 { Layout::Trefoil } else { Layout::Method(method) };
        self.ampacity
            .get(column_place(&(material, insulation, loaded, layout)))
            .map(|steps| steps.pairs().iter().map(|(size, _)| SquareMillimetres::new(*size)).collect())
            .unwrap_or_default()
    }

    /// Cables that are made, smallest first: line size and protective conductor in mm². Of a separate
    /// conductor it is the smallest size made that `least` allows for the line; `None` where it is none.
    pub(crate) fn made(
        &self,
        construction: Construction,
        cpc: Option<CpcForm>,
        least: impl Fn(f64) -> f64,
    ) -> Vec<(f64, Option<f64>)> {
        let of = |one: Construction| self.makes.iter().filter(move |make| make.construction == one);
        let apart = |size: f64| of(Construction::SingleCore).map(|make| make.size).find(|one| *one >= least(size));
        let mut found: Vec<(f64, Option<f64>)> = of(construction)
            .map(|make| match cpc {
                Some(CpcForm::Core) => (make.size, make.cpc.or_else(|| apart(make.size))),
                Some(CpcForm::Separate) => (make.size, apart(make.size)),
                _ => (make.size, None),
            })
            .collect();
        found.dedup();
        found.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.unwrap_or(0.0).total_cmp(&b.1.unwrap_or(0.0))));
        found.dedup();
        found
    }

    /// Factor Ca for the temperature around the cable: a straight line between the table's rows,
    /// the first row's below it, zero above the last (not permitted).
    pub(crate) fn ambient_factor(&self, medium: Medium, insulation: Insulation, temperature: Span) -> Option<Span> {
        let steps = self.ambient.get(ambient_place(&(medium, insulation)))?;
        let at = |temperature| steps.line(temperature).unwrap_or(Span::point(0.0));
        Some(Span { lo: at(temperature.hi).lo, hi: at(temperature.lo).hi })
    }

    /// Factor Cg for circuits together as they lie: enclosed, in the ground or bunched by the method,
    /// else by the layout; `None` for a layout: bunched. A count between rows takes the next row.
    /// Beyond the table it is 1/√n where bunched or buried (IEC 60364-5-52 B.52.5), the last row's
    /// in one layer. `mixed`: sizes differ too much for the tables, 1/√n throughout (523.5, B.52.5).
    pub(crate) fn grouping_factor(&self, method: Method, lie: Lie, mixed: bool, count: Span) -> Option<Span> {
        let place = match (method, lie) {
            (Method::D1, _) => 1,
            (Method::D2, _) => 2,
            (Method::C | Method::E | Method::F, Lie::WallLayer) => 3,
            (Method::C | Method::E | Method::F, Lie::PerforatedTray) => 4,
            (Method::C | Method::E | Method::F, Lie::Ladder) => 5,
            _ => 0,
        };
        let given = &self.grouping[place];
        let (steps, layer) = if given.pairs().is_empty() { (&self.grouping[0], false) } else { (given, place > 2) };
        let last = steps.last()?;
        // One circuit alone is not grouped; the tables for the ground start at two.
        let at = |count: f64| {
            let root = 1.0 / count.sqrt();
            match steps.next_at(count) {
                _ if count <= 1.0 => 1.0,
                Some(factor) if mixed => factor.min(root),
                Some(factor) => factor,
                None if layer && !mixed => last,
                None => last.min(root),
            }
        };
        Some(Span { lo: at(count.hi), hi: at(count.lo) })
    }

    /// Layouts that a method leaves open: cables in conduit or trunking are enclosed, those in the
    /// ground buried.
    pub(crate) const fn lies(method: Method) -> &'static [Lie] {
        match method {
            Method::A1 | Method::A2 | Method::B1 | Method::B2 => &[Lie::Bunched],
            Method::C => &[Lie::Bunched, Lie::WallLayer],
            Method::D1 | Method::D2 => &[Lie::Buried],
            Method::E | Method::F => &[Lie::Bunched, Lie::PerforatedTray, Lie::Ladder],
        }
    }

    /// Resistance at 20 °C in Ω/km, the largest that IEC 60228 allows. An unknown construction
    /// may be stranded or flexible.
    pub(crate) fn resistance(
        &self,
        material: Material,
        construction: Option<Construction>,
        size: Span,
    ) -> Option<Span> {
        self.resistance_of(material, construction, size, false)
    }

    /// The same, with `part` for those sizes of a range alone that the table has: see [`crate::case::of_sizes_made`].
    pub(crate) fn resistance_of(
        &self,
        material: Material,
        construction: Option<Construction>,
        size: Span,
        part: bool,
    ) -> Option<Span> {
        self.resistance_by(
            material,
            construction,
            |steps| if part { steps.around_part(size) } else { steps.around(size) },
        )
    }

    fn resistance_by(
        &self,
        material: Material,
        construction: Option<Construction>,
        look: impl Fn(&Steps) -> Option<Span>,
    ) -> Option<Span> {
        let class = |class| look(self.resistance.get(resistance_place(&(material, class)))?);
        let fixed = || class(Class::Stranded).or_else(|| class(Class::Solid));
        match construction {
            Some(Construction::Flexible) => class(Class::Flexible).or_else(fixed),
            Some(_) => fixed(),
            None => {
                let fixed = fixed()?;
                let flexible = class(Class::Flexible).unwrap_or(fixed);
                Some(Span { lo: fixed.lo.min(flexible.lo), hi: fixed.hi.max(flexible.hi) })
            }
        }
    }

    /// Ratio of the resistance at a temperature to that at 20 °C.
    pub(crate) fn warmed(&self, material: Material, temperature: Span) -> Span {
        let alpha = match material {
            Material::Copper => self.alpha20[0].get(),
            Material::Aluminium => self.alpha20[1].get(),
        };
        warmed(alpha, temperature)
    }

    /// Resistance of steel wire armour to alternating current at a temperature in Ω/km; `None` for a cable
    /// not in the table.
    ///
    /// From nothing to [`ARMOUR_AC`] is added to the largest d.c. resistance for what steel adds at 50 Hz.
    pub(crate) fn armour_resistance(&self, cores: Span, size: Span, temperature: Span) -> Option<Span> {
        let mut cold = None;
        for (count, steps) in &self.armour_ohms {
            if (cores.lo..=cores.hi).contains(&f64::from(*count)) {
                cold = crate::case::hull(cold, steps.around(size)?);
            }
        }
        let cold = match cold {
            Some(cold) => cold,
            // The lay of the wires and their limits leave less than the gross area.
            None => Span::point(self.rho20_steel.get() * 1000.0) / self.armour_area(cores, size)? * ARMOUR_LAY,
        };
        Some(cold * warmed(self.alpha20[2].get(), temperature) * ARMOUR_AC)
    }

    /// Reactance in Ω/km where nothing better is known, IEC 60364-5-52 annex G.
    pub(crate) fn reactance(&self) -> f64 {
        self.reactance.get()
    }

    /// Largest voltage drop from the origin, as a share of the nominal voltage.
    pub(crate) fn drop_limit(&self, network: Network, kind: LoadKind) -> f64 {
        let [public, private] = self.drop_limit;
        let limits = if network == Network::Public { public } else { private };
        limits[usize::from(kind != LoadKind::Lighting)].get() / 100.0
    }

    /// Longest disconnection times in s for voltages in a range. `last_part`: a final circuit within
    /// the scope of table 41.1.
    pub(crate) fn disconnection(&self, tt: bool, last_part: bool, voltage: Span) -> Option<Span> {
        self.times
            .iter()
            .filter(|row| row.tt == tt && row.last_part == last_part && voltage.hi > row.over && voltage.lo <= row.upto)
            .inspect(|row| trace::note(row.mark))
            .map(|row| row.seconds)
            .fold(None, |found, seconds| crate::case::hull(found, Span::point(seconds)))
    }

    /// Multiples of In up to which a breaker of this type surely stays closed for a moment, and at
    /// which it surely trips at once, IEC 60898-1 table 7.
    pub(crate) fn instantaneous(&self, curve: Curve) -> Span {
        let (span, mark) = match curve {
            Curve::B => self.instantaneous[0],
            Curve::C => self.instantaneous[1],
            Curve::D => self.instantaneous[2],
        };
        trace::note(mark);
        span
    }

    /// Multiple of In of the conventional operating current I2 of a breaker.
    pub(crate) fn breaker_conventional(&self) -> f64 {
        self.breaker_conventional.get()
    }

    /// Multiples of In of the conventional operating current I2 of gG fuses in a range of ratings.
    pub(crate) fn fuse_conventional(&self, rated: Span) -> Option<Span> {
        let mut found: Option<Span> = None;
        for band in self.fuse_conventional.iter().filter(|band| rated.hi > band.over && rated.lo <= band.upto) {
            trace::note(band.mark);
            let here = found.unwrap_or(Span::point(band.multiple));
            found = Some(Span { lo: here.lo.min(band.multiple), hi: here.hi.max(band.multiple) });
        }
        found
    }

    /// Currents in A that open a gG fuse-link within a time of up to 5 s: below the first nothing published lets it,
    /// from the second on it surely does.
    ///
    /// Surely: by the gates of IEC 60269-1, or by a current that is printed for this time or a shorter one. Below
    /// them one that is printed for a longer time, or by the gates one that leaves it closed: between the two its
    /// maker's curve tells.
    pub(crate) fn fuse_opens(&self, rated: Span, seconds: f64) -> Option<[Span; 2]> {
        let first = self.gates.partition_point(|gate| gate.rated <= rated.lo).checked_sub(1)?;
        let last = self.gates.partition_point(|gate| gate.rated < rated.hi);
        let mut found: Option<[Span; 2]> = None;
        for gate in self.gates.get(first..=last)? {
            trace::note(gate.mark);
            let printed = |fits: fn(f64, f64) -> bool| {
                let of = self.fuse_printed.iter().filter(move |row| row.rated == gate.rated);
                of.filter(move |row| fits(row.seconds, seconds))
                    .inspect(|row| trace::note(row.mark))
                    .map(|row| row.current)
            };
            let surely = printed(|of, wanted| of <= wanted).fold(gate.opens(seconds), f64::min);
            let may = printed(|of, wanted| of >= wanted).fold(gate.stays(seconds), f64::max).min(surely);
            // Two more steps outward: `log` and `pow` are each off by less than one.
            let here = [may, surely].map(|current| Span::around(&[current]).monotone(|current| current));
            found = Some(found.map_or(here, |[a, b]| {
                let hull = |a: Span, b: Span| Span { lo: a.lo.min(b.lo), hi: a.hi.max(b.hi) };
                [hull(a, here[0]), hull(b, here[1])]
            }));
        }
        found
    }

    /// Multiples of In that open a breaker within a time: below the first nothing published lets it, from the second
    /// on it surely does.
    ///
    /// Where BS 7671 prints less than the instantaneous release for this time, a test of IEC 60898-1, table 7 proves it
    /// whose longest time is no longer.
    pub(crate) fn breaker_opens(&self, curve: Curve, rated: f64, seconds: f64) -> Span {
        let at_once = self.instantaneous(curve).hi;
        let printed = self
            .breaker_printed
            .iter()
            .filter(|row| row.curve == curve && rated > row.over && rated <= row.upto && row.seconds >= seconds)
            .min_by(|a, b| a.seconds.total_cmp(&b.seconds));
        let Some(printed) = printed.filter(|row| row.multiple < at_once) else { return Span::point(at_once) };
        trace::note(printed.mark);
        let surely = self
            .assembly
            .tests(Some(curve), rated)
            .filter(|test| test.asked != Asked::NoTrip && test.multiple >= printed.multiple && test.longest <= seconds)
            .map(|test| test.multiple)
            .fold(at_once, f64::min);
        Span { lo: printed.multiple, hi: surely }
    }

    /// Energy in A²s that a gG fuse lets through at most of its smallest fault current in a range; `None`
    /// where the table has no such rating. Larger currents let less through.
    ///
    /// Between the gates at 5 s and 0.1 s their chord, see [`Gate::opens`]; above, the gate at 0.1 s.
    /// Below the gate at 5 s heat is lost and a time is not told: at least the energy at that gate, and
    /// at most what its conventional current takes in its conventional time.
    pub(crate) fn fuse_energy(&self, rated: Span, least: Span) -> Option<Span> {
        let first = self.gates.partition_point(|gate| gate.rated <= rated.lo).checked_sub(1)?;
        let last = self.gates.partition_point(|gate| gate.rated < rated.hi);
        let mut found = None;
        for gate in self.gates.get(first..=last)? {
            trace::note(gate.mark);
            let slow = gate.clears_5s * gate.clears_5s * 5.0;
            let fall = libm::log(50.0) / libm::log(gate.clears_0_1s / gate.clears_5s);
            let at = |current: f64| {
                let current = current.min(gate.clears_0_1s);
                slow * libm::pow(gate.clears_5s / current, fall - 2.0)
            };
            let endless = self
                .assembly
                .tests(None, gate.rated)
                .filter(|test| matches!(test.asked, Asked::Trip))
                .map(|test| test.multiple * gate.rated * test.multiple * gate.rated * test.longest)
                .fold(f64::INFINITY, f64::min);
            let lo = if least.hi < gate.clears_5s { slow } else { at(least.hi) };
            let hi = if least.lo < gate.clears_5s { endless } else { at(least.lo) };
            // Two more steps outward: `log` and `pow` are each off by less than one.
            found = crate::case::hull(found, Span { lo, hi }.monotone(|energy| energy).monotone(|energy| energy));
        }
        found
    }

    /// Gates of the gG fuse-link of a rating; `None` where the table has no such rating.
    pub(crate) fn fuse_gate(&self, rated: f64) -> Option<&Gate> {
        self.gates.iter().find(|gate| gate.rated == rated).inspect(|gate| trace::note(gate.mark))
    }

    /// Cross-section of steel wire armour in mm²; `None` for a cable not in the table.
    pub(crate) fn armour_area(&self, cores: Span, size: Span) -> Option<Span> {
        let mut area = None;
        for (count, steps) in &self.armour {
            if (cores.lo..=cores.hi).contains(&f64::from(*count)) {
                area = crate::case::hull(area, steps.around(size)?);
            }
        }
        area
    }

    /// Factor k of the adiabatic equation, A·√s/mm².
    pub(crate) fn adiabatic(&self, used_as: Use, metal: Metal, insulation: Insulation, size: Span) -> Option<Span> {
        self.adiabatic
            .iter()
            .filter(|row| row.used_as == used_as && row.metal == metal && row.insulation == insulation)
            .filter(|row| size.hi > row.over && size.lo <= row.upto)
            .inspect(|row| trace::note(row.mark))
            .fold(None, |found, row| crate::case::hull(found, Span::point(row.k)))
    }

    /// Energy in A²s that a breaker of energy-limiting class 3 lets through at most, for a rated
    /// short-circuit capacity in A; `None` where the class does not reach.
    pub(crate) fn let_through(&self, curve: Curve, rated: f64, breaking: f64) -> Option<f64> {
        self.let_through
            .iter()
            .filter(|row| row.curve == curve && rated > row.over && rated <= row.upto && breaking <= row.breaking)
            .inspect(|row| trace::note(row.mark))
            .map(|row| row.energy)
            .reduce(f64::min)
    }

    /// The range taken for a value that is not known, for a kind of load or any.
    pub(crate) fn assumed(&self, field: Assumable, kind: Option<LoadKind>) -> Option<&Assumed> {
        let at = |kind| self.assumed.get(assumed_place(&(field, kind)));
        at(kind).or_else(|| at(None))
    }
}

/// 1 + α(θ − 20), exact at 20 °C.
fn warmed(alpha: f64, temperature: Span) -> Span {
    Span::point(1.0) + Span::point(alpha) * (temperature - Span::point(20.0))
}

fn ampacity(text: &str) -> Result<BTreeMap<Column, Steps>, TableError> {
    let sheet = Sheet::read(
        "ampacity",
        text,
        &["table", "material", "insulation", "loaded", "method", "size_mm2", "amps", "checked"],
    )?;
    let mut found: BTreeMap<_, Steps> = BTreeMap::new();
    for row in sheet.rows() {
        trust(row)?;
        let key = (
            row.pick("material", MATERIALS)?,
            row.pick("insulation", INSULATIONS)?,
            row.pick("loaded", &[("2", 2_u8), ("3", 3)])?,
            row.pick("method", LAYOUTS)?,
        );
        let (size, amps) = (row.positive("size_mm2")?, row.positive("amps")?);
        found.entry(key).or_default().insert(row, "size_mm2", size, amps)?;
    }
    for steps in found.values() {
        follows(&sheet, "amps", steps, Trend::Rising, say!("table-larger-size"))?;
    }
    Ok(found)
}

fn ambient(text: &str) -> Result<BTreeMap<(Medium, Insulation), Steps>, TableError> {
    let sheet = Sheet::read("ambient_factor", text, &["medium", "insulation", "temp_c", "factor", "checked"])?;
    let mut found: BTreeMap<_, Steps> = BTreeMap::new();
    for row in sheet.rows() {
        trust(row)?;
        let medium = row.pick("medium", &[("air", Medium::Air), ("ground", Medium::Ground)])?;
        let key = (medium, row.pick("insulation", INSULATIONS)?);
        found.entry(key).or_default().insert(row, "temp_c", row.number("temp_c")?, row.positive("factor")?)?;
    }
    for steps in found.values() {
        follows(&sheet, "factor", steps, Trend::Falling, say!("table-a-hotter-place-allows-no-more"))?;
    }
    Ok(found)
}

fn grouping(text: &str) -> Result<[Steps; 6], TableError> {
    let sheet =
        Sheet::read("grouping_factor", text, &["table", "arrangement", "tiers", "n", "spacing", "factor", "checked"])?;
    let mut found: [Steps; 6] = Default::default();
    for row in sheet.rows() {
        trust(row)?;
        let (count, factor) = (row.positive("n")?, row.positive("factor")?);
        let (table, arrangement) = (row.text("table"), row.text("arrangement"));
        let place = match (table, row.text("spacing")) {
            ("B.52.17", _) if arrangement.starts_with("item 1 ") => 0,
            ("B.52.19", "touch") if arrangement.starts_with("multicore") => 1,
            ("B.52.18", "touch") => 2,
            ("B.52.17", _) if arrangement.starts_with("item 2 ") => 3,
            ("B.52.17", _) if arrangement.starts_with("item 4 ") => 4,
            ("B.52.17", _) if arrangement.starts_with("item 5 ") => 5,
            _ => continue,
        };
        found[place].insert(row, "n", count, factor)?;
    }
    for (place, steps) in found.iter().enumerate() {
        // A table without layers has their cables counted as bunched, which is never too generous.
        if place < 3 && steps.pairs().is_empty() {
            return Err(sheet.fault("table", "", say!("table-give-rows-for-b-52-17")));
        }
        follows(&sheet, "factor", steps, Trend::Falling, say!("table-more-circuits-together-carry-no-more"))?;
    }
    Ok(found)
}

fn resistance(text: &str) -> Result<BTreeMap<(Material, Class), Steps>, TableError> {
    let sheet = Sheet::read("conductor_resistance", text, &["material", "class", "size_mm2", "ohm_per_km", "checked"])?;
    let mut found: BTreeMap<_, Steps> = BTreeMap::new();
    for row in sheet.rows() {
        trust(row)?;
        let class = row.pick("class", &[("1", Class::Solid), ("2", Class::Stranded), ("5", Class::Flexible)])?;
        let key = (row.pick("material", MATERIALS)?, class);
        let (size, resistance) = (row.positive("size_mm2")?, row.positive("ohm_per_km")?);
        found.entry(key).or_default().insert(row, "size_mm2", size, resistance)?;
    }
    for steps in found.values() {
        follows(&sheet, "ohm_per_km", steps, Trend::Falling, say!("table-a-larger-size-has-no-more"))?;
    }
    Ok(found)
}

type Constants = ([Marked; 3], Marked, Marked);

fn constants(text: &str) -> Result<Constants, TableError> {
    let sheet = Sheet::read("conductor_constant", text, &["item", "value", "checked"])?;
    let names = ["alpha20_copper", "alpha20_aluminium", "alpha20_steel", "rho20_steel", "reactance_ohm_per_km"];
    let choices: Vec<(&str, usize)> = names.iter().enumerate().map(|(index, name)| (*name, index)).collect();
    let mut found = [None; 5];
    for row in sheet.rows() {
        trust(row)?;
        found[row.pick("item", &choices)?] = Some(Marked(row.positive("value")?, row.mark()));
    }
    let [copper, aluminium, steel, rho, reactance] = found;
    let missing = |place: usize| sheet.fault("item", names[place], say!("table-this-row-is-missing-add-it"));
    let take = |place: usize, one: Option<Marked>| one.ok_or_else(|| missing(place));
    let alpha = [take(0, copper)?, take(1, aluminium)?, take(2, steel)?];
    Ok((alpha, take(3, rho)?, take(4, reactance)?))
}

fn drop_limit(text: &str) -> Result<[[Marked; 2]; 2], TableError> {
    let sheet = Sheet::read("voltage_drop_limit", text, &["supply", "load", "percent", "checked"])?;
    let mut found = [None; 4];
    for row in sheet.rows() {
        trust(row)?;
        let supply = row.pick("supply", &[("A", 0), ("B", 2)])?;
        let place = row.pick("load", &[("lighting", 0), ("other", 1)])?;
        let percent = Marked(row.positive("percent")?, row.mark());
        found[supply + place] = Some(percent);
    }
    match found {
        // Without rows for a private supply the public ones count: they are never too generous.
        [Some(lighting), Some(other), b_lighting, b_other] => {
            Ok([[lighting, other], [b_lighting.unwrap_or(lighting), b_other.unwrap_or(other)]])
        }
        _ => Err(sheet.fault("supply", "A", say!("table-give-a-row-for-lighting-and"))),
    }
}

fn times(text: &str) -> Result<Vec<TimeLimit>, TableError> {
    let sheet = Sheet::read(
        "disconnection_time",
        text,
        &["system", "circuit", "u0_over_v", "u0_upto_v", "seconds", "checked"],
    )?;
    let mut found = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        found.push(TimeLimit {
            tt: row.pick("system", &[("TN", false), ("TT", true)])?,
            last_part: row.pick("circuit", &[("final", true), ("distribution", false)])?,
            over: row.number("u0_over_v")?,
            upto: row.positive_or_none("u0_upto_v")?.unwrap_or(f64::INFINITY),
            seconds: row.positive("seconds")?,
            mark: row.mark(),
        });
    }
    Ok(found)
}

type Devices = ([(Span, Mark); 3], Marked, Vec<Band>, Vec<PrintedBand>);

/// What a row of a device's currents says.
#[derive(Clone, Copy, PartialEq, Eq)]
enum What {
    Trips,
    Holds,
    I2,
    Printed,
}

fn devices(text: &str) -> Result<Devices, TableError> {
    let columns = ["device", "type", "what", "in_over", "in_upto", "multiple", "seconds", "checked"];
    let mut printed = Vec::new();
    let sheet = Sheet::read("protective_device", text, &columns)?;
    // Without a row that says more, a breaker surely stays closed at its rated current alone.
    let mut bands = [(1.0, None); 3];
    let (mut conventional, mut fuses) = (None, Vec::new());
    for row in sheet.rows() {
        trust(row)?;
        let breaker = row.pick("device", &[("breaker", true), ("fuse", false)])?;
        let whats = [
            ("instantaneous", What::Trips),
            ("holds", What::Holds),
            ("conventional", What::I2),
            ("printed", What::Printed),
        ];
        let what = row.pick("what", &whats)?;
        let curve = row.pick("type", CURVES)?;
        let (over, upto, multiple) = (row.number("in_over")?, row.positive("in_upto")?, row.positive("multiple")?);
        let seconds = row.positive("seconds")?;
        let place = CURVES.iter().position(|(_, one)| *one == curve).unwrap_or(0);
        match (breaker, what, curve) {
            (true, What::Trips, Some(_)) => bands[place].1 = Some(Marked(multiple, row.mark())),
            (true, What::Holds, Some(_)) => bands[place].0 = multiple,
            (true, What::Printed, Some(curve)) => {
                printed.push(PrintedBand { curve, over, upto, multiple, seconds, mark: row.mark() });
            }
            (true, What::I2, None) => conventional = Some(Marked(multiple, row.mark())),
            (false, What::I2, None) => fuses.push(Band { over, upto, multiple, mark: row.mark() }),
            _ => {
                return Err(row.fault("type", say!("table-a-breaker-trips-at-once-by")));
            }
        }
    }
    let band = |(lo, hi): (f64, Option<Marked>)| hi.map(|Marked(hi, mark)| (Span { lo: lo.min(hi), hi }, mark));
    match (bands.map(band), conventional) {
        ([Some(b), Some(c), Some(d)], Some(conventional)) => Ok(([b, c, d], conventional, fuses, printed)),
        _ => Err(sheet.fault("type", "", say!("table-give-a-breaker-s-instantaneous-rows"))),
    }
}

fn gates(text: &str) -> Result<Vec<Gate>, TableError> {
    let columns = ["in_a", "imin_10s", "imax_5s", "imin_0_1s", "imax_0_1s", "i2t_min", "i2t_max", "checked"];
    let sheet = Sheet::read("fuse_gate", text, &columns)?;
    let mut found: Vec<Gate> = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let gate = Gate {
            rated: row.positive("in_a")?,
            clears_5s: row.positive("imax_5s")?,
            clears_0_1s: row.positive("imax_0_1s")?,
            stays_10s: row.positive("imin_10s")?,
            stays_0_1s: row.positive("imin_0_1s")?,
            least_energy: row.positive("i2t_min")?,
            mark: row.mark(),
        };
        if found.last().is_some_and(|last| last.rated >= gate.rated) {
            return Err(row.fault("in_a", say!("table-put-the-rows-in-rising-order")));
        }
        if gate.clears_0_1s < gate.clears_5s {
            return Err(row.fault("imax_0_1s", say!("table-clearing-faster-takes-no-less-current")));
        }
        found.push(gate);
    }
    Ok(found)
}

fn printed(text: &str) -> Result<Vec<PrintedLoop>, TableError> {
    let sheet = Sheet::read("fuse_loop", text, &["in_a", "zs_0_4s", "zs_5s", "checked"])?;
    let mut found = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let rated = row.positive("in_a")?;
        for (column, seconds) in [("zs_0_4s", 0.4), ("zs_5s", 5.0)] {
            if let Some(ohms) = row.positive_or_none(column)? {
                found.push(PrintedLoop { rated, seconds, current: PRINTED_FOR / ohms, mark: row.mark() });
            }
        }
    }
    Ok(found)
}

fn makes(text: &str) -> Result<Vec<Make>, TableError> {
    let sheet = Sheet::read("cable_make", text, &["construction", "size_mm2", "cpc_mm2", "checked"])?;
    let words: Vec<(&str, Construction)> = Construction::ALL.iter().map(|one| (one.written(), *one)).collect();
    let mut found: Vec<Make> = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let construction = row.pick("construction", &words)?;
        let (size, cpc) = (row.positive("size_mm2")?, row.positive_or_none("cpc_mm2")?);
        if found.last().is_some_and(|last| last.construction == construction && last.size > size) {
            return Err(row.fault("size_mm2", say!("table-give-the-sizes-of-a-construction")));
        }
        found.push(Make { construction, size, cpc });
    }
    for construction in Construction::ALL {
        if found.iter().all(|make| make.construction != *construction) {
            return Err(sheet.fault("construction", construction.written(), say!("table-give-at-least-one-size-of")));
        }
    }
    Ok(found)
}

/// What steel wires add to their resistance at 50 Hz, at most: a tenth, a handbook's allowance for the
/// magnetic effect, from memory.
const ARMOUR_AC: Span = Span { lo: 1.0, hi: 1.1 };

/// Published armour resistances over those of the gross area, the least and the most of the rows that both
/// tables have.
const ARMOUR_LAY: Span = Span { lo: 1.08, hi: 1.23 };

fn armour(
    table: &'static str,
    column: &'static str,
    trend: Trend,
    text: &str,
) -> Result<BTreeMap<u8, Steps>, TableError> {
    let sheet = Sheet::read(table, text, &["cores", "size_mm2", column, "checked"])?;
    let mut found: BTreeMap<u8, Steps> = BTreeMap::new();
    for row in sheet.rows() {
        trust(row)?;
        let cores =
            row.text("cores").parse().map_err(|_| row.fault("cores", say!("table-give-a-whole-number-of-cores")))?;
        let (size, area) = (row.positive("size_mm2")?, row.positive(column)?);
        found.entry(cores).or_default().insert(row, "size_mm2", size, area)?;
    }
    for steps in found.values() {
        follows(&sheet, column, steps, trend, say!("table-a-larger-cable-has-no-less"))?;
    }
    Ok(found)
}

fn adiabatic(text: &str) -> Result<Vec<Adiabatic>, TableError> {
    let columns = ["table", "use", "material", "insulation", "over_mm2", "upto_mm2", "k", "checked"];
    let sheet = Sheet::read("k_factor", text, &columns)?;
    let uses = [
        ("line", Use::Line),
        ("core", Use::Core),
        ("separate", Use::Separate),
        ("armour", Use::Armour),
        ("conduit", Use::Conduit),
    ];
    let metals = [("Cu", Metal::Of(Material::Copper)), ("Al", Metal::Of(Material::Aluminium)), ("steel", Metal::Steel)];
    let mut found = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        found.push(Adiabatic {
            used_as: row.pick("use", &uses)?,
            metal: row.pick("material", &metals)?,
            insulation: row.pick("insulation", INSULATIONS)?,
            over: row.number("over_mm2")?,
            upto: row.positive_or_none("upto_mm2")?.unwrap_or(f64::INFINITY),
            k: row.positive("k")?,
            mark: row.mark(),
        });
    }
    Ok(found)
}

fn let_through(text: &str) -> Result<Vec<LetThrough>, TableError> {
    let columns = ["class", "type", "in_over", "in_upto", "icn", "i2t", "checked"];
    let sheet = Sheet::read("breaker_let_through", text, &columns)?;
    let mut found = Vec::new();
    for row in sheet.rows() {
        trust(row)?;
        let class_3 = row.pick("class", &[("1", false), ("2", false), ("3", true)])?;
        let one = LetThrough {
            curve: row.pick("type", &[("B", Curve::B), ("C", Curve::C), ("D", Curve::D)])?,
            over: row.number("in_over")?,
            upto: row.positive("in_upto")?,
            breaking: row.positive("icn")?,
            energy: row.positive("i2t")?,
            mark: row.mark(),
        };
        if class_3 {
            found.push(one);
        }
    }
    Ok(found)
}

/// Messages that say why a range is taken, as the shipped table does.
const WHY_TAKEN: &[&str] = &[
    "taken-voltage",
    "taken-power-factor-heating",
    "taken-power-factor-vehicle-charging",
    "taken-power-factor-lighting",
    "taken-power-factor",
    "taken-efficiency",
    "taken-ambient-air",
    "taken-ambient-ground",
    "taken-grouped",
    "taken-drop-before",
    "taken-residual",
    "taken-breaking",
    "taken-third-harmonic-lighting",
    "taken-third-harmonic-motor",
    "taken-third-harmonic-fixed-equipment",
    "taken-third-harmonic-vehicle-charging",
    "taken-third-harmonic-distribution-circuit",
    "taken-third-harmonic",
    "taken-start-motor",
    "taken-start",
    "taken-conduit-area",
    "taken-trunking-area",
    "taken-overload-setting",
    "taken-short-circuit-setting",
    "taken-derating",
];

fn assumed(text: &str) -> Result<BTreeMap<(Assumable, Option<LoadKind>), Assumed>, TableError> {
    let columns = ["field", "load", "low", "high", "unit", "why", "source", "checked"];
    let sheet = Sheet::read("assumed_range", text, &columns)?;
    let mut loads: Vec<(&str, Option<LoadKind>)> = vec![("any", None)];
    loads.extend(LoadKind::ALL.iter().map(|kind| (kind.written(), Some(*kind))));
    let mut found = BTreeMap::new();
    for row in sheet.rows() {
        trust(row)?;
        let key = (row.pick("field", ASSUMABLE)?, row.pick("load", &loads)?);
        let (lo, hi) = (row.number("low")?, row.number("high")?);
        if lo > hi {
            return Err(row.fault("low", say!("table-write-the-smaller-number-under-low")));
        }
        for (column, remedy) in [("why", say!("table-why")), ("source", say!("table-source"))] {
            if row.text(column).is_empty() {
                return Err(row.fault(column, remedy));
            }
        }
        let why = Message::shipped(row.text("why"), WHY_TAKEN);
        if found.insert(key, Assumed { span: Span { lo, hi }, why }).is_some() {
            return Err(row.fault("field", say!("table-this-row-is-given-twice-keep")));
        }
    }
    // Tables of a user's own may be older than adjustable breakers: without these rows a setting is missing.
    let later = |field: &Assumable| matches!(field, Assumable::OverloadSetting | Assumable::ShortCircuitSetting);
    for (name, field) in ASSUMABLE.iter().filter(|(_, field)| !later(field)) {
        if !found.contains_key(&(*field, None)) {
            return Err(sheet.fault("field", name, say!("table-give-a-row-of-this-field")));
        }
    }
    Ok(found)
}

/// Largest residual of a row that counts as derived, in percent.
const MOST_RESIDUAL: f64 = 5.0;

/// Sees that a row says how far it may be trusted: read in a published table, computed from a
/// definition, derived another way within a residual, from memory, or common practice.
fn trust(row: &Row) -> Result<(), TableError> {
    let derived = row.pick("checked", &Trust::WORDS)? == Trust::Derived;
    if derived && !row.number("residual").is_ok_and(|percent| percent.abs() <= MOST_RESIDUAL) {
        return Err(row.fault("residual", say!("table-give-the-derivation-s-residual-5")));
    }
    Ok(())
}

fn follows(sheet: &Sheet, column: &str, steps: &Steps, trend: Trend, rule: Message) -> Result<(), TableError> {
    match steps.against(trend) {
        Some((key, value)) => {
            Err(sheet.fault(column, &value.to_string(), say!("table-follows", key = key.to_string(), rule = rule)))
        }
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_tables_read() {
        Tables::shipped().unwrap();
    }

    #[test]
    fn why_a_range_is_taken_is_a_message_where_the_table_is_as_shipped() {
        let shipped = TableTexts::shipped();
        let text = shipped.text("assumed_range").unwrap();
        for (key, taken) in assumed(text).unwrap() {
            assert!(taken.why.id().is_some(), "{key:?}: {} is not in WHY_TAKEN", taken.why);
        }
        let own = assumed(&text.replace("\"resistive\"", "\"our heaters\"")).unwrap();
        let heating = &own[&(Assumable::PowerFactor, Some(LoadKind::Heating))];
        assert_eq!(heating.why.as_plain(), Some("our heaters"));
    }

    /// One table read onto the others gives what all of them read together give, whichever it is.
    #[test]
    fn a_table_is_read_by_itself() {
        let shipped = Tables::shipped().unwrap();
        for name in TableTexts::NAMES {
            let mut texts = TableTexts::shipped();
            let text = texts.text(name).unwrap();
            let head = text.lines().position(|line| !line.starts_with('#')).unwrap();
            let moved: Vec<&str> = text.lines().take(head).chain(["# moved"]).chain(text.lines().skip(head)).collect();
            let moved = moved.join("\n");
            texts.replace(name, &moved);
            let (one, all) = (shipped.with(name, &moved).unwrap().unwrap(), Tables::parse(&texts).unwrap());
            assert_eq!(format!("{one:?}"), format!("{all:?}"), "{name}");
        }
        assert!(shipped.with("prices", "a,b\n1,2\n").unwrap().is_none());
        assert_eq!(shipped.with("ampacity", "a,b\n").unwrap_err().file, "ampacity");
    }

    /// A slip in a user's table is refused by file, row, column and value.
    #[test]
    fn slips_are_named() {
        let shipped = TableTexts::shipped();
        for (name, from, to, column) in [
            ("ampacity", "PVC70,2,A1,1.5,14.5", "PVC70,2,A1,1.5,14,5", ""),
            ("ampacity", "PVC70,2,A1,2.5,19.5", "PVC70,2,A1,2.5,NaN", "amps"),
            ("ampacity", "PVC70,2,A1,2.5,19.5", "PVC70,2,A1,2.5,195", "amps"),
            ("ampacity", "PVC70,2,A1,2.5,19.5", "PVC70,2,A1,1.5,19.5", "size_mm2"),
            ("ampacity", "Cu,PVC70,2,A1,2.5", "Copper,PVC70,2,A1,2.5", "material"),
            ("ambient_factor", "factor,residual", "k,residual", "factor"),
            ("ambient_factor", "air,PVC70,35,0.94", "air,PVC70,35,1.94", "factor"),
            ("disconnection_time", "0.8", "-0.8", "seconds"),
            ("voltage_drop_limit", "lighting", "lamps", "load"),
            ("assumed_range", "power_factor,any,0.7,1", "power_factor,any,1,0.7", "low"),
            ("harmonic_factor", "15,33,line", "16,33,line", "over_percent"),
            ("soil_factor", "resistivity,D1,0.7,1.20", "resistivity,D1,0.7,1.60", "factor"),
            ("insulation_factor", "0.1,0.78", "0.1,0.98", "factor"),
            ("motor_start", "power_factor,0.2,0.5", "power_factor,0.5,0.2", "low"),
            ("residual_form", "motor,sine,smooth", "motor,smooth,sine", "least"),
            ("protective_device", "breaker,B,holds", "breaker,any,holds", "type"),
            ("assumed_range", "\"common practice, no source\",practice", ",practice", "source"),
            ("residual_form", "no source\",practice", "no source\",", "checked"),
            ("ampacity", "-4.0,derived", "-5.1,derived", "residual"),
            ("ambient_factor", "0.4,derived", ",derived", "residual"),
            ("k_factor", "0.0,derived", "0.0,guessed", "checked"),
        ] {
            let text = shipped.text(name).unwrap().replacen(from, to, 1);
            assert_ne!(text, shipped.text(name).unwrap(), "{from}");
            let mut texts = shipped;
            assert!(texts.replace(name, &text));
            let error = Tables::parse(&texts).unwrap_err();
            assert_eq!((error.file, error.column.as_str()), (name, column), "{error}");
            assert!(!error.remedy.is_empty());
        }
    }

    #[test]
    fn no_text_panics() {
        let shipped = TableTexts::shipped();
        for name in TableTexts::NAMES {
            for text in ["", "#", "\"", "a,b\n1", "\u{0}\u{ff}", "item,value,checked\nx,1e999,read"] {
                let mut texts = shipped;
                texts.replace(name, text);
                assert!(Tables::parse(&texts).is_err(), "{name} {text:?}");
            }
        }
    }

    /// Published rows: IEC 60364-5-52 tables B.52.14 and B.52.17.
    #[test]
    fn factors_come_from_their_rows() {
        let tables = Tables::shipped().unwrap();
        let ca = |temperature| tables.ambient_factor(Medium::Air, Insulation::Pvc70, Span::point(temperature)).unwrap();
        assert_eq!(ca(30.0), Span::point(1.0));
        assert_eq!(ca(50.0), Span::point(0.71));
        assert!((ca(32.5).lo - 0.97).abs() < 1e-9);
        assert_eq!(ca(61.0).lo, 0.0);
        let cg = |count| tables.grouping_factor(Method::C, Lie::Bunched, false, Span::point(count)).unwrap();
        assert_eq!(
            (cg(1.0), cg(3.0), cg(9.0), cg(10.0)),
            (Span::point(1.0), Span::point(0.7), Span::point(0.5), Span::point(0.45))
        );
        assert_eq!(cg(25.0), Span::point(0.2));
        // In one layer there is no further reduction beyond nine: notes of table B.52.17.
        let tray = |count| tables.grouping_factor(Method::E, Lie::PerforatedTray, false, Span::point(count)).unwrap();
        assert_eq!(tray(20.0), tray(9.0));
        let mixed = tables.grouping_factor(Method::B1, Lie::Bunched, true, Span::point(4.0)).unwrap();
        assert_eq!(mixed, Span::point(0.5));
    }

    /// Without its rows for layers a table counts them as bunched, and without a private supply's
    /// limits the public ones: never too generous.
    #[test]
    fn shorter_tables_stay_on_the_safe_side() {
        let shipped = TableTexts::shipped();
        let without = |text: &str, part: &str| -> String {
            text.lines().filter(|line| !line.contains(part)).map(|line| format!("{line}\n")).collect()
        };
        let grouping = without(&without(shipped.grouping_factor, "item 4"), "item 5");
        let limits = without(shipped.voltage_drop_limit, "B,");
        let texts = TableTexts { grouping_factor: &grouping, voltage_drop_limit: &limits, ..shipped };
        let tables = Tables::parse(&texts).unwrap();
        let at = |lie| tables.grouping_factor(Method::E, lie, false, Span::point(3.0)).unwrap();
        assert_eq!(at(Lie::Ladder), at(Lie::Bunched));
        assert_eq!(
            tables.drop_limit(Network::Private, LoadKind::Lighting),
            tables.drop_limit(Network::Public, LoadKind::Lighting)
        );
    }

    /// gG gates, IEC 60269-1 (from memory): 16 A clears within 5 s at 65 A, within 0.1 s at 150 A.
    #[test]
    fn fuses_melt_at_their_gates() {
        let tables = Tables::shipped().unwrap();
        // 12 A: nothing is printed of it.
        let at = |rated, seconds| tables.fuse_opens(Span::point(rated), seconds).unwrap();
        let near = |span: Span, wanted: f64| span.lo <= wanted && span.hi >= wanted && span.hi - span.lo < 0.001;
        assert!(near(at(12.0, 5.0)[1], 55.2) && near(at(12.0, 5.0)[0], 24.0), "{:?}", at(12.0, 5.0));
        assert!(near(at(16.0, 0.1)[1], 150.0) && near(at(16.0, 0.1)[0], 218.5 / 2.43), "{:?}", at(16.0, 0.1));
        assert!(at(12.0, 0.4)[1].lo > 55.2 && at(12.0, 0.4)[1].hi < 140.4);
        // In 0.04 s the energy of the gate at 0.1 s: 150 A · √2.5.
        assert!(near(at(16.0, 0.04)[1], 150.0 * 2.5_f64.sqrt()), "{:?}", at(16.0, 0.04));
        assert_eq!(tables.fuse_opens(Span::point(1.0), 5.0), None);
    }

    /// BS 7671, tables 41.2 and 41.4 (from memory): 32 A gG, 0.99 Ω in 0.4 s, 1.70 Ω in 5 s at 0.95·230 V. In 0.2 s
    /// nothing is printed: no less than in 0.4 s, surely by the chord of the gates at 150 A and 350 A.
    #[test]
    fn fuses_open_at_what_is_printed() {
        let tables = Tables::shipped().unwrap();
        let at = |seconds| tables.fuse_opens(Span::point(32.0), seconds).unwrap();
        let near = |span: Span, wanted: f64| span.lo <= wanted && span.hi >= wanted && span.hi - span.lo < 0.001;
        assert!(at(0.4).into_iter().all(|span| near(span, 218.5 / 0.99)), "{:?}", at(0.4));
        assert!(at(5.0).into_iter().all(|span| near(span, 218.5 / 1.70)), "{:?}", at(5.0));
        let [may, surely] = at(0.2);
        let chord = 150.0 * libm::pow(350.0 / 150.0, libm::log(25.0) / libm::log(50.0));
        assert!(near(may, 218.5 / 0.99) && near(surely, chord), "{surely:?}");
        // In 0.8 s it opens at what opens it in 0.4 s: less than the chord's 223 A.
        assert!(near(at(0.8)[1], 218.5 / 0.99) && near(at(0.8)[0], 218.5 / 1.70), "{:?}", at(0.8));
    }

    /// IEC 60898-1, table 7, test d (times from memory): a D32 opens at 10 In within 4 s, a D40 within 8 s, which
    /// proves nothing of 5 s. At once at 20 In. BS 7671, table 41.3 (from memory) prints 10 In for 5 s, 20 In for 0.4 s.
    #[test]
    fn type_d_opens_slowly_at_ten_times_its_rating() {
        let tables = Tables::shipped().unwrap();
        let at = |curve, rated, seconds| tables.breaker_opens(curve, rated, seconds);
        assert_eq!(at(Curve::D, 32.0, 5.0), Span::point(10.0));
        assert_eq!(at(Curve::D, 40.0, 5.0), Span { lo: 10.0, hi: 20.0 });
        assert_eq!(at(Curve::D, 32.0, 1.0), Span { lo: 10.0, hi: 20.0 });
        assert_eq!(at(Curve::D, 32.0, 0.4), Span::point(20.0));
        assert_eq!(at(Curve::D, 32.0, 0.2), Span::point(20.0));
        assert_eq!((at(Curve::B, 32.0, 5.0), at(Curve::C, 40.0, 5.0)), (Span::point(5.0), Span::point(10.0)));
    }
}
