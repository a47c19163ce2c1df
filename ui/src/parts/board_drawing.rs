//! The board as it hangs, to scale: the drawing is the navigation.

use leptos::html::Div;
use leptos::prelude::*;
use serde_json::Value;
use survey::Verdict;
use survey::arrangement::Conductor;
use survey::drawing::{Cell, Drawing, Terminal};
pub use survey::drawing::{clip, wrap};
use survey::housing::{DrawnPart, MARK, PartState};
use survey::ids::CircuitId;
use survey::pattern::{Face, Rect};
use survey::{Amps, ConductorColours, PoleAt};

use super::field::{quantity, reading_words};
use crate::route::Part;
use crate::sheet;
use crate::state::{app, sign, verdict_key, verdict_words};
use crate::words::{t, tr};

/// Pixels per millimetre at which a pole of 18 mm is a target of 48 px.
pub const THUMB: f64 = 48.0 / 18.0;
/// Height of letters in millimetres: 16 px at [`THUMB`].
const LETTER: f64 = 6.0;
/// Width of a letter, as a share of its height, on the safe side for the fonts of a tablet.
const WIDE: f64 = 0.58;

/// What the drawing shows of a circuit.
#[derive(Clone, PartialEq)]
struct Shown {
    id: CircuitId,
    name: String,
    poles: String,
    verdict: Option<Verdict>,
}

#[derive(Clone, PartialEq)]
struct Picture {
    drawing: Drawing,
    circuits: Vec<Shown>,
    older: bool,
    link: bool,
    incomer: String,
    blanks: u8,
}

/// The drawing with its zoom buttons.
#[component]
pub fn BoardDrawing() -> impl IntoView {
    let app = app();
    let picture = Memo::new(move |_| {
        app.of_view(|view| {
            let drawing = view.drawing.clone()?;
            let rated = reading_words(&view.board["incomer"]["rated"], &quantity::<Amps>("A"));
            Some(Picture {
                drawing,
                circuits: view
                    .rows
                    .iter()
                    .map(|row| Shown {
                        id: row.id,
                        name: row.name.clone(),
                        poles: row.poles.clone(),
                        verdict: row.verdict,
                    })
                    .collect(),
                older: sheet::text(&view.board, "/supply/colours/value") == ConductorColours::Older.key(),
                link: view.follows.phase_link,
                incomer: rated.unwrap_or_else(|| t("ui-drawing-no-rating").to_owned()),
                blanks: view.follows.incomer_blanks,
            })
        })
        .flatten()
    });
    let frame = NodeRef::<Div>::new();
    let zoom = app.zoom;
    // The part of the board that was in sight is in sight again when one comes back.
    Effect::new(move |_| {
        let Some(frame) = frame.get() else { return };
        request_animation_frame(move || {
            let (left, top) = app.scroll.get_untracked().unwrap_or_else(|| {
                // At first the ways are in sight, with the end of the incomer above them.
                let first = picture.with_untracked(|picture| {
                    let cells = picture.iter().flat_map(|picture| &picture.drawing.cells);
                    cells.map(|cell| cell.rect.y).fold(f64::INFINITY, f64::min)
                });
                let above = f64::from(frame.client_height()) / 4.0;
                let top = (first * zoom.get_untracked() - above).max(0.0);
                ((frame.scroll_width() - frame.client_width()) / 2, top as i32)
            });
            frame.set_scroll_left(left);
            frame.set_scroll_top(top);
        });
    });
    let note_scroll = move |_| {
        if let Some(frame) = frame.get_untracked() {
            app.scroll.set(Some((frame.scroll_left(), frame.scroll_top())));
        }
    };
    let scale_to = move |scale: f64| {
        let Some(frame) = frame.get_untracked() else { return zoom.set(scale) };
        // What is in the middle stays in the middle; a drawing smaller than its frame lies in the middle.
        let middle = |scroll: i32, all: i32, seen: i32, size: f64| {
            if all > seen { f64::from(scroll) + f64::from(seen) / 2.0 } else { size / 2.0 }
        };
        let size = picture.with_untracked(|picture| {
            picture.as_ref().map_or((0.0, 0.0), |picture| (picture.drawing.width, picture.drawing.height_with_door()))
        });
        let old = zoom.get_untracked();
        let at = (
            middle(frame.scroll_left(), frame.scroll_width(), frame.client_width(), size.0 * old),
            middle(frame.scroll_top(), frame.scroll_height(), frame.client_height(), size.1 * old),
        );
        let ratio = scale / old;
        zoom.set(scale);
        request_animation_frame(move || {
            frame.set_scroll_left((at.0 * ratio - f64::from(frame.client_width()) / 2.0) as i32);
            frame.set_scroll_top((at.1 * ratio - f64::from(frame.client_height()) / 2.0) as i32);
        });
    };
    let whole = move |_| {
        let size = picture.with_untracked(|picture| {
            picture.as_ref().map(|picture| (picture.drawing.width, picture.drawing.height_with_door()))
        });
        if let (Some(frame), Some((width, height))) = (frame.get_untracked(), size) {
            let fit = (f64::from(frame.client_width()) / width).min(f64::from(frame.client_height()) / height);
            scale_to(fit.clamp(0.2, 8.0));
        }
    };
    view! {
        <div class="drawing">
            <div class="row tools" role="group" aria-label=t("ui-drawing-size")>
                <button
                    type="button"
                    data-zoom="out"
                    aria-label=t("ui-drawing-smaller")
                    on:click=move |_| scale_to((zoom.get_untracked() / 1.25).max(0.2))
                >
                    "−"
                </button>
                <button
                    type="button"
                    data-zoom="in"
                    aria-label=t("ui-drawing-larger")
                    on:click=move |_| scale_to((zoom.get_untracked() * 1.25).min(8.0))
                >
                    "+"
                </button>
                <button type="button" data-zoom="thumb" on:click=move |_| scale_to(THUMB)>
                    {t("ui-drawing-tap")}
                </button>
                <button type="button" data-zoom="whole" on:click=whole>
                    {t("ui-drawing-whole")}
                </button>
            </div>
            <div
                class="frame"
                tabindex="0"
                role="region"
                aria-label=t("ui-drawing-frame")
                node_ref=frame
                on:scroll=note_scroll
            >
                {move || picture.get().map(|picture| sheet(&picture, zoom))}
            </div>
        </div>
    }
    .into_any()
}

fn sheet(picture: &Picture, zoom: RwSignal<f64>) -> AnyView {
    let app = app();
    let drawing = &picture.drawing;
    let (width, height, all) = (drawing.width, drawing.height, drawing.height_with_door());
    let columns = drawing.cells.iter().map(|cell| cell.column).max().unwrap_or(0) + 1;
    let cells = drawing.cells.iter().map(|cell| way(cell, columns, picture)).collect_view();
    let neutrals = terminals(&drawing.neutrals, "ui-drawing-neutral-of", picture);
    let earths = terminals(&drawing.earths, "ui-drawing-earth-of", picture);
    let plates = drawing
        .plates
        .iter()
        .map(|plate| {
            let words = tr("ui-drawing-plate", &[("face", face(plate.face)), ("count", plate.entries.into())]);
            let upright = plate.rect.h > plate.rect.w;
            let [x, y] = plate.rect.centre();
            view! {
                <g>
                    <a
                        href=app.href(Part::Plate(Some(plate.plate)))
                        data-plate=plate.plate.to_string()
                        aria-label=words.clone()
                    >
                        {rect(plate.rect, "plate")}
                        <text
                            x=x
                            y=y
                            class="middle"
                            font-size=LETTER
                            transform=upright.then(|| format!("rotate(-90 {x} {y})"))
                        >
                            {words.clone()}
                        </text>
                    </a>
                </g>
            }
        })
        .collect_view();
    let incomer = incomer(picture);
    let caption = |bar: Rect, list: &[Terminal], name: &str| {
        let used = list.iter().filter(|terminal| terminal.circuit.is_some()).count();
        let [x, _] = bar.centre();
        let lines = if bar.h >= bar.w {
            vec![
                name.to_owned(),
                tr("ui-drawing-used", &[("count", used.into())]),
                tr("ui-drawing-free", &[("count", (list.len() - used).into())]),
            ]
        } else {
            let free = list.len() - used;
            vec![tr("ui-drawing-bar", &[("bar", name.into()), ("used", used.into()), ("free", free.into())])]
        };
        lines_at(x, bar.bottom() + LETTER * 1.3, LETTER, "middle-x", &lines)
    };
    let neutral_caption = caption(drawing.neutral_bar, &drawing.neutrals, t("ui-drawing-neutral-bar"));
    let earth_caption = caption(drawing.earth_bar, &drawing.earths, t("ui-drawing-earth-bar"));
    let note = direct_neutral(drawing, picture.link);
    view! {
        <svg
            class="board"
            data-board-drawing=""
            viewBox=format!("0 0 {width} {all}")
            width=move || width * zoom.get()
            height=move || all * zoom.get()
            role="group"
            aria-label=t("ui-drawing-board")
        >
            <defs>
                <pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
                    <rect width="6" height="6" class="hatch-ground"></rect>
                    <line x1="0" y1="0" x2="0" y2="6" class="hatch-line"></line>
                </pattern>
            </defs>
            <rect x="0.5" y="0.5" width=width - 1.0 height=height - 1.0 rx="3" class="enclosure"></rect>
            {plates}
            {incomer}
            {note}
            {neutral_caption}
            {earth_caption}
            {neutrals}
            {earths}
            {cells}
            {housing(drawing)}
        </svg>
    }
    .into_any()
}

/// The face a plate closes, as messages choose by it.
fn face(face: Face) -> Value {
    match face {
        Face::Top => "top",
        Face::Bottom => "bottom",
        Face::Left => "left",
        Face::Right => "right",
        Face::Back => "back",
    }
    .into()
}

/// The enclosure against touch: parts by their state, a numbered mark at each, and on the door, taken off and laid
/// below, what each mark says.
fn housing(drawing: &Drawing) -> AnyView {
    let app = app();
    let housing = &drawing.housing;
    let at = housing.door;
    let parts = housing.parts.iter().map(housing_part).collect_view();
    let door_class =
        housing.parts.iter().find(|drawn| drawn.part.key == "door_bond").map(|drawn| part_class(drawn, ""));
    let [from, to] = housing.wire;
    let line = |[x, y]: [f64; 2], size: f64, words: &str| {
        let text = view! {
            <text x=x y=y class="middle-y" font-size=size>
                {words.to_owned()}
            </text>
        };
        text.into_any()
    };
    // A press on a line goes to its field.
    let to_field = |key: String, state: &'static str, words: String, text: AnyView| {
        let path = format!("/housing/{key}");
        let jump = move |event: web_sys::MouseEvent| {
            event.prevent_default();
            app.jump(&path);
        };
        let link = view! {
            <g>
                <a href=app.href(Part::Supply) data-housing=key data-state=state aria-label=words on:click=jump>
                    {text}
                </a>
            </g>
        };
        link.into_any()
    };
    let listed = housing
        .parts
        .iter()
        .zip(&housing.lines)
        .map(|(drawn, (at, words))| {
            let part = &drawn.part;
            to_field(part.key.clone(), part.state.key(), part.line(), line(*at, housing.letter, words))
        })
        .collect_view();
    let live_words = housing.live.iter().map(|(_, words)| words.as_str()).collect::<Vec<_>>().join(" ");
    let live = housing.live.iter().map(|(at, words)| line(*at, LETTER, words)).collect_view().into_any();
    let live = to_field("live_uncovered".to_owned(), "", live_words, live);
    let said = housing.said.iter().map(|(at, words)| line(*at, LETTER, words)).collect_view();
    view! {
        <g class="housing" role="group" aria-label=t("ui-drawing-housing")>
            <line x1=from[0] y1=from[1] x2=to[0] y2=to[1] class=door_class></line>
            <rect x="0.5" y=at.y + 0.5 width=at.w - 1.0 height=at.h - 1.0 rx="3" class="enclosure"></rect>
            {said}
            {listed}
            {live}
            {parts}
        </g>
    }
    .into_any()
}

fn part_class(drawn: &DrawnPart, what: &str) -> String {
    format!("part {} {what}", drawn.part.state.key())
}

/// Shapes and marks of one part. A mark is a pill where the part is there, a box where it is missing, broken where
/// nobody looked.
fn housing_part(drawn: &DrawnPart) -> AnyView {
    let round = drawn.part.key == "outside_studs" || drawn.part.key == "incoming_earth";
    let shapes = drawn
        .shapes
        .iter()
        .map(|shape| {
            let [x, y] = shape.centre();
            let class = part_class(drawn, if round { "earth" } else { "sheet" });
            let radius = if round { shape.w / 2.0 } else { 0.0 };
            // The sign for protective earth, IEC 60417-5019: a stem on three bars, in a circle.
            let earth = round.then(|| {
                let bars = format!(
                    "M{x} {} V{y} M{} {y} H{} M{} {} H{} M{} {} H{}",
                    y - 3.6,
                    x - 3.2,
                    x + 3.2,
                    x - 2.1,
                    y + 1.5,
                    x + 2.1,
                    x - 1.0,
                    y + 3.0,
                    x + 1.0,
                );
                view! { <path d=bars class="earth-sign"></path> }
            });
            view! {
                <rect x=shape.x y=shape.y width=shape.w height=shape.h rx=radius class=class></rect>
                {earth}
            }
        })
        .collect_view();
    let words = format!("{} {}", drawn.part.number, drawn.part.state.sign());
    let round = if drawn.part.state == PartState::Missing { 0.0 } else { MARK[1] / 2.0 };
    let marks = drawn
        .marks
        .iter()
        .map(|[x, y]| {
            view! {
                <g class=part_class(drawn, "pill")>
                    <rect x=x - MARK[0] / 2.0 y=y - MARK[1] / 2.0 width=MARK[0] height=MARK[1] rx=round></rect>
                    <text x=*x y=*y class="middle" font-size=LETTER>
                        {words.clone()}
                    </text>
                </g>
            }
        })
        .collect_view();
    view! { <g aria-hidden="true" data-part=drawn.part.key.clone()>{shapes} {marks}</g> }.into_any()
}

fn incomer(picture: &Picture) -> AnyView {
    let at = picture.drawing.incomer;
    let upright = at.h > 1.5 * at.w;
    let (across, down) = if upright { (at.h, at.w) } else { (at.w, at.h) };
    let room = ((across - 6.0) / (LETTER * WIDE)) as usize;
    let blanks = (picture.blanks > 0).then(|| tr("ui-drawing-blanked", &[("count", picture.blanks.into())]));
    let below: Vec<String> = std::iter::once(picture.incomer.clone()).chain(blanks).collect();
    let what = picture.drawing.incomer_text.words();
    let all = format!("{} {what} {}", t("ui-drawing-incomer"), below.join(" "));
    let label = tr("ui-drawing-to-supply", &[("incomer", all.into())]);
    // Where there is no room for all of what it is, its rating stays.
    let most = ((down - 4.0) / (LETTER * 1.3)) as usize;
    let mut middle = wrap(&what, room);
    let left = most.saturating_sub(1 + below.len());
    if middle.len() > left {
        middle.truncate(left);
        if let Some(last) = middle.last_mut() {
            *last = clip(&format!("{last}…"), room);
        }
    }
    let mut lines = vec![t("ui-drawing-incomer").to_owned()];
    lines.extend(middle.into_iter().chain(below));
    lines.truncate(most);
    let [x, y] = at.centre();
    let first = y - (lines.len() as f64 - 1.0) * LETTER * 1.3 / 2.0 + LETTER * 0.35;
    let text = lines_at(x, first, LETTER, "middle-x", &lines);
    view! {
        <g>
            <a href=app().href(Part::Supply) data-incomer="" aria-label=label>
                {rect(at, "incomer")}
                <g transform=upright.then(|| format!("rotate(-90 {x} {y})"))>{text}</g>
            </a>
        </g>
    }
    .into_any()
}

fn direct_neutral(drawing: &Drawing, link: bool) -> AnyView {
    let bar = drawing.neutral_bar;
    let mut lines = Vec::new();
    let upright = bar.h >= bar.w;
    // Beside an upright bar there is room up to the incomer, above a lying one across the board.
    let room = if upright { drawing.incomer.x - 10.0 } else { drawing.width - bar.x - 4.0 };
    let letters = (room / (LETTER * WIDE)) as usize;
    if !drawing.direct_neutral.is_empty() {
        lines.extend(wrap(
            &tr("ui-drawing-direct", &[("terminal", drawing.direct_neutral.to_string().into())]),
            letters,
        ));
    }
    if link {
        lines.extend(wrap(t("ui-drawing-link"), letters));
    }
    let height = lines.len() as f64 * LETTER * 1.3;
    let (x, y) = if upright { (6.0, (bar.y - height - 2.0).max(40.0)) } else { (bar.x, bar.bottom() + 18.0) };
    lines_at(x, y, LETTER, "note", &lines)
}

fn terminals(list: &[Terminal], used: &'static str, picture: &Picture) -> Vec<AnyView> {
    let app = app();
    list.iter()
        .map(|terminal| {
            let [x, y] = terminal.rect.centre();
            let letters = terminal.name.chars().count() as f64 + 2.4;
            let size = LETTER.min(terminal.rect.h * 0.75).min(terminal.rect.w / letters / WIDE);
            let user = terminal.circuit.and_then(|id| picture.circuits.iter().find(|circuit| circuit.id == id));
            let class = if user.is_some() { "terminal used" } else { "terminal" };
            let dot = if user.is_some() { "\u{a0}●" } else { "\u{a0}○" };
            let content = view! {
                <g class=class>
                    {rect(terminal.rect, "body")}
                    <text x=x y=y class="middle" font-size=size>
                        {terminal.name.clone()}
                        <tspan aria-hidden="true">{dot}</tspan>
                    </text>
                </g>
            };
            match user {
                Some(user) => view! {
                    <g>
                        <a
                            href=app.href(Part::Circuit(user.id))
                            data-terminal=terminal.name.clone()
                            aria-label=tr(used, &[("terminal", terminal.name.as_str().into()), ("circuit", user.name.as_str().into())])
                        >
                            {content}
                        </a>
                    </g>
                }
                .into_any(),
                None => view! { <g data-terminal=terminal.name.clone()>{content}</g> }.into_any(),
            }
        })
        .collect()
}

fn way(cell: &Cell, columns: usize, picture: &Picture) -> AnyView {
    let app = app();
    let circuit = cell.circuit.and_then(|id| picture.circuits.iter().find(|circuit| circuit.id == id));
    let verdict = circuit.and_then(|circuit| circuit.verdict);
    let carries: Vec<&str> =
        cell.conductors.iter().map(|one| one.map_or_else(|| t("ui-drawing-not-live"), Conductor::mark)).collect();
    let carries = carries.join(", ");
    let description =
        if cell.description.is_empty() { t("ui-drawing-no-description") } else { cell.description.as_str() };
    let part = match (cell.circuit, cell.device) {
        (Some(id), _) => Part::Circuit(id),
        _ => Part::Add(cell.pole.clone()),
    };
    // What is seen comes first, so that a person can call the way by what it says.
    let message = match (circuit, cell.device) {
        (Some(_), _) => "ui-drawing-way",
        (None, Some(_)) => "ui-drawing-no-circuit",
        (None, None) => "ui-drawing-free-way",
    };
    let label = tr(
        message,
        &[
            ("pole", cell.pole.as_str().into()),
            ("rating", cell.rating.words().into()),
            ("description", description.into()),
            ("circuit", circuit.map_or("", |circuit| circuit.name.as_str()).into()),
            ("poles", circuit.map_or("", |circuit| circuit.poles.as_str()).into()),
            ("carries", carries.into()),
            ("verdict", verdict_words(verdict).into()),
        ],
    );
    let class = format!("cell {}", if cell.device.is_some() { verdict_key(verdict) } else { "blank" });
    let lying = cell.rect.w >= cell.rect.h || columns > 1;
    let inside =
        if lying { lying_cell(cell, columns, picture, verdict) } else { standing_cell(cell, picture, verdict) };
    let body = rect(cell.rect, if cell.device.is_some() { "body" } else { "body hatched" });
    view! {
        <g>
            <a
                class=class
                href=app.href(part)
                data-pole=cell.pole.clone()
                data-circuit=cell.circuit.map(|id| id.to_string())
                data-verdict=verdict_key(verdict)
                aria-label=label
            >
                {body}
                {inside}
            </a>
        </g>
    }
    .into_any()
}

fn band(at: Rect, conductor: Option<Conductor>, older: bool) -> AnyView {
    let [x, y] = at.centre();
    let class = match conductor {
        Some(conductor) => format!("band {}{}", conductor.mark().to_lowercase(), if older { " older" } else { "" }),
        None => "band dead".to_owned(),
    };
    view! {
        <g class=class aria-hidden="true">
            {rect(at, "body")}
            <text x=x y=y class="middle" font-size=LETTER>
                {conductor.map_or("–", Conductor::mark)}
            </text>
        </g>
    }
    .into_any()
}

fn mark(x: f64, y: f64, verdict: Option<Verdict>) -> AnyView {
    view! {
        <g class=format!("mark {}", verdict_key(verdict)) aria-hidden="true">
            <circle cx=x cy=y r="4.6"></circle>
            <text x=x y=y class="middle" font-size="7">
                {sign(verdict)}
            </text>
        </g>
    }
    .into_any()
}

/// A cell on a column: conductors on the busbar's side, the verdict outside, words between.
fn lying_cell(cell: &Cell, columns: usize, picture: &Picture, verdict: Option<Verdict>) -> AnyView {
    const BAND: f64 = 10.5;
    const MARK: f64 = 12.0;
    let at = cell.rect;
    let busbar_right = columns > 1 && cell.column == 0;
    let slot = at.h / cell.conductors.len().max(1) as f64;
    let band_x = if busbar_right { at.right() - BAND } else { at.x };
    let bands = cell
        .conductors
        .iter()
        .enumerate()
        .map(|(index, conductor)| {
            band(Rect::new(band_x, at.y + slot * index as f64, BAND, slot), *conductor, picture.older)
        })
        .collect_view();
    let text_x = if busbar_right { at.x + MARK } else { at.x + BAND + 2.0 };
    let room = ((at.w - BAND - MARK - 2.0) / (LETTER * WIDE)) as usize;
    if cell.device.is_none() {
        let y = at.centre()[1];
        return view! {
            {bands}
            <text x=text_x y=y class="middle-y strong" font-size=LETTER>
                {cell.pole.clone()}
            </text>
            <text x=text_x + 20.0 y=y class="middle-y" font-size=LETTER>
                {t("ui-drawing-blank")}
            </text>
        }
        .into_any();
    }
    let mark_x = if busbar_right { at.x + MARK / 2.0 } else { at.right() - MARK / 2.0 };
    let spare = ((at.h - LETTER * 1.3) / (LETTER * 1.25)).floor().max(1.0) as usize;
    let words = wrap_in(&cell.description, room, spare);
    let block = (words.len() as f64 + 1.0) * LETTER * 1.25;
    let first = at.y + (at.h - block) / 2.0 + LETTER * 0.95;
    view! {
        {bands}
        {mark(mark_x, at.centre()[1], verdict)}
        <text x=text_x y=first class="strong" font-size=LETTER>
            {cell.pole.clone()}
        </text>
        <text x=text_x + 20.0 y=first font-size=LETTER>
            {clip(&cell.rating.words(), room.saturating_sub(6))}
        </text>
        {lines_at(text_x, first + LETTER * 1.25, LETTER, "", &words)}
    }
    .into_any()
}

/// A cell in a row: conductor on top, words upright, the verdict at the bottom.
fn standing_cell(cell: &Cell, picture: &Picture, verdict: Option<Verdict>) -> AnyView {
    const BAND: f64 = 10.0;
    let at = cell.rect;
    let [x, _] = at.centre();
    let slot = at.w / cell.conductors.len().max(1) as f64;
    let bands = cell
        .conductors
        .iter()
        .enumerate()
        .map(|(index, conductor)| {
            band(Rect::new(at.x + slot * index as f64, at.y, slot, BAND), *conductor, picture.older)
        })
        .collect_view();
    let name_y = at.y + BAND + LETTER * 1.1;
    let name = view! {
        <text x=x y=name_y class="middle-x strong" font-size=LETTER>
            {cell.pole.clone()}
        </text>
    };
    let foot = at.bottom() - 13.0;
    let length = foot - name_y - 2.0;
    let room = (length / (LETTER * WIDE)) as usize;
    let mut lines = vec![clip(&cell.rating.words(), room)];
    let spare = ((at.w / (LETTER * 1.25)) as usize).saturating_sub(1).max(1);
    lines.extend(wrap_in(&cell.description, room, spare));
    if cell.device.is_none() {
        lines = vec![t("ui-drawing-blank").to_owned()];
    }
    let y = foot;
    let first = x - (lines.len() as f64 - 1.0) * LETTER * 1.25 / 2.0 + LETTER * 0.35;
    let turned = lines
        .iter()
        .enumerate()
        .map(|(index, line)| {
            let x = first + index as f64 * LETTER * 1.25;
            view! {
                <text x=x y=y font-size=LETTER transform=format!("rotate(-90 {x} {y})")>
                    {line.clone()}
                </text>
            }
        })
        .collect_view();
    view! {
        {bands}
        {name}
        {turned}
        {cell.device.is_some().then(|| mark(x, at.bottom() - 6.0, verdict))}
    }
    .into_any()
}

fn rect(at: Rect, class: &'static str) -> AnyView {
    view! { <rect x=at.x y=at.y width=at.w height=at.h class=class></rect> }.into_any()
}

fn lines_at(x: f64, y: f64, size: f64, class: &'static str, lines: &[String]) -> AnyView {
    lines
        .iter()
        .enumerate()
        .map(|(index, line)| {
            view! {
                <text x=x y=y + index as f64 * size * 1.3 class=class font-size=size>
                    {line.clone()}
                </text>
            }
        })
        .collect_view()
        .into_any()
}

/// Breaks a text into so many lines at most; what is left over is clipped into the last one.
fn wrap_in(text: &str, room: usize, most: usize) -> Vec<String> {
    let mut lines = wrap(text, room);
    if lines.len() > most {
        let rest = lines.split_off(most.saturating_sub(1)).join(" ");
        lines.push(clip(&rest, room));
    }
    lines
}

/// Every free pole of the drawing, for a list to pick from.
pub fn free_poles(drawing: &Drawing) -> Vec<PoleAt> {
    drawing.cells.iter().filter(|cell| cell.device.is_none()).filter_map(|cell| cell.pole.parse().ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stay_within_their_room() {
        assert_eq!(wrap("lights press hall north", 11), ["lights", "press hall", "north"]);
        assert_eq!(wrap("", 10), Vec::<String>::new());
        assert_eq!(wrap_in("lights press hall north", 11, 2), ["lights", "press hall…"]);
        assert_eq!(wrap_in("lights north", 20, 1), ["lights north"]);
        assert_eq!(clip("extractor fan", 8), "extract…");
        assert_eq!(clip("short", 8), "short");
    }
}
