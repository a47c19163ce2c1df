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
    /// Across corners of a brass locknut.
    pub brass_locknut_ac: f64,
    /// Across corners of a plastic locknut; none sold for the largest thread.
    pub plastic_locknut_ac: Option<f64>,
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
    /// Across corners of the hexagon.
    pub ac_mm: f64,
}

/// A conduit size. Lengths in millimetres, see `conduit.csv`.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Conduit {
    /// Its size, the outside diameter: "25".
    pub size: String,
    /// Least clearance hole.
    pub hole_min_mm: f64,
    /// Largest clearance hole.
    pub hole_max_mm: f64,
    /// Across corners of the bush.
    pub bush_ac: f64,
    /// Across corners of the locknut.
    pub locknut_ac: f64,
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
}

fn read<T: DeserializeOwned>(
    table: &'static str,
    text: &str,
    numbers: impl Fn(&T) -> Vec<f64>,
) -> Result<Vec<T>, TableError> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).trim(csv::Trim::All).from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for row in reader.deserialize::<T>() {
        let row = row.map_err(|error| TableError {
            table,
            line: error.position().map_or(0, csv::Position::line),
            message: format!("{error}; keep the columns of the shipped table"),
        })?;
        if let Some(bad) = numbers(&row).into_iter().find(|number| !(*number > 0.0 && *number <= 1000.0)) {
            return Err(TableError {
                table,
                line: reader_line(rows.len(), text),
                message: format!("{bad} is no length of a fitting: give 0 to 1000 mm"),
            });
        }
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(TableError { table, line: 1, message: "no rows: give at least one".to_owned() });
    }
    Ok(rows)
}

/// Line in the file of the row with this index, comments and header counted.
fn reader_line(row: usize, text: &str) -> u64 {
    let mut seen = 0_usize;
    for (index, line) in text.lines().enumerate() {
        if line.starts_with('#') || line.trim().is_empty() {
            continue;
        }
        if seen == row + 1 {
            return index as u64 + 1;
        }
        seen += 1;
    }
    0
}

impl Tables {
    /// Reads the six tables: glands, threads, plastic glands, conduits, armoured cable, cutters.
    ///
    /// # Errors
    /// [`TableError`] names the table, the line and what would do.
    pub fn parse(
        gland: &str,
        gland_thread: &str,
        gland_plastic: &str,
        conduit: &str,
        armoured_cable: &str,
        hole_tool: &str,
    ) -> Result<Self, TableError> {
        Ok(Self {
            glands: read("gland.csv", gland, |row: &Gland| {
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
            threads: read("gland_thread.csv", gland_thread, |row: &Thread| {
                let mut all = vec![row.hole_min_mm, row.hole_max_mm, row.brass_locknut_ac];
                all.extend(row.plastic_locknut_ac);
                all
            })?,
            plastic: read("gland_plastic.csv", gland_plastic, |row: &PlasticGland| {
                vec![row.min_mm, row.max_mm, row.alt_min_mm, row.alt_max_mm, row.ac_mm]
            })?,
            conduits: read("conduit.csv", conduit, |row: &Conduit| {
                vec![row.hole_min_mm, row.hole_max_mm, row.bush_ac, row.locknut_ac]
            })?,
            armoured: read("armoured_cable.csv", armoured_cable, |row: &ArmouredCable| {
                vec![row.csa_mm2, row.under_armour_mm, row.overall_mm]
            })?,
            cutters: read("hole_tool.csv", hole_tool, |row: &Cutter| vec![row.size_mm, row.pilot_mm])?,
        })
    }

    /// The tables that ship with the program.
    #[must_use]
    pub fn shipped() -> &'static Self {
        static SHIPPED: LazyLock<Tables> = LazyLock::new(|| {
            Tables::parse(
                include_str!("../../../seed-data/plate/gland.csv"),
                include_str!("../../../seed-data/plate/gland_thread.csv"),
                include_str!("../../../seed-data/plate/gland_plastic.csv"),
                include_str!("../../../seed-data/plate/conduit.csv"),
                include_str!("../../../seed-data/plate/armoured_cable.csv"),
                include_str!("../../../seed-data/plate/hole_tool.csv"),
            )
            .expect("the shipped tables are part of the program and read by its tests")
        });
        &SHIPPED
    }

    /// The armoured-cable glands, smallest first.
    #[must_use]
    pub fn glands(&self) -> &[Gland] {
        &self.glands
    }

    /// The plastic compression glands, smallest first.
    #[must_use]
    pub fn plastic_glands(&self) -> &[PlasticGland] {
        &self.plastic
    }

    /// The conduit sizes, smallest first.
    #[must_use]
    pub fn conduits(&self) -> &[Conduit] {
        &self.conduits
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
        let head = "# a\nthread,pitch,hole_min_mm,hole_max_mm,brass_locknut_ac,plastic_locknut_ac\n";
        let good = "M20,1.5,20.2,20.5,27.7,30\n";
        let numbers = |row: &Thread| vec![row.hole_min_mm];
        let error = read("t", &format!("{head}{good}M25,1.5,-1,25.5,34.6,\n"), numbers).unwrap_err();
        assert_eq!((error.line, error.message.contains("-1")), (4, true), "{error}");
        let error = read("t", &format!("{head}{good}M25,1.5,wide,25.5,34.6,\n"), numbers).unwrap_err();
        assert_eq!(error.line, 4, "{error}");
        assert!(read("t", head, numbers).is_err());
    }
}
