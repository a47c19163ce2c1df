//! The gland, thread, conduit and cable tables, `seed-data/plate/*.csv`.

use std::sync::LazyLock;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use survey::PlateMaterial;

/// A table that could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{table}, line {line}: {message}")]
pub struct TableError {
    /// The table's name, "gland.csv".
    pub table: &'static str,
    /// Line in the file, from 1.
    pub line: u64,
    /// What is wrong and what would do.
    pub message: String,
}

/// An armoured-cable gland. Lengths in millimetres; two published sets of clamping ranges, see
/// `gland.csv` for where they come from.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Gland {
    /// Trade size: "20S".
    pub size: String,
    /// Entry thread with its pitch: "M20x1.5".
    pub thread: String,
    /// Least diameter under the armour, set a.
    pub a_inner_min: f64,
    /// Largest diameter under the armour, set a.
    pub a_inner_max: f64,
    /// Least diameter over the sheath, set a.
    pub a_outer_min: f64,
    /// Largest diameter over the sheath, set a.
    pub a_outer_max: f64,
    /// Least diameter under the armour, set b.
    pub b_inner_min: Option<f64>,
    /// Largest diameter under the armour, set b.
    pub b_inner_max: Option<f64>,
    /// Least diameter over the sheath, set b.
    pub b_outer_min: Option<f64>,
    /// Largest diameter over the sheath, set b.
    pub b_outer_max: Option<f64>,
    /// Across corners of the largest hexagon.
    pub ac_mm: f64,
    /// Across flats of the largest hexagon.
    pub af_mm: f64,
    /// Least clearance hole.
    pub hole_min_mm: f64,
    /// Largest clearance hole.
    pub hole_max_mm: f64,
}

/// A metric entry thread. Lengths in millimetres, see `gland_thread.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Thread {
    /// "M20".
    pub thread: String,
    /// Least clearance hole.
    pub hole_min_mm: f64,
    /// Largest clearance hole.
    pub hole_max_mm: f64,
    /// Pitch.
    pub pitch: f64,
    /// Across flats of a brass locknut.
    pub brass_locknut_af: f64,
    /// Across corners of a brass locknut.
    pub brass_locknut_ac: f64,
    /// Thickness of a brass locknut.
    pub brass_locknut_thick: f64,
    /// Across flats of a plastic locknut.
    pub plastic_locknut_af: Option<f64>,
    /// Across corners of a plastic locknut; none sold for the largest thread.
    pub plastic_locknut_ac: Option<f64>,
    /// Thickness of a plastic locknut.
    pub plastic_locknut_thick: Option<f64>,
}

/// A plastic compression gland. Lengths in millimetres, see `gland_plastic.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct PlasticGland {
    /// "M20".
    pub thread: String,
    /// Least cable diameter.
    pub min_mm: f64,
    /// Largest cable diameter.
    pub max_mm: f64,
    /// Least cable diameter with the other insert.
    pub alt_min_mm: f64,
    /// Largest cable diameter with the other insert.
    pub alt_max_mm: f64,
    /// Across flats of the hexagon.
    pub af_mm: f64,
    /// Across corners of the hexagon.
    pub ac_mm: f64,
}

/// A conduit size. Lengths in millimetres, see `conduit.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Conduit {
    /// Its size, the outside diameter: "25".
    pub size: String,
    /// Thread with its pitch: "M25x1.5".
    pub thread: String,
    /// Bore, where known.
    pub bore_mm: Option<f64>,
    /// Least clearance hole.
    pub hole_min_mm: f64,
    /// Largest clearance hole.
    pub hole_max_mm: f64,
    /// Across flats of the bush.
    pub bush_af: f64,
    /// Across corners of the bush.
    pub bush_ac: f64,
    /// Across flats of the locknut.
    pub locknut_af: f64,
    /// Across corners of the locknut.
    pub locknut_ac: f64,
}

/// An adaptor for flexible conduit. Lengths in millimetres, see `flexible_conduit.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct FlexibleConduit {
    /// Nominal size: "25".
    pub size: String,
    /// Thread with its pitch: "M25x1.5".
    pub thread: String,
    /// Bore left for cables.
    pub bore_mm: f64,
    /// Least clearance hole.
    pub hole_min_mm: f64,
    /// Largest clearance hole.
    pub hole_max_mm: f64,
    /// Across flats of the hexagon.
    pub hex_af: f64,
    /// Across corners of the hexagon.
    pub hex_ac: f64,
    /// Across flats of the locknut.
    pub locknut_af: f64,
    /// Across corners of the locknut.
    pub locknut_ac: f64,
}

/// An earth tag by thread. Lengths in millimetres, see `earth_tag.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct EarthTag {
    /// "M20".
    pub thread: String,
    /// Bolt through its ear: "M6".
    pub bolt: String,
    /// Hole for the bolt.
    pub bolt_hole_mm: f64,
    /// Width of the ear.
    pub ear_width_mm: f64,
    /// How far the ear reaches beyond the hexagon across corners.
    pub beyond_mm: f64,
}

/// A sealing washer by thread. Lengths in millimetres, see `ip_washer.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Washer {
    /// "M20".
    pub thread: String,
    /// Outside diameter.
    pub outer_mm: f64,
    /// Thickness.
    pub thick_mm: f64,
}

/// A row of `bend_radius.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct Bend {
    pub build: String,
    pub from_mm2: f64,
    pub largest_mm: f64,
    pub factor: f64,
}

/// A row of `conduit_terms.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct ConduitTerm {
    pub kind: String,
    pub a: String,
    pub b: f64,
    pub c16: f64,
    pub c20: Option<f64>,
    pub c25: Option<f64>,
    pub c32: Option<f64>,
}

/// A row of `trunking.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct TrunkingTerm {
    pub kind: String,
    pub a: f64,
    pub b: String,
    pub v2: Option<f64>,
    pub v3: Option<f64>,
}

/// The texts of the tables, each a CSV file with comment lines that begin with `#`.
#[derive(Clone, Copy, Debug)]
pub struct TableTexts<'a> {
    /// `gland.csv`.
    pub gland: &'a str,
    /// `gland_thread.csv`.
    pub gland_thread: &'a str,
    /// `gland_plastic.csv`.
    pub gland_plastic: &'a str,
    /// `conduit.csv`.
    pub conduit: &'a str,
    /// `flexible_conduit.csv`.
    pub flexible_conduit: &'a str,
    /// `armoured_cable.csv`.
    pub armoured_cable: &'a str,
    /// `hole_tool.csv`.
    pub hole_tool: &'a str,
    /// `earth_tag.csv`.
    pub earth_tag: &'a str,
    /// `ip_washer.csv`.
    pub ip_washer: &'a str,
    /// `bend_radius.csv`.
    pub bend_radius: &'a str,
    /// `conduit_terms.csv`.
    pub conduit_terms: &'a str,
    /// `trunking.csv`.
    pub trunking: &'a str,
}

#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct ArmouredCable {
    pub cores: u8,
    pub csa_mm2: f64,
    pub under_armour_mm: f64,
    pub overall_mm: f64,
}

#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct Cutter {
    pub tool: String,
    pub size_mm: f64,
    pub pilot_mm: f64,
}

/// All tables this crate looks things up in.
#[derive(Clone, Debug, PartialEq)]
pub struct Tables {
    pub(crate) glands: Vec<Gland>,
    pub(crate) threads: Vec<Thread>,
    pub(crate) plastic: Vec<PlasticGland>,
    pub(crate) conduits: Vec<Conduit>,
    pub(crate) armoured: Vec<ArmouredCable>,
    pub(crate) cutters: Vec<Cutter>,
    pub(crate) flexible: Vec<FlexibleConduit>,
    pub(crate) tags: Vec<EarthTag>,
    pub(crate) washers: Vec<Washer>,
    pub(crate) bends: Vec<Bend>,
    pub(crate) conduit_terms: Vec<ConduitTerm>,
    pub(crate) trunking_terms: Vec<TrunkingTerm>,
}

/// What a row may say of its trust, but for derived: see the head of each table.
const TRUST: [&str; 4] = ["read", "computed", "memory", "practice"];

/// Largest residual of a row that counts as derived, in percent.
const MOST_RESIDUAL: f64 = 5.0;

fn read<T: DeserializeOwned>(
    table: &'static str,
    text: &str,
    numbers: impl Fn(&T) -> Vec<f64>,
) -> Result<Vec<T>, TableError> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(text.as_bytes());
    let fault = |line: u64, message: String| TableError { table, line, message };
    let form = |error: csv::Error| {
        let line = error.position().map_or(0, csv::Position::line);
        fault(line, format!("{error}; keep the columns of the shipped table"))
    };
    let header = reader.headers().map_err(form)?.clone();
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(form)?;
        let line = record.position().map_or(0, csv::Position::line);
        let field = |name: &str| header.iter().position(|one| one == name).and_then(|place| record.get(place));
        trust(field("checked").unwrap_or_default(), field("residual")).map_err(|message| fault(line, message))?;
        let row: T = record.deserialize(Some(&header)).map_err(form)?;
        if let Some(bad) = numbers(&row).into_iter().find(|number| !(*number > 0.0 && *number <= 1000.0)) {
            return Err(fault(line, format!("{bad} is no length of a fitting: give 0 to 1000 mm")));
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(fault(1, "no rows: give at least one".to_owned()));
    }
    Ok(rows)
}

/// Sees that a row says how far it may be trusted: a derived one by its residual in percent.
fn trust(checked: &str, residual: Option<&str>) -> Result<(), String> {
    if TRUST.contains(&checked) {
        return Ok(());
    }
    if checked != "derived" {
        return Err(format!("checked is {checked:?}: give one of {}, derived", TRUST.join(", ")));
    }
    match residual.and_then(|text| text.parse::<f64>().ok()) {
        Some(percent) if percent.abs() <= MOST_RESIDUAL => Ok(()),
        _ => Err("give the derivation's residual, -5 to 5 percent, or mark the row memory".to_owned()),
    }
}

impl Tables {
    /// Reads the tables.
    ///
    /// # Errors
    /// [`TableError`] names the table, the line and what would do.
    pub fn parse(texts: TableTexts<'_>) -> Result<Self, TableError> {
        Ok(Self {
            glands: read("gland.csv", texts.gland, |row: &Gland| {
                let mut all = vec![
                    row.a_inner_min,
                    row.a_inner_max,
                    row.a_outer_min,
                    row.a_outer_max,
                    row.ac_mm,
                    row.af_mm,
                    row.hole_min_mm,
                    row.hole_max_mm,
                ];
                all.extend([row.b_inner_min, row.b_inner_max, row.b_outer_min, row.b_outer_max].into_iter().flatten());
                all
            })?,
            threads: read("gland_thread.csv", texts.gland_thread, |row: &Thread| {
                let mut all = vec![row.hole_min_mm, row.hole_max_mm, row.pitch, row.brass_locknut_af];
                all.extend([row.brass_locknut_ac, row.brass_locknut_thick]);
                all.extend(
                    [row.plastic_locknut_af, row.plastic_locknut_ac, row.plastic_locknut_thick].into_iter().flatten(),
                );
                all
            })?,
            plastic: read("gland_plastic.csv", texts.gland_plastic, |row: &PlasticGland| {
                vec![row.min_mm, row.max_mm, row.alt_min_mm, row.alt_max_mm, row.af_mm, row.ac_mm]
            })?,
            conduits: read("conduit.csv", texts.conduit, |row: &Conduit| {
                let mut all = vec![row.hole_min_mm, row.hole_max_mm];
                all.extend([row.bush_af, row.bush_ac, row.locknut_af, row.locknut_ac]);
                all.extend(row.bore_mm);
                all
            })?,
            flexible: read("flexible_conduit.csv", texts.flexible_conduit, |row: &FlexibleConduit| {
                let mut all = vec![row.bore_mm, row.hole_min_mm, row.hole_max_mm];
                all.extend([row.hex_af, row.hex_ac, row.locknut_af, row.locknut_ac]);
                all
            })?,
            armoured: read("armoured_cable.csv", texts.armoured_cable, |row: &ArmouredCable| {
                vec![row.csa_mm2, row.under_armour_mm, row.overall_mm]
            })?,
            cutters: read("hole_tool.csv", texts.hole_tool, |row: &Cutter| vec![row.size_mm, row.pilot_mm])?,
            tags: read("earth_tag.csv", texts.earth_tag, |row: &EarthTag| {
                vec![row.bolt_hole_mm, row.ear_width_mm, row.beyond_mm]
            })?,
            washers: read("ip_washer.csv", texts.ip_washer, |row: &Washer| vec![row.outer_mm, row.thick_mm])?,
            bends: read("bend_radius.csv", texts.bend_radius, |row: &Bend| vec![row.largest_mm, row.factor])?,
            conduit_terms: read("conduit_terms.csv", texts.conduit_terms, |row: &ConduitTerm| {
                let mut all = vec![row.c16];
                all.extend([row.c20, row.c25].into_iter().flatten());
                all
            })?,
            trunking_terms: read("trunking.csv", texts.trunking, |row: &TrunkingTerm| vec![row.a])?,
        })
    }

    /// The tables that ship with the program.
    #[must_use]
    pub fn shipped() -> &'static Self {
        static SHIPPED: LazyLock<Tables> = LazyLock::new(|| {
            Tables::parse(TableTexts {
                gland: include_str!("../../../seed-data/plate/gland.csv"),
                gland_thread: include_str!("../../../seed-data/plate/gland_thread.csv"),
                gland_plastic: include_str!("../../../seed-data/plate/gland_plastic.csv"),
                conduit: include_str!("../../../seed-data/plate/conduit.csv"),
                flexible_conduit: include_str!("../../../seed-data/plate/flexible_conduit.csv"),
                armoured_cable: include_str!("../../../seed-data/plate/armoured_cable.csv"),
                hole_tool: include_str!("../../../seed-data/plate/hole_tool.csv"),
                earth_tag: include_str!("../../../seed-data/plate/earth_tag.csv"),
                ip_washer: include_str!("../../../seed-data/plate/ip_washer.csv"),
                bend_radius: include_str!("../../../seed-data/plate/bend_radius.csv"),
                conduit_terms: include_str!("../../../seed-data/plate/conduit_terms.csv"),
                trunking: include_str!("../../../seed-data/plate/trunking.csv"),
            })
            .expect("the shipped tables are part of the program and read by its tests")
        });
        &SHIPPED
    }

    /// The armoured-cable glands, smallest first.
    #[must_use]
    pub fn glands(&self) -> &[Gland] {
        &self.glands
    }

    /// The conduit sizes, smallest first.
    #[must_use]
    pub fn conduits(&self) -> &[Conduit] {
        &self.conduits
    }

    /// The earth tags, smallest first.
    #[must_use]
    pub fn earth_tags(&self) -> &[EarthTag] {
        &self.tags
    }

    /// The threads, smallest first.
    #[must_use]
    pub fn threads(&self) -> &[Thread] {
        &self.threads
    }

    pub(crate) fn thread(&self, name: &str) -> Option<&Thread> {
        self.threads.iter().find(|row| row.thread == name)
    }
}

/// True for a plate that must not part the conductors of an a.c. circuit. Stainless steel is left
/// open: most grades used are not magnetic, some are.
pub(crate) const fn ferrous(material: PlateMaterial) -> Option<bool> {
    match material {
        PlateMaterial::Steel => Some(true),
        PlateMaterial::StainlessSteel => None,
        PlateMaterial::Aluminium | PlateMaterial::Brass | PlateMaterial::Plastic => Some(false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shipped_tables_read() {
        let tables = Tables::shipped();
        assert_eq!(tables.glands().len(), 12);
        assert_eq!(tables.threads().len(), 9);
        assert_eq!(tables.armoured.len(), 62);
    }

    #[test]
    fn a_bad_row_is_named_by_its_line() {
        let head = "# a\nthread,pitch,hole_min_mm,hole_max_mm,brass_locknut_af,brass_locknut_ac,brass_locknut_thick,\
                    plastic_locknut_af,plastic_locknut_ac,plastic_locknut_thick,checked\n";
        let good = "M20,1.5,20.2,20.5,24,27.7,3,26,30,6,read\n";
        let numbers = |row: &Thread| vec![row.hole_min_mm];
        let error = read("t", &format!("{head}{good}M25,1.5,-1,25.5,30,34.6,3.5,,,,read\n"), numbers).unwrap_err();
        assert_eq!((error.line, error.message.contains("-1")), (4, true), "{error}");
        let error = read("t", &format!("{head}{good}M25,1.5,wide,25.5,30,34.6,3.5,,,,read\n"), numbers).unwrap_err();
        assert_eq!(error.line, 4, "{error}");
        assert!(read("t", head, numbers).is_err());
    }

    #[test]
    fn a_row_says_how_far_it_may_be_trusted() {
        let head = "# a\nthread,outer_mm,thick_mm,residual,checked\n";
        let washer = |row: &str| read("t", &format!("{head}M20,26,1.5,{row}\n"), |row: &Washer| vec![row.outer_mm]);
        for good in [",read", ",memory", ",practice", "4.9,derived"] {
            assert_eq!(washer(good).unwrap().len(), 1, "{good}");
        }
        for bad in [",", ",seen", ",derived", "5.1,derived", "NaN,derived"] {
            assert_eq!(washer(bad).unwrap_err().line, 3, "{bad}");
        }
        let plain = read("t", "thread,outer_mm,thick_mm\nM20,26,1.5\n", |row: &Washer| vec![row.outer_mm]);
        assert!(plain.unwrap_err().message.contains("checked"));
    }
}
