//! A cable as it lies against what such a cable may be: its least size, the ground, readings that exclude each other.

use std::collections::BTreeSet;

use survey::range::Span;
use survey::{
    Band, Cable, CableId, Check, Construction, CpcForm, Formation, Input, LoadKind, Material, Message, Method,
    NextReading, Subject, Text, Verdict, YesNo, say,
};

use crate::field::Field;
use crate::finding::{self, Rule, settled_by};
use crate::source::{Common, Source};
use crate::verdict::Outcome;

const LEAST_SIZE: Rule = Rule {
    name: "least-size",
    clause: Message::bare("least-size-clause"),
    symbols: [Message::bare("symbol-least"), Message::fixed("S")],
    unit: "mm²",
    scale: 1.0,
    advice: false,
};

const APART: Rule = Rule::in_words("cpc-apart", Message::bare("cpc-apart-clause"));

const BURIED: Rule = Rule::in_words("buried", Message::bare("buried-clause"));

const READINGS: Rule = Rule::in_words("cable-readings", Message::bare("cable-readings-clause"));

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

fn at(id: CableId, field: &str) -> Text {
    Text::joined(&["/cables/", id.written().as_str(), "/", field])
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
        finding::input(at(id, "size"), finding::label(Field::Size), &cable.size),
        finding::chosen(at(id, "material"), finding::label(Field::Material), &cable.material, |one| one.words()),
    ];
    let next = vec![finding::next(at(id, "size"), finding::ask(Field::Size), 1.0)];
    let metal = cable.material.get().filter(|metal| **metal == Material::Aluminium).unwrap_or(&Material::Copper);
    let metal = [("metal", metal.words().into())];
    out.push(LEAST_SIZE.judged_as(subject, outcome, inputs, next, "least-size", metal));
}

/// Least size of a protective conductor that runs apart, by its metal; that of the lines where nobody read another.
fn apart(subject: Subject, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    let Some(size) = cable.cpc_size.range().map(survey::Range::numbers).filter(|_| runs_apart(cable)) else { return };
    let metal = cable.cpc_material.get();
    let (copper, aluminium) = (COPPER_APART, ALUMINIUM_APART);
    let may_be_aluminium = cable.material.get() == Some(&Material::Aluminium);
    let inputs = vec![
        finding::input(at(id, "cpc_size"), finding::label(Field::CpcSize), &cable.cpc_size),
        finding::chosen(at(id, "cpc_material"), finding::label(Field::CpcMaterial), &cable.cpc_material, |one| {
            one.words()
        }),
    ];
    let shown = finding::shown(&cable.cpc_size);
    let next = finding::next(at(id, "cpc_material"), finding::ask(Field::CpcMaterial), 1.0);
    let (verdict, sentence) = match metal {
        _ if size.hi < copper => (Verdict::Fails, say!("cpc-apart", size = shown.clone())),
        Some(Material::Aluminium) if size.hi < aluminium => {
            (Verdict::Fails, say!("cpc-apart-aluminium", size = shown.clone()))
        }
        None if may_be_aluminium && size.hi < aluminium => {
            (Verdict::Undecided, settled_by(say!("cpc-apart-perhaps-aluminium", size = shown.clone()), &next))
        }
        _ => return,
    };
    let inequality = match metal {
        Some(Material::Aluminium) => say!("cpc-apart-relation-aluminium", size = shown),
        None if may_be_aluminium => say!("cpc-apart-relation-either", size = shown),
        _ => say!("cpc-apart-relation", size = shown),
    };
    out.push(APART.plain(subject, verdict, sentence, inequality, None, inputs, vec![next]));
}

/// Depth above which a spade reaches a cable, m: common practice asks for 0.45 m to 0.6 m, no source.
const SHALLOW: f64 = 0.45;

/// A cable direct in the ground.
fn buried(subject: Subject, id: CableId, cable: &Cable, out: &mut Vec<Check>) {
    if cable.method.get() != Some(&Method::D2) {
        return;
    }
    let shallow = cable.burial_depth.range().is_some_and(|depth| depth.hi().get() < SHALLOW);
    let depth = match shallow {
        true => say!("buried-shallow", depth = finding::shown(&cable.burial_depth)),
        false => Message::default(),
    };
    let (verdict, sentence, more, ask) = match cable.construction.get() {
        Some(Construction::Armoured) if !shallow => return,
        Some(Construction::Armoured) => {
            (Verdict::Advised, say!("buried-armoured"), say!("buried-armoured-act"), Message::default())
        }
        Some(Construction::FlatTwinEarth) => {
            (Verdict::Fails, say!("buried-flat"), say!("buried-flat-act"), Message::default())
        }
        Some(Construction::Multicore | Construction::SingleCore) => {
            (Verdict::Advised, say!("buried-bare"), Message::default(), Message::default())
        }
        Some(Construction::Flexible) => {
            let ask = say!("buried-flexible-ask");
            (Verdict::Undecided, say!("buried-flexible"), Message::to_settle(ask.clone()), ask)
        }
        None => {
            let ask = say!("buried-unseen-ask");
            (Verdict::Undecided, say!("buried-unseen"), Message::to_settle(ask.clone()), ask)
        }
    };
    let sentence = Message::several([sentence, depth, more]);
    let inputs = vec![
        finding::chosen(at(id, "construction"), finding::label(Field::Construction), &cable.construction, |one| {
            one.words()
        }),
        finding::chosen(at(id, "method"), finding::label(Field::Method), &cable.method, |one| one.words()),
        finding::input(at(id, "burial_depth"), finding::label(Field::Depth), &cable.burial_depth),
    ];
    let next = vec![finding::next(at(id, "construction"), ask, 1.0)];
    let inequality = say!("buried-relation");
    out.push(BURIED.plain(subject, verdict, sentence, inequality, None, inputs, next));
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
    let label = finding::label;
    let built =
        || finding::chosen(at(id, "construction"), label(Field::Construction), &cable.construction, |one| one.words());
    let laid = || finding::chosen(at(id, "method"), label(Field::Method), &cable.method, |one| one.words());
    let (other, ask) = match (construction, method) {
        (Some(_), Some(Method::A2 | Method::E)) if single => (laid(), say!("cable-readings-ask-method")),
        (Some(_), Some(Method::F)) if !single => (laid(), say!("cable-readings-ask-method")),
        _ if flat && cable.size.range().is_some_and(|size| size.lo().get() > FLAT_LARGEST) => {
            (finding::input(at(id, "size"), label(Field::Size), &cable.size), say!("cable-readings-ask-size"))
        }
        _ if flat && cable.cores.get().is_some_and(|cores| *cores > FLAT_CORES) => (
            finding::chosen(at(id, "cores"), label(Field::Cores), &cable.cores, ToString::to_string),
            say!("cable-readings-ask-cores"),
        ),
        (Some(_), Some(method)) if spaced && method != Method::F => {
            let lie =
                finding::chosen(at(id, "formation"), label(Field::Formation), &cable.formation, |one| one.words());
            let sentence = say!("cable-readings-formation", formation = lie.value.clone(), method = method.words());
            let next = finding::next(lie.path.clone(), say!("cable-readings-ask-formation"), 1.0);
            out.push(denied(subject, sentence, vec![lie, laid()], next));
            return;
        }
        _ => return,
    };
    let built = built();
    let (what, value) = (other.label.clone(), other.value.clone());
    let sentence = say!("cable-readings", built = built.value.clone(), what = what, value = value);
    let next = finding::next(built.path.clone(), ask, 1.0);
    out.push(denied(subject, sentence, vec![built, other], next));
}

/// The check of two readings that exclude each other.
fn denied(subject: Subject, sentence: Message, inputs: Vec<Input>, next: NextReading) -> Check {
    let sentence = settled_by(sentence, &next);
    let inequality = say!("cable-readings-relation");
    READINGS.plain(subject, Verdict::Undecided, sentence, inequality, None, inputs, vec![next])
}
