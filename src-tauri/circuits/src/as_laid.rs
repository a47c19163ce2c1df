//! A cable as it lies against what such a cable may be: its least size, the ground, readings that exclude each other.

use std::collections::BTreeSet;

use survey::range::Span;
use survey::{
    Band, Cable, CableId, Check, Construction, CpcForm, Formation, LoadKind, Material, Message, Method, Subject,
    Verdict, YesNo,
};

use crate::finding::{self, Rule};
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const LEAST_SIZE: Rule = Rule {
    name: "least-size",
    clause: Message::fixed(
        "IEC 60364-5-52, table 52.2; BS 7671, table 52.3 (both from memory): fixed conductors of power and lighting \
             circuits 1.5 mm² of copper (BS 7671: lighting 1 mm²), 10 mm² of aluminium (BS 7671: 16 mm²); flexible ones \
             0.75 mm²",
    ),
    symbols: [Message::fixed("least"), Message::fixed("S")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const APART: Rule = Rule::in_words(
    "cpc-apart",
    Message::fixed(
        "IEC 60364-5-54, 543.1.3 (from memory): a protective conductor not in a cable, 2.5 mm² of copper protected, 4 mm² not; \
             16 mm² of aluminium",
    ),
);

const BURIED: Rule = Rule::in_words(
    "buried",
    Message::fixed(
        "IEC 60364-5-52, 522.3 and 522.8; BS 7671, 522.8.10 (both from memory): a cable direct in the ground is made for it, with \
             an earthed armour or metal sheath by BS 7671, at a depth where nothing disturbs it",
    ),
);

const READINGS: Rule = Rule::in_words(
    "cable-readings",
    Message::fixed("IEC 60364-5-52, tables A.52.3 and B.52.1: which cable each installation method is of"),
);

/// Findings of every circuit's cable and of the supply cable.
pub(crate) fn check<S>(common: &Common, circuits: &[(Source, S)], out: &mut Vec<Check>) {
    let mut seen = BTreeSet::new();
    if let Some((id, cable)) = common.supply_cable() {
        seen.insert(id);
        each(Subject::Board, None, id, cable, out);
    }
    for (source, _) in circuits {
        if let Some((id, cable)) = source.cable.filter(|(id, _)| seen.insert(*id)) {
            each(Subject::Circuit(source.id), source.circuit.kind, id, cable, out);
        }
    }
}

fn each(subject: Subject, kind: Option<LoadKind>, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    least_size(subject, kind, id, cable, out);
    apart(subject, id, cable, out);
    buried(subject, id, cable, out);
    readings(subject, id, cable, out);
}

fn at(id: CableId, field: &str) -> String {
    format!("/cables/{id}/{field}")
}

/// Least size of a live conductor, mm². Where the metal is not known it counts as copper, of which the least is less.
fn least(cable: &Cable, kind: Option<LoadKind>) -> f64 {
    match (cable.material.get(), kind) {
        (Some(Material::Aluminium), _) => 10.0,
        _ if cable.construction.get() == Some(&Construction::Flexible) => 0.75,
        // BS 7671 allows 1 mm² for lighting; what is not traced may be that.
        (_, Some(LoadKind::Lighting) | None) => 1.0,
        _ => 1.5,
    }
}

/// Least size of a separate protective conductor that runs apart, by its metal, mm².
const COPPER_APART: f64 = 2.5;
const ALUMINIUM_APART: f64 = 16.0;

/// True of conductors that no new cable of this circuit may have, whatever it carries: sizes in mm².
pub(crate) fn too_thin(source: &Source, size: f64, cpc: Option<f64>) -> bool {
    let Some((_, cable)) = source.cable else { return false };
    let aluminium = cable.cpc_material.get().or(cable.material.get()) == Some(&Material::Aluminium);
    let apart = if aluminium { ALUMINIUM_APART } else { COPPER_APART };
    let power = cable.band.get().is_none_or(|band| *band == Band::Power);
    power && (size < least(cable, source.circuit.kind) || (runs_apart(cable) && cpc.is_some_and(|cpc| cpc < apart)))
}

/// Its protective conductor is neither in the cable nor beside it.
fn runs_apart(cable: &Cable) -> bool {
    cable.cpc.get() == Some(&CpcForm::Separate) && cable.cpc_apart.get() == Some(&YesNo::Yes)
}

fn least_size(subject: Subject, kind: Option<LoadKind>, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    let Some(size) = cable.size.range() else { return };
    if cable.band.get().is_some_and(|band| *band != Band::Power) {
        return;
    }
    let least = least(cable, kind);
    let outcome = Outcome { value: Span::point(least), limit: size.numbers() };
    if outcome.verdict() == Verdict::Holds {
        return;
    }
    let inputs = vec![
        finding::input(at(id, "size"), "cable size", &cable.size),
        finding::chosen(at(id, "material"), "conductor material", &cable.material, |one| one.words().to_owned()),
    ];
    let next = vec![finding::next(at(id, "size"), "read the size on the sheath or measure a core", 1.0)];
    let metal = if cable.material.get() == Some(&Material::Aluminium) { "aluminium" } else { "copper" };
    out.push(LEAST_SIZE.judged_in_words(subject, outcome, inputs, next, |verdict, least, size| match verdict {
        Verdict::Undecided => {
            format!("A conductor of {metal} has {least} at least here; whether it has, with {size}, is open.")
        }
        _ => format!("The conductor of {size} is thinner than the {least} that one of {metal} has at least here."),
    }));
}

/// Least size of a protective conductor that runs apart, by its metal; that of the lines where nobody read another.
fn apart(subject: Subject, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    let Some(size) = cable.cpc_size.range().map(survey::Range::numbers).filter(|_| runs_apart(cable)) else { return };
    let metal = cable.cpc_material.get();
    let (copper, aluminium) = (COPPER_APART, ALUMINIUM_APART);
    let may_be_aluminium = cable.material.get() == Some(&Material::Aluminium);
    let inputs = vec![
        finding::input(at(id, "cpc_size"), "size of the protective conductor", &cable.cpc_size),
        finding::chosen(at(id, "cpc_material"), "metal of the protective conductor", &cable.cpc_material, |one| {
            one.words().to_owned()
        }),
    ];
    let shown = cable.cpc_size.shown();
    let ask = "look what metal the protective conductor is of";
    let (verdict, sentence) = match metal {
        _ if size.hi < copper => (
            Verdict::Fails,
            format!(
                "A protective conductor of {shown} is too thin to run on its own: 2.5 mm² where it is protected, 4 mm² where not."
            ),
        ),
        Some(Material::Aluminium) if size.hi < aluminium => (
            Verdict::Fails,
            format!("A protective conductor of {shown} of aluminium is too thin to run on its own: 16 mm²."),
        ),
        None if may_be_aluminium && size.hi < aluminium => (
            Verdict::Undecided,
            format!(
                "A protective conductor of {shown} runs on its own: of aluminium, as the lines are, it needs 16 mm². To settle \
                 it, {ask}."
            ),
        ),
        _ => return,
    };
    let least = match metal {
        Some(Material::Aluminium) => "16 mm² of aluminium",
        None if may_be_aluminium => "16 mm² of aluminium, 2.5 mm² of copper",
        _ => "2.5 mm²",
    };
    let next = vec![finding::next(at(id, "cpc_material"), ask, 1.0)];
    let inequality = format!("size of the protective conductor: {shown}, at least {least}");
    out.push(APART.plain(subject, verdict, sentence, inequality, None, inputs, next));
}

/// Depth above which a spade reaches a cable, m: common practice asks for 0.45 m to 0.6 m, no source.
const SHALLOW: f64 = 0.45;

/// A cable direct in the ground.
fn buried(subject: Subject, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    if cable.method.get() != Some(&Method::D2) {
        return;
    }
    let shallow = cable.burial_depth.range().is_some_and(|depth| depth.hi().get() < SHALLOW);
    let depth = if shallow {
        format!(" It lies only {} deep, where a spade reaches it.", cable.burial_depth.shown())
    } else {
        String::new()
    };
    let (verdict, sentence, ask) = match cable.construction.get() {
        Some(Construction::Armoured) if !shallow => return,
        Some(Construction::Armoured) => (
            Verdict::Advised,
            "The cable lies direct in the ground.".to_owned() + &depth + " Cover it or lay it deeper.",
            "",
        ),
        Some(Construction::FlatTwinEarth) => (
            Verdict::Fails,
            format!(
                "A flat twin and earth cable lies direct in the ground: it is not made for wet earth, and has no armour.{depth} \
                 Lay an armoured cable, or draw it through a duct."
            ),
            "",
        ),
        Some(Construction::Multicore | Construction::SingleCore) => (
            Verdict::Advised,
            format!(
                "The cable lies direct in the ground without armour: BS 7671 asks for an earthed armour or metal sheath, IEC \
                 60364-5-52 for a cable made for it, covered or deep enough.{depth}"
            ),
            "",
        ),
        Some(Construction::Flexible) => {
            let ask = "read on the sheath or in its data whether the cable is made to lie in the ground";
            let sentence = format!(
                "A flexible cable lies direct in the ground; few are made for that.{depth} To settle it, {ask}."
            );
            (Verdict::Undecided, sentence, ask)
        }
        None => {
            let ask = "look how the cable is built: armoured or not";
            let sentence = format!(
                "Whether the cable, direct in the ground, is made for that was not looked at.{depth} To settle it, {ask}."
            );
            (Verdict::Undecided, sentence, ask)
        }
    };
    let inputs = vec![
        finding::chosen(at(id, "construction"), "construction of the cable", &cable.construction, |one| {
            one.words().to_owned()
        }),
        finding::chosen(at(id, "method"), "installation method", &cable.method, |one| one.words().to_owned()),
        finding::input(at(id, "burial_depth"), "depth of burial", &cable.burial_depth),
    ];
    let next = vec![finding::next(at(id, "construction"), ask, 1.0)];
    out.push(BURIED.plain(subject, verdict, sentence, "in the ground: made for it", None, inputs, next));
}

/// Largest size and number of cores of a flat twin (or three-core) and earth cable, with its protective core: BS 6004,
/// from memory.
const FLAT_LARGEST: f64 = 16.0;
const FLAT_CORES: u8 = 4;

/// Two readings of a cable of which one is wrong.
fn readings(subject: Subject, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    let (construction, method) = (cable.construction.get().copied(), cable.method.get().copied());
    let flat = construction == Some(Construction::FlatTwinEarth);
    let spaced = matches!(cable.formation.get(), Some(Formation::SpacedFlat | Formation::SpacedUpright));
    let single = construction == Some(Construction::SingleCore);
    let told =
        |field: &str, label: &'static str, words: String, known| finding::told(at(id, field), label, words, known);
    let built = || {
        let words = construction.map_or_else(String::new, |one| one.words().to_owned());
        told("construction", "construction of the cable", words, cable.construction.from.known)
    };
    let laid = || {
        let words = method.map_or_else(String::new, |one| one.words().to_owned());
        told("method", "installation method", words, cable.method.from.known)
    };
    let (other, ask) = match (construction, method) {
        (Some(_), Some(Method::A2 | Method::E)) if single => (laid(), "look how the cable is built, and how it runs"),
        (Some(_), Some(Method::F)) if !single => (laid(), "look how the cable is built, and how it runs"),
        _ if flat && cable.size.range().is_some_and(|size| size.lo().get() > FLAT_LARGEST) => (
            finding::input(at(id, "size"), "cable size", &cable.size),
            "look how the cable is built, and read its size again",
        ),
        _ if flat && cable.cores.get().is_some_and(|cores| *cores > FLAT_CORES) => (
            finding::chosen(at(id, "cores"), "cores of the cable", &cable.cores, ToString::to_string),
            "look how the cable is built, and count its cores again",
        ),
        (Some(_), Some(method)) if spaced && method != Method::F => {
            let lie = finding::chosen(at(id, "formation"), "how the single cores lie", &cable.formation, |one| {
                one.words().to_owned()
            });
            let ask = "look how the single cores lie: a diameter apart they run in free air";
            let sentence = format!(
                "The cable is entered as {}, and as {}: one of the two is wrong. To settle it, {ask}.",
                lie.value,
                method.words()
            );
            let next = vec![finding::next(at(id, "formation"), ask, 1.0)];
            out.push(READINGS.plain(
                subject,
                Verdict::Undecided,
                sentence,
                "readings: agree",
                None,
                vec![lie, laid()],
                next,
            ));
            return;
        }
        _ => return,
    };
    let built = built();
    let sentence = format!(
        "The cable is entered as {}, and its {} as {}: one of the two is wrong. To settle it, {ask}.",
        built.value, other.label, other.value
    );
    let next = vec![finding::next(at(id, "construction"), ask, 1.0)];
    out.push(READINGS.plain(subject, Verdict::Undecided, sentence, "readings: agree", None, vec![built, other], next));
}
